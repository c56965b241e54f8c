# SPDX-License-Identifier: MIT
"""The search with the air as one more limit: labels carry the reservoirs beside the temperatures.

A label's columns are its temperatures and then the air with the sign turned, so that less is better in every column and
labels are compared and merged as before. `BoundSearch` carries the most that sets of reservoirs can hold
(`air_bound_kernel`): quick, and its fastest way is a bound from below. `AirSearch` carries the reservoirs themselves as
`air_check` counts them. Both rest on this: of the air that is counted on more is never worse, and cooler brakes take less.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from descent.physics.air_kernel import ATMOSPHERE_KPA, COMPRESSOR, IDLE_SHARE, LEAK_APPLIED, TANKS
from descent.plan import air_bound_kernel as bounds
from descent.plan import air_label_kernel as kernel
from descent.plan.air_logs import AirLogs
from descent.plan.layout import Lane
from descent.plan.search import NOWHERE, Labels, Search
from descent.plan.stage import Stage

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
PER_KPA, HELD_PER_KPA = 2.0**-2, 2.0**-7          # columns by kelvin of merging; powers of two: exact
ROUNDING_KPA = 1e-6
Driven = tuple[FloatArray, FloatArray, IntArray, IntArray]


class BoundSearch(Search):
    """A search over the sections of another, which must have found a way without air."""

    def __init__(self, free: Search, logs: AirLogs) -> None:
        self.__dict__.update(free.__dict__)
        self._air, self._n = logs, len(self._maker.rows)
        self._place = {stage.lane.part.start: index for index, stage in enumerate(self._stages)}
        self._weight = -PER_KPA / np.where(logs.space_m3 > 0, logs.space_m3, 1.0)
        self._enough = self._useful()

    @property
    def cells(self) -> int:
        """Cells of all maps together: what the reservoirs themselves would have to be followed over."""
        return sum(int(stage.maps.ok.sum()) * (stage.lane.part.end - stage.lane.part.start) for stage in self._stages)

    def _useful(self) -> list[FloatArray]:
        """For each section by map what a set can hold at its end before more is of no use (m, sets) [m3 kPa]."""
        found, after = [], np.zeros((1, len(bounds.SETS)))
        high = self._air.by_row(np.maximum(self._limit, self._grid[0]))
        low = np.full(len(high), self._grid[0])
        filled = 60.0 * np.outer(self._minutes, self._filled_per_s()).min(axis=0)
        for stage in reversed(self._stages):
            links = stage.links or NOWHERE
            standing = after[len(links.entries):].max(axis=0, initial=0.0) - filled
            at_end = np.zeros((len(stage.maps.ok), len(bounds.SETS)))
            leads_first = links.leads_first if stage.links else np.zeros(len(at_end) + 1, dtype=np.int64)
            after = cast(Any, bounds.useful)(
                self._air.bounds_of(stage), stage.entries.x, stage.exits, stage.maps.widest, stage.maps.ok, leads_first,
                links.leads, after, standing, low, high, at_end)
            found.append(at_end)
        found.reverse()
        return found

    def _filled_per_s(self) -> FloatArray:
        """What idling brings each set at most (sets,) [m3 kPa/s]."""
        par = self._air.packed.parameters
        return np.asarray(par[COMPRESSOR] * par[IDLE_SHARE] * ATMOSPHERE_KPA - par[LEAK_APPLIED] * self._air.space_m3)

    def _start_air(self) -> FloatArray:
        return np.asarray(self._air.air.cut_in_kpa * self._air.space_m3 * self._weight)

    def _start(self, lane: Lane) -> Labels:
        made = super()._start(lane)
        return replace(made, temps_c=np.hstack([made.temps_c, np.tile(self._start_air(), (len(made.time_s), 1))]))

    def _driven(self, stage: Stage, labels: Labels) -> Driven:
        n = self._n
        plain = replace(labels, temps_c=np.ascontiguousarray(labels.temps_c[:, :n]))
        time_s, temps, parent, ranges = super()._driven(stage, plain)
        map_of = np.repeat(np.arange(len(ranges) - 1), np.diff(ranges))
        air_in, temps_in = labels.temps_c[parent, n:] / self._weight, self._air.by_row(plain.temps_c[parent])
        holds, lasts = np.empty((len(time_s), len(bounds.SETS))), np.empty(len(time_s), dtype=np.int64)
        cast(Any, bounds.leave)(self._air.bounds_of(stage), map_of, temps_in, self._holds(air_in),
                                ROUNDING_KPA * float(self._air.space_m3.max()), holds, lasts)
        keep = np.flatnonzero(lasts)
        kept, air = self._breathed(stage, map_of[keep], temps_in[keep], air_in[keep], holds[keep])
        keep = keep[kept]
        return (time_s[keep], np.hstack([temps[keep], air[kept] * self._weight]), parent[keep],
                np.searchsorted(keep, ranges))

    def _holds(self, air: FloatArray) -> FloatArray:
        """What each set holds (k, sets) [m3 kPa], from the labels' air."""
        return np.ascontiguousarray(air)

    def _breathed(self, stage: Stage, map_of: IntArray, temps_in: FloatArray, air_in: FloatArray,
                  holds: FloatArray) -> tuple[NDArray[np.bool_], FloatArray]:
        """Which of the labels the air lasts for, and the air of each at the section's end; holds: its bound there."""
        enough = self._enough[self._place[stage.lane.part.start]]
        return np.ones(len(map_of), dtype=bool), np.minimum(holds, enough[map_of])

    def _stood(self, temps_c: FloatArray, cool: float) -> FloatArray:
        seconds = self._minutes * 60.0
        holds = (temps_c[:, self._n:] / self._weight)[:, None, :] + seconds[:, None] * self._filled_per_s()
        holds = np.minimum(holds, self._air.most_kpa * self._air.space_m3)
        return np.concatenate([super()._stood(temps_c[:, :self._n], cool), holds * self._weight], axis=2)


class AirSearch(BoundSearch):
    """As `BoundSearch`, with the reservoirs themselves: slower, and the air of its labels is that of the march."""

    def __init__(self, bound: BoundSearch) -> None:
        self.__dict__.update(bound.__dict__)
        self._weight = np.array([-PER_KPA] * TANKS + [-HELD_PER_KPA])

    def _start_air(self) -> FloatArray:
        tanks = np.where(self._air.packed.tanks_m3 > 0, self._air.air.cut_in_kpa, 0.0)
        return np.append(tanks, 0.0) * self._weight

    def _holds(self, air: FloatArray) -> FloatArray:
        return np.asarray((air[:, :TANKS] * self._air.packed.tanks_m3) @ bounds.SETS.T.astype(float))

    def _breathed(self, stage: Stage, map_of: IntArray, temps_in: FloatArray, air_in: FloatArray,
                  holds: FloatArray) -> tuple[NDArray[np.bool_], FloatArray]:
        if not len(map_of):
            return np.ones(0, dtype=bool), np.zeros((0, kernel.COLUMNS))
        packed, (used, place) = self._air.packed, np.unique(map_of, return_inverse=True)
        log, share = self._air.logs_of(stage, used)
        air, lasts = np.empty((len(map_of), kernel.COLUMNS)), np.empty(len(map_of), dtype=np.int64)
        cast(Any, kernel.breathe)(
            log, share, place, temps_in, np.ascontiguousarray(air_in), self._air.rows, packed.chambers, packed.tanks_m3,
            packed.parameters, self._air.air.warning_kpa - ROUNDING_KPA, air, lasts)
        return lasts > 0, air

    def _stood(self, temps_c: FloatArray, cool: float) -> FloatArray:
        seconds, packed = self._minutes * 60.0, self._air.packed
        air = np.empty((len(temps_c), len(seconds), kernel.COLUMNS))
        cast(Any, kernel.stood)(np.ascontiguousarray(temps_c[:, self._n:] / self._weight), seconds, packed.tanks_m3,
                                packed.parameters, air)
        return np.concatenate([Search._stood(self, temps_c[:, :self._n], cool), air * self._weight], axis=2)
