# SPDX-License-Identifier: MIT
"""The compiled march down the road, cell by cell: what passes at every node, and what each cell took."""

from __future__ import annotations

import numba
import numpy as np
from numpy.typing import NDArray

from descent.physics.borrowed import borrowed
from descent.physics.cell_kernel import (
    ADHESION,
    BRAKES_J,
    EMERGENCY_PRESSURE,
    ENGINE_J,
    FORCE,
    MASS,
    MAX_PRESSURE,
    PARKED_FRACTION,
    PRESSURE,
    RETARDER_J,
    SNUB_S,
    SNUBS,
    cross,
    lower_cap,
    stand,
)
from descent.physics.quick_brakes import quick_rise_k, quick_table

FloatArray = NDArray[np.float64]


@numba.njit(cache=True, nogil=True, error_model="numpy")
def march(step_m: FloatArray, sin_down: FloatArray, cos_road: FloatArray, k_air: FloatArray, cool: FloatArray,
          air_temp: FloatArray, cap_u: FloatArray, row_of: NDArray[np.int64], snubbed: NDArray[np.int64],
          held: FloatArray, ret: FloatArray, inv_step: float, rows: FloatArray, scal: FloatArray,
          dwell_s: FloatArray, start_u: float, temps: FloatArray, node: FloatArray, node_temp: FloatArray,
          node_rise: FloatArray, leave_temp: FloatArray, node_decay: FloatArray, snub_log: FloatArray,
          work: FloatArray, energy: FloatArray, by_row: FloatArray, quick: FloatArray, carried: FloatArray) -> int:
    """March over n cells. Shapes: cells (n,), nodes (n + 1,), node (n + 1, 4) = time [s], speed [m/s], pressure [kPa],
    brake force [N].

    Cells: step_m [m], sin_down, cos_road [1], k_air [N/(m/s)2], cool [1], air_temp [C], row_of, snubbed. `cap_u` per
    node [m2/s2]; `held`, `ret` (n_settings, n_speeds) [N]: engine and retarder together, and the retarder alone, at
    speeds 1 / `inv_step` [m/s] apart; `rows` (n_rows, 17);
    `scal` (14,) as `march.scalars` gives it; start_u [m2/s2]. `temps` (n_rows,) [C] is the start and becomes the end;
    `dwell_s` per node [s], negative where there is no stop; `node_temp`, `leave_temp` [C], `node_rise` [K] (n + 1, n_rows);
    `node_decay` (n + 1, n_rows) [1]: rate x time gathered up to each node, before any stop there; without an emergency
    pressure `node_rise` is left alone; `snub_log` (n, 2): snubs begun and seconds spent in them, per cell; `work` (n, 3)
    [J]: brakes, engine, retarder; `energy` (9,) [J]; by_row (2, n_rows), quick (n_rows + 1, 11), carried (11,): scratch, zeros.
    All in C order. Returns the node reached (n unless stalled).

    Range and source as in the wrapper (key derived). Example: `descent.physics.march.march`.
    """
    step_m, sin_down, cos_road, k_air = borrowed(step_m), borrowed(sin_down), borrowed(cos_road), borrowed(k_air)
    cool, air_temp, cap_u, dwell_s = borrowed(cool), borrowed(air_temp), borrowed(cap_u), borrowed(dwell_s)
    row_of, snubbed, held, ret = borrowed(row_of), borrowed(snubbed), borrowed(held), borrowed(ret)
    rows, scal, temps, node, node_temp = borrowed(rows), borrowed(scal), borrowed(temps), borrowed(node), borrowed(node_temp)
    node_rise, leave_temp, node_decay = borrowed(node_rise), borrowed(leave_temp), borrowed(node_decay)
    snub_log, work, energy = borrowed(snub_log), borrowed(work), borrowed(energy)
    by_row, quick, carried = borrowed(by_row), borrowed(quick), borrowed(carried)
    n = int(step_m.shape[0])
    count = rows.shape[0]
    decay, share = by_row[0], by_row[1]
    state, log = carried[:4], carried[4:]
    quick_table(rows, scal[MAX_PRESSURE], scal[EMERGENCY_PRESSURE], scal[ADHESION], quick)
    state[0], state[1], state[2], state[3] = start_u, 0.0, 1.0, 0.0      # speed is being gained, not regained between snubs
    low = lower_cap(cap_u[0], scal)
    for i in range(n + 1):
        at = min(i, n - 1)
        node[i, 0] = state[3]
        node[i, 1] = np.sqrt(state[0])
        for j in range(count):
            node_temp[i, j] = temps[j]
            node_decay[i, j] = decay[j]
        if scal[EMERGENCY_PRESSURE] > 0.0:
            quick_rise_k(rows, quick, temps, node[i, 1], scal[MASS], sin_down[at], scal[EMERGENCY_PRESSURE],
                         node_rise[i])
        if dwell_s[i] >= 0.0:
            stand(temps, rows, dwell_s[i], cool[at] * scal[PARKED_FRACTION], air_temp[at], decay, energy)
            state[1] = 0.0
            state[2] = 1.0
            state[3] += dwell_s[i]
        for j in range(count):
            leave_temp[i, j] = temps[j]
        if i == n:
            break
        begins = low
        low = lower_cap(cap_u[i + 1], scal) if cap_u[i + 1] != cap_u[i] else low
        log[:] = 0.0
        whole = cross(step_m[i], sin_down[i], cos_road[i], k_air[i], cool[i], air_temp[i], cap_u[i], cap_u[i + 1], begins,
                      low, row_of[i], snubbed[i], held, ret, inv_step, rows, quick, scal, state, temps, decay, share, log,
                      energy)
        snub_log[i, 0], snub_log[i, 1] = log[SNUBS], log[SNUB_S]
        node[i + 1, 2], node[i + 1, 3] = log[PRESSURE], log[FORCE]
        work[i, 0], work[i, 1], work[i, 2] = log[BRAKES_J], log[ENGINE_J], log[RETARDER_J]
        if not whole:
            return i
    return n
