# SPDX-License-Identifier: MIT
"""Compiled: what a section asks of the air, cell by cell, and the reservoirs of labels that drive or stand."""

from __future__ import annotations

import numba
import numpy as np
from numpy.typing import NDArray

from descent.physics.air_kernel import (
    IDLE_SHARE,
    LEAK_APPLIED,
    LEAK_RELEASED,
    TANKS,
    apply_brakes,
    equalise,
    pass_time,
)
from descent.physics.cell_kernel import (
    ADHESION,
    EMERGENCY_PRESSURE,
    MAX_PRESSURE,
    PARKED_FRACTION,
    PRESSURE,
    SNUB_S,
    cross,
    lower_cap,
    stand,
)
from descent.physics.cell_kernel import SNUBS as SNUBS_BEGUN
from descent.physics.quick_brakes import COLUMNS as QUICK_COLUMNS
from descent.physics.quick_brakes import quick_table

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
DRIVEN_S, ASKED_KPA, SNUBS, BRAKED_S, SPEED_MPS, DWELL_S, TEMPS = range(7)     # columns of a section's log
HELD, COLUMNS = TANKS, TANKS + 1                                               # columns of the air, tanks first


@numba.njit(cache=True, error_model="numpy")
def _logged(cells: FloatArray, first: int, cap_u: FloatArray, begin: int, row: int, held: FloatArray,
            inv_step: float, flat: FloatArray, quick: FloatArray, scal: FloatArray, stop: int, stop_s: float, passed: FloatArray,
            out: FloatArray) -> None:
    """Drive a section from node `begin` on; passed (n + 1, 4 + 2 n_rows): state, temperatures and decay at every node, that
    of `begin` read, those after it written."""
    n = flat.shape[0]
    state, temps, decay = passed[begin, :4].copy(), passed[begin, 4:4 + n].copy(), passed[begin, 4 + n:].copy()
    energy, spare, log = np.zeros(9), np.zeros(n), np.zeros(7)
    for i in range(begin, out.shape[0]):
        c = first + i
        out[i, DWELL_S] = -1.0
        if i == stop:
            stand(temps, flat, stop_s, cells[c, 4] * scal[PARKED_FRACTION], cells[c, 5], decay, energy)
            state[1], state[2] = 0.0, 1.0
            out[i, DWELL_S] = stop_s
        out[i, SPEED_MPS] = np.sqrt(state[0])
        log[:] = 0.0
        began = state[3]
        if not cross(cells[c, 0], cells[c, 1], cells[c, 2], cells[c, 3], cells[c, 4], cells[c, 5], cap_u[i], cap_u[i + 1],
                     lower_cap(cap_u[i], scal), lower_cap(cap_u[i + 1], scal), row, 1, held, held, inv_step, flat, quick, scal,
                     state, temps, decay, spare, log, None):
            return
        out[i, DRIVEN_S] = state[3] - began
        out[i, ASKED_KPA] = log[PRESSURE]
        out[i, SNUBS] = log[SNUBS_BEGUN]
        out[i, BRAKED_S] = log[SNUB_S]
        for j in range(n):
            out[i, TEMPS + j] = temps[j]
            out[i, TEMPS + n + j] = np.exp(-decay[j])
        passed[i + 1, :4] = state
        passed[i + 1, 4:4 + n] = temps
        passed[i + 1, 4 + n:] = decay


@numba.njit(cache=True, error_model="numpy")
def section_logs(cells: FloatArray, first: int, along_m: FloatArray, cap_u: FloatArray, exit_u: FloatArray, brake: float,
                 row: int, held: FloatArray, inv_step: float, flat: FloatArray, scal: FloatArray,
                 start: FloatArray, stop: int, stop_s: float, out: FloatArray) -> None:
    """Drive a section of n cells from the state `start` (3,) to each of its exits, cap squared exit_u (k,) [m2/s2] at their
    ends, and log every cell -> out (k, n, 6 + 2 n_rows): seconds driven, application [kPa], snubs begun, seconds in them,
    speed at its first node [m/s], seconds stood there, then offset and factor of T_in at its last node. Exits at which
    the vehicle stalls are left unfinished; cap_u (n + 1,); brake: twice the deceleration [m/s2]."""
    n, rows = cap_u.shape[0] - 1, flat.shape[0]
    trunk, passed = np.zeros((n, TEMPS + 2 * rows)), np.zeros((n + 1, 4 + 2 * rows))
    passed[0, :3] = start
    quick = np.empty((rows + 1, QUICK_COLUMNS))
    quick_table(flat, scal[MAX_PRESSURE], scal[EMERGENCY_PRESSURE], scal[ADHESION], quick)
    _logged(cells, first, cap_u, 0, row, held, inv_step, flat, quick, scal, stop, stop_s, passed, trunk)
    for k in range(exit_u.shape[0]):
        own = np.minimum(cap_u, exit_u[k] + brake * (along_m[n] - along_m))
        begin = 0
        while begin < n and own[begin] == cap_u[begin] and own[begin + 1] == cap_u[begin + 1]:
            begin += 1
        out[k, :begin] = trunk[:begin]
        if begin < n:
            mine = passed.copy()
            _logged(cells, first, own, begin, row, held, inv_step, flat, quick, scal, stop, stop_s, mine, out[k])


@numba.njit(cache=True, error_model="numpy")
def breathe(log: FloatArray, share: FloatArray, map_of: IntArray, temps: FloatArray, air: FloatArray,
            rows: FloatArray, chambers: FloatArray, volume: FloatArray, par: FloatArray, warning_kpa: float,
            out: FloatArray, lasts: IntArray) -> None:
    """Air of labels along the section each drives, as `air_kernel.along` has it.

    log (m, n, 6 + 2 n_rows) of every map; share (m, n): of the compressor's rated speed; map_of (k,), temps (k, n_rows) [C]
    and air (k, 5): the labels at the section's start; out (k, 5): at its end; lasts (k,): 1 where the
    service reservoirs stay at or above the warning at every node."""
    n = rows.shape[0]
    lost = np.zeros(TANKS, dtype=np.int64)
    at = np.empty(n)
    tanks = np.empty(TANKS)
    for k in range(map_of.shape[0]):
        tanks[:] = air[k, :TANKS]
        held = air[k, HELD]
        pumping = True
        lasts[k] = 1
        m = map_of[k]
        for q in range(log.shape[1]):
            if log[m, q, DWELL_S] > 0.0:
                pumping, _ = pass_time(tanks, volume, lost, par, log[m, q, DWELL_S], par[LEAK_APPLIED], par[IDLE_SHARE],
                                       pumping)
                held = 0.0
            asked = log[m, q, ASKED_KPA]
            if log[m, q, SNUBS] > 0.0 or asked > held:
                for j in range(n):
                    at[j] = log[m, q, TEMPS + j] + log[m, q, TEMPS + n + j] * temps[k, j]
                for _ in range(int(log[m, q, SNUBS])):
                    apply_brakes(tanks, volume, rows, chambers, at, lost, 0.0, asked)
                    equalise(tanks, volume, lost, par)
                    held = asked
                if asked > held:
                    apply_brakes(tanks, volume, rows, chambers, at, lost, held, asked)
                    equalise(tanks, volume, lost, par)
            held = asked
            driven = log[m, q, DRIVEN_S]
            braked = min(log[m, q, BRAKED_S], driven) if log[m, q, BRAKED_S] > 0.0 else (driven if asked > 0.0 else 0.0)
            leak = par[LEAK_RELEASED]
            if driven > 0.0:
                leak += (par[LEAK_APPLIED] - par[LEAK_RELEASED]) * braked / driven
            pumping, _ = pass_time(tanks, volume, lost, par, driven, leak, share[m, q], pumping)
            if min(tanks[1], tanks[2]) < warning_kpa:
                lasts[k] = 0
                break
        out[k, :TANKS] = tanks
        out[k, HELD] = held


@numba.njit(cache=True, error_model="numpy")
def stood(air: FloatArray, seconds: FloatArray, volume: FloatArray, par: FloatArray, out: FloatArray) -> None:
    """Air of labels (k, 5) after standing for each of the rising times (m,) [s], the engine idling -> out (k, m, 5)."""
    lost = np.zeros(TANKS, dtype=np.int64)
    tanks = np.empty(TANKS)
    for k in range(air.shape[0]):
        tanks[:] = air[k, :TANKS]
        pumping = True
        before = 0.0
        for m in range(seconds.shape[0]):
            pumping, _ = pass_time(tanks, volume, lost, par, seconds[m] - before, par[LEAK_APPLIED], par[IDLE_SHARE],
                                   pumping)
            before = seconds[m]
            out[k, m, :TANKS] = tanks
            out[k, m, HELD] = 0.0
