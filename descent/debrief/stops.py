# SPDX-License-Identifier: MIT
"""Stops planned and stops made: which were kept, cut short, missed, and which nobody planned."""

from __future__ import annotations

import numpy as np

from descent.debrief.against_plan import AgainstPlan
from descent.debrief.model import Departure, StopDriven

NEAR_M = 150.0               # a stop within this of its place is that stop (a long pull-out, and the receiver)
KEPT_SHARE = 0.9
UNPLANNED_S = 90.0


def _stands(side: AgainstPlan) -> list[tuple[int, int]]:
    """Runs of samples standing, those with hardly any road between as one."""
    flags = side.drive.motion.standing
    edges = np.flatnonzero(np.diff(np.concatenate([[0], flags.astype(int), [0]])))
    station, merged = side.drive.motion.station_m, list[list[int]]()
    for start, end in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        if merged and abs(float(station[start] - station[merged[-1][1]])) < 30.0:
            merged[-1][1] = end - 1
        else:
            merged.append([start, end - 1])
    return [(start, end) for start, end in merged]


def stops_driven(side: AgainstPlan) -> tuple[tuple[StopDriven, ...], list[Departure]]:
    """Every stop planned on the road driven, every other stop of over a minute and a half, and what they cost."""
    motion, row = side.drive.motion, side.row
    stands = _stands(side)
    found: list[StopDriven] = []
    departures: list[Departure] = []
    taken: set[int] = set()
    profile = side.planned.task.profile
    for stop in side.planned.solution.stops:
        at = float(profile.station_m[stop.node])
        if not motion.station_m[0] - NEAR_M <= at <= motion.station_m[-1]:
            continue
        near = [number for number, (start, _) in enumerate(stands)
                if number not in taken and abs(float(motion.station_m[start]) - at) <= NEAR_M]
        taken |= set(near)
        minutes = sum(float(motion.time_s[stands[n][1]] - motion.time_s[stands[n][0]]) for n in near) / 60.0
        name = stop.place.name if stop.place is not None else None
        outcome = "missed" if not near else "kept" if minutes >= KEPT_SHARE * stop.minutes else "short"
        first, last = (stands[near[0]][0], stands[near[-1]][1]) if near else (side.sample_at(at),) * 2
        if not near and not bool(motion.seen[max(first - 20, 0):first + 20].all()):
            outcome = "unseen" if not bool(motion.seen[max(first - 20, 0):first + 20].mean() > 0.6) else "missed"
        found.append(StopDriven(stop.kind, at, name, float(stop.minutes), minutes if near else 0.0, outcome,
                                float(side.heat.temp_c[first, row]), float(side.heat.temp_c[last, row])))
        if outcome in ("missed", "short"):
            cost_s, cost_k = side.cost(max(first - 1, 0), min(last + 1, len(motion.time_s) - 1), over_stop=True)
            departures.append(Departure(f"stop-{outcome}", at, at, cost_s, cost_k, {
                "place": name or "", "planned": float(stop.minutes), "real": minutes}))
    for number, (start, end) in enumerate(stands):
        lasted = float(motion.time_s[end] - motion.time_s[start])
        at = float(motion.station_m[start])
        edge = start <= 2 or end >= len(motion.time_s) - 3
        if number in taken or lasted < UNPLANNED_S or edge:
            continue
        found.append(StopDriven("unplanned", at, _place_near(side, at), None, lasted / 60.0, "unplanned",
                                float(side.heat.temp_c[start, row]), float(side.heat.temp_c[end, row])))
        cost_s, cost_k = side.cost(start, end, over_stop=True)
        departures.append(Departure("stop-unplanned", at, at, cost_s, cost_k,
                                    {"place": _place_near(side, at) or "", "real": lasted / 60.0}))
    return tuple(sorted(found, key=lambda item: item.station_m)), departures


def _place_near(side: AgainstPlan, station_m: float) -> str | None:
    near = [place for place in side.planned.task.places if place.name and abs(place.station_m - station_m) <= NEAR_M]
    return min(near, key=lambda place: abs(place.station_m - station_m)).name if near else None
