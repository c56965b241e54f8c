# SPDX-License-Identifier: MIT
"""The command line, one module per command."""
