# SPDX-License-Identifier: MIT
"""Least trip time over legs and stops: forward labels of (time, temperatures), dominated ones dropped.

Cooler is never worse, so a label that is later and hotter than another under the same instruction is of no use.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numba
import numpy as np
from numpy.typing import NDArray

from descent.plan.actions import fitting, holding_force_n
from descent.plan.maps import MapMaker, SectionMap, Stretch, cooled, tightened
from descent.plan.model import Instruction, Task
from descent.plan.sections import Section, SectionKind

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
TOLERANCE_C = 0.1


@dataclass(frozen=True)
class Choice:
    """One step of a way down: from section `section` on, `instruction`; after `minutes` standing (0: none)."""

    section: int
    instruction: Instruction | None
    minutes: int


@dataclass(frozen=True)
class State:
    """How a section is begun: under which instruction (None: cruise) and with what speed at most (0: from standing;
    infinite: as fast as its caps allow). Standing at the end of the section before: instruction not chosen yet."""

    held: Instruction | None
    entry_mps: float
    standing: bool = False


@dataclass(frozen=True)
class Front:
    """Labels that reach one place under one instruction: time_s (n,), temps_c (n, n_rows), step (n,): the last entry
    of each in the `Log`, -1 for none."""

    time_s: FloatArray
    temps_c: FloatArray
    step: IntArray


class Log:
    """The choices behind every label, as blocks of (step before, choice) so that a label carries one number."""

    def __init__(self) -> None:
        self._before: list[IntArray] = []
        self._choices: list[tuple[Choice, ...] | Choice] = []
        self._first: list[int] = []
        self._count = 0

    def add(self, before: IntArray, choice: Choice | tuple[Choice, ...]) -> IntArray:
        """Log one choice for all labels, or one for each; returns their new steps."""
        self._before.append(before)
        self._choices.append(choice)
        self._first.append(self._count)
        self._count += len(before)
        return np.arange(self._count - len(before), self._count)

    def choices(self, step: int) -> tuple[Choice, ...]:
        """All choices up to a step, in travel order."""
        found: list[Choice] = []
        while step >= 0:
            block = bisect_right(self._first, step) - 1
            row = step - self._first[block]
            choice = self._choices[block]
            found.append(choice if isinstance(choice, Choice) else choice[row])
            step = int(self._before[block][row])
        return tuple(reversed(found))


@dataclass(frozen=True)
class DeadEnd:
    """Where the search ran out: the section none of whose instructions held."""

    section: int


@numba.njit(cache=True)
def _kept(order: NDArray[np.int64], temps: FloatArray, tolerance: float) -> NDArray[np.int64]:
    kept = np.empty(order.shape[0], dtype=np.int64)
    count = 0
    for index in order:
        beaten = False
        for j in range(count):
            inside = True
            for axle in range(temps.shape[1]):
                if temps[kept[j], axle] > temps[index, axle] + tolerance:
                    inside = False
                    break
            if inside:
                beaten = True
                break
        if not beaten:
            kept[count] = index
            count += 1
    return kept[:count]


def _pruned(fronts: Sequence[Front]) -> Front | None:
    fronts = [front for front in fronts if len(front.time_s)]
    if not fronts:
        return None
    time_s = np.concatenate([front.time_s for front in fronts])
    temps = np.concatenate([front.temps_c for front in fronts])
    step = np.concatenate([front.step for front in fronts])
    keep = _kept(np.lexsort((temps.max(axis=1), time_s)), temps, TOLERANCE_C)
    return Front(time_s[keep], temps[keep], step[keep])


def _through(front: Front, made: SectionMap) -> Front:
    """The labels that may drive the section, after it."""
    inside = np.all(front.temps_c <= made.threshold_c, axis=1)
    return Front(front.time_s[inside] + made.time_s, made.out(front.temps_c[inside]), front.step[inside])


class _MapKey(NamedTuple):
    section: int
    held: Instruction | None
    entry_mps: float
    end_mps: float


class Search:
    """The search over one task's sections with one set of instructions."""

    def __init__(self, task: Task, maker: MapMaker, parts: tuple[Section, ...],
                 choices: tuple[Instruction, ...], cool: FloatArray) -> None:
        self._task, self._maker, self._parts, self._choices, self._cool = task, maker, parts, choices, cool
        self._made: dict[_MapKey, SectionMap | None] = {}
        self._fitting = tuple(fitting(task, choices, part.start, max(
            other.end for other in parts[index:] if (other.kind, other.group) == (part.kind, part.group)))
            for index, part in enumerate(parts))
        governed = {item.gear: item for item in choices}          # choices rise in speed: the last of each gear
        hold = {item: holding_force_n(task, item) for item in choices}
        self._lower = {item: tuple(other for gear, other in governed.items()
                                   if gear < item.gear and hold[other] >= hold[item]) for item in choices}

    def best(self, margin_k: FloatArray) -> tuple[tuple[Choice, ...], float] | DeadEnd:
        """The fastest way down with each axle's limit lowered by `margin_k` (n_rows,), and its time [s]."""
        start = np.full((1, len(self._task.vehicle.rows)), self._task.day.start_temp_c)
        log = Log()
        front = Front(np.zeros(1), start, np.array([-1]))
        fronts = {State(item, np.inf): replace(front, step=log.add(front.step, Choice(0, item, 0)))
                  for item in self._open_to(0)}
        for index in range(len(self._parts)):
            fronts = self._section(index, fronts, margin_k, log)
            if not fronts:
                return DeadEnd(index)
        best = min(fronts.values(), key=lambda front: float(front.time_s.min()))
        fastest = int(best.time_s.argmin())
        return log.choices(int(best.step[fastest])), float(best.time_s[fastest])

    def _section(self, index: int, fronts: dict[State, Front], margin_k: FloatArray,
                 log: Log) -> dict[State, Front]:
        after: dict[State, list[Front]] = {}
        for state, front in self._entering(index, fronts, log).items():
            for end, end_mps in self._ways_out(index, state.held):
                made = self._map(_MapKey(index, state.held, state.entry_mps, end_mps))
                if made is None:
                    continue
                out = _through(front, tightened(self._guarded(index, state, end_mps, made), margin_k))
                if not len(out.time_s):
                    continue
                if not end.standing and index + 1 < len(self._parts) and not self._continues(index + 1):
                    out = replace(out, step=log.add(out.step, Choice(index + 1, end.held, 0)))
                after.setdefault(end, []).append(out)
        return {state: kept for state, several in after.items() if (kept := _pruned(several)) is not None}

    def _guarded(self, index: int, state: State, end_mps: float, made: SectionMap) -> SectionMap:
        """The map with its threshold lowered to what the governed speed of every lower gear allows that holds back at
        least as much (a retarder on the propeller shaft fades at low speed: those are no measure).

        Brakes may again be cooler far above a forbidden band of speeds, since air drag grows and time shrinks. Such an
        island is no place to send a driver: the first crossing from below counts.
        """
        threshold = made.threshold_c
        for lower in self._lower.get(state.held, ()) if state.held is not None else ():
            below = self._map(_MapKey(index, lower, state.entry_mps if state.entry_mps == 0.0 else np.inf,
                                      min(end_mps, lower.control_mps) if end_mps else 0.0))
            if below is not None:
                threshold = np.minimum(threshold, below.threshold_c)
        return replace(made, threshold_c=threshold)

    def _continues(self, index: int) -> bool:
        """Section `index` belongs to the same chain of downgrades as the one before: the instruction is kept."""
        part = self._parts[index]
        return index > 0 and part.kind is SectionKind.DOWNGRADE and self._parts[index - 1].group == part.group \
            and self._parts[index - 1].kind is SectionKind.DOWNGRADE

    def _open_to(self, index: int) -> tuple[Instruction | None, ...]:
        """The instructions a section may be begun with when they are chosen on the move."""
        kind = self._parts[index].kind
        if kind is SectionKind.CRUISE:
            return (None,)
        return self._fitting[index] if kind is SectionKind.DOWNGRADE else (None, *self._fitting[index])

    def _ways_out(self, index: int, held: Instruction | None) -> list[tuple[State, float]]:
        """How a section may be left: the state the next one is begun with, and the speed to be down to by then (0: a
        stop; infinite: no need to slow)."""
        if index + 1 == len(self._parts):
            return [(State(held, np.inf), np.inf)]
        speed = np.inf if held is None else held.control_mps
        if self._continues(index + 1):
            ways = [(State(held, np.inf), np.inf)]
        else:
            ways = []
            for item in self._open_to(index + 1):
                wanted = np.inf if item is None else item.control_mps
                ways.append((State(item, speed if speed < wanted else np.inf), wanted if wanted < speed else np.inf))
        stop = (State(None, 0.0, standing=True), 0.0)
        if self._checked(index + 1):
            return [stop]
        return [*ways, stop] if self._parts[index + 1].halt is not None else ways

    def _checked(self, index: int) -> bool:
        """Every vehicle stops for a brake check at the start of section `index`."""
        part = self._parts[index]
        return part.check is not None and part.check.node == part.start

    def _entering(self, index: int, fronts: dict[State, Front], log: Log) -> dict[State, Front]:
        """Labels ready to drive this section: those rolling, and those that stood before it, after every wait worth
        standing and under every instruction."""
        ready = {state: front for state, front in fronts.items() if not state.standing}
        rested = self._rested(self._parts[index], [front for state, front in fronts.items() if state.standing])
        if rested is not None:
            front, minutes = rested
            for item in self._fitting[index]:
                picked = tuple(Choice(index, item, int(wait)) for wait in minutes)
                ready[State(item, 0.0)] = replace(front, step=log.add(front.step, picked))
        return ready

    def _rested(self, part: Section, standing: list[Front]) -> tuple[Front, IntArray] | None:
        """Labels that stand at the start of a section after every whole number of minutes worth standing, and those
        minutes."""
        merged = _pruned(standing)
        if merged is None or part.halt is None:
            return None
        rules = self._task.rules
        minutes = np.arange(rules.shortest_stop_minutes, rules.longest_stop_minutes + 1, rules.stop_step_minutes)
        temps = cooled(self._task, merged.temps_c, minutes * 60.0, float(self._cool[part.start]))
        time_s = (merged.time_s[:, None] + minutes[None, :] * 60.0).ravel()
        temps = temps.reshape(-1, temps.shape[2])
        keep = _kept(np.lexsort((temps.max(axis=1), time_s)), temps, TOLERANCE_C)
        row, wait = keep // len(minutes), keep % len(minutes)
        return Front(time_s[keep], temps[keep], merged.step[row]), minutes[wait]

    def _map(self, key: _MapKey) -> SectionMap | None:
        if key not in self._made:
            part = self._parts[key.section]
            inside = part.check if part.check is not None and part.check.node > part.start else None
            self._made[key] = self._maker.make(
                Stretch(part.start, part.end, key.held, key.entry_mps, key.end_mps),
                stop_node=None if inside is None else inside.node,
                stop_s=0.0 if inside is None else 60.0 * self._task.rules.brake_check_minutes)
        return self._made[key]

    def slowest(self, index: int) -> Instruction | None:
        """The slowest instruction section `index` may be driven under (None: cruise)."""
        open_to = self._open_to(index)
        return open_to[0] if open_to[0] is not None or len(open_to) == 1 else open_to[1]
