# SPDX-License-Identifier: MIT
"""One section made ready for labels: its entries, maps and guards, and which map leads to which entry of the next."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from descent.plan.entries import Entries, starts
from descent.plan.layout import CRUISE_X, Lane
from descent.plan.maps import MapMaker, SectionMaps

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class Links:
    """Which map leads where: entries, the rolling entries of the next section; sources_first into sources: maps that
    lead to each of them and, last, to a stop where `stopped`; leads_first into leads: the same by map, -1 for the stop."""

    entries: Entries
    stopped: bool
    sources_first: IntArray
    sources: IntArray
    leads_first: IntArray
    leads: IntArray


@dataclass(frozen=True)
class Stage:
    """A section's entries (exits: number of exits of each instruction) and maps; guard maps, and
    those of each instruction (guard_first into guards); links to the next section, once known."""

    lane: Lane
    entries: Entries
    exits: IntArray
    maps: SectionMaps
    guard: SectionMaps
    guard_first: IntArray
    guards: IntArray
    links: Links | None = None

    @property
    def peak_kpa(self) -> float:
        """Highest application met in any of its maps [kPa]."""
        return max(self.maps.peak_kpa, self.guard.peak_kpa)

    def to(self, after: Lane, ranges: IntArray) -> Stage:
        """Linked to the next section by the maps that any label has driven (ranges not empty)."""
        driven = np.flatnonzero(np.diff(ranges))
        exits = self.lane.exit_table
        number = exits.first[self.entries.x[driven // self.maps.widest]] + driven % self.maps.widest      # exit of each map
        each = np.diff(exits.target_first)[number]
        maps = np.repeat(driven, each)
        within = np.arange(len(maps)) - np.repeat(np.cumsum(each) - each, each)
        target = exits.targets[np.repeat(exits.target_first[number], each) + within]
        key = np.empty((len(maps), 6))
        key[:, 0], key[:, 1], key[:, 2] = after.way_x[target], target, np.repeat(exits.end_u[number], each)
        key[:, 3:] = np.round(self.maps.numbers[maps, :3], 8)
        order = np.lexsort(key.T[::-1])
        changes = np.any(np.diff(key[order], axis=0) != 0, axis=1)
        entry = np.zeros(len(maps), dtype=np.int64)
        entry[order] = np.concatenate([[0], np.cumsum(changes)])[:len(maps)]
        heads = key[order[np.concatenate([[True], changes])[:len(maps)]]]
        entries = Entries(heads[:, 0].astype(np.int64), heads[:, 1].astype(np.int64),
                          np.ascontiguousarray(heads[:, [3, 4, 5, 2]]))
        stopped = driven[exits.stops[number]]
        entry = np.concatenate([entry, np.full(len(stopped), len(entries))])
        maps = np.concatenate([maps, stopped])
        by_entry, by_map = np.lexsort((maps, entry)), np.lexsort((entry, maps))
        groups = len(entries) + int(len(stopped) > 0)
        return replace(self, links=Links(
            entries, len(stopped) > 0, np.searchsorted(entry[by_entry], np.arange(groups + 1)), maps[by_entry],
            np.searchsorted(maps[by_map], np.arange(len(self.maps.ok) + 1)),
            np.where(entry == len(entries), -1, entry)[by_map]))


def _flat(lists: list[list[int]]) -> IntArray:
    return np.array([one for item in lists for one in item], dtype=np.int64)


def stage_of(maker: MapMaker, lane: Lane, entries: Entries, least_c: FloatArray, limit_c: FloatArray) -> Stage:
    """A section with all maps from these entries; least_c (n_entries, n_groups) [C]: no label of an entry is cooler."""
    guards = maker.guards_of
    used = set(np.unique(entries.x).tolist())
    wanted = sorted({lower for x in used for lower in guards[x]}) or [CRUISE_X]
    place = {x: number for number, x in enumerate(wanted)}
    lists = [[place[lower] for lower in guards[x]] if x in used else [] for x in range(len(guards))]
    guard = maker.guards(lane, wanted, limit_c, least_c.min(axis=0))
    return Stage(lane, entries, np.diff(lane.exit_table.first), maker.make(lane, entries, limit_c, least_c), guard,
                 starts(lists), _flat(lists) * guard.widest)
