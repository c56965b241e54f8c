# SPDX-License-Identifier: MIT
"""Every format gives the same route; round trips; names; direction; attributes."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pyproj import Geod

from descent.errors import RouteError
from descent.route.line import Direction, TaggedSpan
from descent.route.readers import FORMATS, read_route

from . import samples

ROAD = samples.winding()


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    return samples.write_all(tmp_path_factory.mktemp("formats"), ROAD)


@pytest.mark.parametrize("form", ["geojson", "gpx", "kml", "kmz", "tcx", "csv", "fit", "gpkg", "shp", "zip"])
def test_every_format_gives_the_same_line(files: dict[str, Path], form: str) -> None:
    route = read_route(files[form])
    # FIT stores positions in units of 180/2^31 degree and heights in fifths of a metre; a GeoPackage in a
    # projected system comes back within the accuracy of the projection.
    assert np.allclose(route.lon, ROAD[:, 0], atol=1e-7)
    assert np.allclose(route.lat, ROAD[:, 1], atol=1e-7)
    assert route.elevation_m is not None
    assert np.allclose(route.elevation_m, ROAD[:, 2], atol=0.11)
    length = Geod(ellps="WGS84").line_length(ROAD[:, 0], ROAD[:, 1])
    assert route.length_m == pytest.approx(length, abs=0.5)
    assert route.station_m[0] == 0.0
    assert (np.diff(route.station_m) > 0).all()
    assert route.name == ("road" if form in ("csv", "fit") else "Road")


def test_every_suffix_is_tried(files: dict[str, Path]) -> None:
    assert {path.suffix for path in files.values()} | {".json"} == set(FORMATS)


@pytest.mark.parametrize("form", ["gpx", "tcx", "fit"])
def test_recorded_drives_keep_their_times(tmp_path: Path, form: str) -> None:
    path = tmp_path / f"drive.{form}"
    data = {"gpx": samples.gpx(ROAD.tolist(), times=True).encode(), "tcx": samples.tcx(ROAD).encode(),
            "fit": samples.fit(ROAD)}[form]
    path.write_bytes(data)
    route = read_route(path)
    assert route.time_s is not None
    assert route.time_s.tolist() == [10.0 * i for i in range(len(ROAD))]
    assert read_route(path, direction=Direction.REVERSED).time_s is None


def test_fit_of_the_other_byte_order(tmp_path: Path) -> None:
    (tmp_path / "a.fit").write_bytes(samples.fit(ROAD, order=">"))
    assert np.allclose(read_route(tmp_path / "a.fit").lon, ROAD[:, 0], atol=1e-7)


def test_several_recordings_in_one_fit(tmp_path: Path) -> None:
    (tmp_path / "a.fit").write_bytes(samples.fit(ROAD[:30]) + samples.fit(ROAD[30:]))
    assert len(read_route(tmp_path / "a.fit").lon) == len(ROAD)


SLOW = settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
coordinate_steps = st.lists(st.tuples(st.floats(0.0005, 0.003), st.floats(-0.002, 0.002), st.floats(-9, 9)),
                            min_size=6, max_size=40)


@SLOW
@given(start=st.tuples(st.floats(-179, 178), st.floats(-70, 70)), steps=coordinate_steps)
@pytest.mark.parametrize("form", ["geojson", "gpx"])
def test_round_trip(tmp_path: Path, form: str, start: tuple[float, float],
                    steps: list[tuple[float, float, float]]) -> None:
    rows = np.cumsum([(*start, 700.0), *steps], axis=0)
    if Geod(ellps="WGS84").line_length(rows[:, 0], rows[:, 1]) < 250:
        return
    path = tmp_path / f"a.{form}"
    path.write_text(samples.collection(samples.feature(rows)) if form == "geojson" else samples.gpx(rows.tolist()))
    route = read_route(path)
    assert route.lon.tolist() == rows[:, 0].tolist()
    assert route.lat.tolist() == rows[:, 1].tolist()
    assert route.elevation_m is not None
    assert route.elevation_m.tolist() == rows[:, 2].tolist()


def test_reversed_is_the_same_road_the_other_way(tmp_path: Path) -> None:
    path = tmp_path / "a.geojson"
    path.write_text(samples.collection(
        samples.feature(ROAD[:20], bridge="yes"),
        samples.feature(ROAD[19:], **{"maxspeed:forward": "50", "maxspeed:backward": "30", "tunnel": "no"})))
    there, back = read_route(path), read_route(path, direction=Direction.REVERSED)
    assert back.lon.tolist() == there.lon[::-1].tolist()
    assert back.reversed
    assert not there.reversed
    cut = float(there.station_m[19])
    assert there.spans == (TaggedSpan("bridge", 0.0, cut),
                           TaggedSpan("maxspeed", cut, there.length_m, pytest.approx(50 / 3.6)))
    assert [span.kind for span in back.spans] == ["maxspeed", "bridge"]
    assert back.spans[0].value == pytest.approx(30 / 3.6)
    assert back.spans[1].end_m == pytest.approx(there.length_m)


def test_name_comes_from_the_line_then_the_file(tmp_path: Path) -> None:
    named, bare = tmp_path / "one.geojson", tmp_path / "Quiet Pass.geojson"
    named.write_text(samples.collection(samples.feature(ROAD, name="Kettle\x1b[31m Pass\u202e <b>")))
    bare.write_text(samples.collection(samples.feature(ROAD)))
    assert read_route(named).name == "Kettle Pass <b>"
    assert read_route(bare).name == "Quiet Pass"


def test_one_line_of_several_by_name(tmp_path: Path) -> None:
    path = tmp_path / "two.geojson"
    path.write_text(samples.collection(samples.feature(ROAD, name="North"),
                                       samples.feature(samples.winding(lat=47.0), name="South")))
    with pytest.raises(RouteError, match=r"FILE#NAME") as caught:
        read_route(path)
    assert [fault.code for fault in caught.value.faults] == ["parts-apart"]
    assert read_route(f"{path}#South").lat[0] == 47.0
    with pytest.raises(RouteError, match="Names in it: North, South"):
        read_route(f"{path}#West")


def test_across_the_antimeridian(tmp_path: Path) -> None:
    east = [[179.99 + 0.001 * i, 10.0] for i in range(11)]
    west = [[-180.0 + 0.001 * i, 10.0] for i in range(11)]
    path = tmp_path / "a.geojson"
    path.write_text(samples.collection(samples.feature([east, west], "MultiLineString")))
    route = read_route(path)
    assert np.allclose(np.diff(route.lon), 0.001)
    assert route.length_m == pytest.approx(Geod(ellps="WGS84").line_length([0, 0.02], [10.0, 10.0]), rel=1e-6)


def test_geojson_in_a_named_system(tmp_path: Path) -> None:
    # EPSG:3857 by its closed form (spherical Mercator on the semi-major axis of WGS84).
    x = np.radians(ROAD[:, 0]) * 6378137.0
    y = 6378137.0 * np.log(np.tan(np.pi / 4 + np.radians(ROAD[:, 1]) / 2))
    path = tmp_path / "a.json"
    path.write_text(samples.collection(samples.feature(np.column_stack([x, y])), crs={
        "type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::3857"}}))
    route = read_route(path)
    assert np.allclose(route.lon, ROAD[:, 0], atol=1e-9)
    assert np.allclose(route.lat, ROAD[:, 1], atol=1e-9)


def test_csv_with_tags_parts_and_feet(tmp_path: Path) -> None:
    rows = [f"{x};{y};{z / 0.3048};{'yes' if 10 <= i < 20 else ''}".replace(".", ",")
            for i, (x, y, z) in enumerate(ROAD.tolist())]
    path = tmp_path / "a.csv"
    path.write_text("Longitude;Latitude;Elevation (ft);bridge\n" + "\n".join(rows), encoding="utf-8-sig")
    route = read_route(path)
    assert route.elevation_m is not None
    assert np.allclose(route.elevation_m, ROAD[:, 2])
    assert route.spans == (TaggedSpan("bridge", float(route.station_m[10]), float(route.station_m[20])),)


def test_kml_attributes_become_spans(files: dict[str, Path]) -> None:
    route = read_route(files["kml"])
    assert route.spans == (TaggedSpan("maxspeed", 0.0, route.length_m, pytest.approx(30 * 1609.344 / 3600)),)


def test_heights_that_follow_the_ground_are_not_used(tmp_path: Path) -> None:
    text = samples.kml(ROAD).replace("<LineString>", "<LineString><altitudeMode>clampToGround</altitudeMode>")
    (tmp_path / "a.kml").write_text(text)
    assert read_route(tmp_path / "a.kml").elevation_m is None


def test_gpx_route_and_track(tmp_path: Path) -> None:
    points = "".join(f'<rtept lon="{x}" lat="{y}"/>' for x, y, _ in ROAD.tolist())
    only, both = tmp_path / "a.gpx", tmp_path / "b.gpx"
    only.write_text(f"<gpx><rte><name>R</name>{points}</rte></gpx>")
    both.write_text(samples.gpx(ROAD.tolist(), name="T").replace("</gpx>", f"<rte>{points}</rte></gpx>"))
    assert read_route(only).name == "R"
    assert read_route(only).elevation_m is None
    assert read_route(both).name == "T"
    assert any("tracks are used" in sentence for sentence in read_route(both).mended)


def test_layers_in_different_systems_are_joined(tmp_path: Path) -> None:
    import geopandas
    from shapely.geometry import LineString

    path = tmp_path / "a.gpkg"
    for layer, rows, crs in (("one", ROAD[:30], "EPSG:32632"), ("two", ROAD[29:], "EPSG:2056")):
        frame = geopandas.GeoDataFrame(geometry=[LineString(rows[:, :2])], crs="EPSG:4326").to_crs(crs)
        frame.to_file(path, layer=layer, driver="GPKG")
    route = read_route(path)
    # EPSG:2056 is on the Bessel ellipsoid: its published three-parameter shift is good to about a metre.
    assert len(route.lon) == len(ROAD)
    assert np.allclose(route.lon, ROAD[:, 0], atol=2e-5)


def test_json_numbers_of_any_kind(tmp_path: Path) -> None:
    rows = [[7, 46], [7.003, 46, 900], [7.006, 46, None]]
    (tmp_path / "a.geojson").write_text(json.dumps({"type": "LineString", "coordinates": rows}))
    route = read_route(tmp_path / "a.geojson")
    assert route.elevation_m is None
    assert any("no height" in sentence for sentence in route.mended)


@pytest.mark.shared_data
@pytest.mark.parametrize(("name", "length_km"), [
    ("leevining_grade_CA120", 19.35), ("conway_grade_US395", 23.8)])
def test_real_roads_have_their_known_lengths(shared_data: Path, name: str, length_km: float) -> None:
    route = read_route(f"{shared_data / 'sierra_routes.geojson'}#{name}")
    assert route.length_m == pytest.approx(length_km * 1000, abs=30)
    assert route.name == name
