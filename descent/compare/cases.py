# SPDX-License-Identifier: MIT
"""The cases of a comparison: every combination of the routes, vehicles, weights and days that were asked for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from itertools import product

from descent.compare.fleet import FleetUnit
from descent.request import Direction, Faults, PlanRequest, choice, plan_request, road_request

MOST_CASES = 60


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

    axes: the texts of vehicle, gross, condition, air-temp, road and retarder, each any number of times; common: the other
    texts of a plan request. With a fleet, its units stand in for vehicles and weights. Raises RequestError with every fault told once.
    """
    faults = Faults()
    states = tuple(faults.attempt(lambda text=text: choice(RetarderState, text, "--retarder"), RetarderState.WORKING)  # type: ignore[misc]
                   for text in axes.get("retarder") or ("working",))
    found: list[Case] = []
    days = [dict(zip(("air-temp", "road"), pair, strict=True))
            for pair in product(axes.get("air-temp") or (None,), axes.get("road") or (None,))]
    for route in routes:
        road = road_request(route, dem=heights.dem, grades=heights.grades, route_elevation=heights.route_elevation,
                            direction=heights.direction, faults=faults)
        for who, day, state in product(_vehicles(axes, fleet), days, states):
            texts = {**common, **day, **{key: who[key] for key in ("vehicle", "gross", "condition")}}
            request = faults.attempt(lambda road=road, texts=texts: plan_request(road, texts, Faults()),  # type: ignore[misc]
                                     None)
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

