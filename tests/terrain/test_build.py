# SPDX-License-Identifier: MIT
"""A whole profile from a made-up hillside with a road bench whose grade is known."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from descent.downgrades.find import sustained_downgrades
from descent.errors import ElevationError, RequestError
from descent.route.line import WGS84, Route, TaggedSpan, reverse
from descent.terrain.build import profile_from_dem

LENGTH = 3800.0


def road_height(x: np.ndarray) -> np.ndarray:
    """+2 % for 800 m, then 6 % down for 2400 m, then level; parabolas of 160 m (closed form)."""
    knots = np.array([0, 720, 880, 3120, 3280, 5000.0])
    grades = np.array([0.02, 0.02, -0.06, -0.06, 0.0, 0.0])
    fine = np.arange(0, 5000.1, 1.0)
    g = np.interp(fine, knots, grades)
    return np.interp(x, fine, 1200 + np.concatenate([[0.0], np.cumsum((g[1:] + g[:-1]) / 2)]))


def hillside(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """A bench 12 m wide along y = 500 on a 35 % hillside falling to the south, with a little roughness."""
    o = y - 500.0
    side = 0.35 * np.sign(o) * np.clip(np.abs(o) - 6.0, 0, None)
    rough = 0.4 * np.sin(x / 61.0) * np.cos(x / 23.0)
    return road_height(x) + side + rough


def straight(line_over: Callable[..., Route], *, first: float = 100.0, last: float = LENGTH) -> Route:
    x = np.arange(first, last, 23.0)
    return line_over(x, 500 + 4.0 * np.sin(x / 150.0))           # digitised up to 4 m beside the road


def test_grade_downgrade_and_fields(write_dem: Callable[..., str], line_over: Callable[..., Route]) -> None:
    route = straight(line_over)
    told: list[float] = []
    profile = profile_from_dem(route, [write_dem(hillside)], progress=lambda _text, share: told.append(share))
    n = len(profile.station_m)
    for name in ("lon", "lat", "elevation_m", "elevation_sd_m", "grade", "grade_sd", "curvature_1pm", "cross_slope"):
        values = getattr(profile, name)
        assert values.shape == (n,) and np.isfinite(values).all(), name
    assert np.allclose(np.diff(profile.station_m), profile.spacing_m) and profile.spacing_m == pytest.approx(10, abs=0.1)
    assert told == sorted(told) and len(told) >= 4
    middle = (profile.station_m > 900) & (profile.station_m < 2900)
    assert profile.grade[middle] == pytest.approx(-0.06, abs=0.004)
    (one,) = sustained_downgrades(profile)
    assert one.mean_grade == pytest.approx(-0.06, abs=0.002) and one.length_m == pytest.approx(2360, abs=60)
    assert {span.level for span in profile.confidence} <= {"good", "fair"}
    assert "dem.tif" in profile.source and any("bench" in note for note in profile.notes)


def test_length_is_geodesic(write_dem: Callable[..., str], line_over: Callable[..., Route]) -> None:
    route = straight(line_over)
    profile = profile_from_dem(route, [write_dem(hillside)])
    assert profile.length_m == pytest.approx(WGS84.line_length(route.lon, route.lat), abs=1e-6)


def test_reversed_road_mirrors(write_dem: Callable[..., str], line_over: Callable[..., Route]) -> None:
    route, path = straight(line_over), write_dem(hillside)
    there, back = profile_from_dem(route, [path]), profile_from_dem(reverse(route), [path])
    assert back.grade[::-1] == pytest.approx(-there.grade, abs=5e-4)      # equal costs may break the other way
    assert back.elevation_m[::-1] == pytest.approx(there.elevation_m, abs=0.1)
    assert back.length_m == pytest.approx(there.length_m)


def test_deterministic(write_dem: Callable[..., str], line_over: Callable[..., Route]) -> None:
    route, path = straight(line_over), write_dem(hillside)
    one, two = profile_from_dem(route, [path]), profile_from_dem(route, [path])
    assert np.array_equal(one.grade, two.grade) and one.notes == two.notes and one.confidence == two.confidence


def test_feet_and_metres_give_the_same_road(write_dem: Callable[..., str], line_over: Callable[..., Route]) -> None:
    route = straight(line_over)
    metres = profile_from_dem(route, [write_dem(hillside)])
    feet = profile_from_dem(route, [write_dem(lambda x, y: hillside(x, y) / 0.3048, name="feet.tif", unit="ft")])
    assert feet.grade == pytest.approx(metres.grade, abs=1e-4)


def test_tagged_bridge_over_a_gorge(write_dem: Callable[..., str], line_over: Callable[..., Route]) -> None:
    def gorge(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return hillside(x, y) - np.where(np.abs(x - 2000) < 60, 30.0 * (1 - ((x - 2000) / 60) ** 2), 0.0)
    route, path = straight(line_over), write_dem(gorge)
    for spans in ((TaggedSpan("bridge", 1840.0, 1960.0),), ()):
        tagged = Route(route.name, route.lon, route.lat, route.station_m, None, spans)
        profile = profile_from_dem(tagged, [path])
        assert [item.kind for item in profile.structures] == ["bridge"]
        assert profile.structures[0].found_from == ("tag" if spans else "found")
        assert profile.grade[190] == pytest.approx(-0.06, abs=0.008)     # on the deck, not down into the gorge


def test_leaving_the_model_is_level_none(write_dem: Callable[..., str], line_over: Callable[..., Route]) -> None:
    path = write_dem(hillside, width_m=3000.0)
    profile = profile_from_dem(straight(line_over), [path])
    assert profile.confidence[-1].level == "none"
    assert profile.confidence[-1].reasons[0] == "outside the elevation model"
    assert profile.confidence[-1].start_m == pytest.approx(2900, abs=120)
    assert np.isfinite(profile.grade).all()


def test_misplaced_model_cannot_carry_a_plan(write_dem: Callable[..., str], line_over: Callable[..., Route]) -> None:
    """Rough country read 300 m beside the road: ridges and gullies 50 m high every 500 m."""
    def beside(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return road_height(x) + 25.0 * np.sin(2 * np.pi * x / 500.0) + 0.35 * (y - 500.0)
    profile = profile_from_dem(straight(line_over), [write_dem(beside)])
    assert {span.level for span in profile.confidence} == {"none"}
    assert "misplaced" in profile.confidence[0].reasons[0]


def test_errors(write_dem: Callable[..., str], line_over: Callable[..., Route]) -> None:
    path = write_dem(hillside)
    with pytest.raises(ElevationError):
        profile_from_dem(line_over(np.array([9e4, 9.2e4]), np.array([0.0, 0.0])), [path])
    with pytest.raises(RequestError):
        profile_from_dem(straight(line_over), [path], spacing_m=0.0)
    with pytest.raises(RequestError):
        profile_from_dem(line_over(np.array([500.0, 515.0]), np.array([500.0, 500.0])), [path])
    void = write_dem(lambda x, y: np.full(x.shape, np.nan), name="void.tif")
    with pytest.raises(ElevationError) as error:
        profile_from_dem(straight(line_over), [void])
    assert error.value.faults[0].code == "dem-void"
