# SPDX-License-Identifier: MIT
"""Contour lines lie where a known ground has their height, thinned and the same every time."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from pyproj import Transformer

from descent.errors import ElevationError, RequestError
from descent.terrain.contours import contour_interval, contours

EAST, NORTH = 500_000.0, 4_400_000.0
TO_UTM = Transformer.from_crs("EPSG:4326", "EPSG:32613", always_xy=True)


def box(west: float = 200, south: float = 100, east: float = 3800, north: float = 900) -> tuple[float, ...]:
    return TO_UTM.transform_bounds(EAST + west, NORTH + south, EAST + east, NORTH + north, direction="INVERSE")


def cone(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """A right cone: 1000 m at its top, falling 1 m in 2 m, so the line of height h is a circle of 2 (1000 - h)."""
    return 1000.0 - 0.5 * np.hypot(x - 2000.0, y - 500.0)


def metres(lonlat: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    x, y = TO_UTM.transform(lonlat[:, 0], lonlat[:, 1])
    return np.asarray(x) - EAST, np.asarray(y) - NORTH


def test_lines_of_a_cone_are_its_circles(write_dem: Callable[..., str]) -> None:
    lines = contours([write_dem(cone)], box(), width_px=700, interval_m=50.0)
    assert sorted({line.height_m for line in lines}) == [50.0 * k for k in range(2, 20)]     # 100 to 950 m
    for line in lines:
        x, y = metres(line.lonlat)
        radius = np.hypot(x - 2000.0, y - 500.0)
        assert radius == pytest.approx(2.0 * (1000.0 - line.height_m), abs=6.0), line.height_m
    top = next(line for line in lines if line.height_m == 950.0)
    assert (top.lonlat[0] == top.lonlat[-1]).all()
    x, y = metres(top.lonlat)
    area = 0.5 * np.sum(x[:-1] * y[1:] - x[1:] * y[:-1])
    assert area > 0                                       # counter-clockwise: the higher ground on the left


def test_thinned_and_the_same_every_time(write_dem: Callable[..., str]) -> None:
    path = write_dem(cone)
    fine, coarse = (contours([path], box(), width_px=700, interval_m=100.0, tolerance_px=tol) for tol in (0.05, 1.0))
    again = contours([path], box(), width_px=700, interval_m=100.0, tolerance_px=1.0)
    assert sum(len(line.lonlat) for line in coarse) < 0.5 * sum(len(line.lonlat) for line in fine)
    assert all(np.array_equal(a.lonlat, b.lonlat) for a, b in zip(coarse, again, strict=True))


def test_lines_stop_at_voids(write_dem: Callable[..., str]) -> None:
    path = write_dem(lambda x, y: np.where(x < 2000, cone(x, y), np.nan))
    lines = contours([path], box(), width_px=500)
    assert lines
    assert max(float(metres(line.lonlat)[0].max()) for line in lines) < 2015


def test_interval_follows_the_relief() -> None:
    assert contour_interval(900, 960) == 5.0 and contour_interval(500, 1100) == 50.0 and contour_interval(0, 9000) == 500.0


def test_faults(write_dem: Callable[..., str]) -> None:
    path = write_dem(cone)
    for interval in (0.0, -5.0, float("nan"), 0.001):
        with pytest.raises(RequestError):
            contours([path], box(), interval_m=interval)
    with pytest.raises(ElevationError):
        contours([path], (7.0, 46.0, 7.1, 46.1))
