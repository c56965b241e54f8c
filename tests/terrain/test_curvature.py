# SPDX-License-Identifier: MIT
"""Plan curvature against circles, whose curvature is one over the radius."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from descent.route.line import Route, resample
from descent.terrain.curvature import plan_curvature


@pytest.mark.parametrize("turn", [1.0, -1.0])
@pytest.mark.parametrize("radius", [40.0, 150.0, 600.0])
def test_circle(line_over: Callable[..., Route], radius: float, turn: float) -> None:
    angle = np.linspace(0, 2.5, 400)
    route = line_over(500 + radius * np.sin(angle), 500 + turn * radius * (1 - np.cos(angle)))   # left when turn = 1
    station, lon, lat = resample(route, 10.0)
    got = plan_curvature(lon, lat, float(station[1]))
    middle = slice(len(got) // 2 - 1, len(got) // 2 + 2)
    assert got[middle] == pytest.approx(turn / radius, rel=0.04)


def test_straight_line_and_a_jagged_vertex(line_over: Callable[..., Route]) -> None:
    x = np.arange(0, 2000, 10.0)
    y = np.full(len(x), 500.0)
    straight = line_over(x, y)
    assert np.abs(plan_curvature(straight.lon, straight.lat, 10.0)).max() < 1e-5
    y[100] += 2.0                                               # one vertex 2 m off
    jagged = line_over(x, y)
    raw = 2 * 2.0 / 10.0 / 10.0                                 # what differencing the azimuths would say [1/m]
    assert np.abs(plan_curvature(jagged.lon, jagged.lat, 10.0)).max() < raw / 3


def test_two_points_have_no_curvature() -> None:
    assert plan_curvature(np.array([7.0, 7.001]), np.array([46.0, 46.0]), 75.0).tolist() == [0.0, 0.0]
