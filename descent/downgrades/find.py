# SPDX-License-Identifier: MIT
"""Finds the sustained downgrades of a road profile: maximal falls of height against a threshold grade."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from descent.downgrades.boundaries import Rule, shares_found_again
from descent.downgrades.hill_sign import hill_sign_on
from descent.downgrades.model import Downgrade
from descent.downgrades.zigzag import zigzag_falls
from descent.terrain.road_profile import RoadProfile

FloatArray = NDArray[np.float64]
THRESHOLD_GRADE = 0.03
LEAST_LENGTH_M = 500.0
LEAST_DROP_M = 25.0
SURE_SHARE = 0.75       # chosen on roads of known truth: see `boundaries`


def sustained_downgrades(profile: RoadProfile, *, threshold_grade: float = THRESHOLD_GRADE,
                         hysteresis_m: float | None = None) -> tuple[Downgrade, ...]:
    """The sustained downgrades in travel order.

    A downgrade is a maximal fall of w = z + threshold_grade * station: it runs from a top of w to the next
    bottom, and rises of w below the hysteresis do not end it. Kept are those of at least 500 m and 25 m.
    hysteresis_m: None takes the profile's own (4 to 10 m by the elevation model).
    boundary_uncertain: found again with both ends within 200 m in fewer than three quarters of the profiles drawn
    from the band. O(n).
    """
    step = profile.hysteresis_m if hysteresis_m is None else hysteresis_m
    station, z = profile.station_m, profile.elevation_m
    pairs = zigzag_falls(z + threshold_grade * station, hysteresis=step)
    kept = [(a, b) for a, b in pairs
            if station[b] - station[a] >= LEAST_LENGTH_M and z[a] - z[b] >= LEAST_DROP_M]
    again = shares_found_again(profile, kept, rule=Rule(threshold_grade, step, LEAST_LENGTH_M, LEAST_DROP_M))
    return tuple(_describe(profile, number, a, b, bool(share < SURE_SHARE))
                 for number, ((a, b), share) in enumerate(zip(kept, again, strict=True), start=1))


def steepest_mean(profile: RoadProfile, start: int, end: int, *, window_m: float) -> float | None:
    """The steepest (most negative) mean grade over a window inside [start, end]; None when it is longer."""
    steps = round(window_m / profile.spacing_m)
    if steps < 1 or end - start < steps:
        return None
    z = profile.elevation_m[start:end + 1]
    return float(np.min(z[steps:] - z[:-steps]) / (steps * profile.spacing_m))


def _describe(profile: RoadProfile, number: int, a: int, b: int, uncertain: bool) -> Downgrade:
    length = float(profile.station_m[b] - profile.station_m[a])
    drop = float(profile.elevation_m[a] - profile.elevation_m[b])
    return Downgrade(
        number=number, start_m=float(profile.station_m[a]), end_m=float(profile.station_m[b]), drop_m=drop,
        mean_grade=-drop / length, mean_grade_sd=profile.drop_sd_m(a, b) / length,
        steepest_1km=steepest_mean(profile, a, b, window_m=1000.0),
        steepest_300m=steepest_mean(profile, a, b, window_m=300.0),
        hill_sign=hill_sign_on(profile.elevation_m[a:b + 1], profile.spacing_m),
        boundary_uncertain=uncertain)
