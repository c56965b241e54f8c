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
                         part.check.grade) for part in parts if part.check is not None and part.check.node > part.start]
    legs: list[LegSpan] = []
    for order, choice in enumerate(choices):
        part = parts[choice.section]
        if choice.instruction is None:
            continue
        begin = part.start
        end = parts[choices[order + 1].section].start if order + 1 < len(choices) else len(task.profile.station_m) - 1
        if choice.minutes and part.halt is not None:
            stops.append(_stop(task, part, choice, legs))
        legs.append(LegSpan(begin, end, _gear_by(task, begin, end, choice.minutes), _downgrade_of(task, begin, end),
                            choice.instruction))
    return Solution(tuple(legs), tuple(sorted(stops, key=lambda stop: stop.node)))


def _stop(task: Task, part: Section, choice: Choice, legs: list[LegSpan]) -> PlannedStop:
    """The stop a leg starts with: a brake check, a stop only for the gear, or one to cool the brakes."""
    assert part.halt is not None and choice.instruction is not None
    kind = "cool-down"
    if part.check is not None and choice.minutes == task.rules.brake_check_minutes:
        kind = "brake-check"
    elif choice.minutes == task.rules.shortest_stop_minutes and legs \
            and legs[-1].instruction.gear != choice.instruction.gear:
        kind = "gear-change"
    return PlannedStop(kind, part.start, choice.minutes, part.halt.place, part.halt.grade)


def _gear_by(task: Task, begin: int, end: int, minutes: int) -> int:
    """Where the gear must be in: at the leg's start, or, moving off from a stop, where the grade begins."""
    if not minutes:
        return begin
    steep = np.flatnonzero(task.steep_grade[begin:end + 1] < -0.03)
    return begin + max(int(steep[0]) - 1, 0) if len(steep) else begin


def _downgrade_of(task: Task, begin: int, end: int) -> int:
    """The downgrade a leg is for: the first that ends inside it, else the last one before it."""
    profile = task.profile
    inside = [item.number for item in task.downgrades
              if begin < profile.index_at(item.end_m) and profile.index_at(item.start_m) < end]
    before = [item.number for item in task.downgrades if profile.index_at(item.end_m) <= begin]
    return inside[0] if inside else before[-1] if before else 0


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
    """By how much each row of brakes' plus one emergency stop passes its limit (n_rows,) [K], <= 0 if it holds."""
    limit = np.array([row.brake.temp_limit_c for row in task.vehicle.rows])
    return np.asarray(np.max(trace.temp_c + trace.rise_k, axis=0) - limit)


def over_speed_mps(task: Task, solution: Solution, trace: DescentTrace) -> float:
    """By how much the fastest node passes what is posted, what its curve allows or the control speed there [m/s]."""
    caps = np.minimum(task.posted_mps, task.curve_mps)
    for leg in solution.legs:
        caps[leg.start:leg.end + 1] = np.minimum(caps[leg.start:leg.end + 1], leg.instruction.control_mps)
    return float(np.max(trace.speed_mps - caps))


def with_instruction(solution: Solution, leg: int, instruction: Instruction) -> Solution:
    """The same solution with one leg's instruction replaced."""
    legs = list(solution.legs)
    old = legs[leg]
    legs[leg] = LegSpan(old.start, old.end, old.gear_by, old.downgrade, instruction, old.braking)
    return Solution(tuple(legs), solution.stops)


def without_stop(solution: Solution, stop: int) -> Solution:
    """The same solution with one stop left out."""
    return Solution(solution.legs, tuple(item for index, item in enumerate(solution.stops) if index != stop))
