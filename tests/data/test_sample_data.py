# SPDX-License-Identifier: MIT
"""The committed sample country agrees with its own design, part by part, without running the ground model."""

from __future__ import annotations

import csv
import importlib.util
import itertools
import json
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest
import rasterio
from defusedxml import ElementTree
from pyproj import Geod, Transformer
from rasterio.windows import Window

FOLDER = Path(__file__).resolve().parents[2] / "data" / "sample_dem"
OUTPUTS = ("pass_10m.tif", "pass_30m.tif", "route.geojson", "route.gpx", "places.geojson", "true_profile.csv",
           "grade_table.csv")
GEOD = Geod(ellps="WGS84")


@pytest.fixture(scope="module")
def design() -> ModuleType:
    """The generator's design module, which needs numpy only."""
    spec = importlib.util.spec_from_file_location("sample_design", FOLDER / "sample_design.py")
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["sample_design"] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def truth() -> dict[str, np.ndarray]:
    """Columns of true_profile.csv."""
    with (FOLDER / "true_profile.csv").open(encoding="utf-8") as handle:
        rows = list(csv.reader(handle))
    return {name: np.array([float(row[i]) for row in rows[1:]]) for i, name in enumerate(rows[0])}


def features(name: str) -> list[dict[str, Any]]:
    """Features of one of the GeoJSON files."""
    return list(json.loads((FOLDER / name).read_text(encoding="utf-8"))["features"])


@pytest.fixture(scope="module")
def line() -> np.ndarray:
    """The drawn route as lon, lat with shared ends once."""
    parts = [np.array(f["geometry"]["coordinates"]) for f in features("route.geojson")]
    return np.vstack([parts[0], *[part[1:] for part in parts[1:]]])


def to_grid(lon: np.ndarray, lat: np.ndarray) -> np.ndarray:
    """Eastings and northings of the 10 m model, shape (n, 2)."""
    return np.column_stack(Transformer.from_crs("EPSG:4326", "EPSG:32613", always_xy=True).transform(lon, lat))


def bilinear(path: Path, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Elevations between cell centres, written out here so that no reader of the project is trusted."""
    with rasterio.open(path) as source:
        values, grid = source.read(1).astype(float), source.transform
    col, row = (x - grid.c) / grid.a - 0.5, (y - grid.f) / grid.e - 0.5
    c, r = np.floor(col).astype(int), np.floor(row).astype(int)
    u, v = col - c, row - r
    return np.asarray((1 - v) * ((1 - u) * values[r, c] + u * values[r, c + 1])
                      + v * ((1 - u) * values[r + 1, c] + u * values[r + 1, c + 1]))


def test_files_are_there_and_small() -> None:
    sizes = [(FOLDER / name).stat().st_size for name in OUTPUTS]
    assert min(sizes) > 0
    assert sum(sizes) < 4_000_000


@pytest.mark.parametrize(("name", "kind", "crs"), [("pass_10m.tif", "float32", "EPSG:32613"),
                                                   ("pass_30m.tif", "int16", "EPSG:4326")])
def test_elevation_is_cloud_optimised(name: str, kind: str, crs: str) -> None:
    with rasterio.open(FOLDER / name) as source:
        assert source.tags(ns="IMAGE_STRUCTURE")["LAYOUT"] == "COG"
        assert source.profile["tiled"] and source.block_shapes == [(256, 256)]
        assert len(source.overviews(1)) >= 2
        assert (source.dtypes[0], source.crs.to_string()) == (kind, crs)
        assert source.nodata is not None


def test_fine_elevation_is_whole_and_quantised() -> None:
    with rasterio.open(FOLDER / "pass_10m.tif") as source:
        values = source.read(1)
        assert source.res == (10.0, 10.0)
    assert np.isfinite(values).all() and values.min() > 1400
    assert np.array_equal(values * 16, np.rint(values * 16))


def test_margin_around_the_route(line: np.ndarray) -> None:
    grid = to_grid(line[:, 0], line[:, 1])
    with rasterio.open(FOLDER / "pass_10m.tif") as source:
        box = source.bounds
    room = np.minimum(grid.min(axis=0) - [box.left, box.bottom], [box.right, box.top] - grid.max(axis=0))
    assert room.min() >= 800


@pytest.mark.parametrize(("name", "rms_m", "worst_m"), [("pass_10m.tif", 0.5, 3.0), ("pass_30m.tif", 1.5, 5.0)])
def test_ground_meets_the_road_outside_structures(
    name: str, rms_m: float, worst_m: float, truth: dict[str, np.ndarray]
) -> None:
    # 10 m cells of an 11 m bench hold it but for the shoulders; 30 m cells mix in cut and fill (measured).
    grid = to_grid(truth["lon"], truth["lat"]) if name == "pass_10m.tif" else np.column_stack(
        [truth["lon"], truth["lat"]])
    miss = bilinear(FOLDER / name, grid[:, 0], grid[:, 1]) - truth["elevation_m"]
    at = truth["station_m"]
    inside = at[truth["in_structure"] > 0]
    apart = np.abs(at[:, None] - inside[None]).min(axis=1) > (0 if name == "pass_10m.tif" else 40)
    assert np.sqrt((miss[apart] ** 2).mean()) < rms_m
    assert np.abs(miss[apart]).max() < worst_m


def test_structures_are_far_from_the_ground(design: ModuleType, truth: dict[str, np.ndarray]) -> None:
    road = design.design_road()
    grid = to_grid(truth["lon"], truth["lat"])
    miss = bilinear(FOLDER / "pass_10m.tif", grid[:, 0], grid[:, 1]) - truth["elevation_m"]
    found = {}
    for item in road.structures:
        inside = (truth["station_m"] >= item.start_m) & (truth["station_m"] <= item.end_m)
        assert (truth["in_structure"][inside] == 1).all()
        found[item.kind] = miss[inside]
    assert found["bridge"].min() < -35 and found["bridge"].max() < 0
    assert found["tunnel"].max() > 45 and found["tunnel"].min() > 0


def test_coarse_twin_is_the_mean_of_the_fine_cells() -> None:
    with rasterio.open(FOLDER / "pass_10m.tif") as source:
        fine = source.read(1, window=Window(1000, 150, 150, 150)).astype(float)
        west, north = source.transform.c + 1000 * 10.0, source.transform.f - 150 * 10.0
    fine = np.repeat(np.repeat(fine, 5, axis=0), 5, axis=1)  # 2 m pieces count the shares of area
    step = (np.arange(750) + 0.5) * 2.0
    x, y = np.meshgrid(west + step, north - step)
    lon, lat = Transformer.from_crs("EPSG:32613", "EPSG:4326", always_xy=True).transform(x, y)
    with rasterio.open(FOLDER / "pass_30m.tif") as source:
        coarse, grid = source.read(1), source.transform
        assert source.res == pytest.approx((1 / 3600, 1 / 3600))
    col = np.floor((lon - grid.c) / grid.a).astype(int).ravel()
    row = np.floor((lat - grid.f) / grid.e).astype(int).ravel()
    cell = row * coarse.shape[1] + col
    count = np.bincount(cell, minlength=coarse.size)
    total = np.bincount(cell, weights=fine.ravel(), minlength=coarse.size)
    full = count >= 215  # a cell of 30.8 m by 29.9 m holds about 229 pieces; fewer lie on the rim of the window
    miss = coarse.ravel()[full] - total[full] / count[full]
    # Rounding to whole metres alone is 1/sqrt(12) = 0.29 m and 0.5 m at most; the pieces add a little.
    assert full.sum() > 2000
    assert abs(miss.mean()) < 0.05
    assert np.sqrt((miss**2).mean()) < 0.4


def test_route_is_as_long_as_the_road(line: np.ndarray, truth: dict[str, np.ndarray]) -> None:
    length = GEOD.line_length(line[:, 0], line[:, 1])
    assert truth["station_m"][-1] > 28_000
    assert length == pytest.approx(truth["station_m"][-1], rel=0.005)


def test_true_stations_are_ground_distance(truth: dict[str, np.ndarray]) -> None:
    # Grid metres and geodesic metres differ by the scale of the projection only (below 1 in 10 000 here).
    assert GEOD.line_length(truth["lon"], truth["lat"]) == pytest.approx(truth["station_m"][-1], rel=2e-4)


def test_route_parts_join_and_carry_tags() -> None:
    parts = features("route.geojson")
    for before, after in itertools.pairwise(parts):
        assert before["geometry"]["coordinates"][-1] == after["geometry"]["coordinates"][0]
        assert before["properties"] != after["properties"]
    tags = [part["properties"] for part in parts]
    assert {tag["maxspeed"] for tag in tags} == {"30 mph", "45 mph", "55 mph"}
    assert sum("bridge" in tag for tag in tags) == 1 and sum("tunnel" in tag for tag in tags) == 1
    lengths = {kind: GEOD.line_length(*np.array(part["geometry"]["coordinates"]).T)
               for part in parts for kind in ("bridge", "tunnel") if kind in part["properties"]}
    assert lengths["bridge"] == pytest.approx(150, abs=3) and lengths["tunnel"] == pytest.approx(300, abs=3)


def test_vertices_are_spaced_and_shifted_like_a_drawn_line(line: np.ndarray, truth: dict[str, np.ndarray]) -> None:
    gaps = GEOD.inv(line[:-1, 0], line[:-1, 1], line[1:, 0], line[1:, 1])[2]
    assert gaps.min() > 6 and gaps.max() < 42
    axis, drawn = to_grid(truth["lon"], truth["lat"]), to_grid(line[:, 0], line[:, 1])
    off = [segment_distance(point, axis) for point in drawn]
    assert 1.0 < float(np.sqrt(np.mean(np.square(off)))) < 3.0


def segment_distance(point: np.ndarray, axis: np.ndarray) -> float:
    """Distance [m] from a point to a polyline, signed: positive on its left."""
    i = int(np.clip(np.hypot(*(axis - point).T).argmin(), 1, len(axis) - 2))
    along = (axis[i + 1] - axis[i - 1]) / np.hypot(*(axis[i + 1] - axis[i - 1]))
    away = point - axis[i]
    return float(along[0] * away[1] - along[1] * away[0])


def test_gpx_is_the_same_line(line: np.ndarray) -> None:
    root = ElementTree.parse(FOLDER / "route.gpx").getroot()
    space = "{http://www.topografix.com/GPX/1/1}"
    assert root.tag == f"{space}gpx" and root.get("version") == "1.1"
    points = [(float(p.get("lon")), float(p.get("lat"))) for p in root.iter(f"{space}trkpt")]
    assert np.array_equal(np.array(points), line)


def test_places_lie_by_the_route_on_their_side(line: np.ndarray, truth: dict[str, np.ndarray]) -> None:
    axis, drawn = to_grid(truth["lon"], truth["lat"]), to_grid(line[:, 0], line[:, 1])
    dense = np.vstack([np.linspace(a, b, 10) for a, b in itertools.pairwise(drawn)])
    for place in features("places.geojson"):
        lon, lat = place["geometry"]["coordinates"]
        point = to_grid(np.array([lon]), np.array([lat]))[0]
        assert np.hypot(*(dense - point).T).min() < 60, place["properties"]
        assert place["properties"]["name"].strip()
        side = place["properties"]["side"]
        assert side in ("left", "right", None)
        if side:
            assert (segment_distance(point, axis) > 0) == (side == "left"), place["properties"]


def test_places_of_each_kind(truth: dict[str, np.ndarray]) -> None:
    places = features("places.geojson")
    by_kind: dict[str, list[dict[str, Any]]] = {}
    for place in places:
        by_kind.setdefault(place["properties"]["kind"], []).append(place)
    assert {k: len(v) for k, v in by_kind.items() if k not in ("milepost", "truck-speed-limit")} == {
        "brake-check-area": 1, "pull-out": 4, "escape-ramp": 1, "chain-up-area": 1, "town": 2, "landmark": 3}
    assert len(by_kind["milepost"]) == int(truth["station_m"][-1] // 1609.344)
    grades = sorted(place["properties"]["grade_percent"] for place in by_kind["pull-out"])
    assert grades[0] < -4 and grades[-1] > -1
    ramp = by_kind["escape-ramp"][0]["properties"]
    assert ramp["bed"] == "pea gravel" and ramp["grade_percent"] > 0 and ramp["length_m"] > 100
    check = to_grid(*np.array([by_kind["brake-check-area"][0]["geometry"]["coordinates"]]).T)[0]
    axis = to_grid(truth["lon"], truth["lat"])
    station = truth["station_m"][np.hypot(*(axis - check).T).argmin()]
    crest = truth["station_m"][truth["elevation_m"].argmax()]
    assert 0 < crest - station < 1000


def test_mileposts_stand_a_mile_apart_on_the_true_road(truth: dict[str, np.ndarray]) -> None:
    axis = to_grid(truth["lon"], truth["lat"])
    posts = [p for p in features("places.geojson") if p["properties"]["kind"] == "milepost"]
    for number, post in enumerate(posts, start=1):
        assert post["properties"]["name"] == f"MP {number}"
        point = to_grid(*np.array([post["geometry"]["coordinates"]]).T)[0]
        station = truth["station_m"][np.hypot(*(axis - point).T).argmin()]
        assert station == pytest.approx(number * 1609.344, abs=6)


def test_profile_is_the_generators_design(design: ModuleType, truth: dict[str, np.ndarray]) -> None:
    road = design.design_road()
    every = slice(0, None, 10)
    assert np.array_equal(truth["station_m"], road.station_m[every])
    assert np.array_equal(truth["in_structure"] > 0, road.in_structure[every])
    assert np.abs(truth["elevation_m"] - road.elevation_m[every]).max() <= 5.1e-4
    assert np.abs(truth["grade"] - road.grade[every]).max() <= 5.1e-7
    assert np.abs(truth["curvature_1pm"] - road.curvature_1pm[every]).max() <= 5.1e-7
    east = np.column_stack([road.x_m + design.CORNER_EASTING_M, road.y_m + design.CORNER_NORTHING_M])[every]
    assert np.hypot(*(to_grid(truth["lon"], truth["lat"]) - east).T).max() < 0.02


def test_rise_is_the_sum_of_the_rows(design: ModuleType, truth: dict[str, np.ndarray]) -> None:
    # A symmetric parabola starts and ends on its tangents, so the rows' own length times grade must add up,
    # and it passes the point of intersection at change of grade times length of curve over eight.
    rows = design.vertical_rows(float(truth["station_m"][-1]))
    rise = sum(length * percent / 100 for _, length, percent in rows)
    assert truth["elevation_m"][-1] - truth["elevation_m"][0] == pytest.approx(rise, abs=0.01)
    names = [row[0] for row in rows]
    k = names.index("hairpins")
    at = sum(row[1] for row in rows[: k + 1])
    tangent = truth["elevation_m"][0] + sum(row[1] * row[2] / 100 for row in rows[: k + 1])
    change = rows[k + 1][2] - rows[k][2]
    curve = change * design.K_SAG_M
    above = float(np.interp(at, truth["station_m"], truth["elevation_m"])) - tangent
    assert above == pytest.approx(change / 100 * curve / 8, abs=0.01)


def test_grade_table_is_the_design_in_signs_units(design: ModuleType, truth: dict[str, np.ndarray]) -> None:
    with (FOLDER / "grade_table.csv").open(encoding="utf-8") as handle:
        rows = list(csv.reader(handle))
    assert rows[0] == ["length [mi]", "grade [%]"]
    table = np.array(rows[1:], dtype=float)
    metres = table[:, 0] * 1609.344
    assert metres.sum() == pytest.approx(truth["station_m"][-1], abs=0.005 * 1609.344 * len(table))
    rise = float((metres * table[:, 1]).sum() / 100)
    assert rise == pytest.approx(truth["elevation_m"][-1] - truth["elevation_m"][0], abs=6.0)
    drop = truth["elevation_m"].max() - truth["elevation_m"][-1]
    assert 750 < drop < 950


def test_plan_is_buildable(design: ModuleType, truth: dict[str, np.ndarray]) -> None:
    tightest = np.abs(truth["curvature_1pm"]).max()
    assert 1 / 35 < tightest < 1 / 25
    road = design.design_road()
    assert len(road.hairpins) == 4
    axis, at = to_grid(truth["lon"], truth["lat"])[::2], truth["station_m"][::2]
    apart = np.hypot(axis[:, None, 0] - axis[None, :, 0], axis[:, None, 1] - axis[None, :, 1])
    assert apart[np.abs(at[:, None] - at[None]) > 150].min() > 55
