# SPDX-License-Identifier: MIT
"""The compiled runaway: speed along the road with gravity, rolling and air only, exactly within each cell."""

from __future__ import annotations

import numba
import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
GRAVITY = 9.80665


@numba.njit(cache=True)
def run(speed_mps: float, node: int, step_m: FloatArray, sin_down: FloatArray, cos_road: FloatArray, k_air: FloatArray,
        mass_kg: float, rolling: float, out: FloatArray) -> int:
    """Speeds at the nodes from `node` on -> `out` (n + 1 - node,) [m/s]; zeros after a standstill. Returns the last node
    that is reached.

    u = v^2 obeys du/ds = a - b u with a = 2 g (sin - Crr cos), b = 2 k / m, so in a cell of one grade
    u(s) = a/b + (u0 - a/b) exp(-b s). Cells (n,): step_m [m], sin_down, cos_road [1], k_air [N/(m/s)2]; mass_kg [kg],
    rolling [1].

    Range: forward travel. Source: key derived. Example: `descent.physics.runaway.runaway_from`.
    """
    n = step_m.shape[0]
    u = speed_mps * speed_mps
    out[:] = 0.0
    out[0] = speed_mps
    for i in range(node, n):
        a = 2.0 * GRAVITY * (sin_down[i] - rolling * cos_road[i])
        b = 2.0 * k_air[i] / mass_kg
        gone = -np.expm1(-b * step_m[i])
        u += (a / b - u) * gone if b > 1e-12 else a * step_m[i]
        if u <= 0.0:
            return int(i)
        out[i + 1 - node] = np.sqrt(u)
    return int(n)
