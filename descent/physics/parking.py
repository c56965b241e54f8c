# SPDX-License-Identifier: MIT
"""What holds a standing vehicle on a grade: spring brakes hot and cooling, and the pedal while the air lasts."""

from __future__ import annotations

import math
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from descent.physics.brake_heat import packed_rows
from descent.physics.foundation_brake import CAPACITY, COOL_REST, LOAD, row_force_n
from descent.vehicle.air_supply import AirSupply
from descent.vehicle.model import Vehicle

FloatArray = NDArray[np.float64]
RULE_GRADE = 0.20     # the parking brake holds the loaded vehicle on it (key fmvss_121, seen in recall texts)


def steepest_hold(vehicle: Vehicle, air: AirSupply, temps_c: FloatArray, *, adhesion: float,
                  pressure_kpa: float | None = None) -> float:
    """Steepest grade (rise over run, positive) that the brakes hold with temps_c (n_rows,) [C].

    pressure_kpa: service brakes at that application; default the spring brakes on their axles, as strong as their
    service pressure. Force at the tyres against m g sin(atan grade), each row at most adhesion x its load. A brake that
    cools holds as it then is: `hold_while_cooling`.
    """
    springs = pressure_kpa is None
    pressure = air.spring_force_kpa if pressure_kpa is None else pressure_kpa
    total = 0.0
    for index, packed in enumerate(packed_rows(vehicle)):
        if springs and not air.spring_axles[vehicle.rows[index].axle]:
            continue
        force = float(cast(Any, row_force_n)(packed, pressure, float(temps_c[index])))
        total += min(force, adhesion * packed[LOAD])
    sine = min(total / vehicle.weight_n, 1.0)
    return math.inf if sine >= 1.0 else math.tan(math.asin(sine))


def cooled_c(vehicle: Vehicle, temps_c: FloatArray, seconds: FloatArray, *, air_temp_c: float,
             parked_fraction: float) -> FloatArray:
    """Temperatures (n_times, n_rows) [C] of parked brakes after `seconds` (n_times,), by the same law as the march."""
    rows = packed_rows(vehicle)
    rate = rows[:, COOL_REST] * parked_fraction / rows[:, CAPACITY]
    return np.asarray(air_temp_c + (np.asarray(temps_c) - air_temp_c) * np.exp(-np.outer(seconds, rate)))


def hold_while_cooling(vehicle: Vehicle, air: AirSupply, temps_c: FloatArray, seconds: FloatArray, *, adhesion: float,
                       air_temp_c: float, parked_fraction: float) -> FloatArray:
    """Steepest grade the spring brakes hold (n_times,) as hot brakes cool.

    Fade goes and the push rods come back, so the model's hold grows. What it does not know is the clamp on a drum that
    shrinks (it may crack or seize) or on a rotor that shrinks away from its pads: hot brakes are not parked on.
    """
    temps = cooled_c(vehicle, temps_c, seconds, air_temp_c=air_temp_c, parked_fraction=parked_fraction)
    return np.array([steepest_hold(vehicle, air, row, adhesion=adhesion) for row in temps])


def pedal_holds_s(air: AirSupply, *, start_kpa: float) -> float:
    """Time [s] the service brakes hold at rest with a dead compressor: from start_kpa to the low-air warning by the
    applied leak. Infinite for a tight system."""
    if air.leak_applied_kpaps <= 0:
        return math.inf
    return max(start_kpa - air.warning_kpa, 0.0) / air.leak_applied_kpaps
