# SPDX-License-Identifier: MIT
"""Every bad input of docs/bad-input.md: how it is made, and which door it is given to."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import rasterio

ROOT = Path(__file__).resolve().parents[1]
SAMPLE = ROOT / "data" / "sample_dem"
if str(ROOT / "tests") not in sys.path:
    sys.path.insert(0, str(ROOT / "tests"))

Action = Callable[[], object]


@dataclass(frozen=True)
class Case:
    """One bad input: which door, its name in the table, and the call that must answer with a clean error."""

    door: str
    name: str
    call: Action


def cases(folder: Path) -> Iterator[Case]:
    """All cases; their files are made in `folder`."""
    for door, make in (("route", _routes), ("places", _places), ("grade table", _grades), ("elevation", _dems),
                       ("vehicle", _vehicles), ("request", _requests), ("output", _outputs)):
        place = folder / door.replace(" ", "-")
        place.mkdir()
        for name, call in make(place):
            yield Case(door, name, call)


def _routes(folder: Path) -> Iterator[tuple[str, Action]]:
    from descent.route.readers import read_route
    from route import samples
    from route.test_hostile import BAD
    for name, content, _, _ in BAD:
        path = folder / name
        path.write_bytes(content.encode() if isinstance(content, str) else content)
        yield name, lambda path=path: read_route(path)
    big = {
        "a-million-other-elements.gpx": "<gpx>" + "<a/>" * 1_000_000 + "</gpx>",
        "three-million-rows.csv": "lon,lat\n" + "7,46\n" * 3_000_000,
        "two-million-points.geojson": samples.collection(samples.feature([[7, 46]] * 2_000_000)),
        "20000-parts.geojson": samples.collection(samples.feature([[[7, 46], [7.1, 46]]] * 20_000, "MultiLineString")),
        "500-faults.csv": "lon,lat\n" + "x,y\n" * 500,
        "evil\x1b[31m<b>.gpx": "x"}
    for name, text in big.items():
        path = folder / name
        path.write_text(text)
        yield path.name, lambda path=path: read_route(path)
    huge = folder / "five-gigabytes.gpx"
    with open(huge, "wb") as stream:
        stream.truncate(5_000_000_000)
    yield huge.name, lambda: read_route(huge)
    os.mkfifo(folder / "pipe.gpx")
    yield "pipe.gpx (a pipe)", lambda: read_route(folder / "pipe.gpx")
    yield "missing.gpx", lambda: read_route(folder / "missing.gpx")
    yield "a folder", lambda: read_route(folder)
    yield "route.geojson#No such line", lambda: read_route(f"{SAMPLE / 'route.geojson'}#No such line")


def _places(folder: Path) -> Iterator[tuple[str, Action]]:
    from descent.route.places import read_places
    from descent.route.readers import read_route
    from route import samples
    route = read_route(SAMPLE / "route.geojson")

    def point(**properties: Any) -> str:
        return samples.collection(samples.feature([route.lon[9], route.lat[9]], "Point", name="P", **properties))
    texts = {"line-only.geojson": samples.collection(samples.feature([[7, 46], [7.1, 46]])), "empty.geojson": "",
             "side.geojson": point(side="up"), "grade.geojson": point(grade_percent="steep"),
             "room.geojson": point(room="12 furlongs"),
             "many.geojson": samples.collection(*[samples.feature([7, 46], "Point")] * 30_000),
             "nowhere.geojson": samples.collection(samples.feature([700, 46], "Point"))}
    for name, text in texts.items():
        (folder / name).write_text(text)
        yield name, lambda name=name: read_places(folder / name, route)
    yield "missing.csv", lambda: read_places(folder / "missing.csv", route)


def _grades(folder: Path) -> Iterator[tuple[str, Action]]:
    from descent.route.grade_table import read_grade_table
    texts = {"columns.csv": "a,b\n1,2\n", "unit.csv": "length [parsec],grade [%]\n1,-6\n",
             "values.csv": "length [mi],grade [%]\nx,-6\n1,-99\n-1,3\n", "uphill.csv": "length [mi],grade [%]\n2,6\n",
             "short.csv": "length [ft],grade [%]\n9,-6\n", "rows.csv": "length [mi],grade [%]\n" + "1,-5\n" * 200_000}
    for name, text in texts.items():
        (folder / name).write_text(text)
        yield name, lambda name=name: read_grade_table(folder / name)


def _raster(path: Path, **more: Any) -> str:
    profile = {"driver": "GTiff", "width": 40, "height": 40, "count": 1, "dtype": "float32", "crs": "EPSG:32613",
               "transform": rasterio.Affine(10, 0, 500_000, 0, -10, 4_400_000)} | more
    with rasterio.open(path, "w", **profile):
        pass
    return str(path)


def _vrt(size: str) -> str:
    return (f"<VRTDataset {size}><SRS>EPSG:4326</SRS><GeoTransform>7, 1e-9, 0, 46, 0, -1e-9</GeoTransform>"
            '<VRTRasterBand dataType="Float32" band="1"/></VRTDataset>')


def _dems(folder: Path) -> Iterator[tuple[str, Action]]:
    from descent.route.readers import read_route
    from descent.terrain.dem import open_dems
    from descent.terrain.placement_checks import record_notes
    from descent.terrain.sample import sample_across
    route = read_route(SAMPLE / "route.geojson")

    def use(*paths: str) -> Action:
        return lambda: sample_across(open_dems(paths), route.lon, route.lat)
    texts = {"empty.tif": "", "text.tif": "hello", "negative.vrt": _vrt('rasterXSize="-5" rasterYSize="-5"'),
             "gigantic.vrt": _vrt('rasterXSize="2000000000" rasterYSize="2000000000"'), "heights.hgt": "x" * 2_884_802,
             "N46E007.hgt": "cut", "text.asc": "ncols x"}
    for name, text in texts.items():
        (folder / name).write_text(text)
        yield name, use(str(folder / name))
    rasters: dict[str, dict[str, Any]] = {
        "complex.tif": {"dtype": "complex64"}, "picture.tif": {"dtype": "uint8", "count": 3},
        "one-column.tif": {"width": 1}, "no-system.tif": {"crs": None}, "no-place.tif": {"transform": rasterio.Affine.identity()},
        "metres-as-degrees.tif": {"crs": "EPSG:4326", "transform": rasterio.Affine(1, 0, 500_000, 0, -1, 4_400_000)},
        "one-block.tif": {"width": 20_000, "height": 20_000, "tiled": True, "blockxsize": 16_384, "blockysize": 16_384,
                          "sparse_ok": True}, "elsewhere.tif": {}}
    for name, more in rasters.items():
        yield name, use(_raster(folder / name, **more))
    yield from _spoiled(folder, use, route)
    for address, name in (("http://127.0.0.1:9/ground.tif", "address without a server"), ("s3://bucket/a.tif", "s3 address")):
        yield name, use(address)
    (folder / "bare").mkdir()
    os.mkfifo(folder / "pipe.tif")
    for name in ("bare", "missing.tif", "pipe.tif"):
        yield name, use(str(folder / name))
    read = sample_across(open_dems([str(SAMPLE / "pass_30m.tif")]), route.lon, route.lat)
    heights = read.height_m[:, read.centre]
    from dataclasses import replace
    yield "feet taken for metres", lambda: record_notes(replace(route, elevation_m=heights), route.station_m, heights / 0.3048)
    yield "a misplaced tile, by recorded heights", lambda: record_notes(
        replace(route, elevation_m=heights), route.station_m, np.roll(heights, len(heights) // 3))


def _spoiled(folder: Path, use: Callable[..., Action], route: Any) -> Iterator[tuple[str, Action]]:
    """The sample's elevation file with something done to it."""
    with rasterio.open(SAMPLE / "pass_30m.tif") as source:
        profile, heights = source.profile, source.read(1)
    good = (SAMPLE / "pass_30m.tif").read_bytes()
    (folder / "truncated.tif").write_bytes(good[: len(good) // 2])
    yield "truncated.tif", use(str(folder / "truncated.tif"))
    for name, values in (("all-zero.tif", heights * 0), ("all-void.tif", np.full_like(heights, -32768))):
        with rasterio.open(folder / name, "w", **{**profile, "nodata": None}) as out:
            out.write(values, 1)
        yield name, use(str(folder / name))
    with rasterio.open(folder / "fathoms.tif", "w", **profile) as out:
        out.write(heights, 1)
        out.units = ("fathom",)
    yield "fathoms.tif", use(str(folder / "fathoms.tif"))
    a, middle = profile["transform"], profile["width"] // 2
    for name, first, last, values in (("west.tif", 0, middle, heights), ("east.tif", middle, profile["width"], heights[::-1])):
        part = {**profile, "width": last - first,
                "transform": rasterio.Affine(a.a, a.b, a.c + first * a.a, a.d, a.e, a.f)}
        with rasterio.open(folder / name, "w", **part) as out:
            out.write(values[:, first:last], 1)
    yield "a neighbour tile upside down", use(str(folder / "west.tif"), str(folder / "east.tif"))


def _vehicles(folder: Path) -> Iterator[tuple[str, Action]]:
    from descent.vehicle.catalogue import load_vehicle
    texts = {"not.toml": "this is no TOML", "unknown-field.toml": 'base = "dump-truck"\n[engine]\nwings = 2\n',
             "no-base.toml": 'title = "x"\n', "circle.toml": f'base = "{folder / "circle.toml"}"\n',
             "unit.toml": 'base = "dump-truck"\n[engine]\ndisplacement = { value = "12 cubits", source = "assumed" }\n',
             "shape.toml": 'base = "dump-truck"\nengine = 5\naxles = "many"\n'}
    for name, text in texts.items():
        (folder / name).write_text(text)
        yield name, lambda name=name: load_vehicle(str(folder / name))
    (folder / "bytes.toml").write_bytes(b"\xff\xfe\x00")
    yield "bytes.toml", lambda: load_vehicle(str(folder / "bytes.toml"))
    yield "missing.toml", lambda: load_vehicle(str(folder / "missing.toml"))
    yield "tractor-semitrailr", lambda: load_vehicle("tractor-semitrailr")
    yield "dump-truck at 5 t", lambda: load_vehicle("dump-truck", gross_kg=5000.0)


def _requests(_: Path) -> Iterator[tuple[str, Action]]:
    from descent.request import Direction, Faults, plan_request, road_request
    good = {"vehicle": "dump-truck", "gross": "50000lb"}

    def ask(**texts: str | None) -> Action:
        def call() -> object:
            faults = Faults()
            road = road_request("r.gpx", dem=["a.tif"], grades=texts.get("grades"), route_elevation=None,
                                direction=Direction.AS_DRAWN, faults=faults)
            return plan_request(road, {**good, **{key.replace("_", "-"): value for key, value in texts.items()}}, faults)
        return call
    for given in ({"gross": "80000"}, {"gross": "heavy"}, {"gross": "9st"}, {"gross": "1lb"}, {"gross": None},
                  {"gross": "9" * 5000 + "lb"}, {"vehicle": None}, {"road": "mud"}, {"units": "cubits"},
                  {"air_temp": "90"}, {"air_temp": "400F"}, {"min_speed": "1e400mph"}, {"grades": "table.csv"},
                  {"gross": "80000", "road": "mud", "air_temp": "hot"}):
        shown = ", ".join(f"--{key.replace('_', '-')} {(value or '(none)')[:20]}" for key, value in given.items())
        yield shown, ask(**given)


def _outputs(folder: Path) -> Iterator[tuple[str, Action]]:
    from descent.report.writing import write_files
    (folder / "file").write_text("mine")
    yield "--out names a file", lambda: write_files({"trip.html": b"x"}, out=folder / "file")
    yield "--out with a name too long", lambda: write_files({"trip.html": b"x"}, out=folder / ("x" * 300))
    (folder / "taken" / "trip.html").mkdir(parents=True)
    yield "a folder in the place of a file", lambda: write_files({"trip.html": b"x"}, out=folder / "taken")
