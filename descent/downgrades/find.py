# SPDX-License-Identifier: MIT
"""Finds the sustained downgrades of a road profile: maximal falls of height against a threshold grade."""

from __future__ import annotations

from typing import Any

import numba
import numpy as np
from numpy.typing import NDArray

from descent.downgrades.hill_sign import hill_sign_on
from descent.downgrades.model import Downgrade
from descent.terrain.road_profile import RoadProfile

FloatArray = NDArray[np.float64]
THRESHOLD_GRADE = 0.03
LEAST_LENGTH_M = 500.0
LEAST_DROP_M = 25.0


def sustained_downgrades(profile: RoadProfile, *, threshold_grade: float = THRESHOLD_GRADE,
                         hysteresis_m: float | None = None) -> tuple[Downgrade, ...]:
    """The sustained downgrades in travel order.

    A downgrade is a maximal fall of w = z + threshold_grade * station: it runs from a top of w to the next
    bottom, and rises of w below the hysteresis do not end it. Kept are those of at least 500 m and 25 m.
    hysteresis_m: None takes the profile's own (5 m on fine elevation models, larger on coarse ones).
    One pass, O(n).
    """
    step = profile.hysteresis_m if hysteresis_m is None else hysteresis_m
    station, z = profile.station_m, profile.elevation_m
    pairs = zigzag_falls(z + threshold_grade * station, hysteresis=step)
    kept = [(a, b) for a, b in pairs
            if station[b] - station[a] >= LEAST_LENGTH_M and z[a] - z[b] >= LEAST_DROP_M]
    return tuple(_describe(profile, number, a, b, threshold_grade, step)
                 for number, (a, b) in enumerate(kept, start=1))


def zigzag_falls(w: FloatArray, *, hysteresis: float) -> list[tuple[int, int]]:
    """(top, bottom) indices of each fall of w by more than the hysteresis, ended by a rise of more than it."""
    found = np.empty((len(w) // 2 + 1, 2), dtype=np.int64)
    count = _zigzag(np.asarray(w, dtype=float), hysteresis, found)
    return [(int(a), int(b)) for a, b in found[:count]]


@numba.njit(cache=True, fastmath=False, error_model="numpy")
def _zigzag(w: Any, hysteresis: Any, found: Any) -> int:
    top = bottom = count = 0
    falling = False
    for i in range(1, w.size):
        if not falling:
            if w[i] > w[top]:
                top = i
            if w[i] < w[top] - hysteresis:
                falling = True
                bottom = i
        else:
            if w[i] < w[bottom]:
                bottom = i
            if w[i] > w[bottom] + hysteresis:
                found[count, 0], found[count, 1] = top, bottom
                count += 1
                falling = False
                top = i
    if falling:
        found[count, 0], found[count, 1] = top, bottom
        count += 1
    return count


def steepest_mean(profile: RoadProfile, start: int, end: int, *, window_m: float) -> float | None:
    """The steepest (most negative) mean grade over a window inside [start, end]; None when it is longer."""
    steps = round(window_m / profile.spacing_m)
    if steps < 1 or end - start < steps:
        return None
    z = profile.elevation_m[start:end + 1]
    return float(np.min(z[steps:] - z[:-steps]) / (steps * profile.spacing_m))


def _describe(profile: RoadProfile, number: int, a: int, b: int, threshold: float, hysteresis: float) -> Downgrade:
    length = float(profile.station_m[b] - profile.station_m[a])
    drop = float(profile.elevation_m[a] - profile.elevation_m[b])
    return Downgrade(
        number=number, start_m=float(profile.station_m[a]), end_m=float(profile.station_m[b]), drop_m=drop,
        mean_grade=-drop / length, mean_grade_sd=profile.drop_sd_m(a, b) / length,
        steepest_1km=steepest_mean(profile, a, b, window_m=1000.0),
        steepest_300m=steepest_mean(profile, a, b, window_m=300.0),
        hill_sign=hill_sign_on(profile.elevation_m[a:b + 1], profile.spacing_m),
        boundary_uncertain=boundary_uncertain(profile, a, b, threshold_grade=threshold, hysteresis_m=hysteresis))


def boundary_uncertain(profile: RoadProfile, start: int, end: int, *, threshold_grade: float,
                       hysteresis_m: float) -> bool:
    """Whether within two standard deviations the downgrade might split, join its neighbour, or not count.

    Looks at the largest rise of w inside (would it have ended the fall?), at the rises and falls of w that bound
    it on both sides (would they have been bridged?) and at the least length's and least drop's margins.
    """
    w = profile.elevation_m + threshold_grade * profile.station_m
    inside = _largest_rise(w[start:end + 1])
    before = _swing_before(w, start, hysteresis_m)
    after = _swing_after(w, end, hysteresis_m)
    for swing, (i, j) in (inside, before, after):
        margin = 2.0 * profile.drop_sd_m(i, j)
        if swing > 0.0 and abs(swing - hysteresis_m) < margin:
            return True
    drop = float(profile.elevation_m[start] - profile.elevation_m[end])
    return drop - LEAST_DROP_M < 2.0 * profile.drop_sd_m(start, end)


def _largest_rise(w: FloatArray) -> tuple[float, tuple[int, int]]:
    low = np.minimum.accumulate(w)
    end = int(np.argmax(w - low))
    start = int(np.argmin(w[:end + 1]))
    return float(w[end] - w[start]), (start, end)


def _swing_after(w: FloatArray, end: int, hysteresis: float) -> tuple[float, tuple[int, int]]:
    """How far w rises after a foot before it falls below the foot again (capped at 20 x hysteresis)."""
    rest = w[end:] - w[end]
    below = np.flatnonzero(rest < 0.0)
    stop = int(below[0]) if len(below) else len(rest)
    peak = int(np.argmax(rest[:stop]))
    return float(min(rest[peak], 20 * hysteresis)), (end, end + peak)


def _swing_before(w: FloatArray, start: int, hysteresis: float) -> tuple[float, tuple[int, int]]:
    """How far w had risen to a crest since it was last above the crest (capped at 20 x hysteresis)."""
    rest = (w[start] - w[:start + 1])[::-1]
    above = np.flatnonzero(rest < 0.0)
    stop = int(above[0]) if len(above) else len(rest)
    trough = int(np.argmax(rest[:stop]))
    return float(min(rest[trough], 20 * hysteresis)), (start - trough, start)
