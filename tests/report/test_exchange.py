# SPDX-License-Identifier: MIT
"""The open formats read back with independent readers and say what the document says."""

from __future__ import annotations

import csv
import io
import json
from typing import Any

import geopandas
import pytest
from defusedxml import ElementTree

from descent.report.exchange import plan_geojson, profile_csv, stops_gpx
from descent.report.words import Words

GPX = "{http://www.topografix.com/GPX/1/1}"


def test_csv_reads_back(document: dict[str, Any]) -> None:
    rows = list(csv.DictReader(io.StringIO(profile_csv(document))))
    profile = document["profile"]
    assert len(rows) == len(profile["station_m"])
    assert [float(row["elevation_m"]) for row in rows] == profile["elevation_m"]
    assert rows[0]["curve_limit_mps"] == "" and float(rows[1250]["curve_limit_mps"]) == pytest.approx(17.8816)


def test_geojson_reads_back(document: dict[str, Any]) -> None:
    frame = geopandas.read_file(io.StringIO(plan_geojson(document)))
    assert frame["feature"].value_counts().to_dict() == {
        "place": 15,
        "leg": 3,
        "downgrade": 2,
        "stop": 2,
        "route": 1,
    }
    leg = frame[frame["feature"] == "leg"].iloc[0]
    assert leg["gear"] == 6 and leg.geometry.geom_type == "LineString"
    assert leg.geometry.coords[0][:2] == pytest.approx(
        (document["legs"][0]["lon"], document["legs"][0]["lat"])
    )


def test_geojson_of_a_refusal_has_no_orders(refusal: dict[str, Any]) -> None:
    features = [f["properties"]["feature"] for f in json.loads(plan_geojson(refusal))["features"]]
    assert "leg" not in features and "stop" not in features and "downgrade" in features


def test_gpx_way_points(document: dict[str, Any], words: Words) -> None:
    root = ElementTree.fromstring(stops_gpx(document, words=words))
    points = root.findall(f"{GPX}wpt")
    assert [p.findtext(f"{GPX}name") for p in points] == [
        "Brake check",
        "Leg 1",
        "Cool down",
        "Leg 2",
        "Leg 3",
    ]
    assert float(points[1].get("lat") or 0) == pytest.approx(document["legs"][0]["lat"], abs=1e-7)
    assert "gear 6, no more than 30\u00a0mph" in (points[1].findtext(f"{GPX}desc") or "")


def test_gpx_of_a_refusal_is_empty_and_says_so(refusal: dict[str, Any], words: Words) -> None:
    root = ElementTree.fromstring(stops_gpx(refusal, words=words))
    assert root.findall(f"{GPX}wpt") == []
    assert (root.findtext(f"{GPX}metadata/{GPX}desc") or "").startswith("NOT LIKE THIS")


def test_gpx_takes_any_name(document: dict[str, Any], words: Words) -> None:
    document["route"]["name"] = 'A & <B> "C" \x00 \x1b \ud800'
    root = ElementTree.fromstring(stops_gpx(document, words=words))
    assert (root.findtext(f"{GPX}metadata/{GPX}name") or "").startswith('A & <B> "C"')
