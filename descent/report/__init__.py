# SPDX-License-Identifier: MIT
"""A finished plan in, page, card and files out; computes no physics."""
