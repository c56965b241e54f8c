# SPDX-License-Identifier: MIT
"""The story of a descent that goes wrong: where, in which order, and what is left of it at the foot."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from descent.lesson.model import Adjustment, Choice, FloatArray, Ground, Story
from descent.physics.driveline import speed_at_rpm_mps
from descent.physics.march import Cells, ForceTables, Schedule
from descent.physics.runaway import (
    LastFullStop,
    last_full_stop,
    ramp_length_m,
    runaway_from,
    with_fade_and_slack,
)
from descent.physics.stopping import stopping_distances
from descent.physics.trace import DescentTrace
from descent.vehicle.model import Vehicle

STOP_FLOORS = (0.2, 0.35, 0.5)     # share of cold torque very hot linings keep: the range of physics.runaway (assumed)
SLACK_SHARES = (0.0, 1.0)          # brakes as chosen, and at their readjustment limit
HAIR_MPS = 0.01
NEAR_FOOT_M = 500.0
BED, CLIMB = "pea gravel", 0.10


def last_stop(ground: Ground, vehicle: Vehicle, cells: Cells, tables: ForceTables, schedule: Schedule,
              worst: DescentTrace, choice: Choice) -> LastFullStop | None:
    """`last_full_stop` of a choice; None where even the worst case can stop all the way, which is looked at first.

    In the worst case linings keep least and brakes stand at their limit: no other case stops worse (asserted by test).
    Where its brakes plus one emergency stop stay under the fade onset no stop need be tried.
    """
    onset_c = np.array([row.brake.fade_onset_c for row in vehicle.rows])
    if bool((np.nan_to_num(worst.temp_c + worst.rise_k, posinf=1e9) < onset_c).all()):
        return None
    poor = with_fade_and_slack(vehicle, fade_floor=min(STOP_FLOORS), slack_share=max(SLACK_SHARES))
    if bool(np.isfinite(stopping_distances(worst, poor, cells, adhesion=ground.day.adhesion)).all()):
        return None
    floors = tuple(sorted({*STOP_FLOORS, *(row.brake.fade_floor for row in vehicle.rows)}))
    shares = SLACK_SHARES if choice.adjustment is Adjustment.AS_BUILT else SLACK_SHARES[:1]    # the rest is past it
    return last_full_stop(cells, vehicle, tables, schedule, ground.day, ground.driving,
                          start_speed_mps=choice.speed_mps, fade_floors=floors, slack_shares=shares)


def told(ground: Ground, choice: Choice, vehicle: Vehicle, cells: Cells, trace: DescentTrace, worst: DescentTrace,
         stops: LastFullStop | None) -> Story:
    """The stations of the story, from the marches and the last full stop (None: possible all the way)."""
    station = trace.station_m
    end_m = float(station[-1])
    brakes = [row.brake for row in vehicle.rows]
    limit_c, onset_c = np.array([b.temp_limit_c for b in brakes]), np.array([b.fade_onset_c for b in brakes])
    with_stop = np.nan_to_num(trace.temp_c + trace.rise_k, posinf=1e9)
    governed = speed_at_rpm_mps(vehicle.gearbox, choice.gear, vehicle.engine.overrun_limit_rpm)
    gone = choice.speed_mps + ground.driving.snub_drop_mps
    foot = int(np.searchsorted(station, ground.hill.foot_m - 1e-6))
    earliest = latest = assumed = end_m
    free = low = high = up = math.nan
    held, held_worst = _near_foot(trace, foot), _near_foot(worst, foot)
    if stops is not None:
        earliest, latest = _or_start(stops.earliest_m), _or_start(stops.latest_m)
        assumed = _case_m(stops, station, brakes[0].fade_floor)
        free = _free_at_foot(cells, vehicle, worst, station, earliest, foot)
        most = max(free, held, held_worst)
        low = ramp_length_m(min(held, held_worst), bed=BED, grade=0.0)
        high, up = ramp_length_m(most, bed=BED, grade=0.0), ramp_length_m(most, bed=BED, grade=CLIMB)
    return Story(
        _first(station, np.any(with_stop > limit_c, axis=1)), _first(station, np.any(trace.temp_c > onset_c, axis=1)),
        _first(station, trace.pressure_kpa >= ground.driving.max_pressure_kpa - 0.5), earliest, latest, assumed,
        _first(station, trace.speed_mps > gone + HAIR_MPS), _first(station, worst.speed_mps > gone + HAIR_MPS),
        _first(station, trace.speed_mps > max(governed, choice.speed_mps) + HAIR_MPS), held, held_worst, free, low,
        high, up)


def _or_start(at_m: float) -> float:
    """A last full stop that is nowhere is before the road begins."""
    return 0.0 if math.isnan(at_m) else at_m


def _first(station_m: FloatArray, mask: NDArray[np.bool_]) -> float:
    hits = np.flatnonzero(mask)
    return float(station_m[hits[0]]) if len(hits) else math.nan


def _near_foot(trace: DescentTrace, foot: int) -> float:
    """The highest speed on the last `NEAR_FOOT_M` above the foot: at the foot itself it may just be in a snub."""
    near = trace.station_m >= trace.station_m[foot] - NEAR_FOOT_M
    return float(trace.speed_mps[:foot + 1][near[:foot + 1]].max())


def _case_m(stops: LastFullStop, station_m: FloatArray, floor: float) -> float:
    """The last full stop of the case the curve shows: this floor, brakes as chosen; the start of the road for nowhere."""
    case = next(item for item in stops.cases if item.fade_floor == floor and item.slack_share == 0.0)
    return float(station_m[max(case.node, 0)])


def _free_at_foot(cells: Cells, vehicle: Vehicle, worst: DescentTrace, station_m: FloatArray, from_m: float,
                  foot: int) -> float:
    """Speed at the foot, rolling in neutral without brakes from a station at the speed the worst case has there."""
    node = int(np.searchsorted(station_m, from_m - 1e-6))
    if node >= foot:
        return float(worst.speed_mps[foot])
    rolled = runaway_from(cells, vehicle, node=node, speed_mps=float(worst.speed_mps[node]))
    return rolled.speed_at_mps(float(station_m[foot]))
