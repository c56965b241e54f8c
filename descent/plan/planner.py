# SPDX-License-Identifier: MIT
"""Find the fastest way down that keeps every limit, check it by the full march, and tighten until it holds."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from descent.physics.march import Cells, ForceTables, Setting, cells_of, force_tables
from descent.physics.trace import DescentTrace
from descent.plan.actions import instructions
from descent.plan.maps import MapMaker
from descent.plan.model import Instruction, Solution, Task
from descent.plan.search import Choice, DeadEnd, Search
from descent.plan.sections import Group, Section, SectionKind, groups, sections
from descent.plan.verify import drive, excess_k, solution_of, with_instruction

FloatArray = NDArray[np.float64]
Progress = Callable[[str], None]
ROUNDS = 12


@dataclass(frozen=True)
class Workshop:
    """What a task needs once: cells on the steep side of the grade band, tables, sections, choices."""

    task: Task
    cells: Cells
    tables: ForceTables
    chains: tuple[Group, ...]
    parts: tuple[Section, ...]
    choices: tuple[Instruction, ...]

    @property
    def search(self) -> Search:
        """A fresh search."""
        return Search(self.task, MapMaker(self.task, self.cells, self.tables), self.parts, self.choices,
                      np.append(self.cells.cool, self.cells.cool[-1]))

    def drive(self, solution: Solution) -> DescentTrace:
        """The full march of a solution."""
        return drive(self.task, self.cells, self.tables, solution)


@dataclass(frozen=True)
class Found:
    """A checked way down: the solution and its march."""

    solution: Solution
    trace: DescentTrace


class Cause(Enum):
    """Why there is no way down."""

    OVER_LIMIT = "over-limit"
    NO_STOP = "no-stop"
    STALLED = "stalled"
    UNSETTLED = "unsettled"


@dataclass(frozen=True)
class Nothing:
    """No way down: why, where, and by how many kelvin even the slowest instructions pass the limit (None: no number)."""

    cause: Cause
    station_m: float
    excess_k: float | None = None


def workshop(task: Task) -> Workshop:
    """Prepare a task for searching."""
    choices = instructions(task)
    settings = tuple(dict.fromkeys(Setting(item.gear, stage) for item in choices for stage in range(item.stage + 1)))
    chains = groups(task)
    return Workshop(task, cells_of(task.profile, task.vehicle, task.day, grade=task.steep_grade,
                                   altitude_offset_m=task.altitude_offset_m),
                    force_tables(task.vehicle, settings, task.driving, density_ratio=task.density_ratio), chains, sections(task, chains), choices)


def find(shop: Workshop, *, reserve_k: FloatArray | None = None, progress: Progress | None = None) -> Found | Nothing:
    """The fastest way down whose full march keeps every limit on the steep side of the grade band.

    The search works on maps of single sections; the march of the whole may be hotter (how a section is entered,
    fade). Each round that passes a limit lowers the limits by the excess and searches again. reserve_k (n_rows,) [K] lowers each row's limit from the start,
    for search and check alike.
    """
    search = shop.search
    reserve = np.zeros(len(shop.task.vehicle.rows)) if reserve_k is None else reserve_k
    margin = reserve.copy()
    for round_number in range(ROUNDS):
        if progress is not None:
            progress(f"searching, round {round_number + 1}")
        outcome = search.best(margin)
        if isinstance(outcome, DeadEnd):
            return refused(shop, search)
        solution = solution_of(shop.task, shop.chains, shop.parts, outcome[0])
        trace = shop.drive(solution)
        if not trace.complete:
            return Nothing(Cause.STALLED, float(shop.task.profile.station_m[trace.reached]))
        over = excess_k(shop.task, trace) + reserve
        if float(over.max()) <= 0.0:
            solution = fewest_stages(shop, solution, reserve)
            return Found(solution, shop.drive(solution))
        if not np.isfinite(over).all():
            return refused(shop, search)
        margin = margin + np.maximum(over, 0.0) * 1.05 + np.where(over > 0, 0.3, 0.0)
    return refused(shop, search)


def refused(shop: Workshop, search: Search) -> Nothing:
    """Why nothing holds, from the march of the slowest instructions with the longest stop at every place."""
    choices = []
    for index, part in enumerate(shop.parts):
        halting = part.kind is SectionKind.DOWNGRADE and part.halt is not None
        choices.append(Choice(index, search.slowest(index), shop.task.rules.longest_stop_minutes if halting else 0))
    trace = shop.drive(solution_of(shop.task, shop.chains, shop.parts, tuple(choices)))
    station = shop.task.profile.station_m
    if not trace.complete:
        return Nothing(Cause.STALLED, float(station[trace.reached]))
    limit = np.array([row.brake.temp_limit_c for row in shop.task.vehicle.rows])
    over = np.max(trace.temp_c + trace.rise_k - limit, axis=1)
    passed = np.flatnonzero(over > 0)
    if not len(passed):
        return Nothing(Cause.UNSETTLED, 0.0)
    first = int(passed[0])
    if not np.isfinite(over[first]):
        return Nothing(Cause.NO_STOP, float(station[first]))
    worst = over[np.isfinite(over)].max()
    return Nothing(Cause.OVER_LIMIT, float(station[first]), float(worst))


def fewest_stages(shop: Workshop, solution: Solution, reserve_k: FloatArray) -> Solution:
    """Lower each leg's retarder stage while the march still holds, with no more snubs and no slower."""
    best = shop.drive(solution)
    for leg, span in enumerate(solution.legs):
        for stage in range(span.instruction.stage):
            trial = with_instruction(solution, leg, replace(span.instruction, stage=stage))
            trace = shop.drive(trial)
            same = trace.snubs[span.start:span.end, 0].sum() <= best.snubs[span.start:span.end, 0].sum()
            if same and float((excess_k(shop.task, trace) + reserve_k).max()) <= 0.0 \
                    and trace.total_time_s <= best.total_time_s + 1.0:
                solution, best = trial, trace
                break
    return solution
