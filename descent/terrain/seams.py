# SPDX-License-Identifier: MIT
"""Joins heights of a coarser layer to those of finer ones along a line without a step between them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

OVERLAP_M = 600.0           # beside a seam both layers are read over this much, to learn how they differ
BLEND_M = (40.0, 200.0)     # the change from one to the other takes as long as the gap, within these
_LONG_RUN_M = 1000.0        # a gap this long may end with another difference than it began with


@dataclass(frozen=True)
class Seam:
    """Where a run filled from a coarser layer meets the finer ones: stations (indexes) `start` to `stop` (not
    included); shift_m: what was added to the coarser layer at each end (None: no overlap); spread_m: scatter of the
    difference where both are known (standard deviation from the median deviation)."""

    start: int
    stop: int
    shift_m: tuple[float | None, float | None]
    spread_m: float


def wanted_stations(missing: BoolArray, distance_m: FloatArray) -> BoolArray:
    """Stations (n,) to read in the next layer: the missing ones and those within OVERLAP_M of them."""
    wanted = missing.copy()
    for start, stop in runs_of(missing):
        wanted |= (distance_m >= distance_m[start] - OVERLAP_M) & (distance_m <= distance_m[stop - 1] + OVERLAP_M)
    return wanted


def runs_of(flags: BoolArray) -> list[tuple[int, int]]:
    """Maximal runs of True as (start, stop)."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], flags, [False]]).astype(np.int8)))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def join(out: FloatArray, layer: FloatArray, distance_m: FloatArray, centre: int) -> tuple[BoolArray, tuple[Seam, ...]]:
    """Fill the NaNs of `out` (n, k) from a coarser `layer` (n, k), in place.

    Each run of stations without a height on the line is filled with the layer, shifted by the median difference
    beside the run (linear between its two ends where it is long); then the finer heights beside the run go over
    into the shifted layer along a smooth weight, so that no step is left. Returns the stations that now come
    mostly from the layer, and the seams at which it meets finer heights.
    """
    line = out[:, centre].copy()
    fine = ~np.isnan(line)
    both = fine & ~np.isnan(layer[:, centre])
    difference = np.where(both, line - layer[:, centre], np.nan)
    correction = np.zeros(len(line))
    weight = np.where(fine, 1.0, 0.0)
    seams = []
    for start, stop in runs_of(~fine & ~np.isnan(layer[:, centre])):
        seam = _one_run(start, stop, difference, distance_m, correction, weight)
        if fine[max(start - 1, 0)] or fine[min(stop, len(fine) - 1)]:
            seams.append(seam)
    shifted = layer + correction[:, None]
    mixed = weight[:, None] * out + (1.0 - weight[:, None]) * shifted
    blend = (weight < 1.0)[:, None] & ~np.isnan(shifted)
    take = np.isnan(out) | (np.isnan(mixed) & blend)
    out[...] = np.where(take, shifted, np.where(blend, mixed, out))
    return (weight < 0.5) & ~np.isnan(layer[:, centre]), tuple(seams)


def _one_run(start: int, stop: int, difference: FloatArray, distance: FloatArray, correction: FloatArray,
             weight: FloatArray) -> Seam:
    """The shift and the blending weights of one run, written into the arrays."""
    n = len(distance)
    first, last = max(start - 1, 0), min(stop, n - 1)
    length = float(distance[last] - distance[first])
    before = _overlap(difference, distance, start - 1, -1)
    after = _overlap(difference, distance, stop, 1)
    ends: list[float | None] = [float(np.median(difference[part])) if len(part) else None for part in (before, after)]
    pooled = difference[np.concatenate([before, after])]
    spread = float(1.4826 * np.median(np.abs(pooled - np.median(pooled)))) if len(pooled) else float("nan")
    low, high = start - len(before), stop + len(after)
    if ends[0] is not None and ends[1] is not None:
        left, right = (ends[0], ends[1]) if length >= _LONG_RUN_M else (float(np.median(pooled)),) * 2
        correction[low:high] = np.interp(distance[low:high], [distance[first], distance[last]], [left, right])
    else:
        correction[low:high] = next((end for end in ends if end is not None), 0.0)
    reach = float(np.clip(length, *BLEND_M))
    for part, edge in ((before, first), (after, last)):
        if len(part):
            away = np.abs(distance[part] - distance[edge])
            share = np.clip(away / min(reach, max(float(away.max()), 1e-9)), 0.0, 1.0)
            weight[part] = np.minimum(weight[part], share * share * (3.0 - 2.0 * share))
    return Seam(start, stop, (ends[0], ends[1]), spread)


def _overlap(difference: FloatArray, distance: FloatArray, start: int, step: int) -> NDArray[np.int64]:
    """Indexes from `start` in direction `step`, without a gap and within OVERLAP_M, where both layers are known."""
    found = []
    at = start
    while 0 <= at < len(difference) and not np.isnan(difference[at]) and \
            abs(distance[at] - distance[start]) <= OVERLAP_M:
        found.append(at)
        at += step
    return np.array(sorted(found), dtype=np.int64)
