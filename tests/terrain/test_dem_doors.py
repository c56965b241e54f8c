# SPDX-License-Identifier: MIT
"""Elevation files as people have them: .hgt, VRT, tiles, feet, ellipsoid, voids; and rasters that are none."""

from __future__ import annotations

import io
import os
import resource
import warnings
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import rasterio
from rasterio import Affine

from descent.errors import DemError, ElevationError
from descent.route.line import Route
from descent.terrain import dem as dem_module
from descent.terrain import raster_access, reading
from descent.terrain.dem import open_dems
from descent.terrain.sample import sample_across


def slope(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    return 700 + 0.08 * x - 0.05 * y


def hills(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    return 800 + 60 * np.sin(x / 180) * np.cos(y / 130) + 0.05 * x


@pytest.fixture
def road(line_over: Callable[..., Route]) -> Route:
    s = np.linspace(0.0, 1.0, 360)
    return line_over(200 + 3600 * s, 500 + 300 * np.sin(7 * s))


def codes(error: pytest.ExceptionInfo[Any]) -> list[str]:
    return [fault.code for fault in error.value.faults]


def write_hgt(path: Path, rows: int = 1201) -> Path:
    """An SRTM tile: big-endian 16-bit heights in metres, row by row from the north-west corner, nothing else."""
    y, x = np.meshgrid(np.linspace(1, 0, rows), np.linspace(0, 1, rows), indexing="ij")
    path.write_bytes((1000 + 500 * x + 200 * y).round().astype(">i2").tobytes())
    return path


def test_an_hgt_tile_lies_where_its_name_says(tmp_path: Path) -> None:
    dem, = open_dems([str(write_hgt(tmp_path / "N46E007.hgt"))])
    lon, lat = np.linspace(7.2, 7.8, 50), np.linspace(46.3, 46.6, 50)
    got = sample_across([dem], lon, lat)
    assert got.height_m[:, got.centre] == pytest.approx(1000 + 500 * (lon - 7) + 200 * (lat - 46), abs=0.6)


def test_an_hgt_file_without_a_tile_in_its_name(tmp_path: Path) -> None:
    with pytest.raises(DemError, match=r"N46E007\.hgt") as error:
        open_dems([str(write_hgt(tmp_path / "heights.hgt"))])
    assert codes(error) == ["dem-hgt-name"]


def test_an_hgt_file_that_was_cut(tmp_path: Path) -> None:
    (tmp_path / "N46E007.hgt").write_bytes(b"\0" * 1000)
    with pytest.raises(DemError) as error:
        open_dems([str(tmp_path / "N46E007.hgt")])
    assert codes(error) == ["dem-unreadable"]


def test_a_vrt_is_its_tiles(write_dem: Callable[..., str], road: Route, tmp_path: Path) -> None:
    tile = write_dem(hills)
    (tmp_path / "all.vrt").write_text(
        '<VRTDataset rasterXSize="400" rasterYSize="100"><SRS>EPSG:32613</SRS>'
        "<GeoTransform>500000, 10, 0, 4401000, 0, -10</GeoTransform>"
        '<VRTRasterBand dataType="Float32" band="1"><SimpleSource><SourceFilename relativeToVRT="1">dem.tif'
        '</SourceFilename><SourceBand>1</SourceBand><SrcRect xOff="0" yOff="0" xSize="400" ySize="100"/>'
        '<DstRect xOff="0" yOff="0" xSize="400" ySize="100"/></SimpleSource></VRTRasterBand></VRTDataset>')
    one = sample_across(open_dems([tile]), road.lon, road.lat)
    two = sample_across(open_dems([str(tmp_path / "all.vrt")]), road.lon, road.lat)
    assert np.array_equal(one.height_m, two.height_m)


def test_heights_run_on_across_tiles_that_only_touch(write_dem: Callable[..., str], road: Route) -> None:
    """A plane is read exactly by bilinear interpolation, so also across the edge, where a single tile ends half a
    cell early."""
    tiles = [write_dem(slope, name=f"{k}.tif", west=west, width_m=width) for k, (west, width) in
             enumerate([(0.0, 1000.0), (1000.0, 1300.0), (2300.0, 1700.0)])]
    got = sample_across(open_dems(tiles), road.lon, road.lat)
    whole = sample_across(open_dems([write_dem(slope)]), road.lon, road.lat)
    assert np.abs(got.height_m - whole.height_m).max() < 1e-3
    assert set(got.file.tolist()) == {0, 1, 2}
    assert got.notes == ()


def test_a_void_in_one_of_two_overlapping_tiles_is_filled_from_the_other(write_dem: Callable[..., str],
                                                                         road: Route) -> None:
    holed = write_dem(lambda x, y: np.where((x > 900) & (x < 1100), np.nan, slope(x, y)), name="a.tif", width_m=2000.0)
    other = write_dem(slope, name="b.tif", west=800.0, width_m=3200.0)
    got = sample_across(open_dems([holed, other]), road.lon, road.lat)
    assert not np.isnan(got.height_m).any()


@pytest.mark.parametrize("layout", [{"blockxsize": 128, "blockysize": 128, "tiled": True},
                                    {"blockysize": 8}, {"blockxsize": 1280, "blockysize": 1280, "tiled": True}])
def test_each_block_is_decoded_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, layout: dict[str, Any],
                                    line_over: Callable[..., Route]) -> None:
    """Bytes of each compressed block fetched from the file, counted under the raster library."""
    path = tmp_path / "rough.tif"
    ground = np.random.default_rng(3).normal(900, 5, (1500, 3000)).astype("float32")
    with rasterio.open(path, "w", driver="GTiff", width=3000, height=1500, count=1, dtype="float32", crs="EPSG:32613",
                       transform=Affine(5, 0, 500_000, 0, -5, 4_407_500), compress="deflate", **layout) as out:
        out.write(ground, 1)
    with rasterio.open(path) as source:
        rows, columns = source.block_shapes[0]
        starts = {int(text) for i in range(-(-1500 // rows)) for j in range(-(-3000 // columns))
                  if (text := source.get_tag_item(f"BLOCK_OFFSET_{j}_{i}", "TIFF", bidx=1))}
    fetched: Counter[int] = Counter()

    class Counting(io.FileIO):
        def read(self, size: int | None = -1) -> bytes | None:
            fetched[self.tell()] += 1
            return super().read(-1 if size is None else size)
    dems = open_dems([str(path)])
    s = np.linspace(0.0, 1.0, 1500)
    road = line_over(500 + 14_000 * s, 3700 + 2500 * np.sin(9 * s))
    real = rasterio.open
    monkeypatch.setattr(raster_access.rasterio, "open", lambda name: real(name, opener=lambda file, mode="rb", **_: Counting(file)))
    sample_across(dems, road.lon, road.lat)
    counts = {start: fetched[start] for start in starts if fetched[start]}
    assert len(counts) > 3
    assert set(counts.values()) == {1}


def test_a_long_line_is_read_in_pieces_that_agree(write_dem: Callable[..., str], road: Route,
                                                  monkeypatch: pytest.MonkeyPatch) -> None:
    path = write_dem(hills, cell_m=2.0, block=128)
    whole = sample_across(open_dems([path]), road.lon, road.lat)
    sizes = []
    original = reading._load

    def watching(source: Any, dem: Any, ids: Any, held: Any, stack: Any) -> None:
        sizes.append(len(stack))
        original(source, dem, ids, held, stack)
    monkeypatch.setattr(reading, "_load", watching)
    monkeypatch.setattr(reading, "BUDGET_BYTES", 1)
    pieces = sample_across(open_dems([path]), road.lon, road.lat)
    assert len(sizes) > 1 and max(sizes) <= 16
    assert np.array_equal(pieces.height_m, whole.height_m)


# Vertical reference: the EPSG registry's compound and three-dimensional systems.
@pytest.mark.parametrize(("crs", "factor", "words"), [
    ("EPSG:32613+5773", 1.0, "EGM96 height"), ("EPSG:26913+6360", 1200 / 3937, "NAVD88 height"),
    ("EPSG:4979", 1.0, "ellipsoid")])
def test_what_heights_count_from_is_said(tmp_path: Path, crs: str, factor: float, words: str) -> None:
    cell = 1e-4 if crs == "EPSG:4979" else 10.0
    west, north = (7.0, 46.1) if crs == "EPSG:4979" else (500_000.0, 4_401_000.0)
    path = tmp_path / "a.tif"
    with rasterio.open(path, "w", driver="GTiff", width=400, height=400, count=1, dtype="float32", crs=crs,
                       transform=Affine(cell, 0, west, 0, -cell, north)) as out:
        out.write(np.full((400, 400), 2000, "float32"), 1)
    dem, = open_dems([str(path)])
    west, south, east, north = dem.bounds_lonlat
    lon, lat = np.linspace(west + 1e-3, east - 1e-3, 60), np.linspace(south + 1e-3, north - 1e-3, 60)
    got = sample_across([dem], lon, lat)
    assert np.nanmedian(got.height_m) == pytest.approx(2000 * factor, rel=1e-6)
    assert any(words in note for note in got.notes)


def test_across_the_antimeridian(tmp_path: Path) -> None:
    path = tmp_path / "a.tif"
    with rasterio.open(path, "w", driver="GTiff", width=400, height=200, count=1, dtype="float32", crs="EPSG:4326",
                       transform=Affine(0.001, 0, -180, 0, -0.001, 50.1)) as out:
        out.write(np.tile(np.arange(400, dtype="float32"), (200, 1)), 1)
    lon = np.linspace(180.05, 180.25, 50)                       # a route runs on past 180
    got = sample_across(open_dems([str(path)]), lon, np.full(50, 50.0))
    assert got.height_m[:, got.centre] == pytest.approx((lon - 180) / 0.001 - 0.5, abs=1e-2)


@pytest.mark.parametrize("fill", [0, -32768, -9999, 32767])
def test_untold_voids(write_dem: Callable[..., str], line_over: Callable[..., Route], fill: int) -> None:
    """A file that fills voids with a number and does not say so."""
    path = write_dem(lambda x, y: np.where((x > 1500) & (x < 1700), fill, 700.0 + 0.02 * y), dtype="int16", nodata=None)
    x = np.arange(1000, 2000, 10.0)
    road = line_over(x, np.full(len(x), 500.0))
    got = sample_across(open_dems([path]), road.lon, road.lat)
    line = got.height_m[:, got.centre]
    assert np.isnan(line[(x > 1500) & (x < 1700)]).all()
    assert np.nanmin(got.height_m) > 690
    assert np.nanmax(got.height_m) < 730
    assert any("exactly 0" in note and "km 0.5 to 0.7" in note for note in got.notes) is (fill == 0)


def test_the_sea_is_no_void(write_dem: Callable[..., str], line_over: Callable[..., Route]) -> None:
    path = write_dem(lambda x, y: np.maximum(0.0, 60 - 0.05 * x) + 0 * y)
    x = np.arange(100, 3000, 10.0)
    road = line_over(x, np.full(len(x), 500.0))
    got = sample_across(open_dems([path]), road.lon, road.lat)
    assert not np.isnan(got.height_m).any() and got.notes == ()


def test_nothing_but_zeros_is_no_ground(write_dem: Callable[..., str], road: Route) -> None:
    with pytest.raises(ElevationError) as error:
        sample_across(open_dems([write_dem(lambda x, y: 0 * x)]), road.lon, road.lat)
    assert codes(error) == ["dem-void"]


def raster(path: Path, **more: Any) -> str:
    """A small raster with something wrong about it."""
    profile = {"driver": "GTiff", "width": 40, "height": 40, "count": 1, "dtype": "float32", "crs": "EPSG:32613",
               "transform": Affine(10, 0, 500_000, 0, -10, 4_400_000)} | more
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        with rasterio.open(path, "w", **profile):
            pass
    return str(path)


def vrt(size: str, inside: str = '<VRTRasterBand dataType="Float32" band="1"/>') -> str:
    return (f"<VRTDataset {size}><SRS>EPSG:4326</SRS><GeoTransform>7, 1e-9, 0, 46, 0, -1e-9</GeoTransform>"
            f"{inside}</VRTDataset>")


@pytest.mark.parametrize(("name", "text", "code"), [
    ("negative.vrt", vrt('rasterXSize="-5" rasterYSize="-5"'), "dem-unreadable"),
    ("huge.vrt", vrt('rasterXSize="2000000000" rasterYSize="2000000000"'), "dem-too-large"),
    ("bandless.vrt", vrt('rasterXSize="5" rasterYSize="5"', ""), "dem-unreadable"),
    ("missing-source.vrt", "<VRTDataset>", "dem-unreadable"),
    ("empty.tif", "", "dem-unreadable"), ("text.asc", "hello", "dem-unreadable")])
def test_rasters_that_cannot_be(tmp_path: Path, name: str, text: str, code: str) -> None:
    (tmp_path / name).write_text(text)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    with pytest.raises(DemError) as error:
        open_dems([str(tmp_path / name)])
    assert codes(error) == [code]
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 50_000       # kB


@pytest.mark.parametrize(("more", "code"), [
    ({"dtype": "complex64"}, "dem-not-heights"), ({"dtype": "uint8", "count": 3}, "dem-not-heights"),
    ({"width": 1}, "dem-too-small"), ({"transform": Affine(0, 0, 5e5, 0, 0, 4e6)}, "dem-placement"),
    ({"crs": "EPSG:4326", "transform": Affine(1, 0, 500_000, 0, -1, 4_400_000)}, "dem-placement"),
    ({"crs": None}, "dem-no-crs"), ({"transform": Affine.identity()}, "dem-placement"),
    ({"width": 20_000, "height": 20_000, "tiled": True, "blockxsize": 16_384, "blockysize": 16_384, "sparse_ok": True},
     "dem-block-too-large")])
def test_rasters_that_are_no_heights(tmp_path: Path, more: dict[str, Any], code: str) -> None:
    with pytest.raises(DemError) as error:
        open_dems([raster(tmp_path / "a.tif", **more)])
    assert codes(error) == [code]


def test_a_container_without_a_layer() -> None:
    with pytest.raises(DemError) as error:
        dem_module._check_raster("a.nc", SimpleNamespace(count=0))
    assert codes(error) == ["dem-no-band"]


def test_a_header_that_promises_more_than_there_is(tmp_path: Path, road: Route) -> None:
    """A sparse file of 40,000 x 40,000 cells is opened, and read only along the road."""
    path = raster(tmp_path / "a.tif", width=40_000, height=40_000, sparse_ok=True, tiled=True, nodata=-9999,
                  transform=Affine(1, 0, 495_000, 0, -1, 4_410_000))
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    with pytest.raises(ElevationError) as error:
        sample_across(open_dems([path]), road.lon, road.lat)
    assert codes(error) == ["dem-void"]
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 100_000      # kB


def test_a_truncated_file(write_dem: Callable[..., str], road: Route) -> None:
    path = Path(write_dem(hills, cell_m=5.0))
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    with pytest.raises(DemError) as error:
        sample_across(open_dems([str(path)]), road.lon, road.lat)
    assert codes(error) == ["dem-unreadable"]


def test_a_file_that_vanishes(write_dem: Callable[..., str], road: Route) -> None:
    path = write_dem(hills)
    dems = open_dems([path])
    os.unlink(path)
    with pytest.raises(DemError, match="not there any more") as error:
        sample_across(dems, road.lon, road.lat)
    assert codes(error) == ["dem-missing"]


def test_a_file_that_changes(write_dem: Callable[..., str], road: Route) -> None:
    path = write_dem(hills)
    dems = open_dems([path])
    os.utime(path, ns=(1, 1))
    with pytest.raises(DemError) as error:
        sample_across(dems, road.lon, road.lat)
    assert codes(error) == ["dem-changed"]


def test_pipes_and_unreadable_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    os.mkfifo(tmp_path / "pipe.tif")

    def refuse(_: object) -> None:
        raise PermissionError(13, "Permission denied")
    folder = tmp_path / "closed"
    folder.mkdir()
    monkeypatch.setattr("descent.terrain.dem_paths.os.scandir", refuse)
    with pytest.raises(DemError) as error:
        open_dems([str(tmp_path / "pipe.tif"), str(folder), "a\0b.tif"])
    assert codes(error) == ["dem-not-plain", "dem-folder-unreadable", "dem-missing"]


def test_names_full_of_escapes_come_out_clean(tmp_path: Path) -> None:
    path = tmp_path / "evil\x1b[31m\u202e<b>.tif"
    path.write_text("x")
    with pytest.raises(DemError) as error:
        open_dems([str(path)])
    assert "evil<b>.tif" in str(error.value) and "\x1b" not in str(error.value)
