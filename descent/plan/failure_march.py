# SPDX-License-Identifier: MIT
"""March one failure down one downgrade: does it hold, where is the last full stop, and what comes after it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from descent.physics.march import Cells, Day, ForceTables, Schedule, march
from descent.physics.runaway import with_fade_and_slack
from descent.physics.stopping import Technique, Timing, brakes_left, distances_from
from descent.physics.trace import DescentTrace
from descent.plan.doubt import Failure
from descent.plan.model import Task
from descent.plan.sections import COOL_DOWN, usable
from descent.route.places import Place
from descent.units import MPH_MPS
from descent.vehicle.model import Vehicle

FloatArray = NDArray[np.float64]
WORST, BEST = (0.2, 1.0), (0.5, 0.0)   # fade floor and share of the way to the readjustment limit: what nobody knows
TRIED_M = 50.0                          # a full stop is tried at places so far apart
NEAR_M = 400.0
PAST_M = 60.0                            # a place nearer than this to where a fault begins is passed already
LOST_MPS = 5 * MPH_MPS                 # so much over the planned speed shows on the speedometer

RAMP = "escape-ramp"
SPRINGS_END_IT = ("compressor-dead", "half-air-lost")    # what comes after their last full stop is springs coming on


@dataclass(frozen=True)
class Window:
    """One downgrade to be driven with a fault: nodes of the road, its number, and the cells between them."""

    number: int
    start: int
    end: int
    cells: Cells


@dataclass(frozen=True)
class Case:
    """One fault on one window: the vehicle, instructions and day with it, how it comes in, and what its words need."""

    what: str
    node: int
    vehicle: Vehicle
    schedule: Schedule
    day: Day
    speed_mps: float
    temps_c: FloatArray
    detail: dict[str, float | str] = field(default_factory=dict)


def window(cells: Cells, number: int, start: int, end: int) -> Window:
    """The cells of a downgrade between two nodes."""
    return Window(number, start, end, Cells(cells.station_m[start:end + 1], *(
        np.ascontiguousarray(getattr(cells, name)[start:end])
        for name in ("step_m", "sin_down", "cos_road", "k_air", "cool", "air_temp"))))


def within(schedule: Schedule, part: Window) -> Schedule:
    """The instructions of the whole road on a window; a stop at its last node is not driven."""
    a, b = part.start, part.end
    dwell = schedule.dwell_s[a:b + 1].copy()
    dwell[-1] = -1.0
    return Schedule(schedule.cap_mps[a:b + 1], schedule.row[a:b], schedule.snubbed[a:b], dwell)


def driven(task: Task, part: Window, case: Case, tables: ForceTables, *, vehicle: Vehicle | None = None) -> DescentTrace:
    """The march of a case over its window."""
    return march(part.cells, vehicle or case.vehicle, tables, case.schedule, case.day, task.driving,
                 start_speed_mps=case.speed_mps, start_temps_c=case.temps_c)


def excess(trace: DescentTrace, vehicle: Vehicle) -> float:
    """By how much a march passes the limit at its worst place, one emergency stop included [K]."""
    limit = np.array([row.brake.temp_limit_c for row in vehicle.rows])
    over = (trace.temp_c + trace.rise_k - limit)[:trace.reached + 1]
    return float(np.nan_to_num(over, nan=np.inf, posinf=np.inf).max())


def technique(vehicle: Vehicle) -> Technique:
    """How a full stop uses the grip: without antilock as hard as no wheel locks."""
    return Technique.ANTILOCK if vehicle.air.antilock else Technique.CONTROLLED


def last_stop(task: Task, part: Window, case: Case, trace: DescentTrace, vehicle: Vehicle) -> int | None:
    """Last node of the window before the first from which no full stop is possible; -1: none is; None: all are. Tried
    every `TRIED_M`; what lies between two is told as the earlier one."""
    timing, step = Timing(), max(1, round(TRIED_M / float(part.cells.station_m[1] - part.cells.station_m[0])))
    tried = np.zeros(len(trace.speed_mps), dtype=bool)
    tried[::step] = tried[-1] = True
    ways = distances_from(vehicle, part.cells, speed_mps=np.where(tried, trace.speed_mps, 0.0), temps_c=trace.leave_temp_c,
                          adhesion=case.day.adhesion, before_s=timing.perception_s + timing.reaction_s,
                          left=brakes_left(vehicle, timing=timing, technique=technique(vehicle), air=task.air))
    gone = np.flatnonzero(~np.isfinite(ways[:trace.reached + 1]))
    return max(int(gone[0]) - step, -1) if len(gone) else None


def follow(task: Task, part: Window, case: Case, tables: ForceTables) -> Failure:
    """What is left in one case."""
    trace = driven(task, part, case, tables)
    over = excess(trace, case.vehicle)
    stops = last_stop(task, part, case, trace, case.vehicle) is None
    ends: list[int | None] = []
    worst = trace
    for floor, slack in (BEST, WORST):
        changed = with_fade_and_slack(case.vehicle, fade_floor=floor, slack_share=slack)
        worst = driven(task, part, case, tables, vehicle=changed)
        ends.append(last_stop(task, part, case, worst, changed))
    return concluded(task, part, case, worst, holds=over <= 0.0 and stops and trace.complete, over_k=over,
                     earliest=ends[1], latest=ends[0], detail=rhythm(trace))


def concluded(task: Task, part: Window, case: Case, worst: DescentTrace, *, holds: bool, over_k: float,
              earliest: int | None, latest: int | None, detail: dict[str, float | str]) -> Failure:
    """A failure from what was found: last nodes of a full stop (None: all the way), and the march of the worst case."""
    station = part.cells.station_m
    lost = np.flatnonzero(worst.speed_mps[:worst.reached + 1] > case.schedule.cap_mps[:worst.reached + 1] + LOST_MPS)
    lost_m = float(station[lost[0]]) if len(lost) else None

    def at(node: int | None) -> float | None:
        return float(station[-1]) if node is None else float(station[node]) if node >= 0 else None

    held = None
    if earliest is not None and case.what not in SPRINGS_END_IT:
        beyond = float(station[max(earliest, 0)])
        held = max((float(station[worst.reached]) if lost_m is None else lost_m) - beyond, 0.0)
    begins = float(station[case.node - part.start])
    place = next_place(task, begins, at(earliest), all_the_way=earliest is None,
                       kinds=() if case.what in SPRINGS_END_IT else (RAMP,))
    speed = None if place is None else _speed_near(station, worst.speed_mps, place.station_m)
    return Failure(case.what, part.number, begins, holds, over_k, at(earliest), at(latest), earliest is None, lost_m, held,
                   place, speed, {**detail, **case.detail})


def _speed_near(station_m: FloatArray, speed_mps: FloatArray, at_m: float) -> float:
    """The highest speed over the last `NEAR_M` before a place: a planned stop or a curve there is not counted on."""
    near = (station_m > at_m - NEAR_M) & (station_m <= at_m + 1.0)
    return float(speed_mps[near].max()) if near.any() else float(speed_mps[-1])


def next_place(task: Task, from_m: float, last_stop_m: float | None, *, all_the_way: bool,
               kinds: tuple[str, ...]) -> Place | None:
    """The next place to come to rest beyond where it begins: a place to stand that is reached while a full stop is still
    possible, or one of other kinds (a ramp, for a vehicle that rolls that far)."""
    for place in sorted(task.places, key=lambda item: item.station_m):
        if place.station_m <= from_m + PAST_M:
            continue
        standing = usable(task, place) == COOL_DOWN and (
            all_the_way or (last_stop_m is not None and place.station_m <= last_stop_m))
        if standing or (place.kind in kinds and place.side != "left"):
            return place
    return None


def rhythm(trace: DescentTrace) -> dict[str, float | str]:
    """Median time between snubs and median application where the brakes are used: what a driver can count and feel."""
    starts, pressed = trace.snub_starts_s, trace.pressure_kpa[trace.pressure_kpa > 0]
    found: dict[str, float | str] = {}
    if len(starts) >= 5:
        found["interval_s"] = float(np.median(np.diff(starts)))
    if len(pressed):
        found["application_kpa"] = float(np.median(pressed))
    return found


def shifted(case: Case, node: int, schedule: Schedule) -> Case:
    """The same case beginning at another node under other instructions."""
    return replace(case, node=node, schedule=schedule)
