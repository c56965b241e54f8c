# SPDX-License-Identifier: MIT
"""Finds voids that were filled with 0 along a line: heights of exactly 0 in the middle of higher ground."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from descent.terrain.seams import runs_of

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

HIGH_GROUND_M = 30.0    # a road does not fall this far to sea level from one cell to the next


def blank_zero_patches(height_m: FloatArray, zero: BoolArray, *, centre: int) -> BoolArray:
    """Set samples that are a 0-filled void to NaN, in place; returns the stations (n,) where that was done.

    height_m, zero: (n, k), samples and whether a stored 0 took part. A run of stations touched by zeros is a void
    when the ground beside the run lies above HIGH_GROUND_M (at both its ends where both are known), or when nothing
    but zeros was read.
    """
    known = ~np.isnan(height_m[:, centre])
    line_zero = zero[:, centre] & known
    done = np.zeros(len(known), dtype=bool)
    for start, stop in runs_of(line_zero):
        before = np.flatnonzero(known[:start] & ~line_zero[:start])
        after = np.flatnonzero(known[stop:] & ~line_zero[stop:]) + stop
        beside = [float(height_m[part[at], centre]) for part, at in ((before, -1), (after, 0)) if len(part)]
        if not beside or min(beside) > HIGH_GROUND_M:
            height_m[start:stop] = np.nan
            done[start:stop] = True
    ground = height_m[:, centre]
    beside_line = zero & ~np.isnan(height_m) & (ground > HIGH_GROUND_M)[:, None]
    height_m[beside_line] = np.nan
    return done
