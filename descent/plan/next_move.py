# SPDX-License-Identifier: MIT
"""What a stopped driver should do next, looked up in a plan's table from what the brakes show or measure."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum
from typing import Any

import numpy as np

from descent.errors import Fault, RequestError
from descent.plan.doubt import ReplanLevel, ReplanTable

AT_HALT_M = 200.0          # so near a place to stand one is taken to stand there
AT_NODE_M = 15.0
LONGEST_MINUTES = 240.0    # no longer wait is advised
STEP_MINUTES = 5.0         # waits are told in whole steps, rounded up
SMOKE_MINUTES = 30.0       # the least wait after smoke, and until the brakes are looked over (assumed)


class Seen(Enum):
    """What a stopped driver can observe of hot brakes, from little to much."""

    NOTHING = "nothing"
    LONG_SNUBS = "long-snubs"
    SMELL = "smell"
    SMOKE = "smoke"


# (low, high) [C] at the moment of stopping: common practice knows the order of the signs, no source the numbers; assumed,
# the high end on the cautious side. None: the plan's own value there.
RANGES: Mapping[Seen, tuple[float | None, float | None]] = {
    Seen.NOTHING: (None, None), Seen.LONG_SNUBS: (None, 330.0), Seen.SMELL: (200.0, 340.0), Seen.SMOKE: (300.0, 450.0)}
UNSEEN_K = 20.0            # above the likely temperature brakes may be and still show nothing (assumed)


@dataclass(frozen=True)
class Snubs:
    """The rhythm a driver counted against the one on the card: seconds braking and seconds from one to the next."""

    duration_s: float
    interval_s: float
    planned_duration_s: float
    planned_interval_s: float

    @property
    def work_ratio(self) -> float:
        """Braking per time against the plan's [1], at least 1."""
        return max(1.0, (self.duration_s / self.planned_duration_s) * (self.planned_interval_s / self.interval_s))


class Action(Enum):
    """What to do."""

    GO_ON = "go-on"
    GO_SLOWER = "go-slower"
    COOL = "cool"
    COOL_THEN_SLOWER = "cool-then-slower"
    DO_NOT_GO = "do-not-go"


@dataclass(frozen=True)
class Advice:
    """What to do at a station: how hot the brakes are taken to be now, what the chosen rest of the plan allows, how long to
    stand before it, and its legs from there on."""

    action: Action
    station_m: float
    low_c: float
    high_c: float
    allowed_c: float
    minutes: float
    step: int
    legs: tuple[tuple[float, float, str, float, int], ...]
    at_halt: str | None
    next_halt: tuple[float, str] | None
    look_over: bool


_NO_TABLE = Fault("replan-table", "this plan carries no table to go on from",
                  "Give a plan.json with a block `replan`, as `descent plan` writes it", "plan")


def table_from(block: Mapping[str, Any]) -> ReplanTable:
    """The table in plan.json's block `replan`. Raises RequestError when it is not one."""
    def column(values: Any) -> np.ndarray[Any, np.dtype[np.float64]]:
        return np.array([-math.inf if value is None else float(value) for value in values])

    try:
        levels = tuple(ReplanLevel(int(item["step"]), tuple(
            (float(leg["start_m"]), float(leg["end_m"]), str(leg["gear"]), float(leg["control_speed_mps"]),
             int(leg["retarder_stage"])) for leg in item["legs"]), column(item["threshold_c"]), column(item["rest_s"]))
            for item in block["levels"])
        table = ReplanTable(column(block["station_m"]), column(block["planned_c"]), column(block["likely_c"]),
                            column(block["cool_1ps"]), float(block["air_temp_c"]), float(block["limit_c"]),
                            float(block["fade_onset_c"]), levels,
                            tuple((float(item["station_m"]), str(item["name"])) for item in block["halts"]))
        sizes = {len(table.planned_c), len(table.likely_c), len(table.cool_1ps),
                 *(len(one) for level in levels for one in (level.threshold_c, level.rest_s))}
    except (KeyError, TypeError, ValueError) as error:
        raise RequestError(_NO_TABLE) from error
    if not levels or sizes != {len(table.station_m)} or not np.all(np.diff(table.station_m) > 0):
        raise RequestError(_NO_TABLE)
    return table


def observed_c(table: ReplanTable, station_m: float, seen: Seen, *, minutes: float = 0.0,
               snubs: Snubs | None = None) -> tuple[float, float]:
    """Cautious range of the hottest brakes now [C] from what was seen on stopping, `minutes` ago.

    Counted snubs scale what the brakes took up beyond the air's temperature. Cooling since is counted at the slowest rate,
    for both ends.
    """
    place = _place(table, _standing_m(table, station_m))
    around = slice(max(place - 1, 0), place + 1)
    likely, planned = float(table.likely_c[around].max()), float(table.planned_c[around].max())
    low, high = RANGES[seen]
    top = max(likely + UNSEEN_K, 0.0 if high is None else high)
    if snubs is not None:
        top = max(top, table.air_temp_c + (likely - table.air_temp_c) * snubs.work_ratio)
    bottom = min(planned if low is None else low, top)
    left = math.exp(-float(table.cool_1ps[place]) * 60.0 * max(minutes, 0.0))
    return (table.air_temp_c + (bottom - table.air_temp_c) * left, table.air_temp_c + (top - table.air_temp_c) * left)


def _place(table: ReplanTable, station_m: float) -> int:
    """The table's station at or after a place."""
    return min(int(np.searchsorted(table.station_m, station_m - 1e-6)), len(table.station_m) - 1)


def _standing_m(table: ReplanTable, station_m: float) -> float:
    """The station of the place to stand that a driver is at, whose planned stop then lies behind; else the station itself."""
    return next((at for at, _ in table.halts if abs(at - station_m) <= AT_HALT_M), station_m)


def _allowed(table: ReplanTable, level: ReplanLevel, station_m: float) -> float:
    """The lower threshold of the table's stations on both sides of a place, or that of the one it is at."""
    place = _place(table, station_m)
    before = place if abs(float(table.station_m[place]) - station_m) < AT_NODE_M else max(place - 1, 0)
    return float(level.threshold_c[before:place + 1].min())


def replan(table: ReplanTable, station_m: float, *, low_c: float, high_c: float, seen: Seen = Seen.NOTHING) -> Advice:
    """What to do next at a station with the hottest brakes between low_c and high_c [C]: the upper end decides.

    Of the plan and its slower forms, the one soonest down, any wait included. Above the brakes' limit, or after smoke, they
    are looked over before moving off.
    """
    halt = next((item for item in table.halts if abs(item[0] - station_m) <= AT_HALT_M), None)
    station_m = _standing_m(table, station_m)
    place = _place(table, station_m)
    rate, air = float(table.cool_1ps[place]), table.air_temp_c
    best: tuple[float, float, ReplanLevel] | None = None
    for level in table.levels:
        allowed = _allowed(table, level, station_m)
        minutes = 0.0
        if high_c > allowed:
            if allowed <= air + 1.0:
                continue
            minutes = STEP_MINUTES * math.ceil(math.log((high_c - air) / (allowed - air)) / rate / 60.0 / STEP_MINUTES)
        if seen is Seen.SMOKE:
            minutes = max(minutes, SMOKE_MINUTES)
        total = minutes * 60.0 + float(level.rest_s[place])
        if minutes <= LONGEST_MINUTES and (best is None or total < best[0]):
            best = (total, minutes, level)
    ahead = next(((at, name) for at, name in table.halts if at > station_m + AT_HALT_M), None)
    look = seen is Seen.SMOKE or high_c > table.limit_c
    if best is None:
        return Advice(Action.DO_NOT_GO, station_m, low_c, high_c, -math.inf, 0.0, 0, (), halt and halt[1], ahead, look)
    _, minutes, level = best
    action = {(False, False): Action.GO_ON, (False, True): Action.GO_SLOWER, (True, False): Action.COOL,
              (True, True): Action.COOL_THEN_SLOWER}[(minutes > 0, level.step > 0)]
    legs = tuple(leg for leg in level.legs if leg[1] > station_m + 1.0)
    return Advice(action, station_m, low_c, high_c, _allowed(table, level, station_m), minutes, level.step, legs, halt and halt[1],
                  ahead, look)
