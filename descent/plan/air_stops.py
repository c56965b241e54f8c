# SPDX-License-Identifier: MIT
"""Which stops are there to build air, and how long of one is for the air: found by cutting it short."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from descent.physics.trace import DescentTrace
from descent.plan.air_check import least_reservoirs, low_air_node
from descent.plan.model import Solution
from descent.plan.proof import keeps_limits
from descent.plan.shop import Workshop

FloatArray = NDArray[np.float64]
BUILD_AIR, COOL_AND_AIR = "build-air", "cool-and-air"
PLENTY_KPA = 35.0        # above the warning all along with no minute stood: no stop is for the air


@dataclass(frozen=True)
class AirNeed:
    """What would come of a stop cut short to so many minutes (0: stopping and going on at once): the first station at which the
    reservoirs may be at the warning [m]; what they hold at least on coming to the stop and on leaving it [kPa]."""

    minutes: int
    low_m: float
    arrive_kpa: float
    leave_kpa: float


def told_why(shop: Workshop, solution: Solution, trace: DescentTrace, reserve_k: FloatArray) -> Solution:
    """The solution with stops that the air asks for called so: those that the heat asks for as well, and those of the air
    alone. Limits less reserve_k (n_rows,) [K]."""
    if shop.task.air is None or _plentiful(shop, solution):
        return solution
    stops = list(solution.stops)
    for index, stop in enumerate(stops):
        if stop.kind == "brake-check" or air_need(shop, solution, trace, index) is None:
            continue
        less = _shortened(solution, index, 0)
        heat = not keeps_limits(shop, less, shop.drive(less), reserve_k)
        stops[index] = replace(stop, kind=COOL_AND_AIR if heat else BUILD_AIR)
    return Solution(solution.legs, tuple(stops))


def _plentiful(shop: Workshop, solution: Solution) -> bool:
    """Whether the air lasts, and `PLENTY_KPA` more, with no minute stood anywhere: no stop is then needed for it."""
    if not any(stop.minutes for stop in solution.stops if stop.kind != "brake-check"):
        return True
    bare = Solution(solution.legs, tuple(stop if stop.kind == "brake-check" else replace(stop, minutes=0)
                                         for stop in solution.stops))
    along = least_reservoirs(shop.task, bare, shop.drive(bare))
    assert along is not None and shop.task.air is not None
    return bool(along.service_kpa.min() >= shop.task.air.warning_kpa + PLENTY_KPA)


def air_need(shop: Workshop, solution: Solution, trace: DescentTrace, index: int) -> AirNeed | None:
    """Why a stop, or its last minutes, is needed for the air; None where it is not."""
    stop, rules = solution.stops[index], shop.task.rules
    along = least_reservoirs(shop.task, solution, trace)
    if along is None or stop.minutes == 0:
        return None
    shorter = stop.minutes - rules.stop_step_minutes
    for minutes in (0, shorter) if shorter >= rules.shortest_stop_minutes else (0,):
        trial = _shortened(solution, index, minutes)
        low = low_air_node(shop.task, trial, shop.drive(trial))
        if low is not None:
            after = min(stop.node + 1, len(along.service_kpa) - 1)
            return AirNeed(minutes, float(trace.station_m[low]), float(along.service_kpa[stop.node]),
                           float(along.service_kpa[after]))
    return None


def _shortened(solution: Solution, index: int, minutes: int) -> Solution:
    stops = list(solution.stops)
    stops[index] = replace(stops[index], minutes=minutes)
    return Solution(solution.legs, tuple(stops))
