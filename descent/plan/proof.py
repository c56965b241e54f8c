# SPDX-License-Identifier: MIT
"""The fastest way down with its proof: a bound no plan of these instructions can beat, and whether the plan meets it.

Where heat moves no row's share (`MapMaker.straight_to_kpa`), section maps are exact: a way down takes the same time in
the search and in the full march. Merging labels can then only lower temperatures, so the fastest way of the search is
a bound from below; if its march holds it is the best plan, gap nil. If not, the merging is made finer, at last none.
Where shares move, the bound comes from maps whose temperatures are never above the true ones (`LooseMaker`), and the
plan from lowering the limits until its march holds. The bound is always that of the limits as given (less the reserve).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from descent.physics.trace import DescentTrace
from descent.plan.loose_maps import LooseMaker
from descent.plan.model import Solution
from descent.plan.search import DeadEnd, Search, TooMany, Way
from descent.plan.shop import Workshop
from descent.plan.verify import excess_k, over_speed_mps, solution_of

FloatArray = NDArray[np.float64]
Progress = Callable[[str], None]
FIRST_C = 4.0                         # slack of merging in the first pass
FINER_C = (0.05, 0.002, 0.0)          # finer as long as the march does not hold
COARSER_C = (-0.05, -0.5)             # merging that keeps true labels, when there are too many
WINDOWS = (1.001, 1.005, 1.03, 1.2, np.inf)
MOST_LABELS = 400_000
ROUNDS = 12
SAME_TIME_S = 1e-6
SPEED_ROOM_MPS = 1e-3


@dataclass(frozen=True)
class Proved:
    """A way down that holds, its march, the least time any way down takes [s], and whether this one takes it."""

    solution: Solution
    trace: DescentTrace
    lower_bound_s: float
    proven: bool


def keeps_limits(shop: Workshop, solution: Solution, trace: DescentTrace, reserve_k: FloatArray) -> bool:
    """A march that gets there, within every speed and every temperature less its reserve (n_rows,) [K]."""
    return (trace.complete and float((excess_k(shop.task, trace) + reserve_k).max()) <= 0.0
            and over_speed_mps(shop.task, solution, trace) <= SPEED_ROOM_MPS)


def best_way(shop: Workshop, reserve_k: FloatArray, *, progress: Progress | None = None) -> Proved | None:
    """The fastest way down within the limits less `reserve_k` (n_rows,) [K], or None when there is none (or, too rare to
    be met in tests, none was found among more labels than fit)."""
    if progress is not None:
        progress("searching")
    bound_s = 0.0
    for maker in (shop.maker, shop.maker.looking_everywhere()):
        search = shop.search(reserve_k, maker)
        outcome = search.best(slack_c=FIRST_C, most_labels=MOST_LABELS)
        if search.peak_kpa > shop.maker.straight_to_kpa():
            return _best_of_moving_shares(shop, reserve_k)
        if isinstance(outcome, DeadEnd):
            return None
        bound_s = max(bound_s, outcome.time_s if isinstance(outcome, Way) else _unhindered_s(shop))
        if isinstance(outcome, Way):
            proved = _marched(shop, outcome, reserve_k, bound_s)
            if proved is not None:
                return proved
            bound_s = max(bound_s, search.bound_rest())
            if progress is not None:
                progress("proving")
            bound_s, proved = _closer(shop, search, reserve_k, bound_s)
            if proved is not None:
                return proved
    for slack in COARSER_C:
        outcome = search.best(slack_c=slack, most_labels=MOST_LABELS)
        proved = _marched(shop, outcome, reserve_k, bound_s) if isinstance(outcome, Way) else None
        if proved is not None:
            return proved
    return None


def _closer(shop: Workshop, search: Search, reserve_k: FloatArray, bound_s: float) -> tuple[float, Proved | None]:
    """Passes with finer merging, each within a time a little above the bound: a pass that finds nothing raises the bound to
    that time, and the first way whose march holds is the best there is."""
    for slack in FINER_C:
        start_s = bound_s
        for window in WINDOWS:
            latest_s = start_s * window
            outcome = search.best(slack_c=slack, most_labels=MOST_LABELS, latest_s=latest_s)
            if isinstance(outcome, TooMany):
                return bound_s, None
            if isinstance(outcome, Way):
                bound_s = max(bound_s, outcome.time_s)
                proved = _marched(shop, outcome, reserve_k, bound_s)
                if proved is not None:
                    return bound_s, proved
                break                                   # a finer merging, from the bound just found
            if np.isfinite(latest_s):
                bound_s = max(bound_s, latest_s)
    return bound_s, None


def _marched(shop: Workshop, way: Way, reserve_k: FloatArray, bound_s: float) -> Proved | None:
    solution = solution_of(shop.task, shop.chains, shop.parts, way.choices)
    trace = shop.drive(solution)
    if not keeps_limits(shop, solution, trace, reserve_k):
        return None
    return Proved(solution, trace, bound_s, trace.total_time_s - bound_s <= SAME_TIME_S)


def _best_of_moving_shares(shop: Workshop, reserve_k: FloatArray) -> Proved | None:
    """As `best_way`, for brakes whose share of the work moves with temperature."""
    loose = LooseMaker(shop.maker)
    outcome = shop.search(reserve_k, loose).best(slack_c=FIRST_C, most_labels=MOST_LABELS)
    if isinstance(outcome, DeadEnd) and loose.one_history:
        return None
    bound_s = outcome.time_s if isinstance(outcome, Way) and loose.one_history else _unhindered_s(shop)
    if isinstance(outcome, Way):
        proved = _marched(shop, outcome, reserve_k, bound_s)
        if proved is not None:
            return proved
    margin = np.zeros_like(reserve_k)
    for _ in range(ROUNDS):
        outcome = shop.search(reserve_k + margin).best(slack_c=FINER_C[0], most_labels=MOST_LABELS)
        if not isinstance(outcome, Way):
            return None
        solution = solution_of(shop.task, shop.chains, shop.parts, outcome.choices)
        trace = shop.drive(solution)
        if keeps_limits(shop, solution, trace, reserve_k):
            return Proved(solution, trace, bound_s, trace.total_time_s - bound_s <= SAME_TIME_S)
        over = excess_k(shop.task, trace) + reserve_k
        if not trace.complete or not np.isfinite(over).all():
            return None
        margin = margin + np.where(over > 0, 1.05 * over + 0.3, 0.0)
    return None


def _unhindered_s(shop: Workshop) -> float:
    """Time over the road at its speed limits alone [s]."""
    speed = np.sqrt(shop.maker.layout.caps_u[0])
    return float(np.sum(shop.cells.step_m / np.maximum(np.maximum(speed[1:], speed[:-1]), 1e-9)))
