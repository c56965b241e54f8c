# SPDX-License-Identifier: MIT
"""The whole answer for a task: the way down that was found, why it is so, and what else would do; or why nothing holds."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from descent.plan.leg_facts import engine_speeds_rpm, leg_facts
from descent.plan.model import Alternative, DescentPlan, Instruction, LegSpan, Reason, Task
from descent.plan.planner import Found, Nothing, Workshop, find, workshop
from descent.plan.second_opinion import second_opinions
from descent.plan.verify import drive, excess_k, with_instruction, without_stop
from descent.plan.what_if import changes_that_hold, effects_of_changes

Progress = Callable[[str], None]


def explained(task: Task, *, slippery: bool, progress: Progress | None = None) -> DescentPlan:
    """Plan a task and explain the plan. On snow or ice (`slippery`) the answer is not today."""
    if slippery:
        return _no_plan(task, Reason("slippery"), (Alternative("dry-road"),))
    shop = workshop(task)
    if not task.downgrades:
        found = find(shop, progress=progress)
        if isinstance(found, Found):
            return _plan(shop, found, Reason("no-downgrade"), ())
    if task.downgrades and not shop.choices:
        return _no_plan(task, Reason("no-gear", {"min_speed_mps": task.rules.min_speed_mps}), ())
    found = find(shop, progress=progress)
    if isinstance(found, Nothing):
        if progress is not None:
            progress("looking for what would hold")
        reason = Reason("over-limit", {"station_m": found.station_m, "excess_k": found.excess_k,
                                       "min_speed_mps": task.rules.min_speed_mps})
        return _no_plan(task, reason, changes_that_hold(task))
    if progress is not None:
        progress("explaining")
    verdict = Reason("holds", {"total_time_s": found.trace.total_time_s,
                               "stops": float(sum(stop.kind != "brake-check" for stop in found.solution.stops))})
    return _plan(shop, found, verdict, effects_of_changes(task, found.trace.total_time_s))


def _plan(shop: Workshop, found: Found, verdict: Reason, alternatives: tuple[Alternative, ...]) -> DescentPlan:
    task, solution = shop.task, found.solution
    return DescentPlan(
        task, True, verdict, solution, found.trace, found.cautious,
        tuple(_leg_reasons(shop, found, number) for number in range(len(solution.legs))),
        tuple(leg_facts(task, leg) for leg in solution.legs), engine_speeds_rpm(task, solution, found.trace),
        second_opinions(task), alternatives)


def _no_plan(task: Task, verdict: Reason, alternatives: tuple[Alternative, ...]) -> DescentPlan:
    return DescentPlan(task, False, verdict, None, None, None, (), (), None, second_opinions(task), alternatives)


def _leg_reasons(shop: Workshop, found: Found, number: int) -> tuple[Reason, ...]:
    leg = found.solution.legs[number]
    reasons = [_hottest(shop, found, leg)]
    faster = _faster(shop, leg.instruction)
    if faster is not None:
        trial = drive(shop.task, shop.steep, shop.tables, with_instruction(found.solution, number, faster))
        over = excess_k(shop.task, trial)
        if not _shown_limit_allows(shop, leg, faster):
            reasons.append(Reason("faster-over-posted", {"control_mps": faster.control_mps, "gear": faster.gear}))
        elif float(over.max()) > 0:
            axle = int(over.argmax())
            node = int(np.argmax(trial.temp_c[:, axle] + trial.rise_k[:, axle]))
            reasons.append(Reason("faster-too-hot", {
                "control_mps": faster.control_mps, "gear": faster.gear, "excess_k": float(over[axle]),
                "axle": shop.task.vehicle.axles[axle].name, "station_m": float(trial.station_m[node])}))
        else:
            reasons.append(Reason("faster-not-quicker", {"control_mps": faster.control_mps, "gear": faster.gear}))
    for index, stop in enumerate(found.solution.stops):
        if stop.node == leg.start and stop.kind != "brake-check":
            trial = drive(shop.task, shop.steep, shop.tables, without_stop(found.solution, index))
            over = excess_k(shop.task, trial)
            reasons.append(Reason("stop-needed" if float(over.max()) > 0 else "stop-gear", {
                "excess_k": float(over.max()), "axle": shop.task.vehicle.axles[int(over.argmax())].name}))
    return tuple(reasons)


def _hottest(shop: Workshop, found: Found, leg: LegSpan) -> Reason:
    temps = found.cautious.temp_c[leg.start:leg.end + 1]
    total = temps + found.cautious.rise_k[leg.start:leg.end + 1]
    node, axle = np.unravel_index(int(np.argmax(total)), total.shape)
    return Reason("hottest", {
        "axle": shop.task.vehicle.axles[axle].name, "station_m": float(found.cautious.station_m[leg.start + node]),
        "temp_c": float(temps[node, axle]), "rise_k": float(total[node, axle] - temps[node, axle]),
        "limit_c": shop.task.vehicle.axles[axle].temp_limit_c})


def _faster(shop: Workshop, held: Instruction) -> Instruction | None:
    quicker = [item for item in shop.choices if item.control_mps > held.control_mps + 1e-6]
    return replace(quicker[0]) if quicker else None


def _shown_limit_allows(shop: Workshop, leg: LegSpan, faster: Instruction) -> bool:
    limits = np.minimum(shop.task.posted_mps, shop.task.curve_mps)[leg.start:leg.end + 1]
    return float(limits.max()) >= faster.control_mps - 1e-6
