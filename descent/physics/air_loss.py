# SPDX-License-Identifier: MIT
"""What follows when the air goes: where the warning comes, where a stop then ends, where springs stop the vehicle."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from descent.physics.air_system import FloatArray, ReservoirHistory, full_application_kpa, reservoir_along
from descent.physics.march import Cells
from descent.physics.stopping import BrakesLeft, StopFailure, Technique, Timing, brakes_left, distances_from
from descent.physics.trace import DescentTrace
from descent.vehicle.air_supply import AirSupply, Circuit
from descent.vehicle.model import Vehicle

FAILURE_OF = {Circuit.PRIMARY: StopFailure.PRIMARY_LOST, Circuit.SECONDARY: StopFailure.SECONDARY_LOST,
              Circuit.TRAILER: StopFailure.TRAILER_LOST}


@dataclass(frozen=True)
class AirLoss:
    """How a descent with failing air goes on; stations [m], None: it does not come to that.

    warned_stop_m: where the vehicle stands when the driver stops at the warning, with the pressure that is left;
    springs_m: springs begin to come on by themselves; springs_stop_m: where they alone stop it (infinite: they do not).
    """

    history: ReservoirHistory
    snubs_to_cut_in: int | None
    snubs_to_warning: int | None
    warning_m: float | None
    warned_stop_m: float | None
    springs_m: float | None
    springs_stop_m: float | None


def air_loss(trace: DescentTrace, vehicle: Vehicle, cells: Cells, air: AirSupply, *, engine_rpm: FloatArray,
             adhesion: float, compressor_share: float = 1.0, lost: Circuit | None = None, start_kpa: float | None = None,
             timing: Timing | None = None) -> AirLoss:
    """Follow a march with a weak (compressor_share below 1) or dead (0) compressor, or one circuit lost.

    The driver is taken to drive on as planned until the warning, and once more as if no one heeded it. A stop at the
    warning uses the emergency pressure, or what a full application leaves where the reservoirs hold too little for it.
    engine_rpm (n + 1,) [rpm]; adhesion, compressor_share [1]; start_kpa [kPa]; stations of the result [m]. Range: as
    `reservoir_along` and `stop`. Source: key derived; the warning's pressure as `air_supply` names it (key
    fmvss_121_tables).
    >>> from descent.vehicle.air_supply import air_supply
    >>> from descent.physics.march import Day, Driving, Schedule, force_tables, march
    >>> from descent.vehicle.catalogue import load_vehicle
    >>> truck, day, n = load_vehicle("tractor-semitrailer"), Day(15.0, 65.0, 0.6), 100
    >>> cells = Cells(np.arange(n + 1) * 10.0, *(np.full(n, x) for x in (10.0, 0.06, 0.998, 3.0, 1.0, 15.0)))
    >>> plan = Schedule(np.full(n + 1, 10.0), *np.zeros((2, n), dtype=int), np.full(n + 1, -1.0))
    >>> tables = force_tables(truck, (), Driving())
    >>> trace = march(cells, truck, tables, plan, day, Driving(), start_speed_mps=10.0)
    >>> air, rpm = air_supply(truck), np.full(n + 1, 1500.0)
    >>> lost = air_loss(trace, truck, cells, air, engine_rpm=rpm, adhesion=0.6, compressor_share=0.0,
    ...                 start_kpa=air.warning_kpa + 5.0)
    >>> 0.0 < lost.warning_m < lost.warned_stop_m
    True
    """
    timing = timing or Timing()
    weak = replace(air, compressor_m3ps=air.compressor_m3ps * compressor_share)
    history = reservoir_along(trace, vehicle, weak, engine_rpm=engine_rpm, lost=lost, start_kpa=start_kpa)
    failure = FAILURE_OF.get(lost, StopFailure.NONE) if lost is not None else StopFailure.NONE
    warned = springs = springs_stop = stop_at = None
    if history.warning_node is not None:
        node = history.warning_node
        warned = float(trace.station_m[node])
        pressure = full_application_kpa(history.tank_kpa[node], vehicle, weak, asked_kpa=vehicle.emergency_pressure_kpa,
                                        temps_c=trace.leave_temp_c[node], lost=lost)
        technique = Technique.ANTILOCK if vehicle.air.antilock else Technique.CONTROLLED
        left = brakes_left(vehicle, timing=timing, technique=technique, application_kpa=pressure, failure=failure, air=weak)
        stop_at = warned + way_of_stop(trace, vehicle, cells, node, adhesion, timing.perception_s + timing.reaction_s, left)
    if history.spring_node is not None:
        node = history.spring_node
        springs = float(trace.station_m[node])
        left = brakes_left(vehicle, timing=timing, failure=StopFailure.SPRINGS_ONLY, air=weak)
        springs_stop = springs + way_of_stop(trace, vehicle, cells, node, adhesion, 0.0, left)
    return AirLoss(history, history.snubs_before(history.cut_in_node), history.snubs_before(history.warning_node), warned,
                   stop_at, springs, springs_stop)


def way_of_stop(trace: DescentTrace, vehicle: Vehicle, cells: Cells, node: int, adhesion: float, before_s: float,
                left: BrakesLeft) -> float:
    """Way of one stop from a node of a march [m], infinite where there is none: the road before it is cut off. adhesion
    [1], before_s [s]: perception and reaction. Range and source as `distances_from` (key derived).

    >>> from descent.physics.march import Day, Driving, Schedule, force_tables, march
    >>> from descent.vehicle.catalogue import load_vehicle
    >>> truck, n = load_vehicle("tractor-semitrailer"), 100
    >>> cells = Cells(np.arange(n + 1) * 10.0, *(np.full(n, x) for x in (10.0, 0.06, 0.998, 3.0, 1.0, 15.0)))
    >>> plan = Schedule(np.full(n + 1, 10.0), *np.zeros((2, n), dtype=int), np.full(n + 1, -1.0))
    >>> trace = march(cells, truck, force_tables(truck, (), Driving()), plan, Day(15.0, 65.0, 0.6), Driving(),
    ...               start_speed_mps=10.0)
    >>> dry, icy = (way_of_stop(trace, truck, cells, 50, grip, 2.75, brakes_left(truck, timing=Timing())) for grip in (0.6, 0.05))
    >>> bool(dry > 2.75 * trace.speed_mps[50]), icy
    (True, inf)
    """
    rest = Cells(*(np.asarray(getattr(cells, name))[min(node, len(cells.step_m) - 1):]
                   for name in ("station_m", "step_m", "sin_down", "cos_road", "k_air", "cool", "air_temp")))
    way = distances_from(vehicle, rest, speed_mps=trace.speed_mps[node:node + 1], temps_c=trace.leave_temp_c[node:node + 1],
                         adhesion=adhesion, before_s=before_s, left=left)
    return float(way[0]) if math.isfinite(way[0]) else math.inf
