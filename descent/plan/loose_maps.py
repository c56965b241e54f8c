# SPDX-License-Identifier: MIT
"""Maps that bound the heat of every row from below, for brakes whose share of the work moves with temperature.

Slack brakes pass their readjustment limit in ordinary braking once hot, and a limit above fade onset lets the lining
fade: the colder rows then take more. At one brake force in all a row does least when it is itself as hot as it may be
and the others are cold (derived: a row's force falls with its own temperature, and the common pressure rises with the
others'). One march for each row at that corner gives a bound for its temperature; the speed history is the same in all
of them as long as the force asked for can be given with all rows hot, which one more march shows.
"""

from __future__ import annotations

import numpy as np

from descent.physics.foundation_brake import (
    COLD_C,
    FADE_END,
    FADE_FLOOR,
    FADE_ON,
    FREE_STROKE,
    GAIN,
    LIMIT,
    STROKE_PER_K,
    fade,
)
from descent.plan.entries import Entries
from descent.plan.layout import Lane
from descent.plan.maps import FloatArray, IntArray, MapMaker, SectionMaps

SAME = 1e-6      # histories that differ by less in time [s] and speed squared are one


class LooseMaker(MapMaker):
    """Makes maps whose temperatures are never above the true ones. `one_history` turns False when a force asked for could
    not be given by hot brakes: then no bound follows."""

    def __init__(self, exact: MapMaker) -> None:
        self.__dict__.update(exact.__dict__)
        self.one_history = True
        hot = self.flat.copy()
        hot[:, FREE_STROKE] += self.rows[:, STROKE_PER_K] * np.maximum(self.rows[:, LIMIT] - COLD_C, 0.0)
        hot[:, GAIN] *= [fade(*row[[LIMIT, FADE_ON, FADE_END, FADE_FLOOR]]) for row in self.rows]
        self._hot = hot
        self._corners = [np.where(np.arange(len(hot))[:, None] == row, hot, self.flat) for row in range(len(hot))]

    def _made(self, lane: Lane, entries: Entries, limit_c: FloatArray, least_c: FloatArray, first: IntArray,
              end_u: FloatArray, way: IntArray) -> SectionMaps:
        n = len(self.rows)
        free = np.full(n, np.inf)
        cold, hot = (self._with(flat, lane, entries, free, least_c, first, end_u, way) for flat in (self.flat, self._hot))
        both = (cold.ok & hot.ok) > 0
        if np.any(cold.ok != hot.ok) or np.any(
                np.abs(cold.numbers[both, :4] - hot.numbers[both, :4]) > SAME):
            self.one_history = False
        ok, numbers = cold.ok.copy(), cold.numbers.copy()
        for row, corner in enumerate(self._corners):
            run = self._with(corner, lane, entries, np.where(np.arange(n) == row, limit_c, np.inf), least_c, first,
                             end_u, way)
            ok &= run.ok
            for block in (5, 5 + n, 5 + 3 * n):
                numbers[:, block + row] = run.numbers[:, block + row]
        numbers[:, 5 + 2 * n:5 + 3 * n] = numbers[:, 5 + 3 * n:]       # no looking closely: what can hold, holds
        return SectionMaps(cold.widest, ok, numbers, np.zeros_like(cold.span), cold.nodes[:0], cold.peak_kpa)
