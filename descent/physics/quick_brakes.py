# SPDX-License-Identifier: MIT
"""Brakes in their usual state, no fade and strokes short of the limit: what is then constant is worked out once.

The general solution (`foundation_brake.pressure_for_force_kpa`, `brake_heat.emergency_rise_k`) holds everywhere; where
every row is straight in pressure it comes to a few products. Both ways give the same, and a row past its onset, its
limit or its valve's opening sends the march back to the general one.
"""

from __future__ import annotations

import numba
import numpy as np
from numpy.typing import NDArray

from descent.physics.brake_heat import stop_energy_j
from descent.physics.foundation_brake import (
    CAPACITY,
    COLD_C,
    COOL_REST,
    COOL_SPEED,
    CRACK,
    FADE_ON,
    FREE_STROKE,
    GAIN,
    LOAD,
    STROKE_FULL,
    STROKE_LIMIT,
    STROKE_PER_K,
    STROKE_PER_KPA,
    VALVE_OPEN,
    VALVE_SHARE,
    pressure_for_force_kpa,
    row_force_n,
    valve_pressure_kpa,
)

FloatArray = NDArray[np.float64]

(REST_RATE, SPEED_RATE, PER_JPK, GAIN_AT, CRACK_AT, STROKE_AT, STOP_N, STOP_TO_C, LONG_N, LONG_NPK,
 GRIP_N) = range(11)
COLUMNS = 11
PER_GAIN, OFFSET, FROM_KPA, TO_KPA = range(4)     # of the last line


@numba.njit(cache=True, error_model="numpy")
def quick_table(rows: FloatArray, most_kpa: float, emergency_kpa: float, adhesion: float, out: FloatArray) -> None:
    """What is constant as long as every row is straight in pressure -> `out` (n_rows + 1, 11), the last line for all together.

    rows (n_rows, 17); most_kpa [kPa]: highest service application; emergency_kpa [kPa]; adhesion [1]. Each row: cooling
    rate at rest [1/s] and for each m/s [1/m], 1 / capacity [K/J], gain [N/kPa], crack pressure [kPa] and stroke for each kPa
    [m/kPa] of the application (not of the chamber), force in an emergency stop [N] and the
    temperature [C] up to which it is that, beyond it that force at 0 C [N] and by temperature [N/K], and what grip allows
    [N]. All: 1 / gain [kPa/N], gain x crack pressure [N], the applications between which
    every row is straight [kPa]. Range: as `row_force_n`. Source: key derived.

    >>> from descent.physics.brake_heat import packed_rows
    >>> from descent.vehicle.catalogue import load_vehicle
    >>> rows = packed_rows(load_vehicle("tractor-semitrailer"))
    >>> table = np.empty((4, 11))
    >>> quick_table(rows, 690.0, 550.0, 0.6, table)
    >>> table.shape, round(float(table[:3, GAIN_AT].sum() * table[3, PER_GAIN]), 9)
    ((4, 11), 1.0)
    """
    n = rows.shape[0]
    out[:] = 0.0
    gain = 0.0
    offset = 0.0
    out[n, TO_KPA] = most_kpa
    for i in range(n):
        share = rows[i, VALVE_SHARE]
        out[i, REST_RATE] = rows[i, COOL_REST] / rows[i, CAPACITY]
        out[i, SPEED_RATE] = rows[i, COOL_SPEED] / rows[i, CAPACITY]
        out[i, PER_JPK] = 1.0 / rows[i, CAPACITY]
        out[i, GAIN_AT] = rows[i, GAIN] * share
        out[i, CRACK_AT] = rows[i, CRACK] / share
        out[i, STROKE_AT] = rows[i, STROKE_PER_KPA] * share
        gain += out[i, GAIN_AT]
        offset += out[i, GAIN_AT] * out[i, CRACK_AT]
        out[n, FROM_KPA] = max(out[n, FROM_KPA], out[i, CRACK_AT])
        if share < 1.0:
            out[n, TO_KPA] = min(out[n, TO_KPA], rows[i, VALVE_OPEN])
        grip = adhesion * rows[i, LOAD]
        at = valve_pressure_kpa(emergency_kpa, share, rows[i, VALVE_OPEN])
        room = rows[i, STROKE_LIMIT] - rows[i, FREE_STROKE] - rows[i, STROKE_PER_KPA] * at
        out[i, STOP_TO_C] = -np.inf if room < 0.0 else np.inf
        if room >= 0.0 and rows[i, STROKE_PER_K] > 0.0:
            out[i, STOP_TO_C] = COLD_C + room / rows[i, STROKE_PER_K]
        # past the limit, as `pressing_kpa`: p (full - free - growth) / (full - limit + give p), straight in temperature
        per_m = rows[i, GAIN] * at / (rows[i, STROKE_FULL] - rows[i, STROKE_LIMIT] + rows[i, STROKE_PER_KPA] * at)
        out[i, LONG_NPK] = -per_m * rows[i, STROKE_PER_K]
        out[i, LONG_N] = (per_m * (rows[i, STROKE_FULL] - rows[i, FREE_STROKE]) - rows[i, GAIN] * rows[i, CRACK]
                          - out[i, LONG_NPK] * COLD_C)
        out[i, STOP_N] = min(max(rows[i, GAIN] * (at - rows[i, CRACK]), 0.0), grip)
        out[i, GRIP_N] = grip
    out[n, PER_GAIN] = 1.0 / gain
    out[n, OFFSET] = offset


@numba.njit(cache=True, error_model="numpy")
def quick_pressure_kpa(rows: FloatArray, quick: FloatArray, temps_c: FloatArray, force_n: float, most_kpa: float,
                       out: FloatArray) -> float:
    """`pressure_for_force_kpa` [kPa] by the constants of `quick_table` where they hold: force of each row -> `out` [N].

    rows (n_rows, 17), quick (n_rows + 1, 11), temps_c (n_rows,) [C], force_n [N], most_kpa [kPa]. Range and source as there
    (key derived).

    >>> from descent.physics.brake_heat import packed_rows
    >>> from descent.vehicle.catalogue import load_vehicle
    >>> rows, temps_c, force_n = packed_rows(load_vehicle("tractor-semitrailer")), np.full(3, 25.0), np.empty(3)
    >>> table = np.empty((4, 11))
    >>> quick_table(rows, 690.0, 550.0, 0.6, table)
    >>> quick = quick_pressure_kpa(rows, table, temps_c, 40e3, 690.0, force_n)
    >>> round(quick - pressure_for_force_kpa(rows, temps_c, 40e3, 690.0, force_n), 9)
    0.0
    """
    n = rows.shape[0]
    pressure = (force_n + quick[n, OFFSET]) * quick[n, PER_GAIN]
    straight = quick[n, FROM_KPA] < pressure <= quick[n, TO_KPA]
    for i in range(n):
        stroke = (rows[i, FREE_STROKE] + quick[i, STROKE_AT] * pressure
                  + rows[i, STROKE_PER_K] * max(temps_c[i] - COLD_C, 0.0))
        straight = straight and temps_c[i] <= rows[i, FADE_ON] and stroke <= rows[i, STROKE_LIMIT]
        out[i] = quick[i, GAIN_AT] * (pressure - quick[i, CRACK_AT])
    if straight and force_n > 0.0:
        return float(pressure)
    return float(pressure_for_force_kpa(rows, temps_c, force_n, most_kpa, out))


@numba.njit(cache=True, error_model="numpy")
def quick_rise_k(rows: FloatArray, quick: FloatArray, temps_c: FloatArray, speed_mps: float, mass_kg: float,
                 sin_down: float, emergency_kpa: float, out: FloatArray) -> None:
    """`emergency_rise_k` [K] by the constants of `quick_table` where they hold -> `out` (n_rows,) [K].

    rows (n_rows, 17), quick (n_rows + 1, 11) made for the same emergency_kpa [kPa], temps_c (n_rows,) [C],
    speed_mps [m/s], mass_kg [kg], sin_down [1]. Range and source as there (key fhwa_grade_severity).

    >>> from descent.physics.brake_heat import emergency_rise_k, packed_rows
    >>> from descent.vehicle.catalogue import load_vehicle
    >>> rows, quick_k, rise_k = packed_rows(load_vehicle("tractor-semitrailer")), np.empty(3), np.empty(3)
    >>> table = np.empty((4, 11))
    >>> quick_table(rows, 690.0, 550.0, 0.6, table)
    >>> quick_rise_k(rows, table, np.full(3, 90.0), 20.0, 30000.0, 0.05, 550.0, quick_k)
    >>> _ = emergency_rise_k(rows, np.full(3, 90.0), 20.0, 30000.0, 0.05, 550.0, 0.6, rise_k)
    >>> bool(np.allclose(quick_k, rise_k, rtol=1e-12))
    True
    """
    n = rows.shape[0]
    total = 0.0
    for i in range(n):
        if temps_c[i] <= rows[i, FADE_ON]:
            long = max(quick[i, LONG_N] + quick[i, LONG_NPK] * max(temps_c[i], COLD_C), 0.0)
            out[i] = quick[i, STOP_N] if temps_c[i] <= quick[i, STOP_TO_C] else min(long, quick[i, GRIP_N])
        else:
            out[i] = min(row_force_n(rows[i], emergency_kpa, temps_c[i]), quick[i, GRIP_N])
        total += out[i]
    energy = stop_energy_j(total, mass_kg, speed_mps, sin_down)
    if energy == np.inf or total <= 0.0:
        out[:] = energy
        return
    for i in range(n):
        out[i] *= energy / total * quick[i, PER_JPK]
