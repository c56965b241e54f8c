# SPDX-License-Identifier: MIT
"""Tiles that lie about where they are or in which unit, caught by neighbours and by recorded heights."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import matplotlib.cbook
import numpy as np
import pytest
import rasterio

from descent.errors import ElevationError
from descent.pipeline import SurveyedRoad, survey
from descent.request import Direction, Faults, road_request
from descent.route.line import Route, stations_along
from descent.route.readers import read_route
from descent.terrain.dem import open_dems
from descent.terrain.placement_checks import record_notes
from descent.terrain.sample import sample_across


def mountains(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    return 1500 + 250 * np.sin(x / 700) * np.cos(y / 500) + 90 * np.sin(x / 190 + y / 310)


@pytest.fixture
def road(line_over: Callable[..., Route]) -> Route:
    x = np.arange(100.0, 3900.0, 10.0)
    return line_over(x, 1000 + 300 * np.sin(x / 500))


def tiles(write_dem: Callable[..., str], other: Callable[..., np.ndarray], *, west: float) -> list[str]:
    return [write_dem(mountains, name="a.tif", width_m=2000.0, height_m=2000.0),
            write_dem(other, name="b.tif", west=west, width_m=4000.0 - west, height_m=2000.0)]


@pytest.mark.parametrize("west", [2000.0, 1800.0])
def test_honest_neighbours_pass(write_dem: Callable[..., str], road: Route, west: float) -> None:
    got = sample_across(open_dems(tiles(write_dem, mountains, west=west)), road.lon, road.lat)
    assert got.notes == () and len(set(got.file.tolist())) == 2


@pytest.mark.parametrize("west", [2000.0, 1800.0])
def test_a_neighbour_from_elsewhere_is_refused(write_dem: Callable[..., str], road: Route, west: float) -> None:
    liar = tiles(write_dem, lambda x, y: mountains(x + 5300, y + 2100), west=west)
    with pytest.raises(ElevationError, match="common edge") as error:
        sample_across(open_dems(liar), road.lon, road.lat)
    assert error.value.faults[0].code == "dem-misplaced"


@pytest.mark.parametrize("west", [2000.0, 1800.0])
def test_a_neighbour_a_few_metres_off_is_said(write_dem: Callable[..., str], road: Route, west: float) -> None:
    got = sample_across(open_dems(tiles(write_dem, lambda x, y: mountains(x, y) + 30.0, west=west)), road.lon, road.lat)
    assert any("do not fit along their common edge" in note for note in got.notes)


def recorded(route: Route, heights: np.ndarray) -> Route:
    return Route(route.name, route.lon, route.lat, route.station_m, heights)


def test_the_record_agrees(write_dem: Callable[..., str], road: Route) -> None:
    got = sample_across(open_dems([write_dem(mountains, height_m=2000.0)]), road.lon, road.lat)
    line = got.height_m[:, got.centre]
    noisy = line + 35 + 4 * np.sin(road.station_m / 300)                  # another zero, a barometer's drift
    assert record_notes(recorded(road, noisy), road.station_m, line) == ()
    assert record_notes(road, road.station_m, line) == ()
    assert record_notes(recorded(road, np.zeros(len(line))), road.station_m, line) == ()     # says nothing
    assert "another zero" in record_notes(recorded(road, line + 300), road.station_m, line)[0]


def test_a_stretch_that_disagrees_is_named(road: Route) -> None:
    line = 1500 - 0.06 * road.station_m
    wrong = line + np.where((road.station_m > 1000) & (road.station_m < 2000), 70.0, 0.0)
    note, = record_notes(recorded(road, line), road.station_m, wrong)
    assert "km 1.0 to 2.0" in note


def test_feet_taken_for_metres_are_recognised(road: Route) -> None:
    line = 900 + 150 * np.sin(road.station_m / 700)
    with pytest.raises(ElevationError, match="feet") as error:
        record_notes(recorded(road, line), road.station_m, line / 0.3048)
    assert error.value.faults[0].code == "dem-unit-doubtful"


@pytest.mark.parametrize(("share", "code"), [(1.0, "dem-no-overlap"), (0.4, "dem-misplaced"), (0.1, "dem-misplaced")])
def test_the_naive_georeference_of_the_fault_sample_is_caught(tmp_path: Path, share: float, code: str) -> None:
    """The plotting package's Tennessee sample ships edges that do not go with its rows: who takes the two as south and
    north lands about 32 km too far north, where a road of the true ground is not covered. Off by a part of that, the
    road is covered by other ground, and heights recorded along it show it; the right placement passes."""
    with matplotlib.cbook.get_sample_data("jacksboro_fault_dem.npz") as data:
        heights, west = data["elevation"], float(data["xmin"])
        edges, dx, dy = (float(data["ymin"]), float(data["ymax"])), float(data["dx"]), abs(float(data["dy"]))
    rows, columns = heights.shape
    true_top, naive_top = edges[1], max(edges)
    assert (naive_top - true_top) * 111.0 == pytest.approx(32, abs=1)
    right, wrong = tmp_path / "right.tif", tmp_path / "wrong.tif"
    for path, top in ((right, true_top), (wrong, true_top + share * (naive_top - true_top))):
        with rasterio.open(path, "w", driver="GTiff", width=columns, height=rows, count=1, dtype="int16",
                           crs="EPSG:4326", transform=rasterio.Affine(dx, 0, west, 0, -dy, top)) as out:
            out.write(heights.astype("int16"), 1)
    lon = np.linspace(west + 0.03, west + columns * dx - 0.03, 900)
    lat = true_top - 0.08 + 0.05 * np.sin(np.linspace(0, 5, 900))
    station = stations_along(lon, lat)
    true = sample_across(open_dems([str(right)]), lon, lat)
    noise = np.random.default_rng(1).normal(0, 5, len(lon))
    route = Route("line", lon, lat, station, true.height_m[:, true.centre] + noise)
    assert record_notes(route, station, true.height_m[:, true.centre]) == ()
    with pytest.raises(ElevationError) as error:
        read = sample_across(open_dems([str(wrong)]), lon, lat)
        record_notes(route, station, read.height_m[:, read.centre])
    assert error.value.faults[0].code == code


def test_a_survey_compares_the_model_with_the_heights_in_the_route_file(sample: Path, tmp_path: Path) -> None:
    """The whole way from files: the sample's true road heights agree with its model; turned end for end they do not."""
    drawn = read_route(sample / "route.geojson")
    true = np.genfromtxt(sample / "true_profile.csv", delimiter=",", names=True)
    heights = np.interp(drawn.station_m, true["station_m"], true["elevation_m"])

    def road(name: str, heights: np.ndarray) -> SurveyedRoad:
        line = np.column_stack([drawn.lon, drawn.lat, heights]).tolist()
        (tmp_path / name).write_text(json.dumps({"type": "LineString", "coordinates": line}))
        return survey(road_request(str(tmp_path / name), dem=[str(sample / "pass_30m.tif")], grades=None,
                                   route_elevation=None, direction=Direction.AS_DRAWN, faults=Faults()))
    honest = road("honest.geojson", heights)
    assert honest.route.elevation_m is not None
    assert not any("recorded in the route file" in note for note in honest.profile.notes)
    assert any("another zero" in note for note in road("high.geojson", heights + 200).profile.notes)
    with pytest.raises(ElevationError) as error:
        road("turned.geojson", heights[::-1])
    assert error.value.faults[0].code == "dem-misplaced"
