# SPDX-License-Identifier: MIT
"""How sure a plan is: draws of truck, day and road; and the fastest plan whose chance of passing the limit is accepted."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from descent.physics.cell_kernel import MASS
from descent.physics.foundation_brake import FREE_STROKE, GAIN
from descent.physics.march_draws import DrawPeaks
from descent.plan.chance import Chance, upper_bound
from descent.plan.doubt import Risk
from descent.plan.draw_bench import Bench, bench
from descent.plan.model import Reason, Task
from descent.plan.planner import Found, Nothing, Workshop, find
from descent.plan.verify import excess_k

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Progress = Callable[[str], None]
SCOUTS = 250               # draws of the first plan, from which the reserves to try are taken
RESERVES = (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.35, 1.5, 1.75, 2.0, 2.5, 3.0)
SKIPPED_BELOW = 0.7        # of the multiple the scouts ask for: less is not tried
ENOUGH = 2                 # candidates that may be right, before the fastest of them is checked with every draw
THREADS = 2
REFINEMENTS, BETWEEN = 2, 4    # rounds of multiples tried between the accepted one and the next lower, and how many in each
FRESH = 0x5EED             # added to the seed for the draws that judge the plan which the others chose
SURE = 0.999               # confidence of the bound that the judges' draws must keep: so many plans are judged over the years
MORE = 2                   # times as many draws again where the first of the judges leave it open
CLEARLY = 0.6              # of the accepted chance: under it the choosing draws need no second opinion
LARGEST_RESERVE_K = 150.0
BAND = (5.0, 50.0, 95.0)
RANKS = (5, 50, 90, 95, 99)


@dataclass(frozen=True)
class Within:
    """A plan whose chance of passing the limit is accepted, how sure it is, and by how much each row's limit was lowered
    to find it (n_rows,) [K]."""

    found: Found
    risk: Risk
    reserve_k: FloatArray


@dataclass(frozen=True)
class TooRisky:
    """No plan is accepted: how sure the fastest nominal plan is, and how sure the best that was tried; asked_k (n_rows,)
    [K]: the reserve that the draws of the nominal plan ask for."""

    nominal: Risk
    best: Risk
    asked_k: FloatArray


def too_risky(chance: Chance | None, weighed: TooRisky) -> Reason:
    """Why no plan is accepted, as data."""
    assert chance is not None
    values: dict[str, float | str] = {"accepted": chance.accepted, "draws": float(chance.draws),
                                      "nominal": weighed.nominal.probability, "upper": weighed.best.upper_95,
                                      "fading": float(weighed.best.fading)}
    return Reason("too-risky" if chance.allowed >= 0 else "chance-too-small", values)


def risk_of(rig: Bench, found: Found, *, nominal_s: float | None = None) -> Risk:
    """How sure one plan is. nominal_s [s]: time of the plan that asks nothing of chance."""
    return _told(rig, found, rig.drive(found.solution), rig.nodes[rig.keep], nominal_s)


def _told(rig: Bench, found: Found, peaks: DrawPeaks, kept: IntArray, nominal_s: float | None) -> Risk:
    count, over = len(peaks.over), int(peaks.over.sum())
    hottest = np.nan_to_num(peaks.hottest_c, nan=1e4)
    low, middle, high = np.percentile(hottest, BAND, axis=0)
    station = rig.shop.task.profile.station_m[kept]
    most = hottest.max(axis=1)
    total = found.trace.total_time_s
    return Risk(count, rig.chance.seed, rig.chance.accepted, over / count, upper_bound(over, count),
                int(peaks.fading.sum()), {rank: float(np.percentile(most, rank)) for rank in RANKS},
                total if nominal_s is None else nominal_s, total, station, low, middle, high)


def accepted(risk: Risk) -> bool:
    """The upper bound of the chance of passing the limit is at most the accepted one, and no draw reaches fade onset."""
    return risk.upper_95 <= risk.accepted and risk.fading == 0


def find_within(shop: Workshop, chance: Chance, nominal: Found, *, progress: Progress | None = None) -> Within | TooRisky:
    """The fastest plan tried whose chance is accepted: the nominal one, else the same search with limits lowered.

    Lowered row by row in the proportion in which the draws of the nominal plan pass its own peaks, by rising multiples;
    time is not monotone in them, so some more are tried after the first that may do. Candidates are sifted with the draws
    that look worst (a subset: no good one is lost), the fastest is then checked with all.
    """
    rig = bench(shop, chance).settled(nominal.solution)
    first = rig.drive(nominal.solution, which=np.arange(min(SCOUTS, chance.draws)))
    if chance.allowed < 0:
        risk = risk_of(rig, nominal)
        return TooRisky(risk, risk, np.zeros(first.excess_k.shape[1]))
    scan = _Scan(rig, nominal, _worst_first(rig, first)[:int(max(64, 1.5 * chance.allowed + 16))])
    direction = _direction(shop.task, nominal, first)
    asked = _asked_for(chance, first, direction)
    below = [share for share in RESERVES if share < SKIPPED_BELOW * asked]
    for number, share in enumerate((0.0, *RESERVES[len(below):])):
        if progress is not None:
            progress(f"weighing the chance, reserve {number + 1}")
        found = nominal if share == 0.0 else find(shop, reserve_k=share * direction)
        if isinstance(found, Nothing):
            break
        scan.add(found, share * direction, share=share)
        if (chosen := scan.settled(ENOUGH if number else 1)) is not None:     # the nominal plan is the fastest there is
            if number:
                _refine(shop, scan, direction, chosen, progress)
            if (answer := scan.judged()) is not None:
                return answer
    for share in reversed(below) if scan.tried < 2 else ():        # what was skipped, the largest that has a way down
        found = find(shop, reserve_k=share * direction)
        if isinstance(found, Found):
            scan.add(found, share * direction, share=share)
            break
    if (chosen := scan.settled(1)) is not None:
        _refine(shop, scan, direction, chosen, progress)
    return scan.judged() or scan.left_open() or TooRisky(risk_of(rig, nominal), scan.best(), max(asked, 0.0) * direction)


def _refine(shop: Workshop, scan: _Scan, direction: FloatArray, chosen: Within, progress: Progress | None) -> None:
    """Look for faster plans at multiples between the chosen plan's and the next lower tried one."""
    row = int(np.argmax(direction))
    for _ in range(REFINEMENTS):
        share = float(chosen.reserve_k[row] / direction[row])
        lower = max((one for one in scan.shares if one < share - 1e-9), default=0.0)
        multiples = np.linspace(lower, share, BETWEEN + 2)[1:-1]
        if progress is not None:
            progress(f"weighing the chance, reserves {scan.tried + 1} to {scan.tried + BETWEEN}")
        with ThreadPoolExecutor(THREADS) as pool:
            outcomes = list(pool.map(lambda multiple: find(shop, reserve_k=multiple * direction), multiples))
        for multiple, found in zip(multiples, outcomes, strict=True):
            if isinstance(found, Found):
                scan.add(found, multiple * direction, share=float(multiple))
        better = scan.settled(1, faster_than_s=chosen.found.trace.total_time_s)
        if better is None:
            return
        chosen = better


class _Scan:
    """The plans tried so far: those that may do, and how sure those were that did not."""

    def __init__(self, rig: Bench, nominal: Found, worst: IntArray) -> None:
        self._rig, self._worst, self._nominal_s = rig, worst, nominal.trace.total_time_s
        self._judges: list[Bench] = []
        self._open: list[Within] = []
        self._passed: list[Within] = []
        self._seen: set[tuple[object, ...]] = set()
        self._hopeful: list[tuple[Found, FloatArray]] = []
        self._failed: list[Risk] = []
        self._last = nominal
        self.shares: list[float] = []

    @property
    def tried(self) -> int:
        """How many different plans were tried."""
        return len(self._seen)

    def add(self, found: Found, reserve_k: FloatArray, *, share: float) -> None:
        """Sift one plan, found with this multiple of the direction, with the worst draws."""
        self.shares.append(share)
        key = (found.solution.legs, tuple((stop.node, stop.minutes) for stop in found.solution.stops))
        if key in self._seen:
            return
        self._seen.add(key)
        self._last = found
        peaks = self._rig.drive(found.solution, which=self._worst)
        if int(peaks.over.sum()) <= self._rig.chance.allowed and not peaks.fading.any():
            self._hopeful.append((found, reserve_k))

    def settled(self, at_least: int, *, faster_than_s: float = np.inf) -> Within | None:
        """The fastest of those that may do and, with every draw, does, kept for `judged`; None while fewer than `at_least`
        wait, and where none is faster than asked."""
        self._hopeful = [one for one in self._hopeful if one[0].trace.total_time_s < faster_than_s - 0.5]
        while len(self._hopeful) >= at_least:
            place = min(range(len(self._hopeful)), key=lambda at: self._hopeful[at][0].trace.total_time_s)
            found, reserve = self._hopeful.pop(place)
            risk = risk_of(self._rig, found, nominal_s=self._nominal_s)
            if accepted(risk):
                self._passed.append(Within(found, risk, reserve))
                return self._passed[-1]
            self._failed.append(risk)
        return None

    def judged(self) -> Within | None:
        """The fastest of those that passed on the draws that chose them and surely passes on others too; each is judged once."""
        while self._passed:
            place = min(range(len(self._passed)), key=lambda at: self._passed[at].found.trace.total_time_s)
            chosen = self._passed.pop(place)
            if chosen.risk.upper_95 <= CLEARLY * chosen.risk.accepted:
                return chosen
            risk, sure = self._second_opinion(chosen.found, chosen.risk)
            if sure:
                return replace(chosen, risk=risk)
            if accepted(risk):
                self._open.append(replace(chosen, risk=risk))
            else:
                self._failed.append(risk)
        return None

    def left_open(self) -> Within | None:
        """Where no plan is surely within the accepted chance: the least risky of those whose upper 95 % bound is."""
        return min(self._open, key=lambda one: one.risk.probability, default=None)

    def _second_opinion(self, found: Found, risk: Risk) -> tuple[Risk, bool]:
        """How sure a chosen plan is by draws that had no part in choosing it, on the road's own cells, and whether even their
        99.9 % bound is accepted: of many plans the one that just passes on its own draws is likelier to have been lucky, of
        many just passed by judges some are too, and longer cells flatter all a little."""
        peaks, kept, told = None, None, risk
        for number in range(2):
            rig = self._judge(number)
            own, kept = rig.sifted(found.solution)
            peaks = own if peaks is None else peaks.and_others(own)
            told = replace(_told(rig, found, peaks, kept, self._nominal_s), seed=risk.seed)
            sure = accepted(told) and upper_bound(int(peaks.over.sum()), told.draws, SURE) <= told.accepted
            if sure or not accepted(told):
                return told, sure
        return told, False

    def _judge(self, number: int) -> Bench:
        """The first draws that judge, or the more that follow."""
        while len(self._judges) <= number:
            chance = self._rig.chance
            self._judges.append(bench(self._rig.shop, replace(
                chance, seed=chance.seed + FRESH + len(self._judges), draws=chance.draws * (MORE if self._judges else 1)),
                cell_m=self._rig.shop.task.profile.spacing_m))
        return self._judges[number]

    def best(self) -> Risk:
        """How sure the best plan is that was tried in vain."""
        found = self._failed or [risk_of(self._rig, self._last, nominal_s=self._nominal_s)]
        return min(found, key=lambda risk: risk.upper_95)


def _direction(task: Task, nominal: Found, first: DrawPeaks) -> FloatArray:
    """How far each row's draws reach above the nominal peak (n_rows,) [K]: their 95th percentile, at least 1 K."""
    lift = np.nan_to_num(first.excess_k, posinf=LARGEST_RESERVE_K) - np.maximum(excess_k(task, nominal.trace), -1e3)
    return np.clip(np.percentile(lift, 95.0, axis=0), 1.0, LARGEST_RESERVE_K)


def _asked_for(chance: Chance, first: DrawPeaks, direction: FloatArray) -> float:
    """The multiple of `direction` that would bring enough of the scouts under the limit if their peaks fell by it."""
    needed = np.sort((np.nan_to_num(first.excess_k, posinf=10 * LARGEST_RESERVE_K) / direction).max(axis=1))
    return float(needed[-1 - min(chance.allowed * len(needed) // chance.draws, len(needed) - 1)])


def _worst_first(rig: Bench, first: DrawPeaks) -> IntArray:
    """All draws, those expected to pass the limit most first: row by row a straight-line fit over the draws driven."""
    draws = rig.draws
    known = len(first.over)
    columns = [np.ones(draws.count), draws.scalars[:, MASS], draws.retarder_share, draws.air_temp_c,
               draws.grade_error.mean(axis=1), *np.log(draws.rows[:, :, GAIN]).T, *draws.rows[:, :, FREE_STROKE].T]
    features = np.column_stack(columns)
    scale = np.where(features.std(axis=0) > 0, features.std(axis=0), 1.0)
    features = np.column_stack([features[:, 0], ((features - features.mean(axis=0)) / scale)[:, 1:]])
    seen = np.nan_to_num(first.excess_k, posinf=LARGEST_RESERVE_K)
    fit = np.linalg.lstsq(features[:known], seen, rcond=None)[0]
    expected = (features @ fit).max(axis=1)
    expected[:known] = seen.max(axis=1)
    return np.argsort(-expected, kind="stable")
