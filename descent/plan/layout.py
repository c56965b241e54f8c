# SPDX-License-Identifier: MIT
"""What may follow what: for every section the instructions open to it, and how each may leave into the next.

Braking for a lower cap ahead may begin in an earlier section. So a section is entered by a way: an instruction and the
cap its end asks of its start. Sections longer than a stop from full speed have one way for each instruction.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from descent.physics.march import Cells, reachable_caps
from descent.plan.actions import fitting
from descent.plan.entries import ExitTable, starts
from descent.plan.model import Instruction, Task
from descent.plan.sections import Section, SectionKind

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
CRUISE_X = 0     # index of "no instruction" among a layout's instructions


@dataclass(frozen=True)
class Way:
    """An instruction (index) a section may be driven under, and the cap squared at its start [m2/s2]."""

    x: int
    start_u: float


@dataclass(frozen=True)
class Exit:
    """How a section may end: cap squared there [m2/s2], the way it must have been begun by, the ways of the next section
    that follow, and whether the vehicle stops there."""

    end_u: float
    way: int
    targets: tuple[int, ...]
    stops: bool


@dataclass(frozen=True)
class Lane:
    """One section of the layout. on_move, standing: instructions it may be begun with; exits: (n_x,) tuples."""

    part: Section
    on_move: tuple[int, ...]
    standing: tuple[int, ...]
    continues: bool
    checked: bool
    ways: tuple[Way, ...]
    exits: tuple[tuple[Exit, ...], ...]

    @cached_property
    def exit_table(self) -> ExitTable:
        """The exits as columns."""
        exits = [one for item in self.exits for one in item]
        return ExitTable(starts(self.exits), np.array([one.end_u for one in exits]),
                         np.array([one.way for one in exits], dtype=np.int64), np.array([one.stops for one in exits], dtype=bool),
                         starts([one.targets for one in exits]),
                         np.array([target for one in exits for target in one.targets], dtype=np.int64))

    @cached_property
    def way_x(self) -> IntArray:
        """Instruction of each way (n_ways,)."""
        return np.array([way.x for way in self.ways], dtype=np.int64)


@dataclass(frozen=True)
class Layout:
    """All sections. held: instruction of each index (None: cruise); caps_u (n_x, n_stations): cap squared when held over
    the whole road [m2/s2]; guards: for each index those slower ones that must hold too (see `guards_of`)."""

    lanes: tuple[Lane, ...]
    held: tuple[Instruction | None, ...]
    caps_u: FloatArray
    along_m: FloatArray


def held_caps_u(task: Task, cells: Cells, held: tuple[Instruction | None, ...]) -> FloatArray:
    """Cap squared (n_x, n_stations) [m2/s2] when each instruction is held over the whole road, slowing reached in time."""
    open_mps = np.minimum(task.posted_mps, task.curve_mps)
    caps = np.empty((len(held), len(open_mps)))
    for x, item in enumerate(held):
        wanted = open_mps if item is None else np.minimum(open_mps, item.control_mps)
        caps[x] = reachable_caps(wanted, cells.step_m, task.driving.approach_mps2)
    return caps**2


def layout_of(task: Task, cells: Cells, parts: tuple[Section, ...], choices: tuple[Instruction, ...],
              measures: tuple[Instruction, ...] = ()) -> Layout:
    """The layout of a task's sections for one set of instructions; `measures`: further ones that no section is open to."""
    held: tuple[Instruction | None, ...] = (None, *choices, *measures)
    caps_u = held_caps_u(task, cells, held)
    along = np.concatenate([[0.0], np.cumsum(cells.step_m)])
    fits = tuple(_fitting(task, parts, choices, index) for index in range(len(parts)))
    rolling: list[tuple[int, ...]] = []
    for index, part in enumerate(parts):
        if _continues(parts, index):
            rolling.append(tuple(sorted({*rolling[-1], *(fits[index - 1] if parts[index - 1].halt else ())})))
        elif part.kind is SectionKind.CRUISE:
            rolling.append((CRUISE_X,))
        else:
            rolling.append(fits[index] if part.kind is SectionKind.DOWNGRADE else (CRUISE_X, *fits[index]))
    lanes: list[Lane] = []
    following: Lane | None = None
    for index in range(len(parts) - 1, -1, -1):
        following = _lane(task, parts, index, rolling[index], fits[index], following, caps_u, along)
        lanes.append(following)
    return Layout(tuple(reversed(lanes)), held, caps_u, along)


def _fitting(task: Task, parts: tuple[Section, ...], choices: tuple[Instruction, ...], index: int) -> tuple[int, ...]:
    part = parts[index]
    if part.kind is SectionKind.CRUISE or not choices:
        return ()
    end = max(other.end for other in parts[index:] if (other.kind, other.group) == (part.kind, part.group))
    place = {item: x for x, item in enumerate(choices, start=1)}
    return tuple(place[item] for item in fitting(task, choices, part.start, end))


def _continues(parts: tuple[Section, ...], index: int) -> bool:
    """Section `index` belongs to the same chain of downgrades as the one before: the instruction is kept."""
    part = parts[index]
    return index > 0 and part.kind is SectionKind.DOWNGRADE and parts[index - 1].group == part.group \
        and parts[index - 1].kind is SectionKind.DOWNGRADE


def _lane(task: Task, parts: tuple[Section, ...], index: int, on_move: tuple[int, ...], fits: tuple[int, ...],
          following: Lane | None, caps_u: FloatArray, along_m: FloatArray) -> Lane:
    part = parts[index]
    standing = fits if part.halt is not None and part.kind is SectionKind.DOWNGRADE else ()
    approach = 2.0 * task.driving.approach_mps2 * float(along_m[part.end] - along_m[part.start])
    inside = np.inf                       # a stop inside the section asks for a low cap before it too
    if part.check is not None and part.check.node > part.start:
        inside = 2.0 * task.driving.approach_mps2 * float(along_m[part.check.node] - along_m[part.start])
    ways: list[Way] = []
    exits: list[tuple[Exit, ...]] = []
    for x in range(len(caps_u)):
        if x not in on_move and x not in standing:
            exits.append(())
            continue
        start, end = min(float(caps_u[x, part.start]), inside), float(caps_u[x, part.end])
        own: dict[float, int] = {}
        made = []
        for end_u, targets, stops in _ends(x, end, following):
            start_u = min(start, end_u + approach)
            if start_u not in own:
                own[start_u] = len(ways)
                ways.append(Way(x, start_u))
            made.append(Exit(end_u, own[start_u], targets, stops))
        exits.append(tuple(made))
    return Lane(part, on_move, standing, _continues(parts, index),
                part.check is not None and part.check.node == part.start, tuple(ways), tuple(exits))


def _ends(x: int, end_u: float, following: Lane | None) -> list[tuple[float, tuple[int, ...], bool]]:
    """The caps squared a section under instruction `x` may end with, what follows each, and whether it is a stop."""
    if following is None:
        return [(end_u, (), False)]
    stop: list[tuple[float, tuple[int, ...], bool]] = [(0.0, (), True)] if following.part.halt is not None else []
    if following.checked:
        return stop
    open_to = (x,) if following.continues else following.on_move
    found: dict[float, list[int]] = {}
    for number, way in enumerate(following.ways):
        if way.x in open_to:
            found.setdefault(min(end_u, way.start_u), []).append(number)
    return [*((cap, tuple(targets), False) for cap, targets in found.items()), *stop]
