# SPDX-License-Identifier: MIT
"""One choice driven down the hill by the real march, and what it leads to."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from descent.lesson.model import Adjustment, Choice, Curve, Ground, Outcome, State
from descent.lesson.story import SLACK_SHARES, STOP_FLOORS, last_stop, told
from descent.physics.application import FADING_SHARE, application_kpa, cold_temps_c
from descent.physics.march import Cells, ForceTables, Schedule, Setting, cells_of, force_tables, march
from descent.physics.road_load import density_ratio
from descent.physics.runaway import with_fade_and_slack
from descent.physics.trace import DescentTrace
from descent.units import INCH_M
from descent.vehicle.catalogue import at_weight
from descent.vehicle.model import FoundationBrake, Vehicle

PAST_LIMIT_M = 0.25 * INCH_M     # a quarter of an inch past the readjustment limit


@dataclass(frozen=True)
class Run:
    """One march of a choice with everything it was made of."""

    vehicle: Vehicle
    cells: Cells
    tables: ForceTables
    schedule: Schedule
    trace: DescentTrace
    worst: DescentTrace


def adjusted(vehicle: Vehicle, adjustment: Adjustment) -> Vehicle:
    """The vehicle with its push rods as its table has them, at their readjustment limit, or `PAST_LIMIT_M` past it."""
    if adjustment is Adjustment.AS_BUILT:
        return vehicle

    def changed(brake: FoundationBrake) -> FoundationBrake:
        past = PAST_LIMIT_M if adjustment is Adjustment.PAST_LIMIT else 0.0
        return replace(brake, stroke_m=max(brake.stroke_m, brake.chamber.stroke_limit_m + past))

    return replace(vehicle, axles=tuple(replace(axle, brakes=tuple(changed(brake) for brake in axle.brakes))
                                        for axle in vehicle.axles))


def run(ground: Ground, choice: Choice) -> Run:
    """March a choice with the linings as the vehicle's table has them, and with the worst of the range in the story."""
    vehicle = adjusted(at_weight(ground.vehicle, choice.gross_kg), choice.adjustment)
    hill = ground.hill
    cells = cells_of(hill.profile, vehicle, ground.day, altitude_offset_m=hill.altitude_offset_m)
    top_m = max(float(hill.profile.elevation_m.max()) + hill.altitude_offset_m, 0.0)
    thin = float(density_ratio(np.array([top_m]), ground.day.air_temp_c)[0])
    tables = force_tables(vehicle, (Setting(choice.gear, choice.stage),), ground.driving, density_ratio=thin)
    n = len(cells.step_m)
    schedule = Schedule(np.full(n + 1, choice.speed_mps), np.ones(n, dtype=np.int64),
                        np.full(n, choice.braking.value, dtype=np.int64), np.full(n + 1, -1.0))
    poor = with_fade_and_slack(vehicle, fade_floor=min(STOP_FLOORS), slack_share=max(SLACK_SHARES))
    trace, worst = (march(cells, one, tables, schedule, ground.day, ground.driving, start_speed_mps=choice.speed_mps)
                    for one in (vehicle, poor))
    return Run(vehicle, cells, tables, schedule, trace, worst)


def curve_of(trace: DescentTrace, ground: Ground, control_mps: float) -> Curve:
    """A march read in stretches: the greatest of each figure among the nodes of the stretch, its end included; for the
    speed the control speed too where a snub begins.

    Between crest and foot a stretch without an application of the brakes shows the one before it, those before the first
    the first: what the gauge showed last, or will show. Elsewhere, and where there is none at all, 0.
    """
    ends_m = ground.ends_m
    begun = trace.snubs[:, 0] > 0                     # a snub begins at the control speed, wherever in its cell that is
    speed = trace.speed_mps.copy()
    speed[1:] = np.where(begun, np.maximum(speed[1:], control_mps), speed[1:])
    owner = np.minimum(np.searchsorted(ends_m, trace.station_m - 1e-6), len(ends_m) - 1)
    columns = (trace.temp_c.max(axis=1), trace.pressure_kpa, speed)
    curve = [np.full(len(ends_m), -np.inf) for _ in columns]
    for found, column in zip(curve, columns, strict=True):
        np.maximum.at(found, owner, column)
    used = np.flatnonzero(curve[1] > 0.0)
    if len(used):
        begins = ends_m - ends_m[0]
        at = used[np.clip(np.searchsorted(used, np.arange(len(ends_m)), side="right") - 1, 0, None)]
        on_hill = (ends_m > ground.hill.crest_m) & (begins < ground.hill.foot_m)
        curve[1] = np.where(on_hill, curve[1][at], curve[1])
    return Curve(*curve)


def drive(ground: Ground, choice: Choice) -> Outcome:
    """What a choice leads to. Every figure is the core's: the march's own, or made from it by physics.application and
    physics.runaway."""
    made = run(ground, choice)
    trace, vehicle = made.trace, made.vehicle
    limit_c = np.array([row.brake.temp_limit_c for row in vehicle.rows])
    stops = last_stop(ground, made.vehicle, made.cells, made.tables, made.schedule, made.worst, choice)
    story = told(ground, choice, vehicle, made.cells, trace, made.worst, stops)
    firmest = int(np.argmax(trace.brake_force_n))
    force, temps = trace.brake_force_n[firmest:firmest + 1], trace.temp_c[firmest:firmest + 1]
    most = ground.driving.max_pressure_kpa
    with_stop = trace.temp_c + trace.rise_k
    over = bool((np.nan_to_num(with_stop, posinf=1e9) > limit_c).any())
    lost = not np.isnan(story.left_m) or story.stop_assumed_m < trace.station_m[-1]
    doubtful = (story.stop_earliest_m < trace.station_m[-1] or not np.isnan(story.left_worst_m)
                or not np.isfinite(with_stop).all())
    state = State.RUNAWAY if lost else State.DOUBTFUL if doubtful else State.HOT if over else State.HOLDS
    return Outcome(
        state, curve_of(trace, ground, choice.speed_mps), curve_of(made.worst, ground, choice.speed_mps), float(trace.temp_c.max()),
        float(with_stop.max()), float(trace.pressure_kpa.max()),
        float(application_kpa(vehicle, force, cold_temps_c(vehicle, 1), most_kpa=most)[0]),
        float(application_kpa(vehicle, force, temps, most_kpa=most, torque_share=FADING_SHARE)[0]),
        trace.total_time_s, dict(trace.energy_j), story)
