# SPDX-License-Identifier: MIT
"""Heat in the brakes: one lumped capacity per axle group, and what one emergency stop adds."""

from __future__ import annotations

from typing import Any, cast

import numba
import numpy as np
from numpy.typing import NDArray

from descent.vehicle.model import Vehicle

FloatArray = NDArray[np.float64]

# columns of the packed axle table, one row per axle group
GAIN, CRACK, CAPACITY, COOL_REST, COOL_SPEED, FADE_ON, FADE_END, FADE_FLOOR, LIMIT = range(9)

PUBLISHED_RISE_FACTOR = 1.4976
"""Rise of the published emergency-stop term over kinetic energy / heat capacity (key fhwa_grade_severity,
derived: 3.11e-7 W V^2 [F] against W V^2 / 2 g / mC; see physics of the grade-severity method)."""

STOP_SAFETY_FACTOR = 1.5
"""Applied to kinetic energy plus gravity work of an emergency stop (assumed, the published factor rounded up)."""


def packed_axles(vehicle: Vehicle) -> FloatArray:
    """The axle groups' brake and heat values as one table (n_axles, 9) for the compiled march."""
    return np.array([[axle.brake_force_n_per_kpa, axle.crack_kpa, axle.heat_capacity_jpk, axle.cooling_wpk,
                      axle.cooling_wpk_per_mps, axle.fade_onset_c, axle.fade_end_c, axle.fade_floor,
                      axle.temp_limit_c] for axle in vehicle.axles], dtype=float)


@numba.njit(cache=True)
def fade(temp_c: float, onset_c: float, end_c: float, floor: float) -> float:
    """Fraction of cold brake torque left at a temperature: 1 to the onset, linear to the floor (assumed shape)."""
    if temp_c <= onset_c:
        return 1.0
    if temp_c >= end_c:
        return floor
    return 1.0 - (1.0 - floor) * (temp_c - onset_c) / (end_c - onset_c)


@numba.njit(cache=True)
def pressure_for_force_kpa(force_n: float, gains: FloatArray, cracks: FloatArray) -> float:
    """Common application pressure [kPa] at which sum(gain (p - crack)+) equals `force_n`.

    gains (n,) [N/kPa] already faded, cracks (n,) [kPa]. Exact: axles whose crack pressure is not reached drop out.
    """
    if force_n <= 0.0:
        return 0.0
    n = gains.shape[0]
    pressure = 0.0
    floor = -1.0
    for _ in range(n + 1):
        total = 0.0
        weighted = 0.0
        for i in range(n):
            if cracks[i] < floor or floor < 0.0:
                total += gains[i]
                weighted += gains[i] * cracks[i]
        pressure = (force_n + weighted) / total
        settled = True
        for i in range(n):
            if (cracks[i] < floor or floor < 0.0) and cracks[i] >= pressure:
                settled = False
        if settled:
            return pressure
        floor = pressure
    return pressure


@numba.njit(cache=True)
def emergency_rise_k(axles: FloatArray, temps_c: FloatArray, speed_mps: float, mass_kg: float, sin_down: float,
                     pressure_kpa: float, adhesion: float, out: FloatArray) -> float:
    """Temperature rise of each axle group in one stop from `speed_mps` with the service brakes alone -> `out` (n,) [K].

    The larger of the published term, 1.4976 x kinetic energy, and 1.5 x (kinetic energy + gravity work on the
    grade over the braking distance), shared as brake force is shared at `pressure_kpa` with the axles as hot as
    `temps_c`; braking limited to adhesion x weight. No help from engine, retarder, rolling or air is counted.
    Returns the deceleration [m/s2]; at or below 0.2 m/s2 a stop is not to be relied on and `out` is infinite.
    """
    n = axles.shape[0]
    total = 0.0
    for i in range(n):
        held = fade(temps_c[i], axles[i, FADE_ON], axles[i, FADE_END], axles[i, FADE_FLOOR])
        out[i] = axles[i, GAIN] * held * max(pressure_kpa - axles[i, CRACK], 0.0)
        total += out[i]
    force = min(total, adhesion * mass_kg * 9.80665)
    decel = force / mass_kg - 9.80665 * sin_down
    kinetic = 0.5 * mass_kg * speed_mps * speed_mps
    if decel <= 0.2 and speed_mps > 0.0:
        for i in range(n):
            out[i] = np.inf
        return decel
    distance = 0.5 * speed_mps * speed_mps / max(decel, 0.2)
    work = kinetic + mass_kg * 9.80665 * max(sin_down, 0.0) * distance
    energy = max(PUBLISHED_RISE_FACTOR * kinetic, STOP_SAFETY_FACTOR * work)
    for i in range(n):
        out[i] = energy * (out[i] / total) / axles[i, CAPACITY]
    return decel


def emergency_rise(vehicle: Vehicle, temps_c: FloatArray, *, speed_mps: float, sin_down: float,
                   adhesion: float) -> FloatArray:
    """`emergency_rise_k` for a vehicle: (n_axles,) [K]."""
    out = np.empty(len(vehicle.axles))
    cast(Any, emergency_rise_k)(packed_axles(vehicle), np.asarray(temps_c, dtype=float), speed_mps,
                                vehicle.gross_kg, sin_down, vehicle.emergency_pressure_kpa, adhesion, out)
    return out


def cooling_time_s(vehicle: Vehicle, axle: int, *, from_c: float, to_c: float, air_temp_c: float,
                   parked_fraction: float) -> float:
    """Time parked for one axle group to cool from `from_c` to `to_c` [s]: exponential toward the air.

    `parked_fraction` of the cooling at rest is counted, since the published constant is a moving-truck fit
    extrapolated to rest. Raises ValueError when `to_c` is not above the air temperature.
    """
    if to_c <= air_temp_c:
        raise ValueError("brakes cannot cool below the air")
    group = vehicle.axles[axle]
    rate = group.cooling_wpk * parked_fraction / group.heat_capacity_jpk
    return max(0.0, float(np.log((from_c - air_temp_c) / (to_c - air_temp_c)) / rate))
