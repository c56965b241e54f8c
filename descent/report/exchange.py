# SPDX-License-Identifier: MIT
"""A plan document in open formats: profile.csv, plan.geojson (RFC 7946) and stops.gpx (GPX 1.1)."""

from __future__ import annotations

import csv
import io
import json
import math
import re
from collections.abc import Mapping
from typing import Any
from xml.etree import ElementTree

import numpy as np

from descent.report.leg_words import gauge_words, retarder_order, slower_words, snub_words
from descent.report.phrases import defer_words, stop_sentence
from descent.report.shown import shown_for
from descent.report.trip import Row, Trip, read_trip
from descent.report.words import Words

_COLUMNS = (
    "station_m",
    "lon",
    "lat",
    "elevation_m",
    "elevation_sd_m",
    "grade",
    "grade_sd",
    "curve_limit_mps",
    "posted_limit_mps",
)
_GPX = "http://www.topografix.com/GPX/1/1"
_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def profile_csv(document: Mapping[str, Any]) -> str:
    """The profile's columns, one row per station; empty where a value is not known."""
    profile = document["profile"]
    columns = [name for name in _COLUMNS if profile.get(name) is not None and len(profile[name])]
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(columns)
    for row in zip(*(profile[name] for name in columns), strict=True):
        writer.writerow(["" if value is None or math.isnan(value) else value for value in row])
    return text.getvalue()


def plan_geojson(document: Mapping[str, Any]) -> str:
    """One feature per thing: the route, downgrades and legs as lines with heights; stops and places as
    points."""
    trip = read_trip(document)
    road = trip.road
    route = {
        "feature": "route",
        "name": trip.name,
        "feasible": trip.feasible,
        "verdict_reason": document.get("verdict_reason"),
    }
    features = [_line(trip, route, 0.0, road.length_m)]
    features += [
        _line(trip, {"feature": "downgrade", **row}, row["start_m"], row["end_m"])
        for row in trip.rows("downgrades")
    ]
    features += [_line(trip, {"feature": "leg", **row}, row["start_m"], row["end_m"]) for row in trip.legs]
    features += [_point({"feature": "stop", **row}, row) for row in trip.stops]
    features += [_point({"feature": "place", **row}, row) for row in trip.places]
    body = ",\n".join(json.dumps(feature, ensure_ascii=False, allow_nan=False) for feature in features)
    return '{"type": "FeatureCollection", "features": [\n' + body + "\n]}\n"


def _line(trip: Trip, properties: dict[str, Any], start_m: float, end_m: float) -> dict[str, Any]:
    road = trip.road
    inside = (road.station_m > start_m) & (road.station_m < end_m)
    at = np.concatenate([[start_m], road.station_m[inside], [max(end_m, start_m + 0.01)]])
    columns = [np.interp(at, road.station_m, c) for c in (road.lon, road.lat, road.elevation_m)]
    coordinates = [
        [round(float(a), 7), round(float(b), 7), round(float(z), 2)] for a, b, z in zip(*columns, strict=True)
    ]
    return {
        "type": "Feature",
        "properties": _properties(properties),
        "geometry": {"type": "LineString", "coordinates": coordinates},
    }


def _point(properties: dict[str, Any], row: Row) -> dict[str, Any]:
    return {
        "type": "Feature",
        "properties": _properties(properties),
        "geometry": {"type": "Point", "coordinates": [row["lon"], row["lat"]]},
    }


def _properties(properties: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in properties.items() if key not in ("lon", "lat")}


def stops_gpx(document: Mapping[str, Any], *, words: Words) -> str:
    """Way points along the road: where each leg starts, with its orders, and each stop.

    Where the plan does not hold there is no way point, and the file's description says so.
    """
    trip = read_trip(document)
    shown = shown_for(str((document.get("conditions") or {}).get("units") or "metric"), words)
    points = [
        (
            stop["station_m"],
            stop,
            words.one_of("stop", str(stop["kind"])),
            stop_sentence(stop, trip, shown),
            str(stop["kind"]),
        )
        for stop in trip.stops
    ]
    for leg in trip.legs:
        orders = words(
            "terminal.leg",
            number=leg["number"],
            at=shown.at(leg["start_m"]),
            gear=leg["gear"],
            speed=shown.speed(leg["control_speed_mps"]),
            brakes=f"{slower_words(leg, trip, shown)} {snub_words(leg, trip, shown)}".strip(),
            retarder=retarder_order(leg, trip, shown),
        )
        name = words("map.leg", number=leg["number"])
        points.append((leg["start_m"], leg, name, " ".join([orders, gauge_words(leg, shown)]).strip(), "leg"))
    root = ElementTree.Element("gpx", {"version": "1.1", "creator": "descent", "xmlns": _GPX})
    head = ElementTree.SubElement(root, "metadata")
    _text(head, "name", trip.name)
    _text(
        head,
        "desc",
        defer_words(trip, shown)
        if trip.feasible
        else f"{words('verdict.not')}. {document.get('verdict_reason') or ''}".strip(),
    )
    for _, row, name, description, kind in sorted(points, key=lambda p: (p[0], p[4])):
        way = ElementTree.SubElement(root, "wpt", {"lat": f"{row['lat']:.7f}", "lon": f"{row['lon']:.7f}"})
        ele = np.interp(
            row.get("station_m", row.get("start_m", 0.0)), trip.road.station_m, trip.road.elevation_m
        )
        _text(way, "ele", f"{ele:.1f}")
        _text(way, "name", name)
        _text(way, "desc", description)
        _text(way, "type", kind)
    ElementTree.indent(root)
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + ElementTree.tostring(root, encoding="unicode") + "\n"


def _text(parent: ElementTree.Element, name: str, text: str) -> None:
    ElementTree.SubElement(parent, name).text = _NOT_XML.sub(" ", text)
