# SPDX-License-Identifier: MIT
"""The compiled air system: reservoirs that feed each other through check valves, applications, leaks, compressor.

Isothermal: at one temperature the air in a volume is in proportion to its absolute pressure, so pressures here are
gauge [kPa] and every exchange adds volume x pressure. Reservoirs: 0 supply, 1 primary, 2 secondary, 3 trailer.
"""

from __future__ import annotations

import numba
import numpy as np
from numpy.typing import NDArray

from descent.physics.borrowed import borrowed
from descent.physics.foundation_brake import (
    FREE_STROKE,
    STROKE_PER_K,
    STROKE_PER_KPA,
    VALVE_OPEN,
    VALVE_SHARE,
    push_rod_stroke_m,
    valve_pressure_kpa,
)

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
TANKS = 4
ATMOSPHERE_KPA = 101.325
(COMPRESSOR, CUT_IN, CUT_OUT, SAFETY, LEAK_RELEASED, LEAK_APPLIED, PROTECTED, TRAILER_FLOOR, IDLE_SHARE) = range(9)
AREA, CLEARANCE, FULL, TANK = range(4)           # columns of the chamber table, count included in the first two
EDGES = np.array([[0, 1], [0, 2], [1, 3], [2, 3]])
SUBSTEP_S = 1.0


@numba.njit(cache=True, error_model="numpy", forceinline=True)
def equalise(pressure: FloatArray, volume: FloatArray, lost: IntArray, par: FloatArray) -> None:
    """Let air run through the check valves, from the fuller to the emptier, until none does.

    A lost reservoir stays empty and takes all that reaches it, unless protection valves shut it off; toward a lost
    trailer the tractor's protection valve closes at `TRAILER_FLOOR`. `pressure` (4,) [kPa] gauge is changed in place;
    volume (4,) [m3]; lost (4,), 1: lost; par (9,) as `air_system._parameters` packs it.

    Range: isothermal. Source: key derived. Example: `descent.physics.air_system.reservoir_along`.
    """
    for tank in range(TANKS):
        if lost[tank] == 1:
            pressure[tank] = 0.0
    for _ in range(60):
        moved = 0.0
        for edge in range(EDGES.shape[0]):
            a = EDGES[edge, 0]
            b = EDGES[edge, 1]
            if volume[b] <= 0.0 or lost[a] == 1 or pressure[a] <= pressure[b]:
                continue
            if lost[b] == 1:
                if par[PROTECTED] == 1.0:
                    continue
                after = min(pressure[a], par[TRAILER_FLOOR] if b == 3 else 0.0)
                moved = max(moved, pressure[a] - after)
                pressure[a] = after
                continue
            mean = (pressure[a] * volume[a] + pressure[b] * volume[b]) / (volume[a] + volume[b])
            moved = max(moved, pressure[a] - mean)
            pressure[a] = mean
            pressure[b] = mean
        if moved < 1e-9:
            return


@numba.njit(cache=True, error_model="numpy", forceinline=True)
def chamber_air(row: FloatArray, chamber: FloatArray, pressure_kpa: float, temp_c: float) -> float:
    """Volume x absolute pressure [m3 kPa] in the chambers of a row at an application [kPa] and brake temperature [C].

    row (17,) as in `foundation_brake`; chamber (4,): area [m2], clearance [m3], full stroke [m], reservoir. Range: the
    stroke is held at the full stroke. Source: key derived. Example: `descent.physics.air_system.reservoir_along`.
    """
    if pressure_kpa <= 0.0:
        return 0.0
    at = valve_pressure_kpa(pressure_kpa, row[VALVE_SHARE], row[VALVE_OPEN])
    stroke = push_rod_stroke_m(row[FREE_STROKE], row[STROKE_PER_KPA], row[STROKE_PER_K], at, temp_c)
    stroke = min(max(stroke, 0.0), chamber[FULL])
    return float((chamber[CLEARANCE] + chamber[AREA] * stroke) * (at + ATMOSPHERE_KPA))


@numba.njit(cache=True, error_model="numpy", forceinline=True)
def apply_brakes(pressure: FloatArray, volume: FloatArray, rows: FloatArray, chambers: FloatArray, temps_c: FloatArray,
                 lost: IntArray, from_kpa: float, to_kpa: float) -> float:
    """Raise the application from one pressure to another (0: released); returns the lowest pressure a circuit reached.

    The air taken is that of the chambers at `to_kpa` [kPa] less that at `from_kpa` [kPa]. A reservoir that cannot give it
    ends level with its chambers. `pressure` (4,) [kPa] is changed in place; volume (4,) [m3]; rows (n_rows, 17);
    chambers (n_rows, 4); temps_c (n_rows,) [C]; lost (4,), 1: lost.

    Range: isothermal. Source: key derived. Example: `descent.physics.air_system.snubs_until`.
    """
    reached = to_kpa
    for tank in range(1, TANKS):
        need = 0.0
        space = 0.0
        for i in range(rows.shape[0]):
            if int(chambers[i, TANK]) == tank:
                full = chamber_air(rows[i], chambers[i], to_kpa, temps_c[i])
                need += full - chamber_air(rows[i], chambers[i], from_kpa, temps_c[i])
                space += full / (to_kpa + ATMOSPHERE_KPA)
        if space <= 0.0 or volume[tank] <= 0.0 or lost[tank] == 1:
            continue
        after = pressure[tank] - max(need, 0.0) / volume[tank]
        if after < to_kpa:
            level = (pressure[tank] + ATMOSPHERE_KPA) * volume[tank] / (volume[tank] + space) - ATMOSPHERE_KPA
            after = max(min(max(after, level), pressure[tank]), 0.0)
            reached = min(reached, after)
        pressure[tank] = after
    return reached


@numba.njit(cache=True, error_model="numpy", forceinline=True)
def pass_time(pressure: FloatArray, volume: FloatArray, lost: IntArray, par: FloatArray, seconds: float,
              leak_kpaps: float, engine_share: float, pumping: bool) -> tuple[bool, float]:
    """Leak, pump and let run for a time [s]; returns (pumping at the end, time pumped [s]).

    The governor feels the supply reservoir: it loads the compressor at cut-in and unloads it at cut-out. `pressure`
    (4,) [kPa] is changed in place; volume (4,) [m3]; lost (4,), 1: lost; par (9,); leak_kpaps [kPa/s]; engine_share
    [1] of the compressor's rated speed.

    Range: isothermal, steps of at most 1 s. Source: key derived. Example: `descent.physics.air_system.reservoir_along`.
    """
    pumped = 0.0
    left = seconds
    while left > 0.0:
        dt = min(SUBSTEP_S, left)
        left -= dt
        if pressure[0] <= par[CUT_IN]:
            pumping = True
        for tank in range(TANKS):
            pressure[tank] = max(pressure[tank] - leak_kpaps * dt, 0.0)
        if pumping:
            pressure[0] += par[COMPRESSOR] * engine_share * ATMOSPHERE_KPA * dt / volume[0]
            pumped += dt
        equalise(pressure, volume, lost, par)
        if pressure[0] >= par[CUT_OUT]:
            pumping = False
        for tank in range(TANKS):
            pressure[tank] = min(pressure[tank], par[SAFETY])
        if pumping:
            pressure[0] = min(pressure[0], par[CUT_OUT])
    return pumping, pumped


@numba.njit(cache=True, error_model="numpy")
def along(time_s: FloatArray, dwell_s: FloatArray, application_kpa: FloatArray, snubs: FloatArray, temps_c: FloatArray,
          engine_share: FloatArray, rows: FloatArray, chambers: FloatArray, volume: FloatArray, lost: IntArray,
          par: FloatArray, pressure: FloatArray, out: FloatArray, reached: FloatArray, pumped: FloatArray) -> int:
    """Air along n cells. time_s (n + 1,) [s] arrival; dwell_s (n + 1,) [s], negative: no stop; application_kpa (n + 1,)
    [kPa] of the cell before a node; snubs (n, 2): begun [1], braking [s]; temps_c (n + 1, n_rows) [C]; engine_share
    (n + 1,) [1] of the compressor's rated speed.

    rows (n_rows, 17); chambers (n_rows, 4); volume (4,) [m3]; lost (4,), 1: lost; par (9,). `pressure` (4,) [kPa] is
    the start and becomes the end; `out` (n + 1, 4) [kPa]: pressures on arrival; `reached` (n + 1,) [kPa]: lowest
    application a circuit could give in the cell; `pumped` (n + 1,) [s]: time the compressor worked. Returns the number
    of times it was loaded.

    Range: isothermal. Source: key derived. Example: `descent.physics.air_system.reservoir_along`.
    """
    time_s, dwell_s, application_kpa, snubs = borrowed(time_s), borrowed(dwell_s), borrowed(application_kpa), borrowed(snubs)
    temps_c, engine_share, rows, chambers = borrowed(temps_c), borrowed(engine_share), borrowed(rows), borrowed(chambers)
    volume, lost, par, pressure = borrowed(volume), borrowed(lost), borrowed(par), borrowed(pressure)
    out, reached, pumped = borrowed(out), borrowed(reached), borrowed(pumped)
    n = time_s.shape[0] - 1
    pumping = False
    loaded = 0
    held = 0.0
    reached[0] = application_kpa[0]
    equalise(pressure, volume, lost, par)
    for i in range(n + 1):
        for tank in range(TANKS):
            out[i, tank] = pressure[tank]
        if dwell_s[i] > 0.0:
            was = pumping
            pumping, spent = pass_time(pressure, volume, lost, par, dwell_s[i], par[LEAK_APPLIED], par[IDLE_SHARE],
                                       pumping)
            pumped[i] += spent
            loaded += 1 if spent > 0.0 and not was else 0
            held = 0.0
        if i == n:
            break
        asked = application_kpa[i + 1]
        reached[i + 1] = asked
        for _ in range(int(snubs[i, 0])):
            got = apply_brakes(pressure, volume, rows, chambers, temps_c[i + 1], lost, 0.0, asked)
            reached[i + 1] = min(reached[i + 1], got)
            equalise(pressure, volume, lost, par)
            held = asked
        if asked > held:
            got = apply_brakes(pressure, volume, rows, chambers, temps_c[i + 1], lost, held, asked)
            reached[i + 1] = min(reached[i + 1], got)
            equalise(pressure, volume, lost, par)
        held = asked
        drive_s = max(time_s[i + 1] - time_s[i] - max(dwell_s[i], 0.0), 0.0)
        braked_s = min(snubs[i, 1], drive_s) if snubs[i, 1] > 0.0 else (drive_s if asked > 0.0 else 0.0)
        was = pumping
        leak = par[LEAK_RELEASED]
        if drive_s > 0.0:
            leak += (par[LEAK_APPLIED] - par[LEAK_RELEASED]) * braked_s / drive_s
        pumping, spent = pass_time(pressure, volume, lost, par, drive_s, leak, engine_share[i], pumping)
        pumped[i + 1] += spent
        loaded += 1 if spent > 0.0 and not was else 0
    return loaded
