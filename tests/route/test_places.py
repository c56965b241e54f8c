# SPDX-License-Identifier: MIT
"""Places: kinds, sides, values, what is left out, faults."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from descent.errors import PlacesError
from descent.route.line import Route, reverse, stations_along
from descent.route.place_kinds import KINDS, find_kind
from descent.route.places import read_places, survey_places

from . import samples

ROWS = np.column_stack([7 + np.arange(41) * 0.001, np.full(41, 46.0)])  # due east, about 77 m steps
ROUTE = Route("x", ROWS[:, 0], ROWS[:, 1], stations_along(ROWS[:, 0], ROWS[:, 1]))
SOUTH, NORTH = 45.9998, 46.0002  # about 22 m to the right and to the left of travel


def write(folder: Path, *features: dict[str, object]) -> Path:
    path = folder / "places.geojson"
    path.write_text(samples.collection(*features))
    return path


def point(lon: float, lat: float, **properties: object) -> dict[str, object]:
    return samples.feature([lon, lat], "Point", **properties)


def test_a_place_with_everything(tmp_path: Path) -> None:
    (place,) = read_places(write(tmp_path, point(7.02, SOUTH, name="Larch pull-out", kind="pull-out",
                                                 grade_percent=-2.5, room_m=40, surface="gravel")), ROUTE)
    assert (place.name, place.kind, place.side) == ("Larch pull-out", "pull-out", "right")
    assert place.station_m == pytest.approx(ROUTE.length_m / 2, abs=0.1)
    assert place.offset_m == pytest.approx(0.0002 * 111_150, abs=0.2)  # metres per degree at 46 N, from memory
    assert (place.grade, place.room_m) == (-0.025, 40.0)
    assert place.attributes["surface"] == "gravel"


def test_driven_the_other_way_what_the_file_says_is_turned(tmp_path: Path) -> None:
    path = write(tmp_path, point(7.02, SOUTH, name="a", kind="pull-out", grade_percent=-2, side="right"),
                 point(7.03, NORTH, name="b", kind="runaway truck ramp", grade_percent=15, side="both"),
                 point(7.01, NORTH, name="c", kind="town"))
    there, back = read_places(path, ROUTE), read_places(path, reverse(ROUTE))
    assert [place.name for place in there] == ["c", "a", "b"]
    assert [place.name for place in back] == ["b", "a", "c"]
    assert [place.side for place in there] == ["left", "right", "both"]
    assert [place.side for place in back] == ["both", "left", "right"]
    assert [place.grade for place in back] == [0.15, 0.02, None]


def test_far_places_unknown_kinds_and_repetitions_are_said(tmp_path: Path) -> None:
    path = write(tmp_path, point(7.02, 46.01, name="Faraway", kind="town"), point(7.01, NORTH, name="Old oak", kind="tree"),
                 point(7.011, NORTH, name="Old oak"), point(7.011, NORTH, name="Old oak"))
    read = survey_places(path, ROUTE)
    assert [place.kind for place in read.places] == ["landmark", "landmark"]
    assert "1 places farther than 150 m from the route were left out: Faraway" in read.said
    assert any('the kind "tree" is not known' in sentence for sentence in read.said)
    assert any("no kind is given" in sentence for sentence in read.said)
    assert any("twice" in sentence for sentence in read.said)
    assert len(read_places(path, ROUTE, limit_m=2000)) == 3


def test_out_and_back_appears_at_each_pass(tmp_path: Path) -> None:
    lon, lat = np.concatenate([ROWS[:, 0], ROWS[-2::-1, 0]]), np.full(81, 46.0)
    both = Route("x", lon, lat, stations_along(lon, lat))
    places = read_places(write(tmp_path, point(7.01, SOUTH, name="a", kind="scale", side="right", grade_percent=-1)),
                         both)
    assert [place.side for place in places] == ["right", "left"]
    assert [place.grade for place in places] == [-0.01, 0.01]
    assert places[0].station_m + places[1].station_m == pytest.approx(both.length_m, abs=0.1)


def test_all_faults_of_a_file_at_once(tmp_path: Path) -> None:
    path = write(tmp_path, point(7.02, 95.0, name="a"), point(7.02, 46.0, name="b", grade_percent="steep"),
                 point(7.02, 46.0, name="c", side="up"), point(7.02, 46.0, name="d", room="40"),
                 point(7.02, 46.0, name="e", room_m=-3), point(7.02, 46.0, name="f", grade_percent=70))
    with pytest.raises(PlacesError) as caught:
        read_places(path, ROUTE)
    assert [fault.code for fault in caught.value.faults] == ["latitude-out-of-range", *["place-value"] * 5]
    assert all(fault.remedy and fault.value and "feature" in fault.where for fault in caught.value.faults)


def test_no_points_and_no_file(tmp_path: Path) -> None:
    line = tmp_path / "line.geojson"
    line.write_text(samples.collection(samples.feature(ROWS)))
    with pytest.raises(PlacesError, match="holds no points"):
        read_places(line, ROUTE)
    with pytest.raises(PlacesError, match="there is no such file"):
        read_places(tmp_path / "none.csv", ROUTE)


def test_csv_gpx_kml_and_geopackage_places(tmp_path: Path) -> None:
    import geopandas

    texts = {"csv": f"name,kind,lon,lat,room\nA,weigh station,7.02,{SOUTH},130ft\n",
             "gpx": f'<gpx><wpt lon="7.02" lat="{SOUTH}"><name>A</name><type>weigh station</type></wpt></gpx>',
             "kml": '<kml><Placemark><name>A</name><ExtendedData><Data name="kind"><value>scale</value></Data>'
                    f"</ExtendedData><Point><coordinates>7.02,{SOUTH}</coordinates></Point></Placemark></kml>"}
    for suffix, text in texts.items():
        (tmp_path / f"p.{suffix}").write_text(text)
    frame = geopandas.GeoDataFrame({"name": ["A"], "kind": ["scale"]}, geometry=geopandas.points_from_xy([7.02], [SOUTH]),
                                   crs="EPSG:4326")
    frame.to_crs("EPSG:32632").to_file(tmp_path / "p.gpkg", driver="GPKG")
    for suffix in ("csv", "gpx", "kml", "gpkg"):
        (place,) = read_places(tmp_path / f"p.{suffix}", ROUTE)
        assert (place.name, place.kind, place.side) == ("A", "scale", "right"), suffix
        assert place.station_m == pytest.approx(ROUTE.length_m / 2, abs=0.1)
    (place,) = read_places(tmp_path / "p.csv", ROUTE)
    assert place.room_m == pytest.approx(130 * 0.3048)


@pytest.mark.parametrize(("tags", "kind"), [
    ({"kind": "Brake Check Area"}, "brake-check-area"), ({"type": "pullouts"}, "pull-out"),
    ({"highway": "escape"}, "escape-ramp"), ({"highway": "rest_area"}, "rest-area"),
    ({"amenity": "weighbridge"}, "scale"), ({"place": "village"}, "town"), ({"highway": "milestone"}, "milepost"),
    ({"kind": "nonsense", "highway": "stop"}, "stop-sign"), ({"kind": "nonsense"}, None), ({}, None)])
def test_kinds(tags: dict[str, str], kind: str | None) -> None:
    assert find_kind(tags)[0] == kind
    assert kind is None or kind in KINDS
