# SPDX-License-Identifier: MIT
"""Spring brakes in the driver's hand: graded by a lever, let go by separate air, and what is left with a half lost."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from descent.physics.air_system import equalised_kpa, snubs_until
from descent.physics.brake_heat import packed_rows
from descent.physics.foundation_brake import LOAD, row_force_n
from descent.vehicle.air_supply import AirSupply, Circuit, ParkingControls, SpringControl
from descent.vehicle.model import Vehicle

FloatArray = NDArray[np.float64]
FREE_TRAVEL = 0.1     # of the lever, before the springs are let on at all (assumed)
MOST_RELEASES = 1000


def hold_off_kpa(air: AirSupply, lever: FloatArray, *, reservoir_kpa: float) -> FloatArray:
    """Pressure that holds the springs off (n,) [kPa] at lever positions (n,) [1], 0 released to 1 fully applied.

    Modulating: the reservoir's within `FREE_TRAVEL`, then in a straight line from where springs begin to come on to
    nothing at the end of the travel (assumed; that the lever grades the springs is common practice, no source). On or
    off: the reservoir's at 0, else nothing. reservoir_kpa [kPa]: what is there to hold them off, never more than that.

    Range: lever held to 0..1. Source: keys practice, assumed.
    >>> from descent.vehicle.air_supply import air_supply
    >>> from descent.vehicle.catalogue import load_vehicle
    >>> air = air_supply(load_vehicle("motorcoach"))
    >>> hold = hold_off_kpa(air, np.array([0.0, 0.55, 1.0]), reservoir_kpa=800.0)
    >>> (hold / air.spring_on_kpa).round(3).tolist()[1:], float(hold[0])
    ([0.5, 0.0], 800.0)
    """
    at = np.clip(np.asarray(lever, dtype=float), 0.0, 1.0)
    if air.spring_control is SpringControl.ON_OFF:
        return np.where(at > 0.0, 0.0, reservoir_kpa)
    graded = air.spring_on_kpa * (1.0 - at) / (1.0 - FREE_TRAVEL)
    return np.minimum(np.where(at <= FREE_TRAVEL, reservoir_kpa, graded), reservoir_kpa)


def spring_pressure_kpa(air: AirSupply, hold_kpa: FloatArray) -> FloatArray:
    """Service pressure (n,) [kPa] that presses as hard as the springs do against a hold-off pressure (n,) [kPa].

    Nothing above spring_on_kpa, spring_force_kpa at or below spring_full_kpa, a straight line between: the air on the
    diaphragm takes from the spring in proportion to its pressure (statics, key derived; the two ends as `air_supply`
    names them, key cdl_manual_air_brakes, seen-2). Range: any pressure >= 0.
    >>> from descent.vehicle.air_supply import air_supply
    >>> from descent.vehicle.catalogue import load_vehicle
    >>> air = air_supply(load_vehicle("motorcoach"))
    >>> middle = (air.spring_on_kpa + air.spring_full_kpa) / 2
    >>> (spring_pressure_kpa(air, np.array([0.0, middle, 900.0])) / air.spring_force_kpa).round(6).tolist()
    [1.0, 0.5, 0.0]
    """
    share = (air.spring_on_kpa - np.asarray(hold_kpa, dtype=float)) / (air.spring_on_kpa - air.spring_full_kpa)
    return np.asarray(air.spring_force_kpa * np.clip(share, 0.0, 1.0))


def braking_mps2(vehicle: Vehicle, pressures_kpa: FloatArray, temps_c: FloatArray, *, grade: float,
                 adhesion: float) -> float:
    """Deceleration [m/s2] by one pressure per row (n_rows,) [kPa] at temps_c (n_rows,) [C] on a grade [1] (negative
    downhill); negative: it gains speed. adhesion [1]: each row at most that times its load.

    Engine, retarder, rolling and air give nothing here. Range: rows' loads as on the level. Source: key derived.
    >>> from descent.vehicle.catalogue import load_vehicle
    >>> truck = load_vehicle("tractor-semitrailer")
    >>> none = braking_mps2(truck, np.zeros(3), np.full(3, 25.0), grade=-0.06, adhesion=0.6)
    >>> round(none * truck.rotating_mass_factor, 3)
    -0.587
    """
    force = 0.0
    for index, packed in enumerate(packed_rows(vehicle)):
        alone = float(cast(Any, row_force_n)(packed, float(pressures_kpa[index]), float(temps_c[index])))
        force += min(alone, adhesion * float(packed[LOAD]))
    pull = vehicle.weight_n * -grade / math.sqrt(1 + grade * grade)
    return (force - pull) / (vehicle.gross_kg * vehicle.rotating_mass_factor)


def spring_decel_mps2(vehicle: Vehicle, air: AirSupply, lever: FloatArray, temps_c: FloatArray, *, grade: float,
                      adhesion: float, reservoir_kpa: float | None = None) -> FloatArray:
    """Deceleration (n,) [m/s2] by the spring brakes alone at lever positions (n,) [1]; see `hold_off_kpa`.

    temps_c (n_rows,) [C]; grade, adhesion [1]; reservoir_kpa [kPa]: default cut-out. Fully applied on the level it is
    what `parking.steepest_hold` holds at rest. Range and source as in `braking_mps2` and `spring_pressure_kpa` (key
    derived).
    >>> from descent.vehicle.air_supply import air_supply
    >>> from descent.vehicle.catalogue import load_vehicle
    >>> coach = load_vehicle("motorcoach")
    >>> levers, cold = np.array([0.0, 0.4, 0.6, 1.0]), np.full(3, 25.0)
    >>> eased = spring_decel_mps2(coach, air_supply(coach), levers, cold, grade=0.0, adhesion=0.6)
    >>> bool((np.diff(eased) >= 0.0).all()), float(eased[0])
    (True, 0.0)
    """
    hold = hold_off_kpa(air, lever, reservoir_kpa=air.cut_out_kpa if reservoir_kpa is None else reservoir_kpa)
    sprung = np.array([1.0 if air.spring_axles[row.axle] else 0.0 for row in vehicle.rows])
    return np.array([braking_mps2(vehicle, pressure * sprung, temps_c, grade=grade, adhesion=adhesion)
                     for pressure in spring_pressure_kpa(air, hold)])


def releases_left(air: AirSupply, *, start_kpa: float, held_s: float = 0.0, leak_kpaps: float = 0.0) -> int:
    """How often the second parking control lets the spring brakes go with its own reservoir, filled to start_kpa [kPa].

    Each time the reservoir levels with the empty spring chambers, is held for held_s [s] while reservoir and chambers
    leak at leak_kpaps [kPa/s], and the chambers blow off; it counts if the springs stay off (spring_on_kpa) to the end. 0
    with one parking control. Range: isothermal; at most 1000. Source: key derived (one volume of gas); that there are
    only a few is common practice, no source.
    >>> from dataclasses import replace
    >>> from descent.vehicle.air_supply import air_supply
    >>> from descent.vehicle.catalogue import load_vehicle
    >>> air = air_supply(load_vehicle("motorcoach"))
    >>> releases_left(air, start_kpa=air.cut_out_kpa), releases_left(replace(air, emergency_m3=0.0), start_kpa=800.0)
    (4, 0)
    """
    chambers_m3 = sum(volume for volume, on in zip(air.spring_chambers_m3, air.spring_axles, strict=True) if on)
    if air.parking_controls is ParkingControls.SINGLE or air.emergency_m3 <= 0.0 or chambers_m3 <= 0.0:
        return 0
    pressure = start_kpa
    for count in range(MOST_RELEASES):
        pressure = equalised_kpa(pressure, air.emergency_m3 / chambers_m3) - leak_kpaps * held_s
        if pressure < air.spring_on_kpa:
            return count
    return MOST_RELEASES


@dataclass(frozen=True)
class HalfLost:
    """What a driver can still do with one circuit empty, compressor counted as dead.

    braked_axles: groups whose service brakes still work; service_mps2: with the emergency pressure on them;
    applications: full ones to that pressure until the warning, and until the springs begin to come on by themselves
    (None: more than can be counted); graded: the spring brakes can be eased on; spring_mps2: all of them on;
    both_mps2: service brakes and springs together, each axle the harder of the two (they would add up on one chamber and
    could break it); releases: by separate air, after the springs have come on.
    """

    lost: Circuit
    braked_axles: tuple[str, ...]
    service_mps2: float
    applications_to_warning: int | None
    applications_to_springs: int | None
    graded: bool
    spring_mps2: float
    both_mps2: float
    releases: int


def half_lost(vehicle: Vehicle, air: AirSupply, lost: Circuit, *, temps_c: FloatArray, grade: float, adhesion: float,
              start_kpa: float | None = None) -> HalfLost:
    """What is left with a circuit lost: decelerations [m/s2] on a grade [1] (negative downhill), applications, releases.

    temps_c (n_rows,) [C]; adhesion [1]; start_kpa [kPa]: every good reservoir when the hole opens, default cut-in.
    Applications are counted at one every 10 s of 5 s. Range: isothermal, compressor dead. Source: key derived;
    pressures as `air_supply` names them.
    >>> from descent.vehicle.air_supply import air_supply
    >>> from descent.vehicle.catalogue import load_vehicle
    >>> coach = load_vehicle("motorcoach")
    >>> left = half_lost(coach, air_supply(coach), Circuit.PRIMARY, temps_c=np.full(3, 25.0), grade=-0.06, adhesion=0.6)
    >>> left.braked_axles, left.graded, left.both_mps2 > left.service_mps2
    (('steer',), True, True)
    """
    start = air.cut_in_kpa if start_kpa is None else start_kpa
    whole = vehicle.emergency_pressure_kpa
    circuits = [air.circuits[row.axle] for row in vehicle.rows]
    service = np.array([0.0 if circuit is lost else whole for circuit in circuits])
    sprung = np.array([air.spring_force_kpa if air.spring_axles[row.axle] else 0.0 for row in vehicle.rows])
    budget = snubs_until(vehicle, replace(air, compressor_m3ps=0.0), application_kpa=whole, temps_c=temps_c, braking_s=5.0,
                         interval_s=10.0, engine_rpm=air.idle_rpm, start_kpa=start, lost=lost)
    named = tuple(axle.name for axle, circuit in zip(vehicle.axles, air.circuits, strict=True) if circuit is not lost)
    made = [braking_mps2(vehicle, pressures, temps_c, grade=grade, adhesion=adhesion)
            for pressures in (service, sprung, np.maximum(service, sprung))]
    return HalfLost(lost, named, made[0], budget.to_warning, budget.to_spring,
                    air.spring_control is SpringControl.MODULATING, made[1], made[2], releases_left(air, start_kpa=start))
