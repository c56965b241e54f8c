# SPDX-License-Identifier: MIT
"""The fastest way down whose air lasts, with its proof; used only where the fastest way without air runs low.

`BoundSearch` gives a bound from below, finer pass by pass, and ways that are marched; where sets of reservoirs say too
little of single ones, `AirSearch` looks on. A way whose march holds and whose time is the bound is proven; else the gap
between the two is what is claimed.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from descent.plan.air_check import low_air_node
from descent.plan.air_logs import AirLogs
from descent.plan.air_search import AirSearch, BoundSearch
from descent.plan.proof import FIRST_C, MOST_LABELS, SAME_TIME_S, Proved, keeps_limits
from descent.plan.search import DeadEnd, Search, TooMany, Way
from descent.plan.shop import Workshop
from descent.plan.verify import solution_of

FloatArray = NDArray[np.float64]
Progress = Callable[[str], None]
TRUE_C = (-4.0, -1.0, -0.3)                       # merging that keeps true labels: ways that hold
FINER_C = (1.0, 0.3, 0.1, 0.02, 0.002, 0.0)       # finer as long as the march does not hold
NEAR = 1.005                                      # a gap no longer worth the slower search, on a long road
FEW_CELLS = 300_000
BOUND_LABELS, AIR_LABELS = 100_000, 3_000         # the search with the reservoirs themselves is slow


class Unsettled:
    """No bound that knows air can be given: brakes whose share of the work moves with temperature."""


def best_with_air(shop: Workshop, reserve_k: FloatArray, free_bound_s: float, *,
                  progress: Progress | None = None) -> Proved | DeadEnd | Unsettled:
    """The fastest way down within the limits less `reserve_k` (n_rows,) [K] on which the air lasts; DeadEnd: there is none.

    free_bound_s: the least time without air [s]. Unsettled too where there was none among the labels that fit.
    """
    air = shop.task.air
    maker = shop.maker.looking_everywhere()
    free = shop.search(reserve_k, maker)
    first = free.best(slack_c=FIRST_C, most_labels=MOST_LABELS)
    if air is None or not isinstance(first, Way) or free.peak_kpa > shop.maker.straight_to_kpa():
        return Unsettled()
    if progress is not None:
        progress("looking where the air lasts")
    free.bound_rest()
    settling = _Settling(shop, reserve_k, free_bound_s)
    bound = BoundSearch(free, AirLogs(shop, maker, air))
    for search, most in ((bound, BOUND_LABELS), (AirSearch(bound), AIR_LABELS)):
        if settling.coarse(search, most):
            return DeadEnd(0)
        settling.finer(search, most)
        if settling.proven or (settling.near and bound.cells > FEW_CELLS):
            break
    return Unsettled() if settling.best is None else settling.answer(settling.best)


class _Settling:
    """The bound so far and the fastest way so far that holds."""

    def __init__(self, shop: Workshop, reserve_k: FloatArray, bound_s: float) -> None:
        self._shop, self._reserve_k, self.bound_s = shop, reserve_k, bound_s
        self.best: Proved | None = None

    @property
    def proven(self) -> bool:
        """Nothing can be faster than the way found."""
        return self.best is not None and self.best.trace.total_time_s - self.bound_s <= SAME_TIME_S

    @property
    def near(self) -> bool:
        """The way found is near the bound."""
        return self._latest_s <= NEAR * self.bound_s

    @property
    def _latest_s(self) -> float:
        return np.inf if self.best is None else self.best.trace.total_time_s

    def coarse(self, search: Search, most: int) -> bool:
        """The first pass: whether it shows that there is no way at all."""
        outcome = search.best(slack_c=FIRST_C, most_labels=most, latest_s=self._latest_s)
        if isinstance(outcome, DeadEnd) and self.best is None:
            return True
        self._learn(outcome)
        for slack in () if self.proven else TRUE_C:
            self._marched(search.best(slack_c=slack, most_labels=most, latest_s=self._latest_s))
        return False

    def finer(self, search: Search, most: int) -> None:
        """Passes that raise the bound until a way meets it or there are too many labels."""
        for slack in FINER_C:
            if self.proven:
                return
            outcome = search.best(slack_c=slack, most_labels=most, latest_s=self._latest_s)
            if isinstance(outcome, TooMany):
                return
            self._learn(outcome)

    def _learn(self, outcome: Way | DeadEnd | TooMany) -> None:
        """A pass with merging: its time is a bound; where nothing arrives in time, the way found is the best."""
        if isinstance(outcome, DeadEnd):
            self.bound_s = max(self.bound_s, min(self._latest_s, np.finfo(float).max))
        elif isinstance(outcome, Way):
            self.bound_s = max(self.bound_s, outcome.time_s)
            self._marched(outcome)

    def _marched(self, outcome: Way | DeadEnd | TooMany) -> None:
        if not isinstance(outcome, Way) or outcome.time_s >= self._latest_s:
            return
        shop = self._shop
        solution = solution_of(shop.task, shop.chains, shop.parts, outcome.choices)
        trace = shop.drive(solution)
        if trace.total_time_s < self._latest_s and keeps_limits(shop, solution, trace, self._reserve_k) \
                and low_air_node(shop.task, solution, trace) is None:
            self.best = Proved(solution, trace, self.bound_s, proven=False)

    def answer(self, best: Proved) -> Proved:
        """The way found with the bound as it stands."""
        return Proved(best.solution, best.trace, min(self.bound_s, best.trace.total_time_s), self.proven)
