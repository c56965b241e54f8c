# SPDX-License-Identifier: MIT
"""Plans every case of a comparison: each road surveyed once, each case planned by the one planner."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from descent.compare.cases import Case, RetarderState
from descent.compare.heaviest import Heaviest, heaviest
from descent.errors import ElevationError
from descent.pipeline import SurveyedRoad, plan_task, refuse_untrusted, survey, task_for
from descent.plan.model import DescentPlan, Task
from descent.request import PlanRequest, Road, RoadRequest
from descent.vehicle.model import without_retarder

Progress = Callable[[str], None]


@dataclass(frozen=True)
class Answer:
    """What came of a case: its plan and road; or, where the elevation data cannot carry one, why (`fault`).

    heaviest: None where it was not asked for or has no meaning (a vehicle that may not go, snow, ice).
    """

    case: Case
    plan: DescentPlan | None
    road: SurveyedRoad | None
    fault: str = ""
    heaviest: Heaviest | None = None


@dataclass(frozen=True)
class _Surveyed:
    road: SurveyedRoad | None
    fault: str = ""


def answers(cases: Sequence[Case], *, progress: Progress) -> tuple[Answer, ...]:
    """The answer to each case, in order. Raises what reading a route or a vehicle raises (exit 2)."""
    return _answered(cases, progress, lambda case, task: None)


def answers_with_heaviest(cases: Sequence[Case], *, progress: Progress) -> tuple[Answer, ...]:
    """As `answers`, with the most weight each vehicle can take down on that day; asked once for cases that differ in
    weight only."""
    known: dict[tuple[PlanRequest, RetarderState], Heaviest | None] = {}

    def asked(case: Case, task: Task) -> Heaviest | None:
        key = (replace(case.request, gross_kg=0.0), case.retarder)
        if key not in known:
            progress("looking for the most weight that holds")
            barred = task.findings is not None and task.findings.verdict.name == "NO_GO"
            known[key] = None if barred or case.request.surface in (Road.SNOW, Road.ICE) else heaviest(task)
        return known[key]

    return _answered(cases, progress, asked)


def _answered(cases: Sequence[Case], progress: Progress,
              ask: Callable[[Case, Task], Heaviest | None]) -> tuple[Answer, ...]:
    roads: dict[RoadRequest, _Surveyed] = {}
    found = []
    for number, case in enumerate(cases, start=1):
        request = case.request
        if request.road not in roads:
            roads[request.road] = _surveyed(request.road, progress)
        road = roads[request.road]
        progress(f"planning case {number} of {len(cases)}")
        if road.road is None:
            found.append(Answer(case, None, None, road.fault))
            continue
        task = task_for(request, road.road)
        if case.retarder is RetarderState.OUT:
            task = replace(task, vehicle=without_retarder(task.vehicle))
        plan = plan_task(request, task, progress=lambda text: None)
        found.append(Answer(case, plan, road.road, "", ask(case, task)))
    return tuple(found)


def _surveyed(request: RoadRequest, progress: Progress) -> _Surveyed:
    try:
        road = survey(request, progress=progress)
        refuse_untrusted(road.profile)
    except ElevationError as error:
        return _Surveyed(None, error.faults[0].sentence())
    return _Surveyed(road)
