# SPDX-License-Identifier: MIT
"""Joins the parts of a file into one line in travel order: turned, put in order, gaps bridged or refused.

The order of the file counts where the parts meet in it; otherwise they are chained by their ends. Turning any
of the parts gives the same line, except for a single part, whose drawn direction is the direction of travel.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from descent.route.chaining import APART_REMEDY, chain_by_ends
from descent.route.faultbook import FaultBook
from descent.route.features import Part, PartOrder
from descent.route.line import WGS84
from descent.route.text import length_text, place_text

MEETING_M = 2.0
GAP_LIMIT_M = 250.0
SAME_POINT_M = 1.0

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Turned:
    """A part as it is driven; turned: against the direction it was drawn in; number: its index in the file."""

    part: Part
    turned: bool
    number: int

    def ends(self) -> tuple[float, float, float, float]:
        """(lon, lat) of the start and of the end, in travel order."""
        lon, lat = self.part.lon, self.part.lat
        first, last = (-1, 0) if self.turned else (0, -1)
        return float(lon[first]), float(lat[first]), float(lon[last]), float(lat[last])


def distance_m(from_lon: float, from_lat: float, to_lon: float, to_lat: float) -> float:
    """Geodesic distance between two points [m]."""
    return float(WGS84.inv(from_lon, from_lat, to_lon, to_lat)[2])


def _gap_m(before: Turned, after: Turned) -> float:
    _, _, lon, lat = before.ends()
    start_lon, start_lat, _, _ = after.ends()
    return distance_m(lon, lat, start_lon, start_lat)


def drop_duplicates(parts: Sequence[Part], order: PartOrder, mended: list[str]) -> list[int]:
    """Indices of the parts that say something new; a part drawn twice, either way, is kept once.

    In a recording only a repetition in the same direction right after the first is one.
    """
    kept: list[int] = []
    seen: dict[tuple[int, int, int], list[int]] = {}
    for number, part in enumerate(parts):
        key = (len(part.lon), round(float(part.lon.mean()) * 10_000), round(float(part.lat.mean()) * 10_000))
        near = [other for step in _neighbours(key) for other in seen.get(step, ())]
        twin = next((other for other in near if (order is PartOrder.UNORDERED or other == kept[-1])
                     and _same(parts[other], part, order)), None)
        if twin is None:
            kept.append(number)
            seen.setdefault(key, []).append(number)
        else:
            mended.append(f"{part.place} repeats {parts[twin].place} and was left out; draw a road driven both "
                          "ways as one line")
    return kept


def _neighbours(key: tuple[int, int, int]) -> list[tuple[int, int, int]]:
    count, lon, lat = key
    return [(count, lon + east, lat + north) for east in (-1, 0, 1) for north in (-1, 0, 1)]


def _far(one: Part, other: Part, at: int, other_at: int) -> bool:
    """Whether two points are surely farther apart than `SAME_POINT_M`: a quick look before a geodesic."""
    return bool(abs(one.lat[at] - other.lat[other_at]) > 1e-4 or abs(one.lon[at] - other.lon[other_at]) > 1e-3)


def _same(one: Part, other: Part, order: PartOrder) -> bool:
    near = not (_far(one, other, 0, 0) or _far(one, other, -1, -1))
    if near and _worst_m(one.lon, one.lat, other.lon, other.lat) <= SAME_POINT_M:
        return True
    if order is PartOrder.RECORDED or _far(one, other, 0, -1) or _far(one, other, -1, 0):
        return False
    return _worst_m(one.lon, one.lat, other.lon[::-1], other.lat[::-1]) <= SAME_POINT_M


def _worst_m(lon: FloatArray, lat: FloatArray, other_lon: FloatArray, other_lat: FloatArray) -> float:
    return float(np.max(WGS84.inv(lon, lat, other_lon, other_lat)[2]))


def directions_in_file_order(parts: Sequence[Part], numbers: Sequence[int]) -> list[Turned]:
    """Each part turned so that the gaps between parts, taken in the given order, add up to the least.

    Among equal sums the one that turns the shortest length against its drawing.
    """
    options = [[Turned(parts[number], turned, number) for turned in (False, True)] for number in numbers]
    cost = [(0.0, 0.0), (0.0, _size(options[0][0]))]
    back: list[tuple[int, int]] = []
    for before, after in pairwise(options):
        new_cost, choice = [], []
        for option in after:
            ways = [(round(cost[i][0] + _gap_m(before[i], option), 3),
                     cost[i][1] + (_size(option) if option.turned else 0.0)) for i in (0, 1)]
            best = 0 if ways[0] <= ways[1] else 1
            new_cost.append(ways[best])
            choice.append(best)
        cost = new_cost
        back.append((choice[0], choice[1]))
    state = 0 if cost[0] <= cost[1] else 1
    states = [state]
    for step in reversed(back):
        state = step[state]
        states.append(state)
    return [pair[state] for pair, state in zip(options, reversed(states), strict=True)]


def _size(turned: Turned) -> float:
    part = turned.part
    return float(np.sum(np.hypot(np.diff(part.lon), np.diff(part.lat))))


def join_parts(parts: Sequence[Part], order: PartOrder, faults: FaultBook, mended: list[str], *,
               gap_limit_m: float = GAP_LIMIT_M) -> list[Turned]:
    """The parts in travel order. What was put right goes to `mended`, what cannot be joined to `faults`.

    Fault codes: parts-apart (parts that do not meet, with the place and the gap), parts-branch (three or more
    ends meet in one place).
    """
    numbers = drop_duplicates(parts, order, mended)
    timed = order is PartOrder.RECORDED and any(part.time_s is not None for part in parts)
    if timed or len(numbers) == 1:
        line = [Turned(parts[number], False, number) for number in numbers]
    else:
        line = directions_in_file_order(parts, numbers)
        if any(_gap_m(before, after) > MEETING_M for before, after in pairwise(line)):
            numbers = _long_enough(parts, numbers, mended)
            chain = chain_by_ends([parts[number] for number in numbers], faults,
                                  meeting_m=MEETING_M, gap_limit_m=gap_limit_m)
            if faults:
                return line
            line = [Turned(parts[numbers[index]], turned, numbers[index]) for index, turned in chain]
    _say_what_was_done(line, mended)
    _say_gaps(line, faults, mended, gap_limit_m)
    return line


def _long_enough(parts: Sequence[Part], numbers: list[int], mended: list[str]) -> list[int]:
    """Without the parts so short that their two ends cannot be told apart."""
    kept = [number for number in numbers
            if float(np.sum(WGS84.inv(parts[number].lon[:-1], parts[number].lat[:-1],
                                      parts[number].lon[1:], parts[number].lat[1:])[2])) > 2 * MEETING_M]
    if len(kept) < len(numbers) and kept:
        mended.append(f"{len(numbers) - len(kept)} parts shorter than {2 * MEETING_M:.0f} m were left out")
        return kept
    return numbers


def _say_what_was_done(line: Sequence[Turned], mended: list[str]) -> None:
    turned = sum(part.turned for part in line)
    if turned:
        mended.append(f"{turned} of {len(line)} parts were drawn against the direction of travel and were turned")
    if any(after.number < before.number for before, after in pairwise(line)):
        mended.append(f"the {len(line)} parts were not in travel order and were put in it")


def _say_gaps(line: Sequence[Turned], faults: FaultBook, mended: list[str], gap_limit_m: float) -> None:
    for before, after in pairwise(line):
        gap_m = _gap_m(before, after)
        _, _, lon, lat = before.ends()
        if gap_m > gap_limit_m:
            start_lon, start_lat, _, _ = after.ends()
            faults.add("parts-apart", f"{before.part.place} ends at {place_text(lon, lat)} and {after.part.place} "
                       f"goes on at {place_text(start_lon, start_lat)}, more than {length_text(gap_limit_m)} away",
                       APART_REMEDY,
                       value=length_text(gap_m))
        elif gap_m > MEETING_M:
            mended.append(f"a gap of {length_text(gap_m)} at {place_text(lon, lat)}, between {before.part.place} "
                          f"and {after.part.place}, was bridged by a straight line")
