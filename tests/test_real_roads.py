# SPDX-License-Identifier: MIT
"""Plans on real ground: the DEM a registry package carries, and the maintainers' real roads where they are there."""

from __future__ import annotations

import json
import warnings
from pathlib import Path

import matplotlib.cbook
import numpy as np
import pytest
import rasterio
from rasterio.transform import from_bounds

from descent.errors import ElevationError
from descent.pipeline import plan_descent, survey
from descent.request import Direction, Faults, PlanRequest, RoadRequest, plan_request, road_request


def request_for(route: Path | str, dem: Path, *, vehicle: str, gross: str,
                direction: Direction = Direction.AS_DRAWN) -> PlanRequest:
    faults = Faults()
    road = road_request(str(route), dem=[str(dem)], grades=None, route_elevation=None, direction=direction,
                        faults=faults)
    return plan_request(road, {"vehicle": vehicle, "gross": gross}, faults)


@pytest.fixture(scope="module")
def jacksboro(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """SRTM 3 arc-second of Tennessee, public domain, from a plotting package's sample data, with the box that its
    row count implies from the north edge (the shipped south edge is wrong); and an invented line across it."""
    folder = tmp_path_factory.mktemp("jacksboro")
    with matplotlib.cbook.get_sample_data("jacksboro_fault_dem.npz") as data:
        height, west, east, north = data["elevation"], float(data["xmin"]), float(data["xmax"]), float(data["ymax"])
    rows, columns = height.shape
    cell = (east - west) / columns
    dem = folder / "dem.tif"
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        with rasterio.open(dem, "w", driver="GTiff", width=columns, height=rows, count=1, dtype="int16",
                           crs="EPSG:4326", nodata=-32768,
                           transform=from_bounds(west, north - rows * cell, east, north, columns, rows)) as file:
            file.write(height.astype("int16"), 1)
    lon = np.linspace(west + 0.05, east - 0.05, 400)
    lat = north - 0.14 + 0.03 * np.sin(np.linspace(0, 6, 400))
    route = folder / "line.geojson"
    route.write_text(json.dumps({"type": "Feature", "properties": {"name": "invented line"}, "geometry": {
        "type": "LineString", "coordinates": np.column_stack([lon, lat]).tolist()}}))
    return route, dem


def test_a_line_over_real_ground_is_planned_or_honestly_refused(jacksboro: tuple[Path, Path]) -> None:
    """The line is no road: across ridges of a 90 m model it is steeper than any. The answer must be a plan that keeps
    its limits, a refusal, or exit 4; never a traceback and never a plan over its limit."""
    request = request_for(*jacksboro, vehicle="motorcoach", gross="45000lb")
    profile = survey(request.road).profile
    assert np.isfinite(profile.elevation_m).all()
    assert 236 - 60 < profile.elevation_m.min() and profile.elevation_m.max() < 1076 + 60
    try:
        plan, _ = plan_descent(request)
    except ElevationError as error:
        assert error.faults[0].where
        return
    if plan.trace is not None:
        assert float((plan.trace.temp_c + plan.trace.rise_k).max()) <= 260.0 + 1e-9


def road_of(shared_data: Path, name: str) -> RoadRequest:
    return request_for(f"{shared_data / 'sierra_routes.geojson'}#{name}", shared_data / "sierra_SRTMGL3.tif",
                       vehicle="tractor-semitrailer-retarder", gross="80000lb").road


@pytest.mark.shared_data
@pytest.mark.parametrize("name", ["leevining_grade_CA120", "conway_grade_US395"])
def test_real_roads_are_planned(shared_data: Path, name: str) -> None:
    """With an engine compression retarder both real roads hold; the plan keeps its limits in the full march."""
    plan, _ = plan_descent(request_for(
        f"{shared_data / 'sierra_routes.geojson'}#{name}", shared_data / "sierra_SRTMGL3.tif",
        vehicle="tractor-semitrailer-retarder", gross="80000lb"))
    assert plan.feasible and plan.trace is not None
    assert float((plan.trace.temp_c + plan.trace.rise_k).max()) <= 260.0 + 1e-9


@pytest.mark.shared_data
def test_what_is_known_of_the_real_grade(shared_data: Path) -> None:
    """Tioga Pass to US-395: the road loses more than 3,000 ft (published); the raw model gives 953 m."""
    height = survey(road_of(shared_data, "leevining_grade_CA120")).profile.elevation_m
    assert 3000 * 0.3048 < height.max() - height[-1] < 953 + 30
