# SPDX-License-Identifier: MIT
"""Finds where a point lies along a route: station, distance and side, once for each pass of the line."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from descent.route.line import WGS84, FloatArray, Route

if TYPE_CHECKING:
    from scipy.spatial import cKDTree

SPACING_M = 25.0
APART_M = 30.0
ALIKE_M = 10.0
ON_LINE_M = 1.0
EARTH_RADIUS_M = 6_371_000.0


@dataclass(frozen=True)
class Pass:
    """Where the line passes a point: station along, distance from it, side of travel ("left", "right", "on"),
    and the heading of the line there [radian, east of north]."""

    station_m: float
    offset_m: float
    side: str
    heading_rad: float


@dataclass(frozen=True)
class SnapLine:
    """A route made ready for snapping: vertices at most 25 m apart, (n,), and a search tree over them."""

    lon: FloatArray
    lat: FloatArray
    station_m: FloatArray
    tree: cKDTree


def _on_sphere(lon: FloatArray, lat: FloatArray) -> FloatArray:
    east, north = np.radians(lon), np.radians(lat)
    return EARTH_RADIUS_M * np.column_stack([np.cos(north) * np.cos(east), np.cos(north) * np.sin(east), np.sin(north)])


def snap_line(route: Route) -> SnapLine:
    """The line of a route with vertices added so that none are more than 25 m apart."""
    from scipy.spatial import cKDTree  # heavy

    count = max(2, int(np.ceil(route.length_m / SPACING_M)) + 1)
    station = np.union1d(route.station_m, np.linspace(0.0, route.length_m, count))
    lon = np.interp(station, route.station_m, route.lon)
    lat = np.interp(station, route.station_m, route.lat)
    return SnapLine(lon, lat, station, cKDTree(_on_sphere(lon, lat)))


def passes(line: SnapLine, lon: float, lat: float, *, limit_m: float) -> tuple[Pass, ...]:
    """Each pass of the line by a point, in travel order; () when the line is farther than `limit_m`.

    Two passes are told apart when the line goes `APART_M` farther away between them than its nearest point;
    a further pass counts only when it is at most `ALIKE_M` farther than the nearest, so that the other leg of a
    hairpin is not taken for the place's own road. Distances are geodesic, measured in the tangent plane at the
    point (azimuthal equidistant).
    """
    here = _on_sphere(np.array([lon]), np.array([lat]))[0]
    rough, _ = line.tree.query(here)
    if rough > limit_m * 1.01 + SPACING_M:
        return ()
    near = np.unique(np.asarray(line.tree.query_ball_point(here, float(rough) * 1.01 + APART_M + 2 * SPACING_M)))
    segments = np.unique(np.concatenate([near - 1, near]))
    segments = segments[(segments >= 0) & (segments < len(line.lon) - 1)]
    offset, share, side, heading = _to_segments(line, segments, lon, lat)
    best = float(offset.min())
    if best > limit_m:
        return ()
    close = np.flatnonzero(offset <= best + APART_M)
    runs = np.split(close, np.flatnonzero(np.diff(segments[close]) > 1) + 1)
    found = []
    for run in runs:
        at = run[int(np.argmin(offset[run]))]
        if offset[at] <= min(best + ALIKE_M, limit_m):
            start, end = line.station_m[segments[at]], line.station_m[segments[at] + 1]
            found.append(Pass(float(start + share[at] * (end - start)), float(offset[at]), str(side[at]),
                              float(heading[at])))
    return tuple(found)


def _to_segments(line: SnapLine, segments: NDArray[np.int64], lon: float,
                 lat: float) -> tuple[FloatArray, FloatArray, NDArray[np.str_], FloatArray]:
    """Distance [m], share along, side and heading of the nearest point of each segment, (m,)."""
    vertices = np.union1d(segments, segments + 1)
    azimuth, _, distance = WGS84.inv(np.full(len(vertices), lon), np.full(len(vertices), lat),
                                     line.lon[vertices], line.lat[vertices])
    east, north = distance * np.sin(np.radians(azimuth)), distance * np.cos(np.radians(azimuth))
    start, end = np.searchsorted(vertices, segments), np.searchsorted(vertices, segments + 1)
    along_e, along_n = east[end] - east[start], north[end] - north[start]
    size = along_e**2 + along_n**2
    share = np.clip(-(east[start] * along_e + north[start] * along_n) / np.where(size > 0, size, 1.0), 0.0, 1.0)
    foot_e, foot_n = east[start] + share * along_e, north[start] + share * along_n
    offset = np.hypot(foot_e, foot_n)
    # The point is at the origin: from the foot it lies at (-foot_e, -foot_n); left of travel is a positive cross.
    cross = along_e * -foot_n - along_n * -foot_e
    side = np.where(offset < ON_LINE_M, "on", np.where(cross > 0, "left", "right"))
    return offset, share, side, np.arctan2(along_e, along_n)
