# SPDX-License-Identifier: MIT
"""Cuts a row of values into its falls by more than a hysteresis, in one pass."""

from __future__ import annotations

from typing import Any

import numba
import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


def zigzag_falls(w: FloatArray, *, hysteresis: float) -> list[tuple[int, int]]:
    """(top, bottom) indices of each fall of w by more than the hysteresis, ended by a rise of more than it."""
    found = np.empty((len(w) // 2 + 1, 2), dtype=np.int64)
    count = _zigzag(np.asarray(w, dtype=float), hysteresis, found)
    return [(int(a), int(b)) for a, b in found[:count]]


@numba.njit(cache=True, fastmath=False, error_model="numpy")
def _zigzag(w: Any, hysteresis: Any, found: Any) -> int:
    top = bottom = count = 0
    falling = False
    for i in range(1, w.size):
        if not falling:
            if w[i] > w[top]:
                top = i
            if w[i] < w[top] - hysteresis:
                falling = True
                bottom = i
        else:
            if w[i] < w[bottom]:
                bottom = i
            if w[i] > w[bottom] + hysteresis:
                found[count, 0], found[count, 1] = top, bottom
                count += 1
                falling = False
                top = i
    if falling:
        found[count, 0], found[count, 1] = top, bottom
        count += 1
    return count
