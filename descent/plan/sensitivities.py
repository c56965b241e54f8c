# SPDX-License-Identifier: MIT
"""What small changes of the inputs do to a plan: degrees if it is driven as it is, minutes if it is planned again."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from descent.physics.march import cells_of
from descent.plan.doubt import Sensitivity
from descent.plan.model import Solution, Task
from descent.plan.planner import Found, Workshop, find, workshop
from descent.plan.verify import drive, excess_k, with_instruction
from descent.units import INCH_M
from descent.vehicle.model import Vehicle, loaded

FloatArray = NDArray[np.float64]
TONNE_KG = 1000.0
AIR_STEP_K = 10.0
STROKE_STEP_M = INCH_M / 8      # strokes are measured to about an eighth of an inch (common practice, no source)


def sensitivities(shop: Workshop, found: Found, reserve_k: FloatArray) -> tuple[Sensitivity, ...]:
    """One tonne more, ten degrees warmer, one retarder stage less, one stroke step longer on every brake.

    Degrees: change of the hottest brake, one emergency stop included, under the plan as it is, on the steep side of the
    grade band (infinite where no stop can be relied on any more). Minutes: the fastest plan for the changed task with the
    same reserve to the limits (n_rows,) [K].
    """
    base = float(excess_k(shop.task, found.trace).max())
    rows = []
    for what, per, unit, task, solution in _changes(shop.task, found.solution):
        cells = cells_of(task.profile, task.vehicle, task.day, grade=task.steep_grade, altitude_offset_m=task.altitude_offset_m)
        trace = drive(task, cells, shop.tables, solution)
        again = find(workshop(task), reserve_k=reserve_k)
        change_s = again.trace.total_time_s - found.trace.total_time_s if isinstance(again, Found) else None
        rows.append(Sensitivity(what, per, unit, float(excess_k(task, trace).max()) - base, change_s))
    return tuple(rows)


def _changes(task: Task, solution: Solution) -> Iterator[tuple[str, float, str, Task, Solution]]:
    yield "weight", TONNE_KG, "kg", replace(task, vehicle=loaded(task.vehicle, task.vehicle.gross_kg + TONNE_KG)), solution
    yield ("air", AIR_STEP_K, "K", replace(task, day=replace(
        task.day, air_temp_c=task.day.air_temp_c + AIR_STEP_K,
        start_temp_c=max(task.day.start_temp_c, task.day.air_temp_c + AIR_STEP_K))), solution)
    stages = task.vehicle.retarder.stages
    if stages and any(leg.instruction.stage for leg in solution.legs):
        less = solution
        for number, leg in enumerate(solution.legs):
            less = with_instruction(less, number, replace(leg.instruction, stage=max(leg.instruction.stage - 1, 0)))
        fewer = replace(task.vehicle, retarder=replace(task.vehicle.retarder, stages=stages[:-1]))
        yield "retarder", 1.0, "stage", replace(task, vehicle=fewer), less
    yield "adjustment", STROKE_STEP_M, "m", replace(task, vehicle=longer_strokes(task.vehicle, STROKE_STEP_M)), solution


def longer_strokes(vehicle: Vehicle, step_m: float) -> Vehicle:
    """The vehicle with every push-rod stroke longer by a step [m]."""
    return replace(vehicle, axles=tuple(replace(axle, brakes=tuple(
        replace(brake, stroke_m=brake.stroke_m + step_m) for brake in axle.brakes)) for axle in vehicle.axles))
