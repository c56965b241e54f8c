# SPDX-License-Identifier: MIT
"""What holds a standing vehicle on a grade: spring brakes hot and cooling, and the pedal while the air lasts."""

from __future__ import annotations

import math
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from descent.physics.brake_heat import packed_rows, parked_c
from descent.physics.foundation_brake import LOAD, row_force_n
from descent.vehicle.air_supply import AirSupply
from descent.vehicle.model import Vehicle

FloatArray = NDArray[np.float64]
RULE_GRADE = 0.20     # the parking brake holds the loaded vehicle on it (key fmvss_121, seen in recall texts)


def steepest_hold(vehicle: Vehicle, air: AirSupply, temps_c: FloatArray, *, adhesion: float,
                  pressure_kpa: float | None = None) -> float:
    """Steepest grade [1] (rise over run, positive) that the brakes hold with temps_c (n_rows,) [C]; adhesion [1].

    pressure_kpa [kPa]: service brakes at that application; default the spring brakes on their axles, as strong as their
    service pressure. Force at the tyres against m g sin(atan grade), each row at most adhesion x its load. A brake that
    cools holds as it then is: `hold_while_cooling`. Range: loads as on the level; infinite where they exceed the
    weight. Source: key derived; spring force assumed as 60 psi of service pressure.
    >>> from descent.vehicle.air_supply import air_supply
    >>> from descent.vehicle.catalogue import load_vehicle
    >>> truck = load_vehicle("tractor-semitrailer")
    >>> cold, hot = (steepest_hold(truck, air_supply(truck), np.full(3, t), adhesion=0.6) for t in (25.0, 400.0))
    >>> cold > RULE_GRADE, hot < cold
    (True, True)
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
    """Temperatures (n_times, n_rows) [C] of parked brakes after `seconds` (n_times,) [s], by the same law as the march.

    temps_c (n_rows,) [C] at the start; parked_fraction [1] of the cooling at rest is counted (assumed). Range: still
    air at one temperature. Source: key derived (Newton cooling).

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> truck = load_vehicle("tractor-semitrailer")
    >>> after = cooled_c(truck, np.full(3, 300.0), np.array([0.0, 1e6]), air_temp_c=15.0, parked_fraction=0.6)
    >>> after.round(3).tolist()
    [[300.0, 300.0, 300.0], [15.0, 15.0, 15.0]]
    """
    return parked_c(packed_rows(vehicle), temps_c, seconds, share=parked_fraction, air_temp_c=air_temp_c)


def hold_while_cooling(vehicle: Vehicle, air: AirSupply, temps_c: FloatArray, seconds: FloatArray, *, adhesion: float,
                       air_temp_c: float, parked_fraction: float) -> FloatArray:
    """Steepest grade [1] the spring brakes hold (n_times,) as hot brakes, temps_c (n_rows,) [C], cool for seconds [s].

    Fade goes and the push rods come back, so the model's hold grows. What it does not know is the clamp on a drum that
    shrinks (it may crack or seize) or on a rotor that shrinks away from its pads: hot brakes are not parked on.
    Arguments, range and source as in `steepest_hold` and `cooled_c` (key derived).
    >>> from descent.vehicle.air_supply import air_supply
    >>> from descent.vehicle.catalogue import load_vehicle
    >>> truck = load_vehicle("tractor-semitrailer")
    >>> hold = hold_while_cooling(truck, air_supply(truck), np.full(3, 350.0), np.array([0.0, 600.0, 3600.0]),
    ...                           adhesion=0.6, air_temp_c=15.0, parked_fraction=0.6)
    >>> bool((np.diff(hold) > 0).all())
    True
    """
    temps = cooled_c(vehicle, temps_c, seconds, air_temp_c=air_temp_c, parked_fraction=parked_fraction)
    return np.array([steepest_hold(vehicle, air, row, adhesion=adhesion) for row in temps])


def pedal_holds_s(air: AirSupply, *, start_kpa: float) -> float:
    """Time [s] the service brakes hold at rest with a dead compressor: from start_kpa [kPa] to the low-air warning by
    the applied leak.

    Infinite for a tight system, 0 from below the warning. Range: a steady leak. Source: key derived; the leak as
    `air_supply` names it.
    >>> from descent.vehicle.air_supply import air_supply
    >>> from descent.vehicle.catalogue import load_vehicle
    >>> air = air_supply(load_vehicle("tractor-semitrailer"))
    >>> round(pedal_holds_s(air, start_kpa=air.warning_kpa + 60 * air.leak_applied_kpaps), 6)
    60.0
    """
    if air.leak_applied_kpaps <= 0:
        return math.inf
    return max(start_kpa - air.warning_kpa, 0.0) / air.leak_applied_kpaps
