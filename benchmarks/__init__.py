# SPDX-License-Identifier: MIT
"""Timings, as ratios against a peer measured in the same run where there is one. Not part of the tests."""
