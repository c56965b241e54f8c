# SPDX-License-Identifier: MIT
"""Both maps: the projection against PROJ, no address to fetch from, the same bytes each time."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest
from pyproj import Transformer

from descent.report.map import live_map, script_json
from descent.report.map_features import MapPoint, map_points
from descent.report.map_layout import Room, label_box, lay_out
from descent.report.map_window import mercator_x, mercator_y, route_window
from descent.report.shown import Shown
from descent.report.static_map import static_map
from descent.report.svg import text_width
from descent.report.trip import FloatArray, read_trip
from report.make_document import FakeHillshade

HALF_WORLD_M = 20037508.342789244  # EPSG:3857, pi times 6378137 m


def test_mercator_agrees_with_proj() -> None:
    lon, lat = np.array([-107.6, 0.0, 12.5, 179.0]), np.array([41.2, 0.0, -33.0, 84.0])
    x, y = Transformer.from_crs("EPSG:4326", "EPSG:3857", always_xy=True).transform(lon, lat)
    assert mercator_x(lon) == pytest.approx(x / (2 * HALF_WORLD_M) + 0.5, abs=1e-12)
    assert mercator_y(lat) == pytest.approx(0.5 - y / (2 * HALF_WORLD_M), abs=1e-12)


def test_live_map_fetches_nothing(document: dict[str, Any], us: Shown, hillshade: FakeHillshade) -> None:
    chart = live_map(read_trip(document), us, hillshade)
    assert not re.search(r"https?://|\$\(|jQuery|AwesomeMarkers|tileLayer", chart.script)
    assert hillshade.data_uri not in chart.script and 'getElementById("hillshade")' in chart.script
    assert chart.element_id in chart.script


def test_live_map_is_the_same_each_time(
    document: dict[str, Any], us: Shown, hillshade: FakeHillshade
) -> None:
    first = live_map(read_trip(document), us, hillshade).script
    assert live_map(read_trip(document), us, hillshade).script == first
    assert not re.search(r"[0-9a-f]{32}", first)


def test_refusal_has_no_orders_on_the_map(refusal: dict[str, Any], us: Shown) -> None:
    kinds = {point.kind for point in map_points(read_trip(refusal), us)}
    assert not kinds & {"leg", "brake-check", "cool-down", "gear-change"}
    assert {"crest", "escape-ramp", "start", "end"} <= kinds


def test_no_point_twice(document: dict[str, Any], us: Shown) -> None:
    titles = [(point.title, point.station_m) for point in map_points(read_trip(document), us)]
    assert len(titles) == len(set(titles))


def test_names_stay_text(document: dict[str, Any], us: Shown) -> None:
    document["places"][0]["name"] = '</script><img src=x onerror="alert(1)">'
    trip = read_trip(document)
    script, still = live_map(trip, us, None).script, str(static_map(trip, us, None))
    assert "</script" not in script and "<img" not in script and "<img" not in still


def test_script_json() -> None:
    assert script_json({"a": "</script>&\u2028"}) == '{"a":"\\u003c/script\\u003e\\u0026\\u2028"}'
    with pytest.raises(ValueError, match="not JSON compliant"):
        script_json(float("nan"))


def test_static_map_is_well_formed_and_bounded(
    document: dict[str, Any], us: Shown, hillshade: FakeHillshade
) -> None:
    picture = ElementTree.fromstring(str(static_map(read_trip(document), us, hillshade)))
    width, height = map(float, (picture.get("viewBox") or "").split()[2:])
    assert 0.4 <= height / width <= 1.0
    images = [element for element in picture.iter() if element.tag.endswith("image")]
    assert [image.get("href") for image in images] == [hillshade.data_uri]
    assert all(element.tag != "text" or element.text for element in picture.iter())


def test_window_holds_the_route_at_any_shape(document: dict[str, Any]) -> None:
    trip = read_trip(document)
    for lon, lat in (
        (trip.road.lon, np.full_like(trip.road.lat, 41.0)),
        (np.full_like(trip.road.lon, 7.0), trip.road.lat),
    ):
        window = route_window(replace(trip, road=replace(trip.road, lon=lon, lat=lat)))
        assert 0.42 - 1e-9 <= window.aspect <= 0.95 + 1e-9
        assert window.west < mercator_x(lon).min() and mercator_x(lon).max() < window.east
        assert window.north < mercator_y(lat).min() and mercator_y(lat).max() < window.south


def boxes(points: tuple[MapPoint, ...], x: FloatArray, y: FloatArray) -> dict[str, list[tuple[float, ...]]]:
    """Signs and labels as laid out in a picture, mileposts left out."""
    empty = np.array([])
    laid, steps = lay_out(points, x, y, Room(13.0, 900.0, 400.0, empty, empty))
    px, py = x + steps[:, 0], y + steps[:, 1]
    return {
        "signs": [
            (a - 11, b - p.lift - 11, a + 11, b - p.lift + 11)
            for p, a, b in zip(laid, px, py, strict=True)
            if p.kind != "milepost"
        ],
        "labels": [
            label_box(a, b, p.label_side, text_width(p.label, 13.0), 13.0)
            for p, a, b in zip(laid, px, py, strict=True)
            if p.label_side
        ],
    }


def meet(a: tuple[float, ...], b: tuple[float, ...]) -> bool:
    return a[0] < b[2] - 1e-9 and b[0] < a[2] - 1e-9 and a[1] < b[3] - 1e-9 and b[1] < a[3] - 1e-9


def test_signs_and_labels_cover_nothing(document: dict[str, Any], us: Shown) -> None:
    """All signs on a short line: they step aside until none covers another, nor any label."""
    points = map_points(read_trip(document), us)
    found = boxes(points, np.linspace(200.0, 700.0, len(points)), np.full(len(points), 200.0))
    everything = found["signs"] + found["labels"]
    assert len(found["labels"]) > 5
    assert not [1 for a, b in itertools.combinations(everything, 2) if meet(a, b)]


def test_a_leg_does_not_hide_the_limit_sign_beside_it(document: dict[str, Any], us: Shown) -> None:
    leg = document["legs"][0]
    at = {"lon": leg["lon"], "lat": leg["lat"], "station_m": leg["start_m"]}
    document["places"].append({**document["places"][1], **at, "name": "Limit", "kind": "truck-speed-limit"})
    points = tuple(p for p in map_points(read_trip(document), us) if p.kind in ("leg", "truck-speed-limit"))
    signs = boxes(points, np.full(len(points), 300.0), np.full(len(points), 200.0))["signs"]
    assert len(signs) == 4 and not any(meet(a, b) for a, b in itertools.combinations(signs, 2))


def test_stops_pass_and_towns_are_named_first(document: dict[str, Any], us: Shown) -> None:
    points = sorted(map_points(read_trip(document), us), key=lambda p: p.label_rank)
    assert [p.label.replace("\u00a0", " ") for p in points][:3] == [
        "Brake check",
        "Cool down 20 min",
        "Gray Fir Summit",
    ]
    assert {p.kind for p in points[3:6]} == {"town"}


def test_default_view_may_stop_between_whole_zooms(document: dict[str, Any], us: Shown) -> None:
    assert re.search(r'"zoomSnap": 0\.25', live_map(read_trip(document), us, None).script)
