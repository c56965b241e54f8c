# SPDX-License-Identifier: MIT
"""The road profile: height and grade along the road with their uncertainty, and how far to trust each stretch."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Structure:
    """A bridge or tunnel: where the DEM is not the road. found_from: "tag" (the route file) or "found" (the DEM)."""

    kind: str
    start_m: float
    end_m: float
    found_from: str


@dataclass(frozen=True)
class ConfidenceSpan:
    """A stretch with one level of trust: "good", "fair", "poor" or "none" ("none": cannot carry a plan)."""

    start_m: float
    end_m: float
    level: str
    reasons: tuple[str, ...] = ()


@dataclass(frozen=True)
class RoadProfile:
    """Heights and grades at equally spaced stations.

    All arrays (n,): station_m (horizontal, equal spacing), lon, lat [degree], elevation_m, elevation_sd_m,
    grade [rise over run, negative downhill], grade_sd (one standard deviation), curvature_1pm (plan, signed,
    left positive), cross_slope (slope of the ground across the road in the elevation model, rising to the left
    positive; None where there is no elevation model). hysteresis_m: the rise that ends a sustained downgrade on
    data as good as these. elevation_correlation_m, grade_correlation_m: lengths over which the errors of height
    and of grade are alike; common_grade_sd: a further grade error shared by the whole road. drop_sd_m(a, b) gives the standard deviation of a height difference.
    """

    station_m: FloatArray
    lon: FloatArray
    lat: FloatArray
    elevation_m: FloatArray
    elevation_sd_m: FloatArray
    grade: FloatArray
    grade_sd: FloatArray
    curvature_1pm: FloatArray
    source: str
    structures: tuple[Structure, ...] = ()
    confidence: tuple[ConfidenceSpan, ...] = ()
    notes: tuple[str, ...] = ()
    raw_elevation_m: FloatArray | None = None
    elevation_correlation_m: float = 200.0
    source_keys: tuple[str, ...] = ()
    cross_slope: FloatArray | None = None
    hysteresis_m: float = 5.0
    grade_correlation_m: float = 100.0
    common_grade_sd: float = 0.0

    @property
    def spacing_m(self) -> float:
        """Distance between stations [m]."""
        return float(self.station_m[1] - self.station_m[0])

    @property
    def length_m(self) -> float:
        """Length of the road [m]."""
        return float(self.station_m[-1])

    def index_at(self, station_m: float) -> int:
        """The nearest station's index."""
        return int(np.clip(round(station_m / self.spacing_m), 0, len(self.station_m) - 1))

    def drop_sd_m(self, start: int, end: int) -> float:
        """Standard deviation of the height difference between two stations [m].

        The two errors are taken as correlated with exp(-distance / elevation_correlation_m), and a grade error
        common to the road adds common_grade_sd times the distance.
        """
        a, b = float(self.elevation_sd_m[start]), float(self.elevation_sd_m[end])
        distance = float(abs(self.station_m[end] - self.station_m[start]))
        rho = float(np.exp(-distance / self.elevation_correlation_m))
        common = self.common_grade_sd * distance
        return float(np.sqrt(max(0.0, a * a + b * b - 2 * rho * a * b) + common * common))
