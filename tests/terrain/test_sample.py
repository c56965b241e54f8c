# SPDX-License-Identifier: MIT
"""Sampling against independent interpolation, rasterio's own sampling and exact planes."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
import rasterio
from pyproj import Transformer
from scipy.ndimage import map_coordinates

from descent.errors import ElevationError
from descent.route.line import Route
from descent.terrain import reading
from descent.terrain.dem import open_dems
from descent.terrain.sample import sample_across


def hills(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    return 800 + 60 * np.sin(x / 180) * np.cos(y / 130) + 0.05 * x


def curvy(line_over: Callable[..., Route]) -> Route:
    s = np.linspace(0, 1, 300)
    return line_over(200 + 3500 * s, 500 + 300 * np.sin(7 * s))


@pytest.mark.parametrize("block", [0, 16, 64, 256])
def test_bilinear_equals_scipy(write_dem: Callable[..., str], line_over: Callable[..., Route], block: int) -> None:
    path, route = write_dem(hills, block=block), curvy(line_over)
    got = sample_across(open_dems([path]), route.lon, route.lat)
    with rasterio.open(path) as source:
        grid = source.read(1).astype(float)
        x, y = Transformer.from_crs("EPSG:4326", source.crs, always_xy=True).transform(route.lon, route.lat)
        to = source.transform
    column, row = (np.asarray(x) - to.c) / to.a, (np.asarray(y) - to.f) / to.e
    expected = map_coordinates(grid, [row - 0.5, column - 0.5], order=1)
    assert got.height_m[:, got.centre] == pytest.approx(expected, abs=1e-3)


def test_at_cell_centres_it_is_rasterio_sample(write_dem: Callable[..., str]) -> None:
    path = write_dem(hills)
    with rasterio.open(path) as source:
        rows, columns = np.arange(5, 90, 3), np.arange(20, 275, 9)[:29]
        to = source.transform
        points = list(zip(to.c + (columns + 0.5) * to.a, to.f + (rows + 0.5) * to.e, strict=True))
        expected = [float(value[0]) for value in source.sample(points)]
        lon, lat = Transformer.from_crs(source.crs, "EPSG:4326", always_xy=True).transform(*np.array(points).T)
    got = sample_across(open_dems([path]), np.asarray(lon), np.asarray(lat))
    assert got.height_m[:, got.centre] == pytest.approx(expected, abs=2e-3)


def test_offsets_go_to_the_left_of_travel(write_dem: Callable[..., str], line_over: Callable[..., Route]) -> None:
    path = write_dem(lambda x, y: 100 + 0.2 * y + 0.0 * x)              # rises to the north
    x = np.linspace(100, 3900, 60)
    east = line_over(x, np.full(60, 500.0))
    got = sample_across(open_dems([path]), east.lon, east.lat)
    rise = got.height_m - got.height_m[:, [got.centre]]
    assert rise == pytest.approx(np.tile(0.2 * got.offsets_m, (60, 1)), abs=3e-3)   # heading east, left is north


def test_feet_are_turned_into_metres(write_dem: Callable[..., str], line_over: Callable[..., Route]) -> None:
    path = write_dem(lambda x, y: 1000.0 + 0 * x + 0 * y, unit="ft")
    route = curvy(line_over)
    got = sample_across(open_dems([path]), route.lon, route.lat)
    assert np.allclose(got.height_m, 304.8, atol=1e-4)


def test_voids_are_nan_and_nothing_is_made_up(write_dem: Callable[..., str], line_over: Callable[..., Route]) -> None:
    path = write_dem(lambda x, y: np.where((x > 1500) & (x < 1700), np.nan, 700.0 + 0 * y), dtype="int16",
                     nodata=-32768)
    x = np.arange(1000, 2000, 10.0)
    route = line_over(x, np.full(len(x), 500.0))
    got = sample_across(open_dems([path]), route.lon, route.lat)
    inner = (x > 1500) & (x < 1700)
    assert np.isnan(got.height_m[inner]).all()
    assert got.height_m[(x < 1490) | (x > 1710), got.centre] == pytest.approx(700.0)
    assert np.nanmin(got.height_m) == pytest.approx(700.0) == np.nanmax(got.height_m)


def test_finer_file_wins_where_it_has_heights(write_dem: Callable[..., str], line_over: Callable[..., Route]) -> None:
    fine = write_dem(lambda x, y: 1.0 + 0 * x + 0 * y, name="fine.tif", width_m=2000.0)
    coarse = write_dem(lambda x, y: 2.0 + 0 * x + 0 * y, name="coarse.tif", cell_m=50.0)
    x = np.array([500.0, 1500.0, 2500.0, 3500.0])
    route = line_over(x, np.full(4, 500.0))
    got = sample_across(open_dems([coarse, fine]), route.lon, route.lat)
    assert got.height_m[:, got.centre].tolist() == [1.0, 1.0, 2.0, 2.0]
    assert got.cell_m.round().tolist() == [10.0, 10.0, 50.0, 50.0]


def test_each_block_is_read_once(write_dem: Callable[..., str], line_over: Callable[..., Route],
                                 monkeypatch: pytest.MonkeyPatch) -> None:
    route, seen = curvy(line_over), []
    original = reading.read_one

    def counting(source: Any, dem: Any, window: Any, into: Any) -> None:
        seen.append((window.col_off, window.row_off))
        original(source, dem, window, into)
    monkeypatch.setattr(reading, "read_one", counting)
    sample_across(open_dems([write_dem(hills, block=128)]), route.lon, route.lat)
    assert seen and len(seen) == len(set(seen))


def test_no_overlap(write_dem: Callable[..., str]) -> None:
    with pytest.raises(ElevationError) as error:
        sample_across(open_dems([write_dem(hills)]), np.array([7.0, 7.1]), np.array([46.0, 46.1]))
    assert error.value.faults[0].code == "dem-no-overlap" and error.value.exit_code == 4
