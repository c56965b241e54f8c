# SPDX-License-Identifier: MIT
"""What a task needs once before it is searched: cells, force tables, sections, instructions, packed maps."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from descent.physics.march import Cells, ForceTables, Setting, cells_of, force_tables
from descent.physics.trace import DescentTrace
from descent.plan.actions import governed_choices, instructions
from descent.plan.layout import layout_of
from descent.plan.maps import MapMaker, guards_of
from descent.plan.model import Instruction, Solution, Task
from descent.plan.search import Search
from descent.plan.sections import Group, Section, groups, sections
from descent.plan.verify import drive

FloatArray = NDArray[np.float64]
KEPT_K = 1e-6    # a plan stays this far below its limits, so that rounding decides nothing


@dataclass(frozen=True)
class Workshop:
    """What a task needs once: cells on the steep side of the grade band, tables, sections, choices."""

    task: Task
    cells: Cells
    tables: ForceTables
    chains: tuple[Group, ...]
    parts: tuple[Section, ...]
    choices: tuple[Instruction, ...]

    @cached_property
    def maker(self) -> MapMaker:
        """Everything section maps are made from, packed once."""
        held, governed = self.choices, governed_choices(self.task)
        extra = tuple(item for item in governed if item not in held)
        layout = layout_of(self.task, self.cells, self.parts, held, extra)
        return MapMaker(self.task, self.cells, self.tables, layout, guards_of(self.task, layout.held, governed))

    def search(self, reserve_k: FloatArray, maker: MapMaker | None = None) -> Search:
        """A search with each row's limit lowered by `reserve_k` (n_rows,) [K], on the shop's own or other maps."""
        return Search(self.task, maker or self.maker, np.append(self.cells.cool, self.cells.cool[-1]),
                      self.maker.limits_c(reserve_k) - KEPT_K)

    def drive(self, solution: Solution) -> DescentTrace:
        """The full march of a solution."""
        return drive(self.task, self.cells, self.tables, solution)


def workshop(task: Task) -> Workshop:
    """Prepare a task for searching."""
    choices = instructions(task)
    settings = tuple(dict.fromkeys(Setting(item.gear, stage) for item in choices for stage in range(item.stage + 1)))
    chains = groups(task)
    return Workshop(task, cells_of(task.profile, task.vehicle, task.day, grade=task.steep_grade,
                                   altitude_offset_m=task.altitude_offset_m),
                    force_tables(task.vehicle, settings, task.driving, density_ratio=task.density_ratio), chains, sections(task, chains), choices)
