# SPDX-License-Identifier: MIT
"""Cold and wet advice for a plan: which piece applies on this day, and where on this road, as data."""

from __future__ import annotations

import numpy as np

from descent.plan.model import COOLING_STOPS, Reason, Solution, Task
from descent.plan.planner import Workshop
from descent.vehicle.cold_wet import Advice, advice_for, coldest_on_road_c
from descent.vehicle.model import RetarderKind

KIND = "advice"          # of the reasons made here
CHAIN_UP = "chain-up-area"
SURFACE_BELOW = (("ice", 0.15), ("snow", 0.3), ("wet", 0.5))     # by adhesion, between the values of the day's surfaces
Where = list[tuple[float, str]]


def cold_wet_advice(shop: Workshop, solution: Solution | None) -> tuple[Reason, ...]:
    """One reason per piece of advice and place: key, when, where, text, short, station_m, place ("": none is known; a
    crest without a chain-up area before it has where "chain-up-unknown").

    Nothing on a warm dry day: what holds on any day is said elsewhere. The coldest air counts, at the highest point of
    the road (`coldest_on_road_c`); equipment nobody named counts as fitted and as missing.
    """
    task = shop.task
    fitted, known = _equipment(task)
    found = advice_for(coldest_air_c=coldest_c(task), surface=surface_of(task), fitted=fitted, known=known)
    return tuple(Reason(KIND, {
        "key": item.key, "when": item.when, "text": item.text, "short": item.short, "station_m": station_m, "place": place,
        "where": "chain-up-unknown" if item.where == "chain-up" and not place else item.where})
        for item in found if not item.for_any_day for station_m, place in _places(item, shop, solution))


def coldest_c(task: Task) -> float:
    """Coldest air to expect on the road [C]: the day's at the start, colder by height and a margin."""
    height = task.profile.elevation_m
    first = float(height[np.flatnonzero(np.isfinite(height))[0]])
    return coldest_on_road_c(task.day.air_temp_c, climb_m=float(np.nanmax(height)) - first)


def surface_of(task: Task) -> str:
    """The day's road surface, told from the adhesion counted on."""
    return next((name for name, below in SURFACE_BELOW if task.day.adhesion < below), "dry")


def _equipment(task: Task) -> tuple[frozenset[str], frozenset[str]]:
    """What is fitted, and of what it is known whether it is: the walk-round's word before the vehicle file's."""
    fitted = {"retarder"} if task.vehicle.retarder.kind is not RetarderKind.NONE else set()
    known = {"retarder", "chains"}
    evaporator = task.vehicle.air.evaporator
    if task.findings is not None:
        for item in task.findings.findings:
            if item.code.startswith("evaporator"):
                evaporator = item.found != "none fitted"
    if evaporator is not None:
        known.add("evaporator")
        fitted |= {"evaporator"} if evaporator else set()
    return frozenset(fitted), frozenset(known)


def _places(item: Advice, shop: Workshop, solution: Solution | None) -> Where:
    """Where a piece of advice is for, if anywhere. Without a plan nobody is told what to do to go over a crest."""
    station = shop.task.profile.station_m
    if item.where in ("start", "road"):
        return [(0.0, "")]
    if item.where == "crest":
        return [] if solution is None else [(float(station[chain.crest]), "") for chain in shop.chains]
    if item.where == "chain-up":
        return _chain_up(shop)
    stops = () if solution is None else solution.stops
    return [*((float(station[stop.node]), stop.place.name if stop.place else "") for stop in stops
              if stop.kind not in COOLING_STOPS), (float(station[-1]), "")]


def _chain_up(shop: Workshop) -> Where:
    """The last chain-up area on our side before each crest, each once; the crest itself, unnamed, where there is none."""
    task, since, found = shop.task, 0.0, []
    for chain in shop.chains:
        crest_m = float(task.profile.station_m[chain.crest])
        near = [place for place in task.places if place.kind == CHAIN_UP and since <= place.station_m <= crest_m
                and place.side != "left"]
        found.append((near[-1].station_m, near[-1].name or CHAIN_UP) if near else (crest_m, ""))
        since = crest_m
    return list(dict.fromkeys(found))
