# SPDX-License-Identifier: MIT
"""Force of air-operated foundation brakes: pressure, push-rod stroke, heat and fade, and how they share a demand.

One row is one brake, or several alike, of an axle group. The columns of a row table stand below; forces are those at
the tyres. Columns are packed by `brake_heat.packed_rows`.
"""

from __future__ import annotations

import numba
import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

(GAIN, CRACK, CAPACITY, COOL_REST, COOL_SPEED, FADE_ON, FADE_END, FADE_FLOOR, LIMIT, FREE_STROKE, STROKE_PER_KPA,
 STROKE_PER_K, STROKE_LIMIT, STROKE_FULL, VALVE_SHARE, VALVE_OPEN, LOAD) = range(17)
COLUMNS = 17
COLD_C = 25.0            # strokes are measured on cold brakes [C]
VALVE_RAMP = 1.25        # a limiting valve gives full pressure from this multiple of its opening pressure on
SCAN_KPA = 10.0


@numba.njit(cache=True, error_model="numpy")
def fade(temp_c: float, onset_c: float, end_c: float, floor: float) -> float:
    """Fraction [1] of cold brake torque left at a temperature [C]: 1 to the onset [C], linear to the floor [1] at the
    end [C], which holds beyond it.

    Source: key drum_fade_onset for the onset; the shape is assumed.

    >>> [fade(t, 300.0, 500.0, 0.35) for t in (20.0, 400.0, 600.0)]
    [1.0, 0.675, 0.35]
    """
    if temp_c <= onset_c:
        return 1.0
    if temp_c >= end_c:
        return floor
    return 1.0 - (1.0 - floor) * (temp_c - onset_c) / (end_c - onset_c)


@numba.njit(cache=True, error_model="numpy")
def push_rod_stroke_m(free_m: float, per_kpa: float, per_k: float, pressure_kpa: float, temp_c: float) -> float:
    """Push-rod stroke [m]: free stroke [m], give of the brake with pressure [m/kPa], growth of a hot drum [m/K].

    A hot drum is larger, the shoes follow, and the rod travels further: 0.06-0.11 in per 100 F (key drum_growth:
    upper bound derived from expansion, lower end from memory, low confidence). Range: to the chamber's full stroke,
    which is not looked at here; below 25 C the drum is taken as at 25 C. Pressure [kPa], temperature [C].

    >>> round(push_rod_stroke_m(0.03, 2e-5, 5e-5, 500.0, 125.0), 4)
    0.045
    """
    return free_m + per_kpa * pressure_kpa + per_k * max(temp_c - COLD_C, 0.0)


@numba.njit(cache=True, error_model="numpy")
def stroke_efficiency(stroke_m: float, limit_m: float, full_m: float) -> float:
    """Fraction [1] of chamber force left at a stroke [m]: about whole to the readjustment limit [m], then falling to
    nothing where the chamber bottoms [m].

    Source: keys cfr_393_47, fmvss_121_memory for the strokes; the shape is seen second hand (an enforcement
    association's page too), that it is linear is assumed.

    >>> [round(stroke_efficiency(s, 2.0, 2.5), 2) for s in (1.0, 2.0, 2.25, 2.5, 3.0)]
    [1.0, 1.0, 0.5, 0.0, 0.0]
    """
    if stroke_m <= limit_m:
        return 1.0
    if stroke_m >= full_m:
        return 0.0
    return (full_m - stroke_m) / (full_m - limit_m)


@numba.njit(cache=True, error_model="numpy")
def valve_pressure_kpa(pressure_kpa: float, share: float, open_kpa: float) -> float:
    """Pressure [kPa] behind a front-axle limiting valve at an application [kPa]: a share [1] of it up to the opening
    pressure [kPa], then rising to the whole at `VALVE_RAMP` times that.

    Source: key practice; the straight rise is assumed.

    >>> [valve_pressure_kpa(p, 0.5, 300.0) for p in (200.0, 300.0, 375.0)]
    [100.0, 150.0, 375.0]
    """
    if share >= 1.0 or pressure_kpa >= VALVE_RAMP * open_kpa:
        return pressure_kpa
    if pressure_kpa <= open_kpa:
        return share * pressure_kpa
    low = share * open_kpa
    return low + (VALVE_RAMP * open_kpa - low) * (pressure_kpa - open_kpa) / ((VALVE_RAMP - 1.0) * open_kpa)


@numba.njit(cache=True, error_model="numpy")
def pressing_kpa(row: FloatArray, pressure_kpa: float, temp_c: float) -> float:
    """The part of a chamber's pressure [kPa] that presses on the brake, once stroke and force have found each other.

    The brake gives with the force on it, and past the readjustment limit force falls with stroke: p' = p eff(s) with
    s = free stroke + growth + give p'. With the straight fall of `stroke_efficiency` the solution is closed,
    p' = p (full - s0) / (full - limit + give p), and never falls with pressure (derived). row (17,); pressure at the
    chamber [kPa]; temp_c [C]. Range: 0 where the chamber bottoms before it presses; the whole pressure up to the limit.
    Source: key derived.

    >>> from descent.physics.brake_heat import packed_rows
    >>> from descent.vehicle.catalogue import load_vehicle
    >>> row = packed_rows(load_vehicle("tractor-semitrailer"))[1]
    >>> short = pressing_kpa(row, 300.0, 25.0)
    >>> row[FREE_STROKE] = row[STROKE_LIMIT]
    >>> pressing = pressing_kpa(row, 300.0, 25.0)
    >>> stroke_m = push_rod_stroke_m(row[FREE_STROKE], row[STROKE_PER_KPA], row[STROKE_PER_K], pressing, 25.0)
    >>> short, round(pressing / (300.0 * stroke_efficiency(stroke_m, row[STROKE_LIMIT], row[STROKE_FULL])), 9)
    (300.0, 1.0)
    """
    begins = push_rod_stroke_m(row[FREE_STROKE], row[STROKE_PER_KPA], row[STROKE_PER_K], 0.0, temp_c)
    if begins + row[STROKE_PER_KPA] * pressure_kpa <= row[STROKE_LIMIT]:
        return pressure_kpa
    if begins >= row[STROKE_FULL]:
        return 0.0
    return float(pressure_kpa * (row[STROKE_FULL] - begins) / (
        row[STROKE_FULL] - row[STROKE_LIMIT] + row[STROKE_PER_KPA] * pressure_kpa))


@numba.njit(cache=True, error_model="numpy")
def row_force_n(row: FloatArray, pressure_kpa: float, temp_c: float) -> float:
    """Retarding force [N] of one row (17,) at an application pressure [kPa] and temperature [C], at the tyres.

    Gain x (`pressing_kpa` - crack pressure) x fade. Range: pressure of a service application; 0 up to the crack
    pressure; the tyres' grip is not looked at. Source: key derived from the row's own values, whose sources the
    vehicle's file names; that force rises in proportion is assumed.

    >>> from descent.physics.brake_heat import packed_rows
    >>> from descent.vehicle.catalogue import load_vehicle
    >>> row = packed_rows(load_vehicle("tractor-semitrailer"))[1]
    >>> row_force_n(row, row[CRACK], 25.0), round(float(row_force_n(row, row[CRACK] + 100.0, 25.0) / row[GAIN]), 6)
    (0.0, 100.0)
    """
    at = valve_pressure_kpa(pressure_kpa, row[VALVE_SHARE], row[VALVE_OPEN])
    if at <= row[CRACK]:
        return 0.0
    pressing = pressing_kpa(row, at, temp_c)
    if pressing <= row[CRACK]:
        return 0.0
    return float(row[GAIN] * (pressing - row[CRACK])
                 * fade(temp_c, row[FADE_ON], row[FADE_END], row[FADE_FLOOR]))


@numba.njit(cache=True, error_model="numpy")
def forces_at(rows: FloatArray, temps_c: FloatArray, pressure_kpa: float, out: FloatArray) -> float:
    """Force of every row at one application pressure [kPa] -> `out` (n_rows,) [N]; returns their sum [N].

    rows (n_rows, 17), temps_c (n_rows,) [C]. Range and source as in `row_force_n` (key derived).

    >>> from descent.physics.brake_heat import packed_rows
    >>> from descent.vehicle.catalogue import load_vehicle
    >>> rows, force_n = packed_rows(load_vehicle("tractor-semitrailer")), np.empty(3)
    >>> total_n = forces_at(rows, np.full(3, 25.0), 300.0, force_n)
    >>> round(float(total_n - force_n.sum()), 6)
    0.0
    """
    total = 0.0
    for i in range(rows.shape[0]):
        out[i] = row_force_n(rows[i], pressure_kpa, temps_c[i])
        total += out[i]
    return total


@numba.njit(cache=True, error_model="numpy")
def _linear_pressure(rows: FloatArray, temps_c: FloatArray, force_n: float) -> float:
    """Pressure when every row is straight in pressure (strokes short, valves below opening); rows whose crack
    pressure is not reached drop out."""
    low = -1.0
    pressure = 0.0
    for _ in range(rows.shape[0] + 1):
        slope = 0.0
        offset = 0.0
        for i in range(rows.shape[0]):
            crack = rows[i, CRACK] / rows[i, VALVE_SHARE]
            if low < 0.0 or crack < low:
                gain = rows[i, GAIN] * rows[i, VALVE_SHARE] * fade(temps_c[i], rows[i, FADE_ON], rows[i, FADE_END],
                                                                   rows[i, FADE_FLOOR])
                slope += gain
                offset += gain * crack
        pressure = (force_n + offset) / slope
        settled = True
        for i in range(rows.shape[0]):
            crack = rows[i, CRACK] / rows[i, VALVE_SHARE]
            if (low < 0.0 or crack < low) and crack >= pressure:
                settled = False
        if settled:
            return pressure
        low = pressure
    return pressure


@numba.njit(cache=True, error_model="numpy")
def pressure_for_force_kpa(rows: FloatArray, temps_c: FloatArray, force_n: float, most_kpa: float,
                           out: FloatArray) -> float:
    """Lowest common application pressure [kPa] at which the rows give `force_n` [N]; each row's force -> `out`
    (n_rows,) [N].

    rows (n_rows, 17), temps_c (n_rows,) [C]. Range: 0 to `most_kpa` [kPa]. Source: key derived (`row_force_n` solved
    for pressure).

    Straight rows are solved exactly. Where a stroke passes its limit or a valve opens, the pressure is scanned upward
    and the crossing refined. When even `most_kpa` or less
    cannot give it, the pressure of the greatest force is returned and the forces add up to less than asked.

    >>> from descent.physics.brake_heat import packed_rows
    >>> from descent.vehicle.catalogue import load_vehicle
    >>> rows, temps_c, force_n = packed_rows(load_vehicle("tractor-semitrailer")), np.full(3, 25.0), np.empty(3)
    >>> pressure_kpa = pressure_for_force_kpa(rows, temps_c, 40e3, 690.0, force_n)
    >>> round(forces_at(rows, temps_c, pressure_kpa, force_n), 3)
    40000.0
    """
    if force_n <= 0.0:
        out[:] = 0.0
        return 0.0
    pressure = _linear_pressure(rows, temps_c, force_n)
    straight = pressure <= most_kpa
    for i in range(rows.shape[0]):
        at = pressure * rows[i, VALVE_SHARE]
        stroke = push_rod_stroke_m(rows[i, FREE_STROKE], rows[i, STROKE_PER_KPA], rows[i, STROKE_PER_K], at, temps_c[i])
        if stroke > rows[i, STROKE_LIMIT] or (rows[i, VALVE_SHARE] < 1.0 and pressure > rows[i, VALVE_OPEN]):
            straight = False
    if straight:
        forces_at(rows, temps_c, pressure, out)
        return pressure
    best_force = 0.0
    best_kpa = 0.0
    low = 0.0
    while low < most_kpa:
        high = min(low + SCAN_KPA, most_kpa)
        force = forces_at(rows, temps_c, high, out)
        if force >= force_n:
            for _ in range(50):
                middle = 0.5 * (low + high)
                if forces_at(rows, temps_c, middle, out) >= force_n:
                    high = middle
                else:
                    low = middle
                if high - low < 1e-7 * high:
                    break
            out *= force_n / forces_at(rows, temps_c, high, out)        # the crossing is known to 1e-7 of the pressure
            return high
        if force > best_force:
            best_force = force
            best_kpa = high
        low = high
    forces_at(rows, temps_c, best_kpa, out)
    return best_kpa
