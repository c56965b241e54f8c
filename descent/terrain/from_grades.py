# SPDX-License-Identifier: MIT
"""A road profile from a table of lengths and grades, as one copies it from signs or a road inventory."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from descent.errors import Fault, RouteError
from descent.terrain.road_profile import ConfidenceSpan, RoadProfile

FloatArray = NDArray[np.float64]
SPACING_M = 10.0
GRADE_SD = 0.005                # signs give whole percent and the mean of a stretch (assumed, no source)
STEEPEST = 0.35
CURVE_M_PER_PERCENT = 20.0      # length of vertical curve per percent of change (common practice, no source)
_LEAST_CURVE_M = 40.0


def profile_from_grades(rows: Sequence[tuple[float, float]], *, grade_sd: float = GRADE_SD,
                        start_elevation_m: float = 0.0) -> RoadProfile:
    """The profile of a road given as rows of (length [m], grade), in travel order.

    Grades meet in parabolic vertical curves that end within half of either neighbour. grade_sd: the stated
    standard deviation, taken as one error common to the whole road, which is the cautious reading. Longitude
    and latitude are NaN and curvature is 0. Raises RouteError naming each bad row.
    """
    _check(rows)
    lengths = np.array([row[0] for row in rows], dtype=float)
    grades = np.array([row[1] for row in rows], dtype=float)
    knots, at_knots = _curve_ends(lengths, grades)
    total = float(lengths.sum())
    steps = max(2, round(total / SPACING_M))
    station = np.linspace(0.0, total, steps + 1)
    elevation = start_elevation_m + _integral(station, knots, at_knots)
    n = len(station)
    stated = (f"Grades come from a table; each is taken as known to {100 * grade_sd:.1f} % of grade "
              "(one standard deviation, common to the whole road).")
    return RoadProfile(
        station_m=station, lon=np.full(n, np.nan), lat=np.full(n, np.nan), elevation_m=elevation,
        elevation_sd_m=np.zeros(n), grade=np.interp(station, knots, at_knots), grade_sd=np.full(n, grade_sd),
        curvature_1pm=np.zeros(n), source="table of lengths and grades",
        confidence=(ConfidenceSpan(0.0, total, "fair", ("grades from a table, not from elevation data",)),),
        notes=(stated, f"Heights count from {start_elevation_m:.0f} m at the start of the road."),
        grade_correlation_m=total, common_grade_sd=grade_sd)


def _check(rows: Sequence[tuple[float, float]]) -> None:
    faults = []
    if not rows:
        faults.append(Fault("grades-empty", "the table has no rows", "Give at least one length and grade"))
    for number, (length, grade) in enumerate(rows, start=1):
        if not (math.isfinite(length) and length > 0):
            faults.append(Fault("grades-length", "the length of this row is not a positive number",
                                "Write the length of the stretch", f"row {number}", str(length)))
        if not (math.isfinite(grade) and abs(grade) <= STEEPEST):
            faults.append(Fault("grades-grade", "the grade of this row is not one of a road",
                                f"Write a grade between -{100 * STEEPEST:.0f} % and {100 * STEEPEST:.0f} %",
                                f"row {number}", str(grade)))
    if not faults and sum(length for length, _ in rows) < 2 * SPACING_M:
        faults.append(Fault("grades-short", "the whole road is too short",
                            f"Give at least {2 * SPACING_M:.0f} m", "table"))
    if faults:
        raise RouteError(*faults)


def _curve_ends(lengths: FloatArray, grades: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Stations where the grade bends and the grade there; linear between."""
    knots, values = [0.0], [float(grades[0])]
    ends = np.cumsum(lengths)
    for k in range(len(lengths) - 1):
        change = abs(float(grades[k + 1] - grades[k]))
        if change == 0.0:
            continue
        curve = max(_LEAST_CURVE_M, CURVE_M_PER_PERCENT * 100 * change)
        curve = min(curve, float(lengths[k]), float(lengths[k + 1]))
        knots += [float(ends[k]) - curve / 2, float(ends[k]) + curve / 2]
        values += [float(grades[k]), float(grades[k + 1])]
    return np.array([*knots, float(ends[-1])]), np.array([*values, float(grades[-1])])


def _integral(station: FloatArray, knots: FloatArray, grades: FloatArray) -> FloatArray:
    """Height gained from 0 to each station under a grade linear between knots (exact)."""
    pieces = np.diff(knots)
    gained = np.concatenate([[0.0], np.cumsum(pieces * (grades[1:] + grades[:-1]) / 2)])
    k = np.clip(np.searchsorted(knots, station, side="right") - 1, 0, len(pieces) - 1)
    into = station - knots[k]
    slope = np.where(pieces[k] > 0, (grades[k + 1] - grades[k]) / np.maximum(pieces[k], 1e-12), 0.0)
    return np.asarray(gained[k] + grades[k] * into + slope * into**2 / 2)
