# SPDX-License-Identifier: MIT
"""A road profile from the elevations recorded in the route file itself (barometer or satellite receiver)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from descent.errors import ElevationError, Fault
from descent.route.line import Route
from descent.terrain.alignment import AlignmentModel
from descent.terrain.build import SPACING_M, _stations
from descent.terrain.confidence import Evidence, confidence_spans
from descent.terrain.curvature import plan_curvature
from descent.terrain.estimate import estimate
from descent.terrain.noise_class import NoiseClass
from descent.terrain.road_profile import RoadProfile

FloatArray = NDArray[np.float64]
_LONGEST_STEP_M = 200.0         # recorded points further apart leave a gap
_ADVICE = ("Heights come from the route file: check whether they were recorded on the road or filled in later "
           "from an elevation model.")
DRIFT_SD_M = 5.0                # slow error of a recorded height (assumed, no source)

RECORDED = NoiseClass(
    name="heights recorded on the road", start_sd_m=1.5, length_m=100.0, offset_sd_m=0.0, offset_length_m=100.0,
    rate_density=3e-10, rate_window_m=40.0,
    alignment=AlignmentModel(step_m=40.0, tangent_m=400.0, curve_m=120.0, rate_sd_1pm=3e-4, slow_density=5e-3,
                             noise_length_m=100.0, draws=6),
    alignment_noise=1.1, alignment_offset_sd_m=0.0, smoother_share=0.4, smoother_band=1.3, band=1.2,
    grade_band=1.2, near_band=0.0,
    contrast=0.0, contrast_window_m=600.0, slow_sd_m=DRIFT_SD_M, height_length_m=3000.0, hysteresis_m=5.0,
    grade_length_m=120.0)


def profile_from_route_elevation(route: Route, *, spacing_m: float | None = None) -> RoadProfile:
    """The profile of a route from the heights in its own file.

    The noise level is learnt from the record; a slow drift of the heights (weather, satellite geometry) is
    assumed on top. Raises ElevationError when the file has no heights or the record has a long gap only.
    """
    recorded = route.elevation_m
    known = None if recorded is None else ~np.isnan(recorded)
    if recorded is None or known is None or known.sum() < 2:
        raise ElevationError(Fault("route-no-elevation", "the route file has no heights",
                                   "Give an elevation model with --dem or a table with --grades", route.name))
    station, lon, lat = _stations(route, SPACING_M if spacing_m is None else spacing_m)
    spacing = float(station[1] - station[0])
    heights = _at_stations(station, route.station_m[known], recorded[known])
    n = len(station)
    result = estimate(heights, spacing_m=spacing, cross_slope=np.zeros(n), kinds=np.zeros(n, dtype=np.int64),
                      classes=(RECORDED,))
    covered = ~np.isnan(heights)
    evidence = Evidence(covered, np.zeros(n, dtype=bool), np.ones(n, dtype=bool), np.zeros(n), np.zeros(n),
                        np.maximum(result.grade_sd, 0.0061), ())
    noise = float(np.median(result.noise_sd_m))
    return RoadProfile(
        station_m=station, lon=lon, lat=lat, elevation_m=result.z_m, elevation_sd_m=result.z_sd_m,
        grade=result.grade, grade_sd=result.grade_sd, curvature_1pm=plan_curvature(lon, lat, spacing),
        source="heights in the route file", confidence=confidence_spans(evidence, spacing_m=spacing),
        notes=(_ADVICE, f"Height noise along the line about {noise:.1f} m."),
        raw_elevation_m=heights, elevation_correlation_m=result.height_length_m,
        hysteresis_m=RECORDED.hysteresis_m, grade_correlation_m=result.grade_length_m)




def _at_stations(station: FloatArray, known_m: FloatArray, height_m: FloatArray) -> FloatArray:
    """Heights at the stations: linear between records, NaN in gaps and beyond the record."""
    heights = np.interp(station, known_m, height_m, left=np.nan, right=np.nan)
    after = np.clip(np.searchsorted(known_m, station), 1, len(known_m) - 1)
    step = known_m[after] - known_m[after - 1]
    return np.where(step > _LONGEST_STEP_M, np.nan, heights)
