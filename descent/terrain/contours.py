# SPDX-License-Identifier: MIT
"""Contour lines of the ground for a map: polylines of equal height from elevation files, thinned.

The lines are traced by contourpy (marching squares with linear interpolation) on the ground's heights in Web Mercator.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from contourpy import LineType, contour_generator
from numpy.typing import NDArray
from pyproj import Transformer
from scipy.ndimage import gaussian_filter

from descent.errors import Fault, RequestError
from descent.terrain.dem import open_dems
from descent.terrain.hillshade import ground_heights

FloatArray = NDArray[np.float64]
_INTERVALS_M = (5.0, 10.0, 20.0, 25.0, 50.0, 100.0, 200.0, 500.0)
_LINES_WANTED = 14.0                # heights drawn between the lowest and the highest ground
_MOST_LEVELS = 400
_WIDTH_RANGE = (32, 2048)
_CALM_PIXELS = 1.0                  # sd of the smoothing that keeps cell noise out of the lines
_SHORTEST_PIXELS = 12.0             # shorter closed bits say nothing on a map


@dataclass(frozen=True)
class Contour:
    """One line of equal height: height_m, and lonlat (k, 2) [degree]; a closed line repeats its first point. The
    higher ground is on the left."""

    height_m: float
    lonlat: FloatArray


def contour_interval(lowest_m: float, highest_m: float) -> float:
    """A usual interval of heights [m] that gives about 14 lines between two heights."""
    wanted = max(highest_m - lowest_m, 1.0) / _LINES_WANTED
    return next((step for step in _INTERVALS_M if step >= wanted), _INTERVALS_M[-1])


def contours(dem_paths: Sequence[str], bounds_lonlat: tuple[float, float, float, float], *, width_px: int = 512,
             interval_m: float | None = None, tolerance_px: float = 0.5) -> tuple[Contour, ...]:
    """Contour lines of a box (west, south, east, north) [degree], from low to high.

    width_px: how finely the ground is read across the box; interval_m: between heights (None: a usual one for the
    relief); tolerance_px: no dropped point lies further than this off its line. Lines end where heights end. The same
    input gives the same lines. Raises RequestError (interval out of range), DemError (a file cannot be read),
    ElevationError (no heights in the box).
    """
    width = int(np.clip(width_px, *_WIDTH_RANGE))
    heights, _ = ground_heights(open_dems(dem_paths), bounds_lonlat, width)
    step = _checked_interval(heights, interval_m)
    calm = _smoothed(heights)
    traced = contour_generator(z=np.ma.masked_invalid(calm), name="serial", line_type=LineType.Separate)
    first, last = math.ceil(float(np.nanmin(calm)) / step), math.floor(float(np.nanmax(calm)) / step)
    found = []
    for k in range(first, last + 1):
        for line in traced.lines(k * step):
            points = np.asarray(line, dtype=np.float64)
            kept = points[_thinned(points, tolerance_px)]
            if len(kept) >= 2 and _length(points) >= _SHORTEST_PIXELS:
                found.append(Contour(k * step, _to_lonlat(kept, bounds_lonlat, heights.shape)))
    return tuple(found)


def _checked_interval(heights: FloatArray, interval_m: float | None) -> float:
    low, high = float(np.nanmin(heights)), float(np.nanmax(heights))
    step = contour_interval(low, high) if interval_m is None else interval_m
    if not (math.isfinite(step) and step > 0.0 and (high - low) / step <= _MOST_LEVELS):
        raise RequestError(Fault("contour-interval", "the interval between contour lines is out of range",
                                 f"Choose at least {max((high - low) / _MOST_LEVELS, 0.1):.1f} m", "interval",
                                 f"{step} m"))
    return step


def _smoothed(heights: FloatArray) -> FloatArray:
    """Heights smoothed a little, NaN where there are none (weights keep voids out of their neighbours)."""
    known = np.isfinite(heights)
    weight = gaussian_filter(known.astype(float), _CALM_PIXELS)
    total = gaussian_filter(np.where(known, heights, 0.0), _CALM_PIXELS)
    return np.where(known, total / np.maximum(weight, 1e-9), np.nan)


def _length(points: FloatArray) -> float:
    return float(np.sum(np.hypot(*np.diff(points, axis=0).T)))


def _thinned(points: FloatArray, tolerance: float) -> NDArray[np.int64]:
    """Indices of the points to keep (Douglas and Peucker 1973, from memory; without recursion); both ends are kept."""
    keep = np.zeros(len(points), dtype=bool)
    keep[[0, -1]] = True
    stack = [(0, len(points) - 1)]
    while stack:
        start, end = stack.pop()
        if end - start < 2:
            continue
        chord, inner = points[end] - points[start], points[start + 1:end] - points[start]
        along = np.clip(inner @ chord / max(float(chord @ chord), 1e-30), 0.0, 1.0)
        off = np.hypot(*(inner - along[:, None] * chord).T)
        farthest = int(np.argmax(off))
        if off[farthest] > tolerance:
            middle = start + 1 + farthest
            keep[middle] = True
            stack += [(start, middle), (middle, end)]
    return np.flatnonzero(keep)


def _to_lonlat(points: FloatArray, bounds: tuple[float, float, float, float], shape: tuple[int, ...]) -> FloatArray:
    """Pixel centres (column, row from the north) to degrees, through Web Mercator."""
    to_map = Transformer.from_crs("EPSG:4326", "EPSG:3857", always_xy=True)
    (left, right), (bottom, top) = to_map.transform([bounds[0], bounds[2]], [bounds[1], bounds[3]])
    x = left + (points[:, 0] + 0.5) * (right - left) / shape[1]
    y = top - (points[:, 1] + 0.5) * (top - bottom) / shape[0]
    lon, lat = to_map.transform(x, y, direction="INVERSE")
    return np.column_stack([lon, lat])[::-1]                     # rows run south: turned, the higher ground is left
