# SPDX-License-Identifier: MIT
"""Find the fastest way down that keeps every limit, check it by the full march, and tighten until it holds."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from descent.physics.march import Cells, ForceTables, Setting, cells_of, force_tables
from descent.physics.trace import DescentTrace
from descent.plan.actions import instructions
from descent.plan.maps import MapMaker
from descent.plan.model import Instruction, Solution, Task
from descent.plan.search import DeadEnd, Search
from descent.plan.sections import Group, Section, groups, sections
from descent.plan.verify import drive, excess_k, solution_of, with_instruction

FloatArray = NDArray[np.float64]
Progress = Callable[[str], None]
ROUNDS = 12


@dataclass(frozen=True)
class Workshop:
    """What a task needs once: cells on the profile and on the steep side of its band, tables, sections, choices."""

    task: Task
    nominal: Cells
    steep: Cells
    tables: ForceTables
    chains: tuple[Group, ...]
    parts: tuple[Section, ...]
    choices: tuple[Instruction, ...]

    @property
    def search(self) -> Search:
        """A fresh search over the steep side."""
        return Search(self.task, MapMaker(self.task, self.steep, self.tables), self.parts, self.choices,
                      np.append(self.steep.cool, self.steep.cool[-1]))


@dataclass(frozen=True)
class Found:
    """A checked way down: the solution, its march on the profile and its march on the steep side of the band."""

    solution: Solution
    trace: DescentTrace
    cautious: DescentTrace


@dataclass(frozen=True)
class Nothing:
    """No way down: where it ran out (a station), and by how many kelvin the best choice there missed."""

    station_m: float
    excess_k: float


def workshop(task: Task) -> Workshop:
    """Prepare a task for searching."""
    chains = groups(task)
    choices = instructions(task)
    settings = tuple(dict.fromkeys(Setting(item.gear, stage) for item in choices for stage in range(item.stage + 1)))
    return Workshop(task, cells_of(task.profile, task.vehicle, task.day),
                    cells_of(task.profile, task.vehicle, task.day, grade=task.steep_grade),
                    force_tables(task.vehicle, settings, task.driving), chains, sections(task, chains), choices)


def find(shop: Workshop, *, progress: Progress | None = None) -> Found | Nothing:
    """The fastest way down whose full march keeps every limit on the steep side of the grade band.

    The search works on maps of single sections; the march of the whole may be hotter (how a section is entered,
    fade). Each round that passes a limit lowers the limits by the excess and searches again.
    """
    search = shop.search
    margin = np.zeros(len(shop.task.vehicle.axles))
    nothing = Nothing(0.0, 0.0)
    for round_number in range(ROUNDS):
        if progress is not None:
            progress(f"searching, round {round_number + 1}")
        outcome = search.best(margin)
        if isinstance(outcome, DeadEnd):
            station = float(shop.task.profile.station_m[shop.parts[outcome.section].start])
            return Nothing(station, outcome.excess_k + float(margin.max()))
        solution = solution_of(shop.task, shop.chains, shop.parts, outcome[0])
        cautious = drive(shop.task, shop.steep, shop.tables, solution)
        over = excess_k(shop.task, cautious)
        nothing = Nothing(0.0, float(over.max()))
        if cautious.complete and float(over.max()) <= 0.0:
            solution = fewest_stages(shop, solution)
            return Found(solution, drive(shop.task, shop.nominal, shop.tables, solution),
                         drive(shop.task, shop.steep, shop.tables, solution))
        margin = margin + np.maximum(over, 0.0) * 1.05 + np.where(over > 0, 0.3, 0.0)
        if not cautious.complete:
            return Nothing(float(shop.task.profile.station_m[cautious.reached]), 0.0)
    return nothing


def fewest_stages(shop: Workshop, solution: Solution) -> Solution:
    """Lower each leg's retarder stage while the march still holds and no slower: the smallest sufficient stage."""
    best = drive(shop.task, shop.steep, shop.tables, solution)
    for leg, span in enumerate(solution.legs):
        for stage in range(span.instruction.stage):
            trial = with_instruction(solution, leg, replace(span.instruction, stage=stage))
            trace = drive(shop.task, shop.steep, shop.tables, trial)
            same = trace.snubs[span.start:span.end, 0].sum() <= best.snubs[span.start:span.end, 0].sum()
            if same and float(excess_k(shop.task, trace).max()) <= 0.0 \
                    and trace.total_time_s <= best.total_time_s + 1.0:
                solution, best = trial, trace
                break
    return solution
