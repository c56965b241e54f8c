# SPDX-License-Identifier: MIT
"""The route as a line on the ellipsoid, with distances along it and what its file said of its stretches."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray
from pyproj import Geod

FloatArray = NDArray[np.float64]
WGS84 = Geod(ellps="WGS84")


class Direction(Enum):
    """Which way the line is driven."""

    AS_DRAWN = "as-drawn"
    REVERSED = "reversed"


@dataclass(frozen=True)
class TaggedSpan:
    """A stretch a route file says something about: kind "bridge", "tunnel" or "maxspeed" (value in m/s)."""

    kind: str
    start_m: float
    end_m: float
    value: float = 0.0


@dataclass(frozen=True)
class Route:
    """A line in travel order.

    lon, lat: (n,) [degree, WGS84], lon without a jump where the line crosses the antimeridian (it then runs past
    180 or -180); station_m: (n,) geodesic distance along, starts at 0, strictly increasing; elevation_m: (n,) as
    recorded in the file, or None; mended: what was put right while reading, as sentences; time_s: (n,) of a
    recorded drive [s from its first point], not decreasing, or None.
    """

    name: str
    lon: FloatArray
    lat: FloatArray
    station_m: FloatArray
    elevation_m: FloatArray | None = None
    spans: tuple[TaggedSpan, ...] = ()
    mended: tuple[str, ...] = ()
    reversed: bool = False
    time_s: FloatArray | None = None

    @property
    def length_m(self) -> float:
        """Length along the line [m]."""
        return float(self.station_m[-1])


def stations_along(lon: FloatArray, lat: FloatArray) -> FloatArray:
    """Geodesic distance along a line of points, starting at 0. (n,) degrees -> (n,) [m].

    Geodesic inverse by pyproj (Karney 2013, Algorithms for geodesics, from memory).
    """
    _, _, steps = WGS84.inv(lon[:-1], lat[:-1], lon[1:], lat[1:])
    return np.concatenate([[0.0], np.cumsum(np.asarray(steps, dtype=float))])


def reverse(route: Route) -> Route:
    """The same road driven the other way; the times of a recorded drive do not hold for it and are dropped."""
    length = route.length_m
    spans = tuple(TaggedSpan(span.kind, length - span.end_m, length - span.start_m, span.value)
                  for span in reversed(route.spans))
    elevation = None if route.elevation_m is None else route.elevation_m[::-1].copy()
    return Route(route.name, route.lon[::-1].copy(), route.lat[::-1].copy(), length - route.station_m[::-1],
                 elevation, spans, route.mended, not route.reversed)


def resample(route: Route, spacing_m: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Equally spaced points on the line: (station_m, lon, lat), each (m,), first and last point kept.

    The spacing is the length divided by the nearest whole number of steps, so it differs a little from
    `spacing_m`. Between vertices (tens of metres) longitude and latitude are taken as linear in distance: the
    error is below a millimetre per 100 m.
    """
    steps = max(1, round(route.length_m / spacing_m))
    station = np.linspace(0.0, route.length_m, steps + 1)
    return station, np.interp(station, route.station_m, route.lon), np.interp(station, route.station_m, route.lat)
