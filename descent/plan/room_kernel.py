# SPDX-License-Identifier: MIT
"""Compiled: how hot the brakes may arrive at a node so that one emergency stop is left, and which nodes decide it.

Each node k asks T_k + rise_k(T_k) <= limit; the rise lies between two bounds, taken over all temperatures up to the
limit, so that T_in holds for certain under `safe`, fails for certain over `sure`, and in between is put to the nodes that
may bind.
"""

from __future__ import annotations

import numba
import numpy as np
from numpy.typing import NDArray

from descent.physics.borrowed import borrowed
from descent.physics.brake_heat import stop_energy_j
from descent.physics.cell_kernel import ADHESION, EMERGENCY_PRESSURE, MASS
from descent.physics.foundation_brake import CAPACITY, COLD_C, LIMIT, LOAD, row_force_n
from descent.physics.quick_brakes import quick_rise_k

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@numba.njit(cache=True, error_model="numpy")
def emergency_bounds(rows: FloatArray, scal: FloatArray) -> FloatArray:
    """Bounds of an emergency stop over all temperatures up to the limits (4, n_rows): rise of each row for each joule at
    most and at least [K/J], the row cold and the others hot or the reverse; then force of all rows hot, and cold [N]."""
    n = rows.shape[0]
    out = np.zeros((4, n))
    force = np.empty((2, n))
    for i in range(n):
        most = scal[ADHESION] * rows[i, LOAD]
        force[0, i] = min(row_force_n(rows[i], scal[EMERGENCY_PRESSURE], rows[i, LIMIT]), most)
        force[1, i] = min(row_force_n(rows[i], scal[EMERGENCY_PRESSURE], COLD_C), most)
    out[2, :] = force[0].sum()
    out[3, :] = force[1].sum()
    for i in range(n):
        high = force[1, i] / max(force[1, i] + out[2, i] - force[0, i], 1e-9)
        low = force[0, i] / max(force[0, i] + out[3, i] - force[1, i], 1e-9)
        out[0, i] = high / rows[i, CAPACITY]
        out[1, i] = low / rows[i, CAPACITY]
    return out


@numba.njit(cache=True, error_model="numpy", forceinline=True)
def rooms(bounds: FloatArray, mass: float, speed: float, sin_down: float, limit: FloatArray, record: FloatArray,
           k: int) -> None:
    """Temperatures of each row [C] that leave room for an emergency stop at node k for certain, and that at best may."""
    n = limit.shape[0]
    most = stop_energy_j(bounds[2, 0], mass, speed, sin_down)
    least = stop_energy_j(bounds[3, 0], mass, speed, sin_down)
    for i in range(n):
        record[k, 5 + 4 * n + i] = limit[i] - most * bounds[0, i] if most < np.inf else -np.inf
        record[k, 5 + 5 * n + i] = limit[i] - least * bounds[1, i] if least < np.inf else -np.inf


@numba.njit(cache=True, error_model="numpy", forceinline=True)
def looked_at(record: FloatArray, k: int, n: int, least_c: FloatArray) -> int:
    """Gather what T_in must keep to up to node k. 0: cannot hold; 1: may bind beyond what is gathered; 2: need not."""
    maybe = 2
    for j in range(n):
        inverse = 1.0 / record[k, 5 + n + j]
        safe = (record[k, 5 + 4 * n + j] - record[k, 5 + j]) * inverse
        sure = (record[k, 5 + 5 * n + j] - record[k, 5 + j]) * inverse
        least = min(sure, record[k - 1, 5 + 3 * n + j])
        record[k, 5 + 2 * n + j] = min(safe, record[k - 1, 5 + 2 * n + j])
        record[k, 5 + 3 * n + j] = least
        if sure < least_c[j]:
            return 0
        if safe < least:
            maybe = 1
    return maybe


@numba.njit(cache=True, error_model="numpy")
def binding_nodes(cells: FloatArray, first: int, record: FloatArray, end: int, candidates: IntArray, counted: int,
                  least_c: FloatArray, samples: int, mark: IntArray, room: FloatArray, out: FloatArray) -> int:
    """Of the candidate nodes those to look at closely for every T_in up to `sure` -> `out` (m, 2 + 2 n_rows): speed,
    sin_down, offset, factor. Returns how many.

    samples = 0: all that may bind. Else those that bind first, one row at a time, at so many T_in between the least and
    the highest, by the middle of their rooms. A node left out can only make a bound too low and a plan fail its march;
    it never hides a limit. mark (2, n + 1), room (n + 1, 2 n_rows): scratch.
    """
    cells, record, candidates, least_c = borrowed(cells), borrowed(record), borrowed(candidates), borrowed(least_c)
    mark, room, out = borrowed(mark), borrowed(room), borrowed(out)
    n = least_c.shape[0]
    near = 0                                   # candidates that may bind for some T_in, in travel order
    for c in range(counted):
        k = candidates[c]
        for j in range(n):
            if record[k, 5 + 4 * n + j] - record[k, 5 + j] < record[end, 5 + 3 * n + j] * record[k, 5 + n + j]:
                mark[0, near] = 1 if samples == 0 else 0
                mark[1, near] = k
                for i in range(n):
                    room[near, i] = 0.5 * (record[k, 5 + 4 * n + i] + record[k, 5 + 5 * n + i]) - record[k, 5 + i]
                    room[near, n + i] = record[k, 5 + n + i]
                near += 1
                break
    for s in range(samples):
        for j in range(n):
            at = least_c[j] + (record[end, 5 + 3 * n + j] - least_c[j]) * s / max(samples - 1, 1)
            binds = -1
            least_room = np.inf
            for c in range(near):
                left = room[c, j] - room[c, n + j] * at
                if left < least_room:
                    least_room = left
                    binds = c
            if binds >= 0:
                mark[0, binds] = 1
    kept = 0
    for c in range(near - 1, -1, -1):
        if mark[0, c] == 1:
            k = mark[1, c]
            out[kept, 0] = np.sqrt(record[k, 0])
            out[kept, 1] = cells[min(first + k, cells.shape[0] - 1), 1]
            for j in range(2 * n):
                out[kept, 2 + j] = record[k, 5 + j]
            kept += 1
    return kept


@numba.njit(cache=True, error_model="numpy", forceinline=True)
def holds(rows: FloatArray, quick: FloatArray, scal: FloatArray, limit: FloatArray, nodes: FloatArray, begin: int, end: int,
          temps: FloatArray, label: int, at: FloatArray, rise: FloatArray) -> bool:
    """Whether the T_in of a label, temps (n_labels, n_rows), keeps the limit at the binding nodes begin to end, by the very
    rise the march works with. at, rise (n_rows,): scratch."""
    n = rows.shape[0]
    for m in range(begin, end):
        for j in range(n):
            at[j] = nodes[m, 2 + j] + nodes[m, 2 + n + j] * temps[label, j]
        quick_rise_k(rows, quick, at, nodes[m, 0], scal[MASS], nodes[m, 1], scal[EMERGENCY_PRESSURE], rise)
        for j in range(n):
            if at[j] + rise[j] > limit[j]:
                return False
    return True
