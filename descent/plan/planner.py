# SPDX-License-Identifier: MIT
"""Find the fastest way down that keeps every limit, check it by the full march, and tighten until it holds."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from descent.physics.trace import DescentTrace
from descent.plan.air_check import low_air_node
from descent.plan.air_stops import told_why
from descent.plan.air_way import Unsettled, best_with_air
from descent.plan.model import Solution
from descent.plan.proof import SAME_TIME_S, Proved, best_way
from descent.plan.search import Choice
from descent.plan.shop import Workshop, workshop
from descent.plan.stages import fewest_stages
from descent.plan.verify import solution_of

__all__ = ["Cause", "Found", "Nothing", "Workshop", "find", "refused", "workshop"]

FloatArray = NDArray[np.float64]
Progress = Callable[[str], None]
MORE_RESERVE_K = (5.0, 10.0, 20.0, 30.0, 45.0, 60.0, 80.0)   # cooler plans brake less


@dataclass(frozen=True)
class Found:
    """A checked way down: the solution and its march; the least time any way down takes within the same instructions and
    reserve [s], and whether this one takes no longer (to a millionth of a second)."""

    solution: Solution
    trace: DescentTrace
    lower_bound_s: float
    proven: bool


class Cause(Enum):
    """Why there is no way down."""

    OVER_LIMIT = "over-limit"
    NO_STOP = "no-stop"
    STALLED = "stalled"
    LOW_AIR = "low-air"
    UNSETTLED = "unsettled"


@dataclass(frozen=True)
class Nothing:
    """No way down: why, where, and by how many kelvin even the slowest instructions pass the limit (None: no number)."""

    cause: Cause
    station_m: float
    excess_k: float | None = None


def find(shop: Workshop, *, reserve_k: FloatArray | None = None, progress: Progress | None = None) -> Found | Nothing:
    """The fastest way down whose full march keeps every limit on the steep side of the grade band, and its proof.

    reserve_k (n_rows,) [K]: each row's limit is lowered by so much. Where the reservoirs of the fastest way may fall to
    the low-air warning, the fastest way on which they do not takes its place, slower or with a stop to build air, with a
    bound that knows air; none is given where there is none. Bound and proof are within the instructions of the shop and the
    reserve (see `descent.plan.proof`, `descent.plan.air_way`).
    """
    reserve = np.zeros(len(shop.task.vehicle.rows)) if reserve_k is None else np.asarray(reserve_k, dtype=float)
    proved = best_way(shop, reserve, progress=progress)
    if proved is None:
        return refused(shop, reserve)
    low = low_air_node(shop.task, proved.solution, proved.trace)
    if low is not None:
        lasting = _lasting(shop, reserve, proved.lower_bound_s, progress)
        if lasting is None:
            return Nothing(Cause.LOW_AIR, float(shop.task.profile.station_m[low]))
        proved = lasting
    solution, trace = fewest_stages(shop, proved.solution, proved.trace, reserve)
    if shop.task.air is not None and low_air_node(shop.task, solution, trace) is not None:
        solution, trace = proved.solution, proved.trace       # less retarder, firmer snubs, more air
    return Found(told_why(shop, solution, trace, reserve), trace, min(proved.lower_bound_s, trace.total_time_s),
                 proved.proven)


def _lasting(shop: Workshop, reserve: FloatArray, bound_s: float, progress: Progress | None) -> Proved | None:
    """The fastest way on which the air lasts, None where there is none. Where no bound that knows air can be given: the first
    of some cooler ways, which brake less, with the bound without air."""
    found = best_with_air(shop, reserve, bound_s, progress=progress)
    if isinstance(found, Proved):
        return found
    for more in MORE_RESERVE_K if isinstance(found, Unsettled) else ():
        slower = best_way(shop, reserve + more)
        if slower is None:
            return None
        if low_air_node(shop.task, slower.solution, slower.trace) is None:
            return Proved(slower.solution, slower.trace, bound_s, proven=slower.trace.total_time_s - bound_s <= SAME_TIME_S)
    return None


def refused(shop: Workshop, reserve_k: FloatArray) -> Nothing:
    """Why nothing holds, from the march of the slowest instructions with the longest stop at every place."""
    choices, lanes = [], shop.maker.layout.lanes
    for index, lane in enumerate(lanes):
        x = lane.on_move[0] or lane.on_move[min(1, len(lane.on_move) - 1)]
        choices.append(Choice(index, shop.maker.layout.held[x], shop.task.rules.longest_stop_minutes if lane.standing else 0))
    trace = shop.drive(solution_of(shop.task, shop.chains, shop.parts, tuple(choices)))
    station = shop.task.profile.station_m
    if not trace.complete:
        return Nothing(Cause.STALLED, float(station[trace.reached]))
    limit = np.array([row.brake.temp_limit_c for row in shop.task.vehicle.rows]) - reserve_k
    over = np.max(trace.temp_c + trace.rise_k - limit, axis=1)
    passed = np.flatnonzero(over > 0)
    if not len(passed):
        return Nothing(Cause.UNSETTLED, 0.0)
    first = int(passed[0])
    if not np.isfinite(over[first]):
        return Nothing(Cause.NO_STOP, float(station[first]))
    worst = over[np.isfinite(over)].max()
    return Nothing(Cause.OVER_LIMIT, float(station[first]), float(worst))
