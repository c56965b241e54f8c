# SPDX-License-Identifier: MIT
"""The table from which a stopped driver can go on: at each station, how hot the brakes may be for the rest to hold."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from descent.physics.brake_heat import packed_rows
from descent.physics.foundation_brake import CAPACITY, COOL_REST, COOL_SPEED
from descent.physics.march import Cells, Schedule, march
from descent.physics.trace import DescentTrace
from descent.plan.doubt import ReplanLevel, ReplanTable, Risk
from descent.plan.model import LegSpan, Solution
from descent.plan.planner import Found, Workshop
from descent.plan.sections import halts
from descent.plan.verify import schedule_of

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
STEP_M = 100.0
CHECKED_M = 1000.0         # the thresholds are checked by a full march from places so far apart
SLOWER_STEPS = (1, 2, 3, 5, 8)
CHECKS = 5


def replan_table(shop: Workshop, found: Found, reserve_k: FloatArray, risk: Risk | None) -> ReplanTable:
    """Thresholds of the plan and of slower instructions, on the steep side of the grade band and with the plan's reserve.

    reserve_k (n_rows,) [K]: by how much each row's limit is lowered.
    """
    task, trace = shop.task, found.trace
    step = max(1, round(STEP_M / task.profile.spacing_m))
    places = halts(task)
    last = len(trace.station_m) - 1
    nodes = np.unique(np.array([*range(0, last, step), last, *(halt.node for halt in places),
                                *(leg.start for leg in found.solution.legs)], dtype=np.int64))
    rows = packed_rows(task.vehicle)
    cool = np.append(shop.cells.cool, shop.cells.cool[-1])[nodes]
    rate = float((rows[:, COOL_REST] / rows[:, CAPACITY]).min()) * task.driving.parked_cooling_fraction
    hottest = trace.temp_c.max(axis=1)[nodes]
    likely = hottest if risk is None else np.maximum(hottest, np.interp(trace.station_m[nodes], risk.station_m, risk.high_c))
    levels = tuple(_level(shop, solution, nodes, reserve_k, number) for number, solution in _slower(shop, found.solution))
    return ReplanTable(
        trace.station_m[nodes], hottest, likely, cool * rate, task.day.air_temp_c,
        min(row.brake.temp_limit_c for row in task.vehicle.rows), min(row.brake.fade_onset_c for row in task.vehicle.rows),
        levels, tuple((float(trace.station_m[halt.node]), halt.place.name or halt.place.kind) for halt in places))


def _slower(shop: Workshop, solution: Solution) -> list[tuple[int, Solution]]:
    """The plan, and the same legs and stops with every control speed some steps lower."""
    found, speeds = [(0, solution)], sorted(shop.choices, key=lambda item: item.control_mps)
    for steps in SLOWER_STEPS:
        legs = []
        for leg in solution.legs:
            lower = [item for item in speeds if item.control_mps <= leg.instruction.control_mps + 1e-6]
            held = lower[max(len(lower) - 1 - steps, 0)] if lower else leg.instruction
            legs.append(leg if held.control_mps > leg.instruction.control_mps - 1e-6 else replace(leg, instruction=held))
        if tuple(legs) != found[-1][1].legs:
            found.append((steps, Solution(tuple(legs), solution.stops)))
    return found


def _level(shop: Workshop, solution: Solution, nodes: IntArray, reserve_k: FloatArray, number: int) -> ReplanLevel:
    schedule = schedule_of(shop.task, shop.cells, shop.tables, solution)
    trace = shop.drive(solution)
    names = shop.task.vehicle.gearbox.names
    station = trace.station_m
    threshold = _checked(shop, schedule, nodes, _thresholds(shop, trace, reserve_k)[nodes], reserve_k)
    rest = trace.total_time_s - trace.time_s - np.maximum(trace.dwell_s, 0.0)
    return ReplanLevel(number, tuple(_told(leg, station, names) for leg in solution.legs), threshold, rest[nodes])


def _told(leg: LegSpan, station_m: FloatArray, names: tuple[str, ...]) -> tuple[float, float, str, float, int]:
    held = leg.instruction
    return (float(station_m[leg.start]), float(station_m[leg.end]), names[held.gear], held.control_mps, held.stage)


def _thresholds(shop: Workshop, trace: DescentTrace, reserve_k: FloatArray) -> FloatArray:
    """Hottest temperature with which one may leave each node (n,) [C], by one pass backward.

    Below fade a difference in temperature decays by exp(-D) with D the rate x time gathered on the way, so leaving node i
    hotter by x makes node j hotter by x exp(-(D_j - D_i)): the limit there allows x <= slack_j exp(D_j) / exp(D_i), and the
    least slack_j exp(D_j) of all j ahead is one running minimum. All rows are taken as hot as the hottest.
    """
    rows, cells = packed_rows(shop.task.vehicle), shop.cells
    dwell = np.maximum(trace.dwell_s, 0.0)
    moving = np.diff(trace.time_s) - dwell[:-1]
    rate = cells.cool[:, None] / rows[:, CAPACITY]
    driven = rate * (rows[:, COOL_REST] * moving[:, None] + rows[:, COOL_SPEED] * cells.step_m[:, None])
    cool = np.append(cells.cool, cells.cool[-1])[:, None] * shop.task.driving.parked_cooling_fraction
    stood = cool * rows[:, COOL_REST] / rows[:, CAPACITY] * dwell[:, None]
    arriving = np.vstack([np.zeros(len(rows)), np.cumsum(driven + stood[:-1], axis=0)])
    limit = np.array([row.brake.temp_limit_c for row in shop.task.vehicle.rows]) - reserve_k
    slack = limit - trace.rise_k - trace.temp_c
    here = slack - trace.leave_temp_c + trace.temp_c                   # at the node itself, after its stop
    least = np.minimum.accumulate((np.nan_to_num(slack, neginf=-1e6) * np.exp(arriving))[::-1], axis=0)[::-1]
    ahead = np.vstack([least[1:], np.full((1, len(rows)), np.inf)]) * np.exp(-(arriving + stood))
    return np.asarray((trace.leave_temp_c + np.minimum(ahead, np.nan_to_num(here, neginf=-1e6))).min(axis=1))


def _checked(shop: Workshop, schedule: Schedule, nodes: IntArray, threshold_c: FloatArray,
             reserve_k: FloatArray) -> FloatArray:
    """Thresholds lowered, place by place, until the full march from there holds: fade and strokes are in it."""
    task, n = shop.task, len(shop.cells.step_m)
    apart = max(1, round(CHECKED_M / STEP_M))
    tried = np.unique(np.append(np.arange(0, len(nodes) - 1, apart), np.searchsorted(nodes, [
        halt.node for halt in halts(task)]).astype(int)))
    lower = np.zeros(len(nodes))
    for place in tried[tried < len(nodes) - 1]:
        node = int(nodes[place])
        trial = float(threshold_c[place])
        for _ in range(CHECKS):
            if trial <= task.day.air_temp_c:
                break
            over = _over(shop, schedule, node, n, trial, reserve_k)
            if over <= 0.0:
                break
            trial -= 1.5 * min(over, 100.0) + 0.2
        else:
            trial = -np.inf
        lower[place] = threshold_c[place] - trial
    # between two places the larger of their corrections
    steps = np.searchsorted(tried, np.arange(len(nodes)), side="right")
    before, after = tried[np.maximum(steps - 1, 0)], tried[np.minimum(steps, len(tried) - 1)]
    lowered = np.asarray(threshold_c - np.maximum(np.maximum(lower[before], lower[after]), 0.0))
    return np.where(lowered > task.day.air_temp_c, np.maximum(lowered, -1e4), -np.inf)


def _over(shop: Workshop, schedule: Schedule, node: int, n: int, temp_c: float, reserve_k: FloatArray) -> float:
    """By how much the rest of a plan passes its limits when it is begun standing at a node with all brakes at one
    temperature [K]."""
    cells = Cells(shop.cells.station_m[node:], *(getattr(shop.cells, name)[node:n] for name in (
        "step_m", "sin_down", "cos_road", "k_air", "cool", "air_temp")))
    dwell = schedule.dwell_s[node:].copy()
    dwell[0] = -1.0
    rest = Schedule(schedule.cap_mps[node:], schedule.row[node:], schedule.snubbed[node:], dwell)
    task = shop.task
    trace = march(cells, task.vehicle, shop.tables, rest, task.day, task.driving, start_speed_mps=0.0,
                  start_temps_c=np.full(len(task.vehicle.rows), temp_c))
    limit = np.array([row.brake.temp_limit_c for row in task.vehicle.rows]) - reserve_k
    return float(np.nan_to_num(trace.temp_c + trace.rise_k - limit, nan=1e6, posinf=1e6).max()) if trace.complete else 1e6
