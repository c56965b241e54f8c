# SPDX-License-Identifier: MIT
"""The lesson's hill: an invented straight grade with a crest and a foot, or the longest fall of a real road."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from descent.downgrades.model import Downgrade
from descent.errors import Fault, RequestError
from descent.lesson.model import FloatArray, Hill
from descent.terrain.from_grades import profile_from_grades
from descent.terrain.road_profile import RoadProfile

BEFORE_M = 800.0
AFTER_M = 1200.0
SPACING_M = 40.0             # of the stations a lesson is driven on; the march finds its events between them
INVENTED_TOP_M = 2500.0      # brakes cool less the higher they are; a high pass is assumed, as for a grade table


def constructed_hill(*, grade: float, length_m: float) -> Hill:
    """An invented hill of one grade (ratio, positive) over length_m from crest to foot, level before and after."""
    rows = [(BEFORE_M, 0.0), (length_m, -grade), (AFTER_M, 0.0)]
    profile = profile_from_grades(rows, grade_sd=0.0)
    return Hill("", _coarser(profile, profile.grade, 0, len(profile.station_m) - 1), BEFORE_M, BEFORE_M + length_m,
                INVENTED_TOP_M, True)


def hill_of_road(name: str, profile: RoadProfile, downgrades: Sequence[Downgrade], grade: FloatArray, *,
                 altitude_offset_m: float) -> Hill:
    """The fall with the greatest drop of a surveyed road; `grade` (n,) is what is driven on (the steep side of the band).

    Raises RequestError lesson-no-hill where the road has no sustained downgrade.
    """
    if not downgrades:
        raise RequestError(Fault("lesson-no-hill", "there is no sustained downgrade on this road",
                                 "Take another road or the other direction (--reverse), or no road at all: the lesson "
                                 "then builds a hill", "ROUTE"))
    chosen = max(downgrades, key=lambda item: item.drop_m)
    first = profile.index_at(max(chosen.start_m - BEFORE_M, 0.0))
    last = profile.index_at(min(chosen.end_m + AFTER_M, profile.length_m))
    begin = float(profile.station_m[first])
    return Hill(name, _coarser(profile, grade, first, last), chosen.start_m - begin, chosen.end_m - begin,
                altitude_offset_m, False)


def _coarser(profile: RoadProfile, grade: FloatArray, first: int, last: int) -> RoadProfile:
    """Stations first..last about `SPACING_M` apart, counted anew from 0; grades are means over as much, so that the fall is
    kept."""
    step = max(1, round(SPACING_M / profile.spacing_m))
    last = first + (last - first) // step * step
    weights = np.ones(step + 1)
    weights[[0, -1]] = 0.5
    half = step // 2
    padded = np.pad(grade, (half, step - half), mode="edge")
    mean = np.convolve(padded, weights / weights.sum(), mode="valid")
    keep = np.arange(first, last + 1, step)
    return replace(profile, station_m=profile.station_m[keep] - profile.station_m[first], lon=profile.lon[keep],
                   lat=profile.lat[keep], elevation_m=profile.elevation_m[keep],
                   elevation_sd_m=profile.elevation_sd_m[keep], grade=mean[keep], grade_sd=profile.grade_sd[keep],
                   curvature_1pm=profile.curvature_1pm[keep], structures=(), confidence=(), raw_elevation_m=None,
                   cross_slope=None)


def stretch_ends_m(hill: Hill, *, count: int) -> FloatArray:
    """Ends of `count` equal stretches of the hill's road (count,) [m]."""
    return np.linspace(0.0, hill.profile.length_m, count + 1)[1:]
