# SPDX-License-Identifier: MIT
"""Bridges and tunnels: where the elevation model is not the road, by the route's tags or by its own shape."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from descent.route.line import TaggedSpan
from descent.terrain.lipschitz import lipschitz_fit
from descent.terrain.road_profile import Structure

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

TAG_MARGIN_M = 15.0        # map tags end some 15 m off; what sticks out further is found by its departure
FOUND_MARGIN_M, FOUND_MARGIN_CELLS = 20.0, 1.5
FIRST_LIMIT_GRADE, LIMIT_STEP, LAST_LIMIT_GRADE = 0.10, 0.03, 0.25
SATURATED_M = 1500.0       # a run this long at the limit is a steep road, not an error
_SHORTEST_M = 25.0
_NEIGHBOURHOOD_M, _WINDOW_M, _MOST_ROUNDS = 250.0, 1000.0, 8


@dataclass(frozen=True)
class FoundStructures:
    """masked (n,): stations whose samples are not the road; tagged (n,): those among them a tag explains;
    structures: the spans; limit_grade: the bound that was used to find them."""

    masked: BoolArray
    tagged: BoolArray
    structures: tuple[Structure, ...]
    limit_grade: float


def mark_structures(height_m: FloatArray, spans: tuple[TaggedSpan, ...], *, spacing_m: float, cell_m: float,
                    whole_metres: bool) -> FoundStructures:
    """Stations to leave out of the fit, by tags and by departures from the best line of bounded grade.

    height_m: (n,) [m], NaN where there is none. Thresholds grow with the noise of the elevation model.
    """
    station = np.arange(len(height_m)) * spacing_m
    tagged = np.zeros(len(height_m), dtype=bool)
    spans = tuple(span for span in spans if span.kind in ("bridge", "tunnel"))
    for span in spans:
        tagged |= (station >= span.start_m - TAG_MARGIN_M) & (station <= span.end_m + TAG_MARGIN_M)
    clear = np.where(tagged, np.nan, height_m)
    if np.isnan(clear).all():
        return FoundStructures(tagged, tagged, _from_tags(spans), FIRST_LIMIT_GRADE)
    threshold, grow = detection_thresholds_m(cell_m, whole_metres=whole_metres)
    departure, limit = _departures(height_m, clear, threshold, grow, spacing_m)
    core = _grown_runs(departure, threshold, grow)
    found = tuple(Structure("bridge" if np.sum(departure[a:b]) < 0 else "tunnel",
                            float(station[a]), float(station[b - 1]), "found")
                  for a, b in core if station[b - 1] - station[a] >= _SHORTEST_M and not tagged[a:b].any())
    masked, margin = tagged.copy(), max(FOUND_MARGIN_M, FOUND_MARGIN_CELLS * cell_m)
    for a, b in core:
        masked |= (station >= station[a] - margin) & (station <= station[b - 1] + margin)
    structures = sorted(_from_tags(spans) + found, key=lambda item: (item.start_m, item.end_m))
    return FoundStructures(masked, tagged, tuple(structures), limit)


def _departures(height_m: FloatArray, clear: FloatArray, threshold: float, grow: float,
                spacing_m: float) -> tuple[FloatArray, float]:
    """Departures of all heights from the best bounded line through those that belong to the road.

    A wide gorge or a long hill drags the first line along, so that the road beside it departs as well, the other
    way. Of neighbouring departures the one is taken out first that leaves the least unexplained when it is left
    out, and the line is fitted again until none is left.
    """
    clear = clear.copy()
    for _ in range(_MOST_ROUNDS):
        line, limit = bounded_line(clear, spacing_m=spacing_m)
        core = _grown_runs(np.nan_to_num(clear - line), threshold, grow)
        if not core:
            break
        for group in _groups(core, round(_NEIGHBOURHOOD_M / spacing_m)):
            a, b = _culprit(clear, group, limit * spacing_m, round(_WINDOW_M / spacing_m))
            clear[a:b] = np.nan
    return np.nan_to_num(height_m - line), limit


def _groups(core: list[tuple[int, int]], reach: int) -> list[list[tuple[int, int]]]:
    """Runs in order, cut into groups where the gap is at least `reach`."""
    groups: list[list[tuple[int, int]]] = []
    for run in core:
        if groups and run[0] - groups[-1][-1][1] < reach:
            groups[-1].append(run)
        else:
            groups.append([run])
    return groups


def _culprit(clear: FloatArray, group: list[tuple[int, int]], step_m: float, window: int) -> tuple[int, int]:
    """The run of a group whose removal leaves the least sum of departures nearby."""
    if len(group) == 1:
        return group[0]
    first, last = max(0, group[0][0] - window), min(len(clear), group[-1][1] + window)
    left = []
    for a, b in group:
        trial = clear[first:last].copy()
        trial[a - first:b - first] = np.nan
        left.append(float(np.nansum(np.abs(trial - lipschitz_fit(trial, step_m=step_m)))))
    return group[int(np.argmin(left))]


def detection_thresholds_m(cell_m: float, *, whole_metres: bool) -> tuple[float, float]:
    """(departure that starts a structure, departure it grows to) [m]; chosen on roads of known truth."""
    if cell_m <= 15:
        return 5.0, 1.5
    if cell_m <= 45:
        return (7.0, 3.0) if whole_metres else (6.0, 3.0)
    return 20.0, 10.0


def bounded_line(height_m: FloatArray, *, spacing_m: float) -> tuple[FloatArray, float]:
    """The best line of bounded grade and the bound, raised while the line lies at it for a long stretch."""
    limit = FIRST_LIMIT_GRADE
    while True:
        line = lipschitz_fit(height_m, step_m=limit * spacing_m)
        if limit >= LAST_LIMIT_GRADE or _longest_saturated_m(line, limit, spacing_m) <= SATURATED_M:
            return line, limit
        limit = round(limit + LIMIT_STEP, 6)


def _longest_saturated_m(line: FloatArray, limit: float, spacing_m: float) -> float:
    steps = np.diff(line) / (limit * spacing_m)
    longest = 0
    for sign in (1.0, -1.0):
        longest = max([longest, *(b - a for a, b in runs(steps * sign > 1 - 1e-9))])
    return longest * spacing_m


def runs(flags: BoolArray) -> list[tuple[int, int]]:
    """Half-open index ranges of the runs of True."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], flags, [False]]).astype(np.int8)))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _grown_runs(departure: FloatArray, threshold: float, grow: float) -> list[tuple[int, int]]:
    """Runs of one sign beyond `grow` that somewhere pass `threshold`."""
    found: list[tuple[int, int]] = []
    for sign in (1.0, -1.0):
        for a, b in runs(departure * sign > grow):
            if np.max(departure[a:b] * sign) > threshold:
                found.append((a, b))
    return sorted(found)


def _from_tags(spans: tuple[TaggedSpan, ...]) -> tuple[Structure, ...]:
    return tuple(Structure(span.kind, span.start_m, span.end_m, "tag") for span in spans)
