# SPDX-License-Identifier: MIT
"""Chains parts whose order in the file means nothing by the places where their ends meet."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from descent.route.faultbook import FaultBook
from descent.route.features import Part
from descent.route.text import length_text, place_text

EARTH_RADIUS_M = 6_371_000.0
CROWD = 20
APART_REMEDY = "Draw the missing stretch, keep one connected road in the file, or name one line of it as FILE#NAME"
if TYPE_CHECKING:
    from scipy.spatial import cKDTree

Step = tuple[int, bool]
FloatArray = NDArray[np.float64]


def _end_vectors(parts: Sequence[Part]) -> FloatArray:
    """Ends on a sphere, (2n, 3) [m]: row 2i the drawn start of part i, 2i + 1 its end; no seam at 180 degrees."""
    lon = np.radians([part.lon[i] for part in parts for i in (0, -1)])
    lat = np.radians([part.lat[i] for part in parts for i in (0, -1)])
    return EARTH_RADIUS_M * np.column_stack([np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)])


def chain_by_ends(parts: Sequence[Part], faults: FaultBook, *, meeting_m: float,
                  gap_limit_m: float) -> list[Step]:
    """All parts in one chain: (index, turned) in travel order, or [] with faults written down.

    Ends within `meeting_m` are one place; then the nearest loose ends within `gap_limit_m` are linked. The
    chain runs the way in which the file's order mostly rises, else the way most of its length was drawn.
    """
    from scipy.spatial import cKDTree  # heavy, and most files hold one line

    vectors = _end_vectors(parts)
    tree = cKDTree(vectors)
    links: dict[int, int] = {}
    if not _link_meeting(parts, tree, meeting_m, links, faults):
        return []
    _link_nearest(vectors, gap_limit_m, links)
    chains = _walk(len(parts), links)
    if len(chains) > 1:
        _say_apart(parts, vectors, chains, faults, gap_limit_m)
        return []
    return _settle_direction(parts, chains[0], closed=len(links) == 2 * len(parts))


class _Groups:
    """Disjoint groups of numbers that are merged step by step (union-find)."""

    def __init__(self, count: int) -> None:
        self.root = list(range(count))

    def find(self, number: int) -> int:
        while self.root[number] != number:
            self.root[number] = self.root[self.root[number]]
            number = self.root[number]
        return number

    def merge(self, one: int, other: int) -> None:
        self.root[self.find(one)] = self.find(other)


def _link_meeting(parts: Sequence[Part], tree: cKDTree, meeting_m: float, links: dict[int, int],
                  faults: FaultBook) -> bool:
    if tree.count_neighbors(tree, meeting_m) > CROWD * tree.n:
        faults.add("parts-branch", "far too many ends meet in the same places",
                   "Keep only the parts that are driven, in the order they are driven")
        return False
    groups = _Groups(tree.n)
    for one, other in sorted(tree.query_pairs(meeting_m)):
        if one // 2 != other // 2:
            groups.merge(one, other)
    places: dict[int, list[int]] = defaultdict(list)
    for end in range(tree.n):
        places[groups.find(end)].append(end)
    branches = sorted(ends for ends in places.values() if len(ends) > 2)
    for ends in branches:
        part, at = parts[ends[0] // 2], -(ends[0] % 2)
        names = ", ".join(parts[end // 2].place for end in ends[:6])
        faults.add("parts-branch", f"{len(ends)} ends meet at {place_text(part.lon[at], part.lat[at])} ({names}), "
                   "so the way through is not clear",
                   "Keep only the parts that are driven, in the order they are driven", value=f"{len(ends)} ends")
    for ends in places.values():
        if len(ends) == 2:
            links[ends[0]], links[ends[1]] = ends[1], ends[0]
    return not branches


def _link_nearest(vectors: FloatArray, gap_limit_m: float, links: dict[int, int]) -> None:
    """Link loose ends of different chains, nearest first; in rounds, as the nearest may be taken already."""
    from scipy.spatial import cKDTree

    groups = _Groups(len(vectors) // 2)
    for one, other in links.items():
        groups.merge(one // 2, other // 2)
    found = True
    while found:
        found = False
        loose = [end for end in range(len(vectors)) if end not in links]
        if len(loose) <= 2:
            return
        tree = cKDTree(vectors[loose])
        gaps, nearest = tree.query(vectors[loose], k=min(8, len(loose)), distance_upper_bound=gap_limit_m)
        pairs = sorted((float(gap), loose[i], loose[j]) for i in range(len(loose))
                       for gap, j in zip(gaps[i], nearest[i], strict=True) if j < len(loose) and loose[j] > loose[i])
        for _, one, other in pairs:
            if one not in links and other not in links and groups.find(one // 2) != groups.find(other // 2):
                links[one], links[other] = other, one
                groups.merge(one // 2, other // 2)
                found = True


def _walk(count: int, links: dict[int, int]) -> list[list[Step]]:
    """The chains the links make, each from its loose end of lowest index (a loop from its lowest part)."""
    used = [False] * count
    chains = []
    loose = [end for end in range(2 * count) if end not in links]
    for start in [*loose, *range(0, 2 * count, 2)]:
        if used[start // 2]:
            continue
        chain: list[Step] = []
        end: int | None = start
        while end is not None and not used[end // 2]:
            used[end // 2] = True
            chain.append((end // 2, end % 2 == 1))
            end = links.get(end ^ 1)
        chains.append(chain)
    return chains


def _settle_direction(parts: Sequence[Part], chain: list[Step], *, closed: bool) -> list[Step]:
    rising = sum(1 if after[0] > before[0] else -1 for before, after in pairwise(chain))
    drawn = sum((-1 if turned else 1) * float(np.sum(np.hypot(np.diff(parts[i].lon), np.diff(parts[i].lat))))
                for i, turned in chain)
    if (rising, drawn) >= (0, 0.0):
        return chain
    turned = [(index, not turned) for index, turned in reversed(chain)]
    return [turned[-1], *turned[:-1]] if closed else turned


def _say_apart(parts: Sequence[Part], vectors: FloatArray, chains: list[list[Step]], faults: FaultBook,
               gap_limit_m: float) -> None:
    """One fault per chain beyond the first: where its nearest end lies from the chains before it."""
    ends = [(2 * chain[0][0] + chain[0][1], 2 * chain[-1][0] + (not chain[-1][1])) for chain in chains]
    before = list(ends[0])
    for pair in ends[1:]:
        gaps = np.linalg.norm(vectors[np.array(pair)][:, None] - vectors[np.array(before)][None], axis=2)
        mine, theirs = np.unravel_index(int(np.argmin(gaps)), gaps.shape)
        here, there = pair[int(mine)], before[int(theirs)]
        one, other = parts[there // 2], parts[here // 2]
        faults.add("parts-apart",
                   f"{one.place} ends at {place_text(one.lon[-(there % 2)], one.lat[-(there % 2)])} and the nearest "
                   f"other part, {other.place}, at {place_text(other.lon[-(here % 2)], other.lat[-(here % 2)])}, "
                   f"more than {length_text(gap_limit_m)} away",
                   APART_REMEDY,
                   value=length_text(float(gaps.min())))
        before += pair
