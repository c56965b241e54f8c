# SPDX-License-Identifier: MIT
"""Fewer points for the same picture: lines thinned to a tolerance, tables to a count."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from descent.report.trip import FloatArray

IndexArray = NDArray[np.int64]


def thin_line(x: FloatArray, y: FloatArray, *, tolerance: float) -> IndexArray:
    """Indices (k,) of the points to keep so that no dropped point lies more than `tolerance` off the line.

    The line-simplification rule of Douglas and Peucker (1973, from memory), without recursion.
    """
    last = len(x) - 1
    keep = np.zeros(len(x), dtype=bool)
    keep[[0, last]] = True
    stack = [(0, last)]
    while stack:
        start, end = stack.pop()
        if end - start < 2:
            continue
        dx, dy = x[end] - x[start], y[end] - y[start]
        px, py = x[start + 1 : end] - x[start], y[start + 1 : end] - y[start]
        along = np.clip((px * dx + py * dy) / max(float(dx * dx + dy * dy), 1e-30), 0.0, 1.0)
        off = np.hypot(px - along * dx, py - along * dy)
        farthest = int(np.argmax(off))
        if off[farthest] > tolerance:
            middle = start + 1 + farthest
            keep[middle] = True
            stack += [(start, middle), (middle, end)]
    return np.flatnonzero(keep)


def thin_rows(station_m: FloatArray, *, most: int) -> IndexArray:
    """Indices of at most about `most` rows, evenly spread, with the first and last and both sides of every
    stop."""
    size = len(station_m)
    keep = np.zeros(size, dtype=bool)
    keep[np.unique(np.linspace(0, size - 1, min(size, most)).round().astype(int))] = True
    stands = np.flatnonzero(np.diff(station_m) <= 0)
    keep[stands] = keep[stands + 1] = True
    return np.flatnonzero(keep)


def runs_of(values: tuple[str, ...]) -> tuple[tuple[str, int, int], ...]:
    """Runs of equal neighbours: (value, first index, last index)."""
    runs: list[tuple[str, int, int]] = []
    for index, value in enumerate(values):
        if runs and runs[-1][0] == value:
            runs[-1] = (value, runs[-1][1], index)
        else:
            runs.append((value, index, index))
    return tuple(runs)


def thin_columns(x: FloatArray, y: FloatArray, *, column: float) -> IndexArray:
    """Indices that keep each column's first, last, lowest and highest point: peaks survive, x in order."""
    cell = np.floor((x - x[0]) / column)
    starts = np.append(0, np.flatnonzero(np.diff(cell)) + 1)
    ends = np.append(starts[1:], len(x))
    if len(x) <= 4 * len(starts):
        return np.arange(len(x))
    keep = {
        i
        for s, e in zip(starts, ends, strict=True)
        for i in (s, e - 1, s + int(np.argmin(y[s:e])), s + int(np.argmax(y[s:e])))
    }
    return np.array(sorted(keep), dtype=np.int64)
