# SPDX-License-Identifier: MIT
"""Bad and hostile files: one clear sentence each, no traceback, bounded; every reader survives mutated input."""

from __future__ import annotations

import io
import json
import os
import sqlite3
import tempfile
import zipfile
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from descent.errors import DescentError, RouteError
from descent.route import features as limits
from descent.route import files, xml_events
from descent.route.readers import read_features, read_route

from . import samples

ROAD = samples.winding()
LINE = ROAD[:, :2].tolist()
POINTS = samples.gpx(ROAD.tolist())
BOMB = "<!DOCTYPE gpx [<!ENTITY a 'ha'><!ENTITY b '&a;&a;&a;&a;&a;&a;&a;&a;'>]>"
OUTSIDE = "<!DOCTYPE gpx [<!ENTITY a SYSTEM 'file:///etc/hostname'>]>"


def geo(coordinates: object, kind: str = "LineString", **more: object) -> str:
    return samples.collection(samples.feature(coordinates, kind), **more)


def shapefile_with_damaged_system() -> bytes:
    """A Shapefile whose .prj is no text: found by fuzzing, the bindings answered with UnboundLocalError."""
    with tempfile.TemporaryDirectory() as folder:
        paths = samples.write_all(Path(folder), ROAD)
        prj = paths["shp"].with_suffix(".prj")
        prj.write_bytes(prj.read_bytes().replace(b"WGS", b"\xcb\x8c\xff"))
        with zipfile.ZipFile(paths["zip"], "w") as archive:
            for suffix in (".shp", ".shx", ".dbf", ".prj"):
                archive.write(paths["shp"].with_suffix(suffix), f"road{suffix}")
        return paths["zip"].read_bytes()


def archive_without_a_name() -> bytes:
    """A zip archive with a member of no name: found by fuzzing, the library answered with IndexError."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        archive.writestr("Q", b"x")
    return stream.getvalue().replace(b"Q", b"\0")


BAD: list[tuple[str, str | bytes, str, str]] = [
    ("empty.gpx", "", "file-empty", "0 bytes"),
    ("cut.gpx", POINTS[:700], "xml-malformed", "line 1, column"),
    ("html.gpx", "<html/>", "xml-other-kind", "outermost element is not <gpx>"),
    ("only-waypoints.gpx", '<gpx><wpt lon="7" lat="46"/></gpx>', "no-line", "only points"),
    ("bomb.gpx", samples.gpx(ROAD.tolist(), head=BOMB), "xml-forbidden", "document type"),
    ("outside.gpx", samples.gpx(ROAD.tolist(), head=OUTSIDE), "xml-forbidden", "document type"),
    ("outside.kml", OUTSIDE.replace("gpx", "kml") + "<kml>&a;</kml>", "xml-forbidden", "document type"),
    ("outside.tcx", OUTSIDE + "<TrainingCenterDatabase>&a;</TrainingCenterDatabase>", "xml-forbidden", "document"),
    ("deep.gpx", "<gpx>" + "<a>" * 100_000, "xml-too-deep", "60 deep"),
    ("encoding.gpx", '<?xml version="1.0" encoding="klingon"?><gpx/>', "xml-malformed", "unknown encoding"),
    ("nan.gpx", POINTS.replace("7.003", "NaN"), "coordinate-not-finite", "segment 1, point 4"),
    ("no-position.gpx", "<gpx><trk><trkseg><trkpt/><trkpt/></trkseg></trk></gpx>", "coordinate-not-finite", "point 1"),
    ("inf.geojson", geo(LINE).replace("7.003", "1e999"), "coordinate-not-finite", "point 4"),
    ("text.geojson", geo(LINE).replace("7.003", '"7.003"'), "coordinate-not-a-number", "point 4"),
    ("null.geojson", geo([None, *LINE]), "coordinate-not-a-number", "point 1"),
    ("swapped.geojson", geo([[y, x + 100] for x, y in LINE]), "latitude-out-of-range", "check their order"),
    ("wide.geojson", geo([[x + 180, y] for x, y in LINE]), "longitude-out-of-range", "59 more"),
    ("pole.geojson", geo([[x, y + 43] for x, y in LINE]), "too-near-pole", "85 degrees"),
    ("nested.geojson", "[" * 100_000, "json-malformed", "nested too deep"),
    ("long-number.geojson", geo(LINE).replace("7.003", "7" * 6000), "json-malformed", "absurd length"),
    ("cut.geojson", geo(LINE)[:-30], "json-malformed", "line 1, column"),
    ("other.json", '{"hello": 1}', "geojson-other-kind", 'no "type"'),
    ("area.geojson", geo([LINE], "Polygon"), "no-line", "only Polygon shapes"),
    ("one-point.geojson", geo(LINE[:1]), "too-few-points", "fewer than two"),
    ("no-points.geojson", geo([]), "too-few-points", "fewer than two"),
    ("one-place.geojson", geo([LINE[0]] * 9), "too-few-points", "in one place"),
    ("short.geojson", geo(LINE[:2]), "route-too-short", "200 m"),
    ("jump.geojson", geo([*LINE[:9], [7.5, 46.5], *LINE[9:]]), "route-jump", "to lon 7.50000, lat 46.50000"),
    ("crs.geojson", geo(LINE, crs={"type": "name", "properties": {"name": "EPSG:999999"}}), "crs-unknown", "EPSG:9"),
    ("crs-file.geojson", geo(LINE, crs={"type": "name", "properties": {"name": "/etc/passwd"}}), "crs-unknown", "passwd"),
    ("latin.geojson", geo(LINE).encode() + b"\xe9", "text-encoding", "UTF-8"),
    ("columns.csv", "a,b\n1,2\n", "csv-columns-missing", "columns a, b"),
    ("header.csv", "7.0,46.0\n7.1,46.1\n", "csv-no-header", "name the columns"),
    ("text.csv", "lon,lat\n7,46\nabc,46\n", "coordinate-not-a-number", "line 3"),
    ("unit.csv", "lon,lat,elevation [furlong]\n7,46,1\n", "csv-unit-unknown", "furlong"),
    ("field.csv", 'lon,lat\n"' + "x" * 200_000 + '",46\n', "csv-malformed", "line 2"),
    ("no-zip.kmz", "hello", "archive-malformed", "not a zip"),
    ("no-zip.zip", b"PK\x03\x04" + b"\xff" * 60, "archive-malformed", "not a zip"),
    ("no-name.zip", archive_without_a_name(), "archive-no-shapefile", "no .shp"),
    ("numbers.kml", samples.kml(ROAD).replace("7.003,", "7.003;"), "coordinate-not-a-number", "placemark 1 (Road), point 4"),
    ("text.gpkg", "hello", "vector-malformed", "not a GeoPackage"),
    ("header.gpkg", b"SQLite format 3\x00" + b"\0" * 500, "vector-malformed", "damaged"),
    ("redirect.gpkg", "<OGRVRTDataSource/>", "vector-malformed", "not a GeoPackage"),
    ("text.shp", "hello", "vector-malformed", "not a Shapefile"),
    ("code-page.zip", shapefile_with_damaged_system(), "vector-malformed", "damaged"),
    ("header.shp", (9994).to_bytes(4, "big") + b"\xff" * 96, "vector-malformed", "damaged"),
    ("empty.tcx", "<TrainingCenterDatabase/>", "no-line", "no line"),
    ("road.xyz", "x", "format-unknown", "GeoPackage"),
]


@pytest.mark.parametrize(("name", "content", "code", "words"), BAD, ids=[row[0] for row in BAD])
def test_bad_files_answer_in_one_sentence(tmp_path: Path, name: str, content: str | bytes, code: str,
                                          words: str) -> None:
    path = tmp_path / name
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    with pytest.raises(RouteError) as caught:
        read_route(path)
    assert caught.value.exit_code == 2
    assert caught.value.faults[0].code == code
    assert words in str(caught.value)
    for fault in caught.value.faults:
        assert name in fault.where
        assert fault.remedy
        assert "\n" not in fault.sentence()
        assert len(fault.sentence()) < 600


def test_every_fault_of_a_file_is_listed(tmp_path: Path) -> None:
    path = tmp_path / "many.geojson"
    path.write_text(samples.collection(
        samples.feature([[7, 46], [200, 46], [7, 95], [7, 89]]), samples.feature([[7, 46], [7, "x"]]), 5))  # type: ignore[arg-type]
    with pytest.raises(RouteError) as caught:
        read_route(path)
    assert sorted(fault.code for fault in caught.value.faults) == [
        "coordinate-not-a-number", "geojson-other-kind", "latitude-out-of-range", "longitude-out-of-range",
        "too-near-pole"]


def test_a_flood_of_faults_is_counted(tmp_path: Path) -> None:
    path = tmp_path / "flood.csv"
    path.write_text("lon,lat\n" + "x,y\n" * 500)
    with pytest.raises(RouteError) as caught:
        read_route(path)
    assert len(caught.value.faults) == 21
    assert "480 more faults" in str(caught.value)


@pytest.mark.parametrize(("path", "code"), [
    ("nothing.gpx", "file-missing"), (".", "file-is-folder"), ("a\0b.gpx", "file-missing"),
    ("/vsicurl/http/x.gpkg", "file-missing"), ("x" * 5000 + ".gpx", "file-unreadable")])
def test_paths_that_are_no_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, path: str, code: str) -> None:
    monkeypatch.chdir(tmp_path)
    with pytest.raises(RouteError) as caught:
        read_route(path)
    assert [fault.code for fault in caught.value.faults] == [code]


def test_a_pipe_does_not_hang(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.gpx")
    with pytest.raises(RouteError, match="pipe or a device"):
        read_route(tmp_path / "pipe.gpx")


def test_terminal_escapes_in_a_file_name_are_not_repeated(tmp_path: Path) -> None:
    path = tmp_path / "evil\x1b[31m\u202e<b>.gpx"
    path.write_text("x")
    with pytest.raises(RouteError) as caught:
        read_route(path)
    assert "evil<b>.gpx" in str(caught.value)
    assert "\x1b" not in str(caught.value)


def test_a_file_far_too_large_is_refused_unread(tmp_path: Path) -> None:
    path = tmp_path / "huge.geojson"
    with open(path, "wb") as stream:
        stream.truncate(5_000_000_000)  # sparse: takes no room
    with pytest.raises(RouteError, match="larger than the 64 MB") as caught:
        read_route(path)
    assert "5000 MB" in str(caught.value)


@pytest.mark.parametrize("form", ["gpx", "geojson", "csv", "kml", "tcx", "fit"])
def test_too_many_points(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, form: str) -> None:
    paths = samples.write_all(tmp_path, ROAD)
    monkeypatch.setattr(limits, "MAX_POINTS", 50)
    with pytest.raises(RouteError, match="more than the 50 points"):
        read_route(paths[form])


def test_a_file_that_changes_while_it_is_read(tmp_path: Path) -> None:
    path = tmp_path / "a.gpx"
    path.write_text(POINTS)
    source = files.find_source(path)
    with pytest.raises(RouteError, match="changed while it was read"), files.chunks_of(source, 10**9) as pieces:
        list(pieces)
        path.write_text(POINTS + " ")


def archive_of(path: Path, members: dict[str, bytes]) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return path


@pytest.mark.parametrize(("name", "members", "code"), [
    ("a.kmz", {"readme.txt": b"x"}, "archive-no-kml"), ("a.zip", {"../../evil.txt": b"x"}, "archive-no-shapefile"),
    ("a.zip", {"a.shp": b"x", "b.shp": b"y"}, "archive-several"), ("a.zip", {"a.shp": b"x"}, "vector-malformed"),
    ("a.kmz", {f"{i}.txt": b"" for i in range(2001)}, "archive-too-many"),
    ("a.kmz", {"doc.kml": b"\0" * 65_000_000}, "archive-too-large")])
def test_archives(tmp_path: Path, name: str, members: dict[str, bytes], code: str) -> None:
    with pytest.raises(RouteError) as caught:
        read_route(archive_of(tmp_path / name, members))
    assert [fault.code for fault in caught.value.faults] == [code]


def test_members_with_path_tricks_write_nothing_outside(tmp_path: Path) -> None:
    good = samples.write_all(tmp_path / "in", ROAD) if (tmp_path / "in").mkdir() is None else {}
    folder = tmp_path / "out"
    folder.mkdir()
    members = {f"../../../escaped{suffix}": (good["shp"].with_suffix(suffix)).read_bytes()
               for suffix in (".shp", ".shx", ".dbf", ".prj")}
    assert len(read_route(archive_of(folder / "a.zip", members)).lon) == len(ROAD)
    assert not list(tmp_path.rglob("escaped*"))
    assert [path.name for path in folder.iterdir()] == ["a.zip"]


def test_a_geopackage_layer_that_is_an_endless_query(tmp_path: Path) -> None:
    path = samples.write_all(tmp_path, ROAD)["gpkg"]
    with closing(sqlite3.connect(path)) as database:
        database.execute("CREATE VIEW v AS WITH RECURSIVE t(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM t) "
                         "SELECT n AS fid, geom FROM t, road")
        database.execute("INSERT INTO gpkg_contents (table_name, data_type, identifier, srs_id) "
                         "VALUES ('v', 'features', 'v', 32632)")
        database.execute("INSERT INTO gpkg_geometry_columns VALUES ('v', 'geom', 'LINESTRING', 32632, 0, 0)")
        database.commit()
    with pytest.raises(RouteError, match="stored query") as caught:
        read_route(path)
    assert [fault.code for fault in caught.value.faults] == ["vector-view"]


def test_a_flood_of_other_elements(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(xml_events, "MAX_OTHER_ELEMENTS", 1000)
    (tmp_path / "a.gpx").write_text("<gpx>" + "<a/>" * 2000 + "</gpx>")
    with pytest.raises(RouteError, match="full of elements"):
        read_route(tmp_path / "a.gpx")
    (tmp_path / "b.gpx").write_text(samples.gpx(samples.winding(2000).tolist(), times=True))
    assert len(read_route(tmp_path / "b.gpx").lon) == 2000


SLOW = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


def survives(path: Path, read: Callable[[Path], object]) -> None:
    """A reader either answers or raises an error a person can read; anything else fails the test."""
    try:
        read(path)
    except DescentError as error:
        assert error.faults
        assert all(fault.code and fault.remedy for fault in error.faults)


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    paths = samples.write_all(tmp_path_factory.mktemp("good"), ROAD[:20])
    return {name: path.read_bytes() for name, path in paths.items()}


@SLOW
@given(data=st.data())
@pytest.mark.parametrize("form", ["geojson", "gpx", "kml", "kmz", "tcx", "csv", "fit", "gpkg", "shp", "zip"])
def test_mutated_files(tmp_path: Path, good: dict[str, bytes], form: str, data: st.DataObject) -> None:
    content = bytearray(good[form])
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(content)))
        junk = data.draw(st.binary(max_size=12))
        cut = data.draw(st.sampled_from([0, 1, len(junk), 40, len(content)]))
        content[at:at + cut] = junk
    path = tmp_path / f"a.{form}"
    path.write_bytes(bytes(content))
    survives(path, read_route)


@SLOW
@given(data=st.data())
def test_mutated_fit_with_a_checksum_that_agrees(tmp_path: Path, data: st.DataObject) -> None:
    body = bytearray(samples.fit(ROAD[:20])[14:-2])
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(body)))
        junk = data.draw(st.binary(max_size=6))
        body[at:at + data.draw(st.sampled_from([0, len(junk)]))] = junk
    path = tmp_path / "a.fit"
    path.write_bytes(samples.fit_file(bytes(body)))
    survives(path, read_route)


json_values = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=8)
    | st.sampled_from(["LineString", "Feature", "FeatureCollection", "Point", "MultiLineString"]),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(
        st.sampled_from(["type", "features", "geometry", "coordinates", "properties", "crs", "name", "geometries"]),
        inner, max_size=5), max_leaves=25)


@SLOW
@given(value=json_values)
def test_any_json(tmp_path: Path, value: object) -> None:
    path = tmp_path / "a.geojson"
    path.write_text(json.dumps(value))
    survives(path, read_features)
    survives(path, read_route)


@SLOW
@given(value=st.lists(st.lists(st.floats(width=64), min_size=2, max_size=3), max_size=8))
def test_any_coordinates(tmp_path: Path, value: list[list[float]]) -> None:
    path = tmp_path / "a.geojson"
    path.write_text(geo(value))
    try:
        route = read_route(path)
    except RouteError:
        return
    assert np.isfinite(route.lon).all()
    assert np.isfinite(route.station_m).all()
    assert (np.diff(route.station_m) > 0).all()
