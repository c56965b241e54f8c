# SPDX-License-Identifier: MIT
"""From the search's choices to legs and stops, and the full march of them over the whole road."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from descent.physics.march import (
    Cells,
    ForceTables,
    Schedule,
    Setting,
    march,
    reachable_caps,
)
from descent.physics.trace import DescentTrace
from descent.plan.model import Instruction, LegSpan, PlannedStop, Solution, Task
from descent.plan.search import Choice
from descent.plan.sections import Group, Section

FloatArray = NDArray[np.float64]


def solution_of(task: Task, chains: tuple[Group, ...], parts: tuple[Section, ...],
                choices: tuple[Choice, ...]) -> Solution:
    """Legs and stops in travel order from the search's choices."""
    stops = [PlannedStop("brake-check", part.check.node, task.rules.brake_check_minutes, part.check.place,
                         part.check.grade) for part in parts if part.check is not None]
    legs: list[LegSpan] = []
    for order, choice in enumerate(choices):
        part = parts[choice.section]
        if choice.instruction is None:
            continue
        begin = part.start
        end = parts[choices[order + 1].section].start if order + 1 < len(choices) else len(task.profile.station_m) - 1
        if choice.minutes and part.halt is not None:
            changed = bool(legs) and legs[-1].instruction.gear != choice.instruction.gear
            brief = choice.minutes == task.rules.shortest_stop_minutes and changed
            stops.append(PlannedStop("gear-change" if brief else "cool-down", begin, choice.minutes,
                                     part.halt.place, part.halt.grade))
        number = next((item.number for item in task.downgrades
                       if task.profile.index_at(item.end_m) > begin), chains[part.group].numbers[-1])
        legs.append(LegSpan(begin, end, begin, number, choice.instruction))
    return Solution(tuple(legs), tuple(sorted(stops, key=lambda stop: stop.node)))


def schedule_of(task: Task, cells: Cells, tables: ForceTables, solution: Solution) -> Schedule:
    """The driver's instructions on every cell: caps, force rows, snubs and stops."""
    n = len(cells.step_m)
    caps = np.minimum(task.posted_mps, task.curve_mps)
    row, snubbed = np.zeros(n, dtype=np.int64), np.ones(n, dtype=np.int64)
    for leg in solution.legs:
        held = leg.instruction
        caps[leg.start:leg.end + 1] = np.minimum(caps[leg.start:leg.end + 1], held.control_mps)
        row[leg.start:leg.end] = tables.row(Setting(held.gear, held.stage))
        snubbed[leg.start:leg.end] = leg.braking.value
    dwell = np.full(n + 1, -1.0)
    for stop in solution.stops:
        caps[stop.node] = 0.0
        dwell[stop.node] = 60.0 * stop.minutes
    caps = reachable_caps(caps, cells.step_m, task.driving.approach_mps2)
    return Schedule(caps, row, snubbed, dwell)


def drive(task: Task, cells: Cells, tables: ForceTables, solution: Solution) -> DescentTrace:
    """March the whole road under a solution, starting at its cap with the day's start temperature."""
    schedule = schedule_of(task, cells, tables, solution)
    return march(cells, task.vehicle, tables, schedule, task.day, task.driving,
                 start_speed_mps=float(schedule.cap_mps[0]))


def excess_k(task: Task, trace: DescentTrace) -> FloatArray:
    """By how much each axle's temperature plus one emergency stop passes its limit (n_axles,) [K], <= 0 if it holds."""
    limit = np.array([axle.temp_limit_c for axle in task.vehicle.axles])
    return np.asarray(np.max(trace.temp_c + trace.rise_k, axis=0) - limit)


def with_instruction(solution: Solution, leg: int, instruction: Instruction) -> Solution:
    """The same solution with one leg's instruction replaced."""
    legs = list(solution.legs)
    old = legs[leg]
    legs[leg] = LegSpan(old.start, old.end, old.gear_by, old.downgrade, instruction, old.braking)
    return Solution(tuple(legs), solution.stops)


def without_stop(solution: Solution, stop: int) -> Solution:
    """The same solution with one stop left out."""
    return Solution(solution.legs, tuple(item for index, item in enumerate(solution.stops) if index != stop))


def with_minutes(solution: Solution, stop: int, minutes: int) -> Solution:
    """The same solution with one stop's minutes replaced."""
    stops = list(solution.stops)
    old = stops[stop]
    stops[stop] = PlannedStop(old.kind, old.node, minutes, old.place, old.local_grade)
    return Solution(solution.legs, tuple(stops))


