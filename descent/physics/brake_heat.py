# SPDX-License-Identifier: MIT
"""Heat in the brakes: one lumped capacity per row of brakes, and what one emergency stop adds."""

from __future__ import annotations

from typing import Any, cast

import numba
import numpy as np
from numpy.typing import NDArray

from descent.physics.foundation_brake import (
    CAPACITY,
    COLD_C,
    COLUMNS,
    COOL_REST,
    COOL_SPEED,
    GAIN,
    LOAD,
    forces_at,
    row_force_n,
)
from descent.units import PSI_KPA
from descent.vehicle.model import Vehicle

FloatArray = NDArray[np.float64]

STOP_SAFETY_FACTOR = 1.5
"""Applied to kinetic energy plus gravity work of an emergency stop: the published term, 3.11e-7 W V^2 [F], is 1.4976 x
kinetic energy / heat capacity (key fhwa_grade_severity, derived); rounded up, gravity work added (assumed)."""

FULL_APPLICATION_KPA = 85 * PSI_KPA


def packed_rows(vehicle: Vehicle) -> FloatArray:
    """The brakes as one table (n_rows, 17) for the compiled march; columns as in `foundation_brake`.

    A row is all brakes alike of an axle group: gain [N/kPa], heat capacity [J/K], cooling [W/K] and [W/(m/s)/K], and
    load [N] are of the row together; pressures [kPa], temperatures [C] and strokes [m] of one brake. Source: key
    derived (the vehicle's own values, multiplied by their number).

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> truck = load_vehicle("tractor-semitrailer")
    >>> rows = packed_rows(truck)
    >>> rows.shape, round(float(rows[:, LOAD].sum() / truck.weight_n), 6)
    ((3, 17), 1.0)
    """
    table = np.empty((len(vehicle.rows), COLUMNS))
    for index, row in enumerate(vehicle.rows):
        brake, chamber = row.brake, row.brake.chamber
        free_m = brake.stroke_m - brake.stroke_per_kpa_m * FULL_APPLICATION_KPA
        table[index] = (
            brake.force_n_per_kpa * brake.count, brake.crack_kpa, brake.heat_capacity_jpk * brake.count,
            brake.cooling_wpk * brake.count, brake.cooling_wpk_per_mps * brake.count, brake.fade_onset_c,
            brake.fade_end_c, brake.fade_floor, brake.temp_limit_c, free_m, brake.stroke_per_kpa_m,
            brake.stroke_per_k_m, chamber.stroke_limit_m, chamber.full_stroke_m, brake.valve_share,
            brake.valve_open_kpa, vehicle.axles[row.axle].load_kg * row.load_share * 9.80665)
    return table


def alike_rows(rows: FloatArray, *, emergency_kpa: float, adhesion: float) -> tuple[NDArray[np.int64], FloatArray]:
    """Rows whose brakes are alike taken together: group of each row (n_rows,), and the table of the groups (n_groups, 17).

    Alike: the same pressures, strokes, fade and limit, and gain, capacity and cooling in one proportion, so that they are
    always equally hot when they start so (derived); and grip caps neither in a stop at emergency_kpa [kPa], or both
    alike (adhesion [1] x load). Range: as `packed_rows`. Source: key derived.

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> group, table = alike_rows(packed_rows(load_vehicle("tractor-semitrailer")), emergency_kpa=550.0, adhesion=0.6)
    >>> group.tolist(), table.shape
    ([0, 1, 1], (2, 17))
    """
    summed = [GAIN, CAPACITY, COOL_REST, COOL_SPEED, LOAD]
    same = [column for column in range(COLUMNS) if column not in summed]
    group = np.full(len(rows), -1, dtype=np.int64)
    firsts: list[int] = []
    for number, row in enumerate(rows):
        for place, first in enumerate(firsts):
            scale = row[summed] / rows[first][summed]
            free = [cast(Any, row_force_n)(one, emergency_kpa, COLD_C) < adhesion * one[LOAD] for one in (row, rows[first])]
            if (np.array_equal(row[same], rows[first][same]) and np.allclose(scale[:4], scale[0], rtol=1e-12, atol=0.0)
                    and (all(free) or np.isclose(scale[4], scale[0], rtol=1e-12, atol=0.0))):
                group[number] = place
        if group[number] < 0:
            group[number] = len(firsts)
            firsts.append(number)
    table = rows[firsts].copy()
    for place in range(len(firsts)):
        table[place, summed] = rows[group == place][:, summed].sum(axis=0)
    return group, table


@numba.njit(cache=True, error_model="numpy")
def stop_energy_j(force_n: float, mass_kg: float, speed_mps: float, sin_down: float) -> float:
    """Heat of one emergency stop by brakes of `force_n` [N] in all [J]: 1.5 x (kinetic energy + gravity work on the grade
    over the braking distance), which is never less than the published 1.4976 x kinetic energy.

    mass_kg [kg], speed_mps [m/s], sin_down [1] positive downhill. Infinite where the deceleration is at or below 0.2 m/s2: a
    stop is not to be relied on there. Source: key fhwa_grade_severity for the published term; the rest assumed.

    >>> round(stop_energy_j(60e3, 30000.0, 20.0, 0.0) / (1.5 * 0.5 * 30000.0 * 20.0**2), 9)
    1.0
    """
    decel = force_n / mass_kg - 9.80665 * sin_down
    if decel <= 0.2:
        return np.inf if speed_mps > 0.0 else 0.0
    kinetic = 0.5 * mass_kg * speed_mps * speed_mps
    return float(STOP_SAFETY_FACTOR * kinetic * (1.0 + 9.80665 * max(sin_down, 0.0) / decel))


@numba.njit(cache=True, error_model="numpy")
def emergency_rise_k(rows: FloatArray, temps_c: FloatArray, speed_mps: float, mass_kg: float, sin_down: float,
                     pressure_kpa: float, adhesion: float, out: FloatArray) -> float:
    """Temperature rise of each row in one stop from `speed_mps` [m/s], service brakes alone -> `out` (n_rows,) [K].

    rows (n_rows, 17), temps_c (n_rows,) [C], mass_kg [kg], sin_down [1] positive downhill, pressure_kpa [kPa],
    adhesion [1].

    `stop_energy_j`, shared as brake force is shared at `pressure_kpa` with the brakes as hot and their strokes as long as
    `temps_c` makes them; each row limited to adhesion x the load it carries. No help from engine,
    retarder, rolling or air is counted. Returns the deceleration [m/s2]; at or below 0.2 m/s2 a stop is not to be
    relied on and `out` is infinite. Source: key fhwa_grade_severity for the published term; the rest assumed. On the
    flat all of it is 1.5 times the kinetic energy:

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> truck = load_vehicle("tractor-semitrailer")
    >>> rows, rise_k = packed_rows(truck), np.empty(3)
    >>> decel_mps2 = emergency_rise_k(rows, np.full(3, 25.0), 20.0, 30000.0, 0.0, 550.0, 0.6, rise_k)
    >>> round(float((rise_k * rows[:, CAPACITY]).sum() / 1e6), 6)
    9.0
    """
    n = rows.shape[0]
    forces_at(rows, temps_c, pressure_kpa, out)
    total = 0.0
    for i in range(n):
        out[i] = min(out[i], adhesion * rows[i, LOAD])
        total += out[i]
    energy = stop_energy_j(total, mass_kg, speed_mps, sin_down)
    for i in range(n):
        if energy == np.inf:
            out[i] = np.inf
        else:
            out[i] = energy * (out[i] / total) / rows[i, CAPACITY] if total > 0.0 else 0.0
    return total / mass_kg - 9.80665 * sin_down


@numba.njit(cache=True, error_model="numpy")
def rises_along(rows: FloatArray, temps_c: FloatArray, speed_mps: FloatArray, sin_down: FloatArray, mass_kg: float,
                pressure_kpa: float, adhesion: float, out: FloatArray) -> None:
    """`emergency_rise_k` [K] at every node -> `out` (n, n_rows); range and source as there (key fhwa_grade_severity).

    rows (n_rows, 17), temps_c (n, n_rows) [C], speed_mps (n,) [m/s], sin_down (n - 1,) [1], mass_kg [kg],
    pressure_kpa [kPa], adhesion [1]. The last cell's grade stands at the last node too.

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> truck = load_vehicle("tractor-semitrailer")
    >>> rise_k = np.empty((2, 3))
    >>> rises_along(packed_rows(truck), np.full((2, 3), 25.0), np.array([10.0, 20.0]), np.zeros(1), truck.gross_kg,
    ...             550.0, 0.6, rise_k)
    >>> (rise_k[1] / rise_k[0]).round(6).tolist()
    [4.0, 4.0, 4.0]
    """
    last = sin_down.shape[0] - 1
    for node in range(speed_mps.shape[0]):
        emergency_rise_k(rows, temps_c[node], speed_mps[node], mass_kg, sin_down[min(node, last)], pressure_kpa,
                         adhesion, out[node])


def emergency_rise(vehicle: Vehicle, temps_c: FloatArray, *, speed_mps: float, sin_down: float,
                   adhesion: float) -> FloatArray:
    """`emergency_rise_k` for a vehicle at its gross weight and emergency pressure: (n_rows,) [K].

    temps_c (n_rows,) [C], speed_mps [m/s], sin_down [1] positive downhill, adhesion [1]. Infinite where the
    deceleration is at or below 0.2 m/s2. Source: key fhwa_grade_severity, as there.

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> truck = load_vehicle("tractor-semitrailer")
    >>> flat, steep = (emergency_rise(truck, np.full(3, 25.0), speed_mps=20.0, sin_down=sine, adhesion=0.6)
    ...                for sine in (0.0, 0.06))
    >>> bool((steep > flat).all())
    True
    """
    out = np.empty(len(vehicle.rows))
    cast(Any, emergency_rise_k)(packed_rows(vehicle), np.asarray(temps_c, dtype=float), speed_mps,
                                vehicle.gross_kg, sin_down, vehicle.emergency_pressure_kpa, adhesion, out)
    return out


def parked_c(rows: FloatArray, temps_c: FloatArray, seconds: FloatArray, *, share: float,
             air_temp_c: float) -> FloatArray:
    """Temperatures (..., m, n_rows) [C] of rows (n_rows, 17) that were at temps_c (..., n_rows) [C], after `seconds` (m,) [s].

    share [1]: how much of the published cooling at rest is counted, altitude and caution together; air_temp_c [C]. Range:
    still air at one temperature. Source: key derived (Newton cooling, as the march stands).

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> rows = packed_rows(load_vehicle("tractor-semitrailer"))
    >>> after = parked_c(rows, np.full(3, 300.0), np.array([0.0, 1e6]), share=0.6, air_temp_c=15.0)
    >>> after.round(3).tolist()
    [[300.0, 300.0, 300.0], [15.0, 15.0, 15.0]]
    """
    rate = rows[:, COOL_REST] / rows[:, CAPACITY] * share
    left = np.exp(-np.multiply.outer(np.asarray(seconds, dtype=float), rate))
    return np.asarray(air_temp_c + (np.asarray(temps_c)[..., None, :] - air_temp_c) * left)


def cooling_time_s(vehicle: Vehicle, row: int, *, from_c: float, to_c: float, air_temp_c: float,
                   parked_fraction: float) -> float:
    """Time parked for one row of brakes to cool from `from_c` to `to_c` [s]: exponential toward the air.

    Temperatures [C]. `parked_fraction` [1] of the cooling at rest is counted, since the published constant is a
    moving-truck fit extrapolated to rest; the fraction is assumed. Source: key derived (Newton cooling). Raises
    ValueError when `to_c` is not above the air temperature. Halving the excess twice takes twice as long:

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> truck = load_vehicle("tractor-semitrailer")
    >>> once, twice = (cooling_time_s(truck, 1, from_c=225.0, to_c=to_c, air_temp_c=25.0, parked_fraction=0.6)
    ...                for to_c in (125.0, 75.0))
    >>> round(twice / once, 6)
    2.0
    """
    if to_c <= air_temp_c:
        raise ValueError("brakes cannot cool below the air")
    brake = vehicle.rows[row].brake
    rate = brake.cooling_wpk * parked_fraction / brake.heat_capacity_jpk
    return max(0.0, float(np.log((from_c - air_temp_c) / (to_c - air_temp_c)) / rate))
