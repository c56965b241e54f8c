# SPDX-License-Identifier: MIT
"""Cut the road into sections: stretches of downgrade between places to stop, and the road between them."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from descent.plan.model import Task
from descent.route.places import Place

COOL_DOWN = "cool-down"
PARKING_KINDS = frozenset({"pull-out", "brake-check-area", "rest-area", "chain-up-area", "scale"})


@dataclass(frozen=True)
class Halt:
    """A place where the vehicle may stand with hot brakes: its station index and the grade it stands on."""

    node: int
    place: Place
    grade: float


class SectionKind(Enum):
    """What a section is: a piece of a chain of downgrades, the run-out after one, or the road between."""

    DOWNGRADE = "downgrade"
    RUN_OUT = "run-out"
    CRUISE = "cruise"


@dataclass(frozen=True)
class Section:
    """Nodes start to end. group: which chain of downgrades it belongs to (-1 for cruise). halt: a stop is possible at
    `start`; check: where a brake check is made, inside a cruise or at the start of a downgrade (then every vehicle stops
    there), or None."""

    start: int
    end: int
    kind: SectionKind
    group: int = -1
    halt: Halt | None = None
    check: Halt | None = None


@dataclass(frozen=True)
class Group:
    """Downgrades that follow each other without a real flat: no gear change between its ends but at a stop. check:
    where the brakes are checked before its crest."""

    start: int
    end: int
    crest: int
    numbers: tuple[int, ...]
    check: Halt | None = None


def halts(task: Task) -> tuple[Halt, ...]:
    """Places where hot brakes may stand, in travel order (see `usable`)."""
    found = [Halt(task.profile.index_at(place.station_m), place, task.local_grade(place)) for place in task.places
             if usable(task, place) == COOL_DOWN]
    return tuple(sorted(found, key=lambda halt: halt.node))


def usable(task: Task, place: Place) -> str | None:
    """What a place is good for: "cool-down", or why not ("other side", "too steep", "on a structure", "too short"); None
    where it is no place to stop at all. A place of unknown side or room is taken; right-hand traffic is assumed."""
    if place.kind not in PARKING_KINDS:
        return None
    if place.side == "left":
        return "other side"
    if any(item.start_m <= place.station_m <= item.end_m for item in task.profile.structures):
        return "on a structure"
    if abs(task.local_grade(place)) > task.rules.park_grade:
        return "too steep"
    if place.room_m is not None and place.room_m < task.vehicle.length_m:
        return "too short"
    return COOL_DOWN


def _longest_flat(flat: NDArray[np.bool_], start: int, end: int) -> tuple[int, int]:
    """First and last node of the longest run of flat nodes between two nodes."""
    inside = np.concatenate([[0], flat[start:end + 1].astype(np.int8), [0]])
    begins, ends = np.flatnonzero(np.diff(inside) == 1), np.flatnonzero(np.diff(inside) == -1) - 1
    if not len(begins) or int((ends - begins).max()) == 0:
        return start, start
    longest = int(np.argmax(ends - begins))
    return start + int(begins[longest]), start + int(ends[longest])


def groups(task: Task) -> tuple[Group, ...]:
    """Chain the sustained downgrades; a chain ends where a real flat is long enough to change gear on the move.

    A chain starts on that flat, a lead before its crest; or at the brake check or halt shortly before the crest, where
    the gear is chosen standing.
    """
    profile, rules = task.profile, task.rules
    flat = task.steep_grade >= rules.flat_grade
    lead = max(1, round(rules.gear_lead_m / profile.spacing_m))
    chains: list[Group] = []
    places = halts(task)
    for item in task.downgrades:
        crest, foot = profile.index_at(item.start_m), profile.index_at(item.end_m)
        start, since = max(0, crest - lead), 0
        if chains:
            last = chains[-1]
            since = last.end
            begin, stop = _longest_flat(flat, since, crest)
            if (stop - begin) * profile.spacing_m < rules.flat_length_m:
                chains[-1] = Group(last.start, foot, last.crest, (*last.numbers, item.number), last.check)
                continue
            start = min(max(start, begin + 1), stop)
        check = _brake_check(task, places, since, crest)
        near = rules.chosen_at_check_m / profile.spacing_m
        resting = [halt for halt in places if since < halt.node <= crest and crest - halt.node <= near]
        if check is not None and crest - check.node <= near:
            start = check.node
        elif resting and chains:
            start = resting[-1].node
        if chains and (start - since) * profile.spacing_m <= rules.connector_m:
            last = chains[-1]
            chains[-1] = Group(last.start, start, last.crest, last.numbers, last.check)
        chains.append(Group(start, foot, crest, (item.number,), check))
    return tuple(chains)


def _brake_check(task: Task, places: tuple[Halt, ...], since: int, crest: int) -> Halt | None:
    """The last brake check area before a crest, else the last halt, within reach and after the chain before."""
    reach = task.rules.brake_check_reach_m / task.profile.spacing_m
    before = [halt for halt in places if since < halt.node <= crest and crest - halt.node <= reach]
    areas = [halt for halt in before if halt.place.kind == "brake-check-area"]
    choice = areas or (before if since == 0 else [])
    return choice[-1] if choice else None


def _run_out(task: Task, chain: Group, limit: int) -> tuple[int, int]:
    """Where the run-out after a chain begins (the first real flat, where a gear may be changed) and ends."""
    rules, spacing = task.rules, task.profile.spacing_m
    flat = task.steep_grade >= rules.flat_grade
    need = max(1, round(rules.flat_length_m / spacing))
    count = np.concatenate([[0], np.cumsum(flat)])
    first = np.arange(chain.end, limit)
    real = np.flatnonzero(count[np.minimum(first + need, len(flat))] - count[first] == np.minimum(need, len(flat) - first))
    begin = chain.end + int(real[0]) if len(real) else max(limit, chain.end)
    return begin, min(limit, begin + round(rules.run_out_m / spacing))


def _road_between(task: Task, start: int, end: int, check: Halt | None, group: int) -> list[Section]:
    """Cruise from start to end, with stretches that fall gently but long cut out: there an instruction may be needed
    though no downgrade is sustained."""
    rules, profile = task.rules, task.profile
    window = max(1, round(1000.0 / profile.spacing_m))
    height = np.concatenate([[0.0], np.cumsum(task.steep_grade)]) * profile.spacing_m
    mean = (height[window:] - height[:-window]) / (window * profile.spacing_m)
    gentle = np.zeros(len(task.steep_grade), dtype=bool)
    marks = np.zeros(len(gentle) + 1, dtype=np.int64)
    falls = np.flatnonzero(mean <= rules.gentle_grade)
    np.add.at(marks, falls, 1)
    np.add.at(marks, np.minimum(falls + window, len(gentle)), -1)
    gentle |= np.cumsum(marks[:-1]) > 0
    least = round(rules.gentle_length_m / profile.spacing_m)
    cut, at = [], start
    inside = np.concatenate([[0], gentle[start:end].astype(np.int8), [0]])
    for node, stop in zip(start + np.flatnonzero(np.diff(inside) == 1), start + np.flatnonzero(np.diff(inside) == -1),
                          strict=True):
        if stop - node >= least:
            cut += [(at, int(node), SectionKind.CRUISE), (int(node), int(stop), SectionKind.RUN_OUT)]
            at = int(stop)
    cut.append((at, end, SectionKind.CRUISE))
    return [Section(a, b, kind, -1 if kind is SectionKind.CRUISE else group - a,
                    check=check if check is not None and a < check.node < b else None)
            for a, b, kind in cut if b > a]


def sections(task: Task, chains: tuple[Group, ...]) -> tuple[Section, ...]:
    """The whole road as sections in travel order, cut at the ends of the chains and at the halts inside them.

    After a chain its instruction holds to the first real flat; then comes a run-out, where hot brakes may ask for
    less speed than is posted, then cruise.
    """
    places = halts(task)
    last = len(task.profile.station_m) - 1
    cut: list[Section] = []
    at = 0
    for number, chain in enumerate(chains):
        if chain.start > at:
            cut += _road_between(task, at, chain.start, chain.check, -1000)
        following = chains[number + 1].start if number + 1 < len(chains) else last
        end, out = (chain.end, chain.end) if following == chain.end else _run_out(task, chain, following)
        begin, halt = chain.start, next((item for item in places if item.node == chain.start), None)
        standing = chain.check is not None and chain.check.node == chain.start
        for inside in (item for item in places if chain.start < item.node < end):
            if inside.node > begin:
                cut.append(Section(begin, inside.node, SectionKind.DOWNGRADE, number, halt,
                                   chain.check if standing and begin == chain.start else None))
                begin, halt = inside.node, inside
        cut.append(Section(begin, end, SectionKind.DOWNGRADE, number, halt,
                           chain.check if standing and begin == chain.start else None))
        if out > end:
            cut.append(Section(end, out, SectionKind.RUN_OUT, number))
        at = out
    if at < last:
        cut += _road_between(task, at, last, None, -1000)
    return tuple(cut)
