# SPDX-License-Identifier: MIT
"""How far a stop takes: perception, reaction, lag and braking, with the brakes as they are and on the road ahead."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from descent.physics import stop_kernel as kernel
from descent.physics.brake_heat import packed_rows
from descent.physics.march import Cells
from descent.physics.trace import DescentTrace
from descent.units import FOOT_M, MPH_MPS
from descent.vehicle.air_supply import AirSupply, Circuit, SpringControl, air_supply
from descent.vehicle.model import Vehicle

FloatArray = NDArray[np.float64]
TRAILER_LAG = 0.50 / 0.45     # trailers may take 0.50 s where trucks take 0.45 s (key fmvss_121_memory, medium)
SPRING_LAG_S = 1.0            # springs come on as their chambers empty (assumed)
LOCKED_SHARE = 0.8            # grip of a locked wheel over that of one about to lock (assumed)
STAB_LOCKED_TIME = 0.5        # locked for a second, then up to a second until wheels roll (common practice, no source)


class LagEdition(Enum):
    """How long the air takes; editions differ, so one is always named.

    STANDARD: 60 psi from a 100 psi reservoir within 0.45 s (key fmvss_121, seen): a first-order build reaches 0.6 of its
    end in 0.45 s with a time constant of 0.45 / ln 2.5 = 0.491 s. PUBLISHED_WAY: 32 ft at 55 mph, 0.397 s (key
    cdl_manual_air_brakes, seen-2). HALF_SECOND: the trade's half a second or more (same key).
    """

    STANDARD = 0.45 / math.log(2.5)
    PUBLISHED_WAY = 32 * FOOT_M / (55 * MPH_MPS)
    HALF_SECOND = 0.5

    @property
    def seconds(self) -> float:
        """Time constant of the build, which is also the time lost to it [s]."""
        return float(self.value)


class Technique(Enum):
    """How the driver or the vehicle uses the grip.

    ANTILOCK: each row of brakes at 0.9 of its grip (assumed). CONTROLLED: as hard as can be with no wheel locking, so the
    row that locks first, at 0.85 of its grip (assumed), limits all. STAB: hard until wheels lock, let go until they roll.
    """

    ANTILOCK = kernel.ANTILOCK
    CONTROLLED = kernel.CONTROLLED
    STAB = kernel.STAB

    @property
    def grip_share(self) -> float:
        """Share of the grip that is used."""
        return {Technique.ANTILOCK: 0.9, Technique.CONTROLLED: 0.85, Technique.STAB: 1.0}[self]


@dataclass(frozen=True)
class Timing:
    """Times before the brakes grip [s].

    perception: 1.75 s, reaction: 3/4 to 1 s, the longer by default (key cdl_manual_air_brakes, seen-2).
    """

    perception_s: float = 1.75
    reaction_s: float = 1.0
    lag: LagEdition = LagEdition.STANDARD


class StopFailure(Enum):
    """What is broken when the driver has to stop."""

    NONE = "none"
    PRIMARY_LOST = "primary circuit lost"
    SECONDARY_LOST = "secondary circuit lost"
    TRAILER_LOST = "trailer circuit lost"
    SPRINGS_ONLY = "spring brakes only"


@dataclass(frozen=True)
class BrakesLeft:
    """What is left of the brakes: share of force and time constant per row (n_rows,), and the application [kPa]."""

    gain: FloatArray
    lag_s: FloatArray
    application_kpa: float
    technique: Technique
    locked_time: float = STAB_LOCKED_TIME


def brakes_left(vehicle: Vehicle, *, timing: Timing, technique: Technique = Technique.ANTILOCK,
                application_kpa: float | None = None, failure: StopFailure = StopFailure.NONE,
                dead_axle: str | None = None, air: AirSupply | None = None) -> BrakesLeft:
    """The brakes after a partial failure: gain [1] and lag [s] (n_rows,). application_kpa [kPa]: default the vehicle's
    emergency pressure.

    Nothing is counted for springs that a failure lets on beside the service brakes, nor for a valve that would let
    them on with the pedal. dead_axle: name of an axle group that gives nothing. Source: keys fmvss_121,
    fmvss_121_memory for the lags; spring lag and grip shares assumed.

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> truck = load_vehicle("tractor-semitrailer")
    >>> brakes_left(truck, timing=Timing(), failure=StopFailure.TRAILER_LOST).gain.tolist()
    [1.0, 1.0, 0.0]
    """
    air = air or air_supply(vehicle)
    circuits = [air.circuits[row.axle] for row in vehicle.rows]
    lag = np.array([timing.lag.seconds * (TRAILER_LAG if circuit is Circuit.TRAILER else 1.0) for circuit in circuits])
    gain = np.ones(len(circuits))
    gone = {StopFailure.PRIMARY_LOST: Circuit.PRIMARY, StopFailure.SECONDARY_LOST: Circuit.SECONDARY,
            StopFailure.TRAILER_LOST: Circuit.TRAILER}.get(failure)
    pressure = vehicle.emergency_pressure_kpa if application_kpa is None else application_kpa
    locked_time = STAB_LOCKED_TIME
    if failure is StopFailure.SPRINGS_ONLY:
        gain = np.array([1.0 if air.spring_axles[row.axle] else 0.0 for row in vehicle.rows])
        lag = np.full(len(circuits), SPRING_LAG_S)
        pressure = air.spring_force_kpa
        technique = Technique.CONTROLLED if air.spring_control is SpringControl.MODULATING else Technique.STAB
        locked_time = 1.0
    for index, row in enumerate(vehicle.rows):
        if circuits[index] is gone or vehicle.axles[row.axle].name == dead_axle:
            gain[index] = 0.0
    return BrakesLeft(gain, lag, pressure, technique, locked_time)


@dataclass(frozen=True)
class Stop:
    """One stop: ways [m] of perception, reaction, lag and braking, and their sum; infinite where there is no stop.

    lag_m is speed x lag, as the trade counts it; braking_m what is left of the way after the pedal goes down.
    """

    perception_m: float
    reaction_m: float
    lag_m: float
    braking_m: float
    end_temps_c: FloatArray

    @property
    def from_pedal_m(self) -> float:
        """Way from the pedal to the stop [m]."""
        return self.lag_m + self.braking_m

    @property
    def total_m(self) -> float:
        """Way from the first sight of the danger to the stop [m]."""
        return self.perception_m + self.reaction_m + self.from_pedal_m


def stop(vehicle: Vehicle, *, speed_mps: float, grade: float, temps_c: FloatArray, adhesion: float,
         timing: Timing | None = None, left: BrakesLeft | None = None) -> Stop:
    """One stop from speed_mps [m/s] on an even grade [1] (rise over run, negative downhill), adhesion [1], brakes at
    temps_c (n_rows,) [C] when it begins.

    No help from engine, retarder, rolling or air is counted; the speed is held until the pedal goes down; the load each
    row carries does not move forward with the braking. left: default all brakes at the emergency pressure, antilock.
    Range: even, endless grade; ways [m] beyond 3 km of braking are infinite. Source: key derived (equation of motion);
    times as `Timing` names them.

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> truck = load_vehicle("tractor-semitrailer")
    >>> flat, down = (stop(truck, speed_mps=20.0, grade=g, temps_c=np.full(3, 25.0), adhesion=0.6) for g in (0.0, -0.06))
    >>> flat.perception_m, flat.reaction_m, down.braking_m > flat.braking_m
    (35.0, 20.0, True)
    """
    timing = timing or Timing()
    left = left or brakes_left(vehicle, timing=timing)
    sin_down = np.array([-grade / math.sqrt(1 + grade * grade)])
    before = timing.perception_s + timing.reaction_s
    way, end = _ways(vehicle, np.array([1e9]), sin_down, np.array([speed_mps]), np.array([temps_c], dtype=float),
                     _parameters(vehicle, left, before, adhesion), left)
    return _parts(speed_mps, timing, float(way[0]), end[0])


def _parts(speed_mps: float, timing: Timing, way: float, end: FloatArray) -> Stop:
    before = timing.perception_s + timing.reaction_s
    lag = min(speed_mps * timing.lag.seconds, way - speed_mps * before)
    return Stop(speed_mps * timing.perception_s, speed_mps * timing.reaction_s, lag, way - speed_mps * before - lag, end)


def _parameters(vehicle: Vehicle, left: BrakesLeft, before_s: float, adhesion: float) -> FloatArray:
    return np.array([vehicle.gross_kg, vehicle.gross_kg * vehicle.rotating_mass_factor, left.application_kpa, before_s,
                     adhesion, left.technique.grip_share, LOCKED_SHARE, left.locked_time, left.technique.value])


def stopping_distances(trace: DescentTrace, vehicle: Vehicle, cells: Cells, *, adhesion: float,
                       timing: Timing | None = None, left: BrakesLeft | None = None) -> FloatArray:
    """Whole stopping distance (n + 1,) [m] from every node of a march, on the road as it lies ahead of it.

    Speeds [m/s] and brake temperatures [C] are the march's own there; the last cell's grade goes on past the end.
    Infinite: the vehicle does not stop within 3 km. See `stop` for what is counted. Source: key derived.

    >>> from descent.physics.march import Cells, Day, Driving, Schedule, force_tables, march
    >>> from descent.vehicle.catalogue import load_vehicle
    >>> truck, day, n = load_vehicle("tractor-semitrailer"), Day(15.0, 65.0, 0.6), 100
    >>> cells = Cells(np.arange(n + 1) * 10.0, *(np.full(n, x) for x in (10.0, 0.06, 0.998, 3.0, 1.0, 15.0)))
    >>> plan = Schedule(np.full(n + 1, 10.0), *np.zeros((2, n), dtype=int), np.full(n + 1, -1.0))
    >>> tables = force_tables(truck, (), Driving())
    >>> trace = march(cells, truck, tables, plan, day, Driving(), start_speed_mps=10.0)
    >>> ways_m = stopping_distances(trace, truck, cells, adhesion=0.6)
    >>> ways_m.shape, bool((ways_m > 2.75 * 10.0).all())
    ((101,), True)
    """
    timing = timing or Timing()
    left = left or brakes_left(vehicle, timing=timing)
    return distances_from(vehicle, cells, speed_mps=trace.speed_mps, temps_c=trace.temp_c, adhesion=adhesion,
                          before_s=timing.perception_s + timing.reaction_s, left=left)


def distances_from(vehicle: Vehicle, cells: Cells, *, speed_mps: FloatArray, temps_c: FloatArray, adhesion: float,
                   before_s: float, left: BrakesLeft) -> FloatArray:
    """`stopping_distances` [m] for any speeds (m,) [m/s], temperatures (m, n_rows) [C] at the first m nodes of cells.

    before_s [s]: perception and reaction; adhesion [1]. A temperature that is no number counts as 10 000 C. Range and
    source as in `stop` (key derived), which it equals on an even grade:

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> truck = load_vehicle("tractor-semitrailer")
    >>> sine, o, timing = 0.06 / math.sqrt(1.0036), np.zeros(1), Timing()
    >>> cells = Cells(np.array([0.0, 10.0]), o + 10.0, o + sine, o + 1.0, o, o + 1.0, o + 15.0)
    >>> way_m = distances_from(truck, cells, speed_mps=np.array([20.0]), temps_c=np.full((1, 3), 25.0), adhesion=0.6,
    ...                        before_s=2.75, left=brakes_left(truck, timing=timing))
    >>> even = stop(truck, speed_mps=20.0, grade=-0.06, temps_c=np.full(3, 25.0), adhesion=0.6, timing=timing)
    >>> round(float(way_m[0]) - even.total_m, 6)
    0.0
    """
    return _ways(vehicle, cells.step_m, cells.sin_down, np.ascontiguousarray(speed_mps, dtype=float),
                 np.nan_to_num(np.ascontiguousarray(temps_c, dtype=float), nan=1e4, posinf=1e4),
                 _parameters(vehicle, left, before_s, adhesion), left)[0]


def _ways(vehicle: Vehicle, step_m: FloatArray, sin_down: FloatArray, speed_mps: FloatArray, temps_c: FloatArray,
          par: FloatArray, left: BrakesLeft) -> tuple[FloatArray, FloatArray]:
    """Ways (m,) and end temperatures (m, n_rows) of stops from the first m nodes."""
    out, ends, parts = np.empty(len(speed_mps)), np.empty_like(temps_c), np.empty((len(speed_mps), 3))
    cast(Any, kernel.stops_along)(packed_rows(vehicle), left.gain, left.lag_s, temps_c, speed_mps, 0, step_m, sin_down,
                                  par, ends, parts, out)
    return out, ends


def fastest_that_stops_mps(vehicle: Vehicle, *, within_m: float, grade: float, temps_c: FloatArray, adhesion: float,
                           timing: Timing | None = None, left: BrakesLeft | None = None,
                           step_mps: float = 0.1) -> float:
    """The highest speed [m/s] from which a stop fits into a sight distance within_m [m]; 0 where none does.

    Scanned upward in steps of step_mps [m/s] and ended at the first speed that does not fit. grade, adhesion [1],
    temps_c (n_rows,) [C]. Range: to 60 m/s. Source: key derived (`stop`).

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> truck = load_vehicle("tractor-semitrailer")
    >>> road = {"grade": -0.06, "temps_c": np.full(3, 25.0), "adhesion": 0.6}
    >>> v = fastest_that_stops_mps(truck, within_m=100.0, **road)
    >>> stop(truck, speed_mps=v, **road).total_m <= 100.0 < stop(truck, speed_mps=v + 0.1, **road).total_m
    True
    """
    speed = 0.0
    while stop(vehicle, speed_mps=speed + step_mps, grade=grade, temps_c=temps_c, adhesion=adhesion, timing=timing,
               left=left).total_m <= within_m and speed < 60.0:
        speed += step_mps
    return speed
