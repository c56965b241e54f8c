# SPDX-License-Identifier: MIT
"""Least trip time over legs and stops: forward labels of (time, temperatures), dominated ones dropped.

Cooler is never worse, so a label that is later and hotter than another in the same state under the same instruction is
of no use. Maps are exact (see `section_kernel`), so a way down has the same time here as when marched. The first pass
makes the maps and merges coarsely; the passes after it go over the same stages, and look only at labels that a bound on
the rest of the way (`time_to_go`) lets arrive in time.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from descent.plan import label_kernel as kernel
from descent.plan.entries import Entries, at_cap
from descent.plan.layout import Lane
from descent.plan.maps import MapMaker
from descent.plan.model import Instruction, Task
from descent.plan.stage import Links, Stage, stage_of

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
GRID = 192               # temperatures at which the time to go is bounded
ROUNDING_S = 1e-7
NONE = np.zeros(0, dtype=np.int64)
NOWHERE = Links(at_cap([], [], []), False, NONE, NONE, NONE, NONE)      # of the last section


@dataclass(frozen=True)
class Choice:
    """One step of a way down: from section `section` on, `instruction`; after `minutes` standing (0: none)."""

    section: int
    instruction: Instruction | None
    minutes: int


@dataclass(frozen=True)
class DeadEnd:
    """Where the search ran out: the section none of whose instructions held (in time, where a latest time was given)."""

    section: int


@dataclass(frozen=True)
class TooMany:
    """The search grew past its bound on labels at a section."""

    section: int


@dataclass(frozen=True)
class Way:
    """The least time any way down within the limits can take [s], and the choices that take it."""

    choices: tuple[Choice, ...]
    time_s: float


@dataclass(frozen=True)
class Labels:
    """Labels at the start of a section by entry (ranges first): times (n,), temps (n, n_rows), parent label of the
    section before and minutes stood (n,)."""

    entries: Entries
    first: IntArray
    time_s: FloatArray
    temps_c: FloatArray
    parent: IntArray
    minutes: IntArray


class Search:
    """The search over one task's sections with one set of instructions and one set of limits (n_groups,) [C], by the maker's rows."""

    def __init__(self, task: Task, maker: MapMaker, cool: FloatArray, limit_c: FloatArray) -> None:
        self._task, self._maker, self._cool, self._limit = task, maker, cool, limit_c
        self._stages: list[Stage] = []
        self._to_go: list[FloatArray] = []
        self._row = 0
        rules = task.rules
        self._minutes = np.arange(rules.shortest_stop_minutes, rules.longest_stop_minutes + 1, rules.stop_step_minutes)
        least = min(task.day.air_temp_c, task.day.start_temp_c) - 1.0
        self._grid = np.linspace(least, max(float(limit_c.max()), least + 1.0), GRID)

    @property
    def peak_kpa(self) -> float:
        """Highest application met in any map, failed ones too [kPa]."""
        return max((stage.peak_kpa for stage in self._stages), default=0.0)

    def best(self, *, slack_c: float, most_labels: int, latest_s: float = np.inf) -> Way | DeadEnd | TooMany:
        """The fastest way down of those that take no longer than `latest_s` [s]. With `slack_c` > 0 labels that differ by no
        more are merged and take the lower temperatures: the time is a bound from below, and the limits must be looked at
        again. With `slack_c` < 0 the faster of such labels stays as it is: the way down holds, but a faster one may
        have gone. The first call must have a slack > 0, and no later one a larger."""
        lanes = self._maker.layout.lanes
        labels = self._start(lanes[0])
        if not len(labels.entries):
            return DeadEnd(0)
        history = [labels]
        for index, lane in enumerate(lanes):
            if index == len(self._stages):
                self._stages.append(stage_of(self._maker, lane, labels.entries, np.minimum.reduceat(
                    labels.temps_c, labels.first[:-1]), self._limit))
            stage = self._stages[index]
            time_s, temps, parent, ranges = self._driven(stage, labels)
            if not len(time_s):
                return DeadEnd(index)
            if index + 1 == len(lanes):
                fastest = int(np.argmin(time_s))
                if time_s[fastest] > latest_s:
                    return DeadEnd(index)
                return Way(self._choices(history, int(parent[fastest])), float(time_s[fastest]))
            if stage.links is None:
                stage = self._stages[index] = stage.to(lanes[index + 1], ranges)
            assert stage.links is not None
            labels = self._next(index, stage.links, (time_s, temps, parent, ranges), slack_c, latest_s)
            if not len(labels.time_s):
                return DeadEnd(index)
            if len(labels.time_s) > most_labels:
                return TooMany(index)
            history.append(labels)
        return DeadEnd(0)          # no road

    def bound_rest(self) -> float:
        """Work out the time to go from every entry at every temperature of the hottest row, never too long; returns that
        from the start [s]. Call after a first pass that found a way."""
        n, row = len(self._maker.rows), self._hottest_row()
        self._row = row
        task, after = self._task, np.zeros((1, GRID))
        standing = np.full(GRID, np.inf)
        self._to_go = []
        for index in range(len(self._stages) - 1, -1, -1):
            stage = self._stages[index]
            last = index + 1 == len(self._stages)
            links = stage.links or NOWHERE
            if not last:
                following = self._stages[index + 1]
                waits = self._maker.cooled(np.tile(self._grid[:, None], (1, n)), self._minutes * 60.0,
                                           float(self._cool[following.lane.part.start]))[:, :, row]
                moving = after[len(links.entries):]
                standing = np.full(GRID, np.inf)
                if len(moving):
                    quickest = moving.min(axis=0)
                    cell = np.clip(((waits - self._grid[0]) / (self._grid[1] - self._grid[0])).astype(int), 0, GRID - 1)
                    standing = (quickest[cell] + 60.0 * self._minutes).min(axis=1)
            after = cast(Any, kernel.time_to_go)(
                stage.entries.x, stage.exits, stage.maps.widest, stage.maps.ok, stage.maps.numbers, row, n, self._grid,
                stage.guard_first, stage.guards, stage.guard.ok, stage.guard.numbers, links.leads_first, links.leads,
                after, standing, int(last))
            self._to_go.append(after)
        self._to_go.reverse()
        start = self._to_go[0][:, int((task.day.start_temp_c - self._grid[0]) / (self._grid[1] - self._grid[0]))]
        return float(start.min())

    def _hottest_row(self) -> int:
        """The row whose temperature the maps raise most."""
        return int(np.argmax([np.nanmean(np.concatenate([stage.maps.numbers[stage.maps.ok > 0, 5 + j]
                                                         for stage in self._stages])) for j in range(len(self._maker.rows))]))

    def _start(self, lane: Lane) -> Labels:
        temps = np.full(len(self._maker.rows), self._task.day.start_temp_c)
        open_to = [(number, way) for number, way in enumerate(lane.ways) if way.x in lane.on_move and np.all(
            temps + self._maker.rise_at_start(float(np.sqrt(way.start_u)), temps) <= self._limit)]
        entries = at_cap([way.x for _, way in open_to], [number for number, _ in open_to], [way.start_u for _, way in open_to])
        n = len(entries)
        return Labels(entries, np.arange(n + 1), np.zeros(n), np.tile(temps, (n, 1)), np.full(n, -1),
                      np.zeros(n, dtype=np.int64))

    def _driven(self, stage: Stage, labels: Labels) -> tuple[FloatArray, FloatArray, IntArray, IntArray]:
        maps, guard = stage.maps, stage.guard
        driven: tuple[FloatArray, FloatArray, IntArray, IntArray] = cast(Any, kernel.drive)(
            labels.time_s, labels.temps_c, labels.first, stage.entries.x, stage.exits, maps.widest, maps.ok, maps.numbers,
            maps.span, maps.nodes, stage.guard_first, stage.guards, guard.ok, guard.numbers, guard.span, guard.nodes,
            self._maker.rows, self._maker.scalars, self._limit)
        return driven

    def _next(self, index: int, links: Links, driven: tuple[FloatArray, FloatArray, IntArray, IntArray], slack_c: float,
              latest_s: float) -> Labels:
        """Labels at the start of the next section: rolling on, and moving off after every wait worth standing."""
        time_s, temps, parent, ranges = driven
        entries = links.entries
        if self._to_go and np.isfinite(latest_s):
            row, to_go = self._row, self._to_go[index + 1][:len(entries)]
        else:
            row, to_go = 0, np.zeros((0, GRID))
        got_t, got_c, picked, got = cast(Any, kernel.gather)(
            time_s, temps, ranges, links.sources_first, links.sources, row, self._grid, to_go,
            latest_s + ROUNDING_S, slack_c)
        rolling = int(got[len(entries)])
        made = Labels(entries, got[:len(entries) + 1], got_t[:rolling], got_c[:rolling], parent[picked[:rolling]],
                      np.zeros(rolling, dtype=np.int64))
        if not links.stopped:
            return made
        return self._moving_off(self._maker.layout.lanes[index + 1], made, got_t[rolling:], got_c[rolling:],
                                parent[picked[rolling:]], slack_c)

    def _moving_off(self, after: Lane, made: Labels, time_s: FloatArray, temps_c: FloatArray, parent: IntArray,
                    slack_c: float) -> Labels:
        """The labels so far and those that stood, after every whole number of minutes, under every instruction."""
        minutes = self._minutes
        cool = self._stood(temps_c, float(self._cool[after.part.start]))
        later = (time_s[:, None] + minutes[None, :] * 60.0).ravel()
        stay, lowered = cast(Any, kernel.kept_labels)(later, cool.reshape(-1, cool.shape[2]), slack_c)
        row, wait = stay // len(minutes), minutes[stay % len(minutes)]
        if not len(time_s):                # every stop came too late: the entries stay, empty
            stay, row, wait, lowered = stay[:0], row[:0], wait[:0], lowered[:0]
        times, n = len(after.standing), len(stay)
        return Labels(
            made.entries.and_standing(after.standing), np.concatenate([made.first, made.first[-1] + n * np.arange(1, times + 1)]),
            np.concatenate([made.time_s, np.tile(later[stay], times)]),
            np.concatenate([made.temps_c, np.tile(lowered, (times, 1))]),
            np.concatenate([made.parent, np.tile(parent[row], times)]),
            np.concatenate([made.minutes, np.tile(wait, times)]))

    def _stood(self, temps_c: FloatArray, cool: float) -> FloatArray:
        """What the labels (n, columns) have become after every whole number of minutes: (n, minutes, columns)."""
        return self._maker.cooled(temps_c, self._minutes * 60.0, cool)

    def _choices(self, history: list[Labels], label: int) -> tuple[Choice, ...]:
        """The choices that led to a label of the last section, in travel order."""
        found: list[Choice] = []
        for index in range(len(history) - 1, -1, -1):
            labels = history[index]
            x = int(labels.entries.x[int(np.searchsorted(labels.first, label, side="right")) - 1])
            minutes = int(labels.minutes[label])
            if minutes or not self._maker.layout.lanes[index].continues:
                found.append(Choice(index, self._maker.layout.held[x], minutes))
            label = int(labels.parent[label])
        return tuple(reversed(found))
