# SPDX-License-Identifier: MIT
"""The whole answer for a task: the way down that was found, why it is so, and what else would do; or why nothing holds."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TypedDict

import numpy as np
from numpy.typing import NDArray

from descent.physics.stopping import Technique, Timing, brakes_left, stopping_distances
from descent.physics.trace import DescentTrace
from descent.plan.actions import fitting
from descent.plan.advice import cold_wet_advice
from descent.plan.air_check import low_air_node, reservoirs
from descent.plan.air_stops import AirNeed, air_need
from descent.plan.doubt import Failure, ReplanTable, Sensitivity
from descent.plan.failures import failures
from descent.plan.leg_facts import engine_speeds_rpm, gauge_readings, leg_facts
from descent.plan.model import (
    COOLING_STOPS,
    Alternative,
    DescentPlan,
    Instruction,
    LegSpan,
    Reason,
    Solution,
    Task,
)
from descent.plan.planner import Found, Nothing, Workshop, find, workshop
from descent.plan.replan import replan_table
from descent.plan.risk import TooRisky, Within, find_within, too_risky
from descent.plan.second_opinion import second_opinions
from descent.plan.sections import usable
from descent.plan.sensitivities import sensitivities
from descent.plan.simplicity import price_of_simplicity
from descent.plan.verify import excess_k, with_instruction, without_stop
from descent.plan.what_if import changes_that_hold, effects_of_changes
from descent.vehicle.walk_round_limits import Verdict

FloatArray = NDArray[np.float64]
Progress = Callable[[str], None]
NOT_LOOKED_AT = "not looked at"   # how a walk-round finding says that nobody answered


def explained(task: Task, *, slippery: bool, progress: Progress | None = None) -> DescentPlan:
    """Plan a task and explain the plan. On snow or ice (`slippery`) the answer is not today."""
    if task.findings is not None and task.findings.verdict is Verdict.NO_GO:
        return _no_plan(task, Reason("not-fit", {"repairs": " ".join(
            item.sentence() + "." for item in task.findings.with_verdict(Verdict.NO_GO))}), (Alternative("repair"),))
    if slippery:
        return _no_plan(task, Reason("slippery"), (Alternative("dry-road"),))
    shop = workshop(task)
    if task.downgrades and not shop.choices:
        return _no_plan(task, Reason("no-gear", {"min_speed_mps": task.rules.min_speed_mps}), ())
    found = find(shop, progress=progress)
    weighed = find_within(shop, task.chance, found, progress=progress) if task.chance and isinstance(found, Found) else None
    if isinstance(weighed, TooRisky):
        if progress is not None:
            progress("looking for what would hold")
        return replace(_no_plan(task, too_risky(task.chance, weighed), changes_that_hold(task)), risk=weighed.best)
    if isinstance(found, Nothing):
        if progress is not None:
            progress("looking for what would hold")
        values: dict[str, float | str] = {"station_m": found.station_m, "min_speed_mps": task.rules.min_speed_mps}
        if found.excess_k is not None:
            values["excess_k"] = found.excess_k
        return _no_plan(task, Reason(found.cause.value, values), changes_that_hold(task))
    if progress is not None:
        progress("explaining")
    reserve = None
    if weighed is not None:
        found, reserve = weighed.found, weighed.reserve_k
    verdict = Reason("holds" if found.solution.legs else "no-downgrade")
    effects = effects_of_changes(task, found.trace.total_time_s, reserve_k=reserve) if found.solution.legs else ()
    rpm = engine_speeds_rpm(task, found.solution, found.trace)
    return DescentPlan(
        task, True, verdict, found.solution, found.trace, float(-excess_k(task, found.trace).max()),
        tuple(_leg_reasons(shop, found, number) for number in range(len(found.solution.legs))),
        tuple(leg_facts(task, leg) for leg in found.solution.legs),
        rpm, gauge_readings(task, found.trace), reservoirs(task, found.solution, found.trace), _stopping_m(shop, found.trace),
        second_opinions(task), effects, warnings(shop, found.solution),
        tuple(usable(task, place) for place in task.places), risk=None if weighed is None else weighed.risk,
        lower_bound_s=found.lower_bound_s, proven=found.proven,
        price=price_of_simplicity(shop, found.trace.total_time_s, reserve),
        **_doubts(shop, found, weighed, progress))


class _Doubts(TypedDict, total=False):
    failures: tuple[Failure, ...]
    replan: ReplanTable
    sensitivities: tuple[Sensitivity, ...]


def _doubts(shop: Workshop, found: Found, weighed: Within | None, progress: Progress | None) -> _Doubts:
    """What could go wrong, how to go on from a place and what changes do; nothing where chance is not asked about."""
    if weighed is None or not found.solution.legs:
        return {}
    return {"failures": failures(shop, found, progress=progress),
            "replan": replan_table(shop, found, weighed.reserve_k, weighed.risk),
            "sensitivities": sensitivities(shop, found, weighed.reserve_k)}


def _stopping_m(shop: Workshop, trace: DescentTrace) -> FloatArray:
    """Stopping distances along the trace; without antilock as hard as no wheel locks."""
    vehicle = shop.task.vehicle
    technique = Technique.ANTILOCK if vehicle.air.antilock else Technique.CONTROLLED
    return stopping_distances(trace, vehicle, shop.cells, adhesion=shop.task.day.adhesion,
                              left=brakes_left(vehicle, timing=Timing(), technique=technique, air=shop.task.air))


def _no_plan(task: Task, verdict: Reason, alternatives: tuple[Alternative, ...]) -> DescentPlan:
    return DescentPlan(task, False, verdict, None, None, None, (), (), None, None, None, None, second_opinions(task), alternatives,
                       warnings(workshop(task)), tuple(usable(task, place) for place in task.places))


def warnings(shop: Workshop, solution: Solution | None = None) -> tuple[Reason, ...]:
    """What must be read before anything else: overload, wet road, crests with no stop before them to check brakes at; then
    the advice for a cold or wet day (kind "advice")."""
    task, found = shop.task, []
    if task.vehicle.gross_kg > task.vehicle.rated_gross_kg * 1.0001:
        found.append(Reason("over-rating", {"gross_kg": task.vehicle.gross_kg,
                                            "rated_kg": task.vehicle.rated_gross_kg}))
    if task.day.adhesion < 0.5:
        found.append(Reason("wet"))
    found += [Reason("load", {"text": text}) for text in task.vehicle.load.effects]
    if task.findings is not None:
        care = task.findings.with_verdict(Verdict.CARE)
        open_items = [item.what.rstrip("?").lower() for item in care if item.found == NOT_LOOKED_AT]
        found += [Reason("finding", {"text": item.sentence()}) for item in care if item.found != NOT_LOOKED_AT]
        if open_items:
            found.append(Reason("not-looked-at", {"text": "; ".join(dict.fromkeys(open_items))}))
    since = 0
    for chain in shop.chains:
        stopped = solution is not None and any(since <= stop.node <= chain.crest for stop in solution.stops)
        since = chain.crest
        if chain.check is None and not stopped:
            found.append(Reason("no-brake-check", {"downgrade": float(chain.numbers[0])}))
    return (*found, *cold_wet_advice(shop, solution))


def _leg_reasons(shop: Workshop, found: Found, number: int) -> tuple[Reason, ...]:
    leg = found.solution.legs[number]
    reasons = [_hottest(shop, found, leg)]
    faster = next((item for item in shop.choices if item.control_mps > leg.instruction.control_mps + 1e-6), None)
    if faster is not None:
        reasons.append(_why_not_faster(shop, found, number, faster))
    for index, stop in enumerate(found.solution.stops):
        if stop.node == leg.start and stop.kind != "brake-check":
            worst, axle, _ = _worst(shop, without_stop(found.solution, index), leg.start, len(found.trace.station_m) - 1)
            need = air_need(shop, found.solution, found.trace, index)
            if worst > 0 or need is None:
                reasons.append(Reason("stop-needed" if worst > 0 else "stop-gear", {"excess_k": worst, "axle": axle}))
            if worst <= 0 and stop.kind in COOLING_STOPS and need is not None:
                reasons.append(Reason("stop-reserve"))
            if need is not None:
                reasons.append(_for_the_air(need))
    return tuple(reasons)


def _for_the_air(need: AirNeed) -> Reason:
    values: dict[str, float | str] = {"station_m": need.low_m, "arrive_kpa": need.arrive_kpa, "leave_kpa": need.leave_kpa}
    if not need.minutes:
        return Reason("stop-air", values)
    return Reason("stop-air-longer", values | {"minutes": float(need.minutes)})


def _why_not_faster(shop: Workshop, found: Found, number: int, faster: Instruction) -> Reason:
    leg = found.solution.legs[number]
    values: dict[str, float | str] = {"control_mps": faster.control_mps, "gear": faster.gear}
    if faster not in fitting(shop.task, shop.choices, leg.start, leg.end):
        return Reason("faster-over-posted", values)
    trial = with_instruction(found.solution, number, faster)
    worst, axle, station_m = _worst(shop, trial, leg.start, leg.end)
    if worst > 0:
        return Reason("faster-too-hot", values | {"excess_k": worst, "axle": axle, "station_m": station_m})
    worst, axle, station_m = _worst(shop, trial, leg.end, len(found.trace.station_m) - 1)
    if worst > 0:
        return Reason("faster-later", values | {"excess_k": worst, "axle": axle, "station_m": station_m})
    low = low_air_node(shop.task, trial, shop.drive(trial))
    if low is not None:
        return Reason("faster-low-air", values | {"station_m": float(found.trace.station_m[low])})
    return Reason("faster-not-quicker", values)


def _worst(shop: Workshop, solution: Solution, start: int, end: int) -> tuple[float, str, float]:
    """By how much a solution passes the limit between two nodes [K], on which axle group and where [m]."""
    trace = shop.drive(solution)
    limit = np.array([row.brake.temp_limit_c for row in shop.task.vehicle.rows])
    over = np.nan_to_num((trace.temp_c + trace.rise_k - limit)[start:end + 1], posinf=1e4)
    node, row = np.unravel_index(int(np.argmax(over)), over.shape)
    return float(over[node, row]), shop.task.vehicle.axle_of(int(row)).name, float(trace.station_m[start + node])


def _hottest(shop: Workshop, found: Found, leg: LegSpan) -> Reason:
    temps = found.trace.temp_c[leg.start:leg.end + 1]
    total = temps + found.trace.rise_k[leg.start:leg.end + 1]
    node, row = np.unravel_index(int(np.argmax(total)), total.shape)
    return Reason("hottest", {
        "axle": shop.task.vehicle.axle_of(int(row)).name, "station_m": float(found.trace.station_m[leg.start + node]),
        "temp_c": float(temps[node, row]), "rise_k": float(total[node, row] - temps[node, row]),
        "limit_c": shop.task.vehicle.rows[int(row)].brake.temp_limit_c})
