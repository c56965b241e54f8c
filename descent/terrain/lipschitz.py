# SPDX-License-Identifier: MIT
"""The least-absolute-error line of bounded grade through a row of heights, exact in O(n log n).

Minimises sum |y[i] - z[i]| subject to |z[i+1] - z[i]| <= step. The value function of the dynamic programme is
convex and piecewise linear; its breakpoints are kept in two heaps with a lazy shift (the "slope trick"), and the
line is read back from the recorded minimising intervals.
"""

from __future__ import annotations

import heapq
from typing import Any

import numba
import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


def lipschitz_fit(height_m: FloatArray, *, step_m: float) -> FloatArray:
    """The fitted line z (n,) for heights (n,) [m], NaN where there is none, and the largest change per step [m].

    Where the optimum is not unique the point nearest to its successor is taken.
    """
    return np.asarray(_fit(np.asarray(height_m, dtype=float), float(step_m)))


@numba.njit(cache=True, fastmath=False, error_model="numpy")
def _fit(y: Any, step: Any) -> Any:
    n = y.size
    low = np.full(n, -np.inf)
    high = np.full(n, np.inf)
    left = [0.0]
    right = [0.0]
    left.pop()
    right.pop()
    for i in range(n):                      # left holds -(x + i step), right holds x - i step
        shift = i * step
        if not np.isnan(y[i]):
            moved = -heapq.heappushpop(left, -(y[i] + shift)) - shift
            heapq.heappush(right, moved - shift)
            moved = heapq.heappushpop(right, y[i] - shift) + shift
            heapq.heappush(left, -(moved + shift))
        if len(left) > 0:
            low[i] = -left[0] - shift
            high[i] = right[0] + shift
    z = np.empty(n)
    if not len(left):
        z[:] = np.nan
        return z
    z[n - 1] = 0.5 * (low[n - 1] + high[n - 1])
    for i in range(n - 2, -1, -1):
        nearest = min(max(z[i + 1], low[i]), high[i])
        z[i] = min(max(nearest, z[i + 1] - step), z[i + 1] + step)
    return z
