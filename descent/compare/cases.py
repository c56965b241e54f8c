# SPDX-License-Identifier: MIT
"""The cases of a comparison: every combination of the routes, vehicles, weights and days that were asked for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import Enum
from itertools import product

from descent.compare.fleet import FleetUnit
from descent.errors import Fault, RequestError
from descent.request import Direction, Faults, PlanRequest, plan_request, road_request

MOST_CASES = 60
AXES = ("vehicle", "gross", "condition", "air-temp", "road")
DEFAULTS = {"vehicle": None, "gross": None, "condition": None, "air-temp": None, "road": None}


class RetarderState(Enum):
    """Whether a fitted retarder is counted on."""

    WORKING = "working"
    OUT = "out"


@dataclass(frozen=True)
class Heights:
    """Where the heights of every route come from, as the options name it, and the way the lines are driven."""

    dem: tuple[str, ...]
    grades: str | None
    route_elevation: str | None
    direction: Direction = Direction.AS_DRAWN


@dataclass(frozen=True)
class Case:
    """One thing to plan. unit: its name in a fleet file, or "" ."""

    request: PlanRequest
    retarder: RetarderState = RetarderState.WORKING
    unit: str = ""


def read_cases(routes: Sequence[str], heights: Heights, axes: Mapping[str, Sequence[str]],
               common: Mapping[str, str | None], fleet: Sequence[FleetUnit] = ()) -> tuple[Case, ...]:
    """Every combination, in the order given: routes first, then vehicles, weights, conditions, days, retarders.

    axes: the texts of `AXES` and "retarder", each any number of times; common: the other texts of a plan request.
    With a fleet, its units stand in for vehicles and weights. Raises RequestError with every fault told once.
    """
    faults = Faults()
    states = tuple(faults.attempt(lambda text=text: _state(text), RetarderState.WORKING)  # type: ignore[misc]
                   for text in axes.get("retarder") or ("working",))
    found: list[Case] = []
    days = [dict(zip(("air-temp", "road"), pair, strict=True))
            for pair in product(axes.get("air-temp") or (None,), axes.get("road") or (None,))]
    for route in routes:
        road = road_request(route, dem=heights.dem, grades=heights.grades, route_elevation=heights.route_elevation,
                            direction=heights.direction, faults=faults)
        for who, day, state in product(_vehicles(axes, fleet), days, states):
            inside = Faults()
            texts = {**common, **day, **{key: who[key] for key in ("vehicle", "gross", "condition")}}
            request = inside.attempt(lambda road=road, texts=texts: plan_request(road, texts, Faults()),  # type: ignore[misc]
                                     None)
            faults.all += [fault for fault in inside.all if fault not in faults.all]
            if request is not None:
                found.append(Case(request, state, who["unit"] or ""))
    faults.all[:] = list(dict.fromkeys(faults.all))
    if not faults.all and len(found) > MOST_CASES:
        faults.add("compare-too-many", "these are too many cases for one page",
                   f"Ask for at most {MOST_CASES}, in several comparisons", "compare", f"{len(found)} cases")
    faults.raise_if_any()
    return tuple(found)


def _vehicles(axes: Mapping[str, Sequence[str]], fleet: Sequence[FleetUnit]) -> list[dict[str, str | None]]:
    if fleet:
        return [{"vehicle": unit.vehicle, "gross": f"{unit.gross_kg!r}kg", "condition": unit.condition,
                 "unit": unit.name} for unit in fleet]
    return [{"vehicle": vehicle, "gross": gross, "condition": condition, "unit": None}
            for vehicle, gross, condition in product(*(axes.get(key) or (None,)
                                                       for key in ("vehicle", "gross", "condition")))]


def _state(text: str) -> RetarderState:
    for state in RetarderState:
        if state.value == text.strip().lower():
            return state
    raise RequestError(Fault("unknown-choice", "this is not one of the choices", "Choose from working, out",
                             "--retarder", repr(text)))


def at_weight(case: Case, gross_kg: float) -> Case:
    """The same case with another gross weight [kg]."""
    return replace(case, request=replace(case.request, gross_kg=gross_kg))
