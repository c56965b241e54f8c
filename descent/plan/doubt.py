# SPDX-License-Identifier: MIT
"""What is left to doubt in a plan: its chance, what could go wrong, how to go on from a place, what changes do."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from descent.route.places import Place

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Risk:
    """How sure a plan is, from draws of truck, day and road.

    probability: share of the draws that pass the limit; upper_95: its upper 95 % bound; fading: draws that reach fade
    onset; temperature_percentiles_c: of the hottest brake of a whole trip, by rank; nominal_s, total_s [s]: trip time of the
    fastest plan that asks nothing of chance, and of this one; low, middle, high (n,) [C]: 5th, 50th and 95th percentile of
    the hottest row at station_m (n,).
    """

    draws: int
    seed: int
    accepted: float
    probability: float
    upper_95: float
    fading: int
    temperature_percentiles_c: dict[int, float]
    nominal_s: float
    total_s: float
    station_m: FloatArray
    low_c: FloatArray
    middle_c: FloatArray
    high_c: FloatArray

    @property
    def cost_s(self) -> float:
        """What the accepted chance costs in time [s]."""
        return self.total_s - self.nominal_s


@dataclass(frozen=True)
class Failure:
    """One thing that goes wrong on one downgrade, and what is then left.

    what: its key; from_m: where it begins; holds: with the vehicle as it is (and this fault) every brake plus one
    emergency stop stays under its limit and a full stop stays possible to the foot; over_k [K]: by how much the limit is
    passed (infinite: no emergency stop). Over what nobody knows (fade, slack) a range: last_full_stop_m is the earliest
    place after which no full stop is possible, latest_full_stop_m the latest; None: from the start none is; all_the_way: to the
    foot one is possible even in the worst case, then both are the foot. speed_lost_m: in the worst case the speed passes the
    planned one by 5 mph there (None: it never does). still_held_m: the way over which the vehicle still holds its speed
    though a full stop has become impossible. next_place: where it can be brought to rest; speed_there_mps: the highest
    over the last 400 m before it, in the worst case. detail: what the words need, by name.
    """

    what: str
    downgrade: int
    from_m: float
    holds: bool
    over_k: float
    last_full_stop_m: float | None
    latest_full_stop_m: float | None
    all_the_way: bool
    speed_lost_m: float | None
    still_held_m: float | None
    next_place: Place | None
    speed_there_mps: float | None
    detail: dict[str, float | str] = field(default_factory=dict)


@dataclass(frozen=True)
class ReplanLevel:
    """The rest of the plan under one set of instructions: step 0 as planned, 1 and up slower.

    legs: (start_m, end_m, gear name, control speed [m/s], retarder stage); threshold_c (n,) [C]: hottest brakes with which
    one may move off at each station of the table so that every limit still holds (-inf: with none); rest_s (n,) [s]: time
    from there, planned stops included.
    """

    step: int
    legs: tuple[tuple[float, float, str, float, int], ...]
    threshold_c: FloatArray
    rest_s: FloatArray


@dataclass(frozen=True)
class ReplanTable:
    """How to go on from any station (n,): planned_c and likely_c (n,) [C], hottest brakes as planned (arriving) and their
    95th percentile; cool_1ps (n,) [1/s]: rate at which the slowest brakes cool standing there; halts: (station_m, name) of
    places to stand."""

    station_m: FloatArray
    planned_c: FloatArray
    likely_c: FloatArray
    cool_1ps: FloatArray
    air_temp_c: float
    limit_c: float
    fade_onset_c: float
    levels: tuple[ReplanLevel, ...]
    halts: tuple[tuple[float, str], ...]


@dataclass(frozen=True)
class Sensitivity:
    """What one small change of one input does to the plan: degrees at its hottest place if it is driven as it is [K], and
    trip time of the best plan with the same reserve [s] (None: there is none). per: the change, as data."""

    what: str
    per: float
    unit: str
    change_k: float
    change_s: float | None
