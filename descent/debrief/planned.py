# SPDX-License-Identifier: MIT
"""The plan to lay a drive over: its instructions, driven as written on the best-known grade of the road."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from descent.debrief.gears import CRUISE, IntArray
from descent.debrief.model import Planned
from descent.physics.march import Setting, cells_of, force_tables
from descent.plan.model import Solution, Task
from descent.plan.verify import drive

FloatArray = NDArray[np.float64]


def planned_of(task: Task, solution: Solution | None) -> Planned:
    """The plan's legs and stops marched on the profile's own grade; no legs and no march where there is no solution."""
    cells = cells_of(task.profile, task.vehicle, task.day, altitude_offset_m=task.altitude_offset_m)
    if solution is None:
        return Planned(task, cells, Solution((), ()), None)
    settings = tuple(dict.fromkeys(Setting(leg.instruction.gear, leg.instruction.stage) for leg in solution.legs))
    tables = force_tables(task.vehicle, settings, task.driving, density_ratio=task.density_ratio)
    trace = drive(task, cells, tables, solution)
    return Planned(task, cells, solution, trace if trace.complete else None)


def leg_of(planned: Planned, station_m: FloatArray) -> IntArray:
    """Index of the leg at each station (n,), -1 where there is none."""
    found = np.full(len(station_m), -1, dtype=np.int64)
    stations = planned.task.profile.station_m
    for index, leg in enumerate(planned.solution.legs):
        found[(station_m >= stations[leg.start]) & (station_m < stations[leg.end])] = index
    return found


def ordered(planned: Planned, station_m: FloatArray) -> tuple[IntArray, IntArray]:
    """Gear and retarder stage the plan orders at stations (n,): cruise and 0 outside of legs."""
    leg = leg_of(planned, station_m)
    gears = np.array([*(item.instruction.gear for item in planned.solution.legs), CRUISE])
    stages = np.array([*(item.instruction.stage for item in planned.solution.legs), 0])
    return gears[leg], stages[leg]
