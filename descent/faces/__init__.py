# SPDX-License-Identifier: MIT
"""Thin ways in: each builds one request, calls one function and hands the result to a renderer."""
