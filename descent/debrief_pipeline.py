# SPDX-License-Identifier: MIT
"""The order of a debrief: recording, plan (given or made), drive, debrief."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from descent.debrief.clock import Timed, right_clock
from descent.debrief.debrief import debriefed
from descent.debrief.drive import driven_on, own_line
from descent.debrief.model import Debrief
from descent.debrief.plan_file import PlanFile, read_plan_file, solution_in
from descent.debrief.planned import planned_of
from descent.debrief.recording import read_recording
from descent.downgrades.find import sustained_downgrades
from descent.pipeline import SurveyedRoad, refuse_untrusted, survey, survey_of, task_for
from descent.plan.explain import explained
from descent.plan.model import Solution, Task
from descent.request import (
    Direction,
    Faults,
    HeightSource,
    PlanRequest,
    Road,
    RoadRequest,
    plan_request,
    road_request,
)
from descent.route.files import find_source

Progress = Callable[[str], None]
FROM_PLAN = {"gross": "gross_kg", "air-temp": "air_temp_c", "start-temp": "start_temp_c", "min-speed": "min_speed_mps"}
UNITS = {"gross": "kg", "air-temp": "C", "start-temp": "C", "min-speed": "m/s"}


@dataclass(frozen=True)
class DebriefRequest:
    """What a debrief is asked for: the recording, the plan file if there is one, the planned road's file (None: the
    recording's own line), and the request a plan is, or was, made by."""

    recording: str
    plan_file: PlanFile | None
    route: str | None
    plan: PlanRequest
    seed: int


def debrief_request(recording: str, *, plan: str | None, route: str | None, dem: Sequence[str], grades: str | None,
                    route_elevation: str | None, direction: Direction, seed: int,
                    texts: Mapping[str, str | None]) -> DebriefRequest:
    """The request from a face's texts; with a plan file, what is not told is as the plan was made for.

    Raises RequestError with every fault, RouteError for a plan file that cannot be read.
    """
    faults = Faults()
    if plan is None:
        road = road_request(route or recording, dem=dem, grades=grades, route_elevation=route_elevation,
                            direction=direction, faults=faults)
        return DebriefRequest(recording, None, route, plan_request(road, texts, faults), seed)
    held = read_plan_file(plan)
    told = held.conditions.get("heights")
    heights = HeightSource(told) if told in {item.value for item in HeightSource} else HeightSource.DEM
    road = RoadRequest(plan, heights)
    return DebriefRequest(recording, held, route, plan_request(road, _filled(texts, held.conditions), faults), seed)


def _filled(texts: Mapping[str, str | None], conditions: Mapping[str, Any]) -> dict[str, str | None]:
    """The texts, with the plan's own conditions where nothing is told."""
    filled = dict(texts)
    for name, key in FROM_PLAN.items():
        if not filled.get(name) and isinstance(conditions.get(key), int | float):
            filled[name] = f"{conditions[key]!r}{UNITS[name]}"
    for name in ("vehicle", "road", "units"):
        if not filled.get(name) and isinstance(conditions.get(name), str):
            filled[name] = conditions[name]
    return filled


def debrief_drive(request: DebriefRequest, *, progress: Progress = lambda _: None) -> Debrief:
    """Read the recording, read or make the plan, lay one over the other.

    Raises RouteError, RequestError, VehicleError, DemError (exit 2) and ElevationError (exit 4).
    """
    progress("reading the recording")
    where = find_source(request.recording).where
    timed = right_clock(read_recording(request.recording), where)
    if request.plan_file is None:
        road = _road(request, timed, where, progress)
        refuse_untrusted(road.profile)
        progress("planning")
        task = task_for(request.plan, road)
        plan = explained(task, slippery=request.plan.surface in (Road.SNOW, Road.ICE), progress=progress)
        solution, route = plan.solution, road.route
    else:
        task, solution = _held(request.plan_file, request.plan)
        route = request.plan_file.route
    progress("laying the drive over the plan")
    planned = planned_of(task, solution)
    return debriefed(planned, driven_on(timed, planned, route, where), seed=request.seed, progress=progress)


def _road(request: DebriefRequest, timed: Timed, where: str, progress: Progress) -> SurveyedRoad:
    """The planned road: the route file's, else the recording's own line."""
    if request.route is not None:
        return survey(request.plan.road, progress=progress)
    return survey_of(own_line(timed, where), request.plan.road, progress=progress)


def _held(plan: PlanFile, request: PlanRequest) -> tuple[Task, Solution | None]:
    """The task a plan file was made for, and its solution."""
    road = SurveyedRoad(plan.route, plan.profile, sustained_downgrades(plan.profile))
    task = task_for(replace(request, places=None), road)
    known = np.isfinite(plan.posted_mps)
    task = replace(task, places=plan.places, posted_known=known,
                   posted_mps=np.where(known, plan.posted_mps, task.rules.default_posted_mps),
                   curve_mps=np.where(np.isfinite(plan.curve_mps), plan.curve_mps, task.curve_mps))
    return task, solution_in(plan, task.vehicle)
