# SPDX-License-Identifier: MIT
"""Heights recorded in the route file: smoothed with a learnt noise level; gaps are said."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from descent.errors import ElevationError
from descent.route.line import Route
from descent.terrain.from_route import profile_from_route_elevation

X = np.arange(0.0, 3900.0, 7.0)


@pytest.mark.parametrize("noise_m", [0.1, 2.0])
def test_grade_of_a_recorded_descent(line_over: Callable[..., Route], noise_m: float) -> None:
    rng = np.random.default_rng(4)
    height = 900 - 0.06 * X + rng.normal(0, noise_m, len(X))
    route = line_over(X, np.full(len(X), 500.0), elevation_m=height)
    got = profile_from_route_elevation(route)
    inner = slice(20, -20)
    scale = X[-1] / route.length_m                          # map metres of the projection over ground metres
    assert got.grade[inner] == pytest.approx(-0.06 * scale, abs=0.001 + 0.006 * noise_m)
    assert got.source == "heights in the route file" and got.curvature_1pm[50] == pytest.approx(0, abs=1e-5)


def test_a_long_gap_cannot_carry_a_plan(line_over: Callable[..., Route]) -> None:
    height = 900 - 0.06 * X
    height[(X > 1500) & (X < 2200)] = np.nan
    got = profile_from_route_elevation(line_over(X, np.full(len(X), 500.0), elevation_m=height))
    worst = [span for span in got.confidence if span.level == "none"]
    assert len(worst) == 1
    assert worst[0].start_m < 1500 and worst[0].end_m > 2200


def test_no_heights(line_over: Callable[..., Route]) -> None:
    with pytest.raises(ElevationError) as error:
        profile_from_route_elevation(line_over(X, np.full(len(X), 500.0)))
    assert error.value.faults[0].code == "route-no-elevation"
