# SPDX-License-Identifier: MIT
"""Cut the road into sections: stretches of downgrade between places to stop, and the road between them."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from descent.plan.model import Task
from descent.route.places import Place

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
    `start`; check: a brake check is made at this node inside the section (or None)."""

    start: int
    end: int
    kind: SectionKind
    group: int = -1
    halt: Halt | None = None
    check: Halt | None = None


@dataclass(frozen=True)
class Group:
    """Downgrades that follow each other without a real flat: no gear change between its ends but at a stop."""

    start: int
    end: int
    crest: int
    numbers: tuple[int, ...]


def halts(task: Task) -> tuple[Halt, ...]:
    """Places flat enough for hot brakes, on the driving side or of unknown side, off structures, in travel order."""
    found = []
    for place in task.places:
        grade = task.local_grade(place)
        on_structure = any(item.start_m <= place.station_m <= item.end_m for item in task.profile.structures)
        if place.kind in PARKING_KINDS and place.side != "left" and abs(grade) <= task.rules.park_grade \
                and not on_structure:
            found.append(Halt(task.profile.index_at(place.station_m), place, grade))
    return tuple(sorted(found, key=lambda halt: halt.node))


def _longest_flat(flat: NDArray[np.bool_], start: int, end: int) -> tuple[int, int]:
    best = (start, start)
    begin = -1
    for node in range(start, end + 1):
        if flat[node] and begin < 0:
            begin = node
        if begin >= 0 and (not flat[node] or node == end):
            stop = node if flat[node] else node - 1
            if stop - begin > best[1] - best[0]:
                best = (begin, stop)
            begin = -1
    return best


def groups(task: Task) -> tuple[Group, ...]:
    """Chain the sustained downgrades; a chain ends where a real flat is long enough to change gear on the move."""
    profile, rules = task.profile, task.rules
    flat = task.steep_grade >= rules.flat_grade
    lead = max(1, round(rules.gear_lead_m / profile.spacing_m))
    chains: list[Group] = []
    places = halts(task)
    for item in task.downgrades:
        crest, foot = profile.index_at(item.start_m), profile.index_at(item.end_m)
        start = max(0, crest - lead)
        if chains:
            last = chains[-1]
            begin, stop = _longest_flat(flat, last.end, crest)
            if (stop - begin) * profile.spacing_m < rules.flat_length_m:
                chains[-1] = Group(last.start, foot, last.crest, (*last.numbers, item.number))
                continue
            start = max(start, begin + 1, last.end)
            resting = [halt.node for halt in places if last.end <= halt.node <= crest]
            if resting:                       # the gear for what follows is chosen where the vehicle can stand
                start = resting[-1]
            if (crest - last.end) * profile.spacing_m <= rules.connector_m:
                chains[-1] = Group(last.start, start, last.crest, last.numbers)
        chains.append(Group(start, foot, crest, (item.number,)))
    return tuple(chains)


def _run_out(task: Task, chain: Group, limit: int) -> tuple[int, int]:
    """Where the run-out after a chain begins (the first real flat, where a gear may be changed) and ends."""
    rules, spacing = task.rules, task.profile.spacing_m
    flat = task.steep_grade >= rules.flat_grade
    need = max(1, round(rules.flat_length_m / spacing))
    begin = chain.end
    furthest = min(limit, chain.end + round(rules.connector_m / spacing))
    while begin < furthest and not flat[begin:begin + need].all():
        begin += 1
    return begin, min(limit, begin + round(rules.run_out_m / spacing))


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
        check = _brake_check(task, places, chain, at)
        if chain.start > at:
            cut.append(Section(at, chain.start, SectionKind.CRUISE, check=check))
        following = chains[number + 1].start if number + 1 < len(chains) else last
        end, out = (chain.end, chain.end) if following == chain.end else _run_out(task, chain, following)
        begin, halt = chain.start, next((item for item in places if item.node == chain.start), None)
        for inside in (item for item in places if chain.start < item.node < end):
            if inside.node > begin:
                cut.append(Section(begin, inside.node, SectionKind.DOWNGRADE, number, halt))
                begin, halt = inside.node, inside
        cut.append(Section(begin, end, SectionKind.DOWNGRADE, number, halt))
        if out > end:
            cut.append(Section(end, out, SectionKind.RUN_OUT, number))
        at = out
    if at < last:
        cut.append(Section(at, last, SectionKind.CRUISE))
    return tuple(cut)


def _brake_check(task: Task, places: tuple[Halt, ...], chain: Group, after: int) -> Halt | None:
    reach = task.rules.brake_check_reach_m / task.profile.spacing_m
    before = [halt for halt in places if after < halt.node < chain.start and chain.start - halt.node <= reach]
    areas = [halt for halt in before if halt.place.kind == "brake-check-area"]
    choice = areas or before
    return choice[-1] if choice else None
