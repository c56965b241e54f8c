# SPDX-License-Identifier: MIT
"""How others would come down: the published method, its misuse, a greedy driver and a rule of thumb, on a planner's task."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np


def _legs(shop: Any, pick: Callable[[Any], Any]) -> Any:
    """A leg for every chain of downgrades with the instruction picked for it; the planner's own brake checks; elsewhere
    the road's speed limits."""
    from descent.plan.model import LegSpan, Solution
    from descent.plan.sections import SectionKind
    from descent.plan.verify import solution_of
    checks = solution_of(shop.task, shop.chains, shop.parts, ()).stops
    legs = []
    for number, chain in enumerate(shop.chains):
        end = max(part.end for part in shop.parts if part.kind is SectionKind.DOWNGRADE and part.group == number)
        held = pick(chain)
        if held is not None:
            legs.append(LegSpan(chain.start, end, chain.start, chain.numbers[0], held))
    return Solution(tuple(legs), checks)


def _fastest_up_to(shop: Any, speed_mps: float) -> Any:
    """The fastest instruction no faster than a speed, else the slowest."""
    slower = [item for item in shop.choices if item.control_mps <= speed_mps + 1e-6]
    return slower[-1] if slower else shop.choices[0]


def published(shop: Any) -> Any:
    """The updated published speeds, carried temperature chained from downgrade to downgrade; a chain at its lowest."""
    from descent.plan.second_opinion import second_opinions
    speeds = {item.downgrade: item.updated_mps for item in second_opinions(shop.task)}
    return _legs(shop, lambda chain: _fastest_up_to(shop, min(speeds[n] or 45.0 for n in chain.numbers)))


def published_reset(shop: Any) -> Any:
    """The same with the initial temperature at every crest: a misuse of the method."""
    from descent.physics.grade_severity import UPDATED, chained_speeds
    from descent.plan.second_opinion import _pieces
    task = shop.task
    speeds = {}
    for item in task.downgrades:
        pieces = _pieces(task, task.profile.index_at(item.start_m), task.profile.index_at(item.end_m))
        speeds[item.number] = chained_speeds(
            UPDATED, [pieces], gross_kg=task.vehicle.gross_kg, gaps=[], start_temp_c=task.day.start_temp_c,
            ambient_temp_c=task.day.air_temp_c, gap_speed_mps=float(task.posted_mps.max()))[0].maximum_mps
    return _legs(shop, lambda chain: _fastest_up_to(shop, min(speeds[n] or 45.0 for n in chain.numbers)))


def climbing_gear(shop: Any) -> Any:
    """Down in the gear one would climb in, at its governed speed (common practice, no source)."""
    task, vehicle = shop.task, shop.task.vehicle

    def pick(chain: Any) -> Any:
        grade = max(-item.mean_grade for item in task.downgrades if item.number in chain.numbers)
        climbs = vehicle.engine.power_w * 0.9 / (vehicle.gross_kg * 9.80665 * (grade + vehicle.rolling_coefficient))
        above = [item for item in shop.choices if item.control_mps >= climbs - 1e-6]
        gear = (above[0] if above else shop.choices[-1]).gear
        return [item for item in shop.choices if item.gear == gear][-1]
    return _legs(shop, pick)


def greedy(shop: Any) -> Any:
    """On every chain the fastest instruction that holds to its foot with the brakes as they come in; no look ahead, no stop
    but the brake checks; the slowest where none holds."""
    from descent.plan.model import Solution
    temps = {"node": 0, "c": np.full(len(shop.task.vehicle.rows), shop.task.day.start_temp_c)}
    told: list[Any] = []
    frame = _legs(shop, lambda chain: shop.choices[0])

    def holds(held: Any, leg: Any) -> tuple[bool, Any]:
        from dataclasses import replace
        trial = Solution((*told, replace(leg, instruction=held)), frame.stops)
        trace = _from(shop, trial, temps["node"], leg.end, temps["c"])
        limit = np.array([row.brake.temp_limit_c for row in shop.task.vehicle.rows])
        return trace.complete and float(np.max(trace.temp_c + trace.rise_k - limit)) <= 0.0, trace

    from dataclasses import replace
    for leg in frame.legs:
        for held in reversed(shop.choices):
            fine, trace = holds(held, leg)
            if fine or held is shop.choices[0]:
                break
        told.append(replace(leg, instruction=held))
        temps["node"], temps["c"] = leg.end, trace.temp_c[-1]
    return Solution(tuple(told), frame.stops)


def _from(shop: Any, solution: Any, start: int, end: int, temps_c: Any) -> Any:
    """March of a stretch by itself, from its cap."""
    from descent.physics.march import Cells, Schedule, march
    from descent.plan.verify import schedule_of
    cells, whole = shop.cells, schedule_of(shop.task, shop.cells, shop.tables, solution)
    part = Cells(cells.station_m[start:end + 1], *(column[start:end] for column in (
        cells.step_m, cells.sin_down, cells.cos_road, cells.k_air, cells.cool, cells.air_temp)))
    own = Schedule(whole.cap_mps[start:end + 1], whole.row[start:end], whole.snubbed[start:end], whole.dwell_s[start:end + 1])
    return march(part, shop.task.vehicle, shop.tables, own, shop.task.day, shop.task.driving,
                 start_speed_mps=float(own.cap_mps[0]), start_temps_c=temps_c)


POLICIES: dict[str, Callable[[Any], Any]] = {
    "published speeds, chained with carried heat": published,
    "published speeds, brakes taken as cool at each crest (misuse)": published_reset,
    "fastest that holds on each downgrade by itself, no look ahead": greedy,
    "down in the climbing gear (common practice, no source)": climbing_gear,
}
