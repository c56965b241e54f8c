# SPDX-License-Identifier: MIT
"""Real elevation data: matplotlib's sample of a Tennessee fault, and real passes where the maintainers' data is."""

from __future__ import annotations

import json
from pathlib import Path

import matplotlib.cbook
import numpy as np
import pytest
import rasterio

from descent.downgrades.find import sustained_downgrades
from descent.route.line import Route, reverse, stations_along
from descent.terrain.build import profile_from_dem
from descent.terrain.dem import open_dems
from descent.terrain.road_profile import RoadProfile
from descent.terrain.sample import sample_across


@pytest.fixture(scope="module")
def fault_dem(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The sample data as a GeoTIFF. Its ymin is wrong: the north edge and the cell size place it."""
    with matplotlib.cbook.get_sample_data("jacksboro_fault_dem.npz") as data:
        heights, west, north = data["elevation"], float(data["xmin"]), float(data["ymax"])
        dx, dy = float(data["dx"]), abs(float(data["dy"]))
    path = tmp_path_factory.mktemp("fault") / "fault.tif"
    with rasterio.open(path, "w", driver="GTiff", width=heights.shape[1], height=heights.shape[0], count=1,
                       dtype="int16", crs="EPSG:4326", transform=rasterio.Affine(dx, 0, west, 0, -dy, north)) as out:
        out.write(heights.astype("int16"), 1)
    return str(path)


def test_heights_of_real_ground(fault_dem: str) -> None:
    with rasterio.open(fault_dem) as source:
        grid, to = source.read(1), source.transform
    rows, columns = np.arange(20, 300, 7), np.arange(30, 310, 7)
    got = sample_across(open_dems([fault_dem]), to.c + (columns + 0.5) * to.a, to.f + (rows + 0.5) * to.e)
    assert got.height_m[:, got.centre] == pytest.approx(grid[rows, columns].astype(float), abs=0.1)
    assert got.cell_m == pytest.approx(np.full(len(rows), 83.0), abs=2.0)          # 3 arc-seconds at 36.3 degrees


def test_a_line_over_real_ground_is_not_trusted_far(fault_dem: str) -> None:
    lon, lat = np.linspace(-84.38, -84.20, 60), np.linspace(36.40, 36.25, 60)
    profile = profile_from_dem(Route("across", lon, lat, stations_along(lon, lat)), [fault_dem])
    assert {span.level for span in profile.confidence} <= {"poor", "none"}
    assert any("too coarse" in reason for span in profile.confidence for reason in span.reasons)
    assert np.isfinite(profile.grade).all() and np.median(profile.grade_sd) > 0.008


def real_road(folder: Path, name: str) -> RoadProfile:
    """A real road of the maintainers' data, driven down."""
    features = json.loads((folder / "sierra_routes.geojson").read_text(encoding="utf-8"))["features"]
    line = next(item for item in features if name in item["properties"]["name"])
    points = np.array([point[:2] for point in line["geometry"]["coordinates"]])
    points = points[np.concatenate([[True], np.any(np.diff(points, axis=0) != 0, axis=1)])]
    lon, lat = points[:, 0].copy(), points[:, 1].copy()
    route, dem = Route(name, lon, lat, stations_along(lon, lat)), str(folder / "sierra_SRTMGL3.tif")
    profile = profile_from_dem(route, [dem])
    return profile if profile.elevation_m[0] > profile.elevation_m[-1] else profile_from_dem(reverse(route), [dem])


def steepest(profile: RoadProfile, window_m: float) -> tuple[float, float]:
    """The steepest mean grade over a window and its sd."""
    steps = round(window_m / profile.spacing_m)
    means = (profile.elevation_m[steps:] - profile.elevation_m[:-steps]) / (steps * profile.spacing_m)
    start = int(np.argmin(means))
    return float(means[start]), profile.drop_sd_m(start, start + steps) / window_m


@pytest.mark.shared_data
def test_lee_vining_grade(shared_data: Path) -> None:
    profile = real_road(shared_data, "CA120")
    # 3031 m (9,943 ft) at the pass and a loss of more than 3,000 ft: published for the road
    assert profile.elevation_m[0] == pytest.approx(3031, abs=20)
    assert profile.elevation_m[0] - profile.elevation_m[-1] > 3000 * 0.3048
    # 7.6 % is the state's figure for the steepest grade (second hand); a 90 m surface model over-reads it
    worst, sd = steepest(profile, 1000.0)
    assert worst > -0.095 and worst + 1.645 * sd >= -0.076
    k = int(np.argmin(profile.grade))
    assert profile.grade[k] + 1.645 * profile.grade_sd[k] >= -0.076
    longest = max(sustained_downgrades(profile), key=lambda item: item.drop_m)
    assert longest.drop_m > 500 and longest.hill_sign
    assert all(span.level == "poor" for span in profile.confidence)


@pytest.mark.shared_data
def test_conway_grade(shared_data: Path) -> None:
    profile = real_road(shared_data, "US395")
    worst, sd = steepest(profile, 1000.0)
    assert worst - 1.645 * sd <= -0.06 <= worst + 1.645 * sd                        # 6 %: from memory


@pytest.mark.shared_data
def test_corrected_file_is_the_sample_data(shared_data: Path, fault_dem: str) -> None:
    with rasterio.open(shared_data / "jacksboro_corrected_georef.tif") as one, rasterio.open(fault_dem) as two:
        assert np.array_equal(one.read(1), two.read(1))
        for name in ("left", "bottom", "right", "top"):
            assert getattr(one.bounds, name) == pytest.approx(getattr(two.bounds, name), abs=1e-4)
