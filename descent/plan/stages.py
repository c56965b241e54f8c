# SPDX-License-Identifier: MIT
"""The smallest retarder stage that does: as long as the drive takes the same time with no more snubs, less is told."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from descent.physics.march import Cells, Schedule, Setting, march
from descent.physics.trace import DescentTrace
from descent.plan.model import LegSpan, Solution
from descent.plan.proof import SAME_TIME_S, keeps_limits
from descent.plan.shop import Workshop
from descent.plan.verify import schedule_of, with_instruction

FloatArray = NDArray[np.float64]


def fewest_stages(shop: Workshop, solution: Solution, trace: DescentTrace,
                  reserve_k: FloatArray) -> tuple[Solution, DescentTrace]:
    """The solution with each leg's stage as low as time and snubs allow, and its march; limits less reserve_k [K]."""
    if not any(leg.instruction.stage for leg in solution.legs):
        return solution, trace
    schedule = schedule_of(shop.task, shop.cells, shop.tables, solution)
    lower = {number: stage for number, leg in enumerate(solution.legs)
             if (stage := _lowest(shop, leg, schedule, trace)) < leg.instruction.stage}
    together = solution
    for number, stage in lower.items():
        together = _told(together, number, stage)
    marched = shop.drive(together) if lower else trace
    if _same(marched, trace) and keeps_limits(shop, together, marched, reserve_k):
        return together, marched
    for number, stage in lower.items():
        trial = _told(solution, number, stage)
        marched = shop.drive(trial)
        if _same(marched, trace) and keeps_limits(shop, trial, marched, reserve_k):
            solution, trace = trial, marched
    return solution, trace


def _told(solution: Solution, number: int, stage: int) -> Solution:
    return with_instruction(solution, number, replace(solution.legs[number].instruction, stage=stage))


def _same(trial: DescentTrace, before: DescentTrace) -> bool:
    return (abs(trial.total_time_s - before.total_time_s) <= SAME_TIME_S
            and float(trial.snubs[:, 0].sum()) <= float(before.snubs[:, 0].sum()))


def _lowest(shop: Workshop, leg: LegSpan, schedule: Schedule, trace: DescentTrace) -> int:
    """The lowest stage that drives the leg by itself in the same time with no more snubs."""
    before = _leg(shop, leg, leg.instruction.stage, schedule, trace)
    return next((stage for stage in range(leg.instruction.stage)
                 if _same(_leg(shop, leg, stage, schedule, trace), before)), leg.instruction.stage)


def _leg(shop: Workshop, leg: LegSpan, stage: int, schedule: Schedule, trace: DescentTrace) -> DescentTrace:
    """March of one leg by itself from the speed and temperatures it begins with."""
    a, b, cells = leg.start, leg.end, shop.cells
    part = Cells(cells.station_m[a:b + 1], *(column[a:b] for column in (
        cells.step_m, cells.sin_down, cells.cos_road, cells.k_air, cells.cool, cells.air_temp)))
    row = shop.tables.row(Setting(leg.instruction.gear, stage))
    own = Schedule(schedule.cap_mps[a:b + 1], np.full(b - a, row), schedule.snubbed[a:b], np.full(b - a + 1, -1.0))
    return march(part, shop.task.vehicle, shop.tables, own, shop.task.day, shop.task.driving,
                 start_speed_mps=float(trace.speed_mps[a]), start_temps_c=trace.leave_temp_c[a])
