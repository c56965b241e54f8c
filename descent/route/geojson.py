# SPDX-License-Identifier: MIT
"""Reads lines and points from GeoJSON (RFC 7946, and the older `crs` member with a named system)."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from descent.errors import RouteError
from descent.route.crs import CrsNotKnown, crs_unknown, named_crs, to_wgs84
from descent.route.faultbook import FaultBook, one_fault
from descent.route.features import MAX_PARTS, Features, Part, Spot, check_count
from descent.route.files import MEGABYTE, SourceFile, decode, read_bytes
from descent.route.text import clean_text

FloatArray = NDArray[np.float64]
LIMIT_BYTES = 64 * MEGABYTE
MAX_NESTING = 8
_LINES = {"LineString": 0, "MultiLineString": 1}
_POINTS = {"Point": 0, "MultiPoint": 1}


def read_geojson(source: SourceFile) -> Features:
    """All lines and points of a GeoJSON file.

    Raises RouteError: json-malformed, geojson-other-kind, crs-unknown and what `files.read_bytes` raises; in the
    faults: coordinate-not-a-number, geojson-other-kind.
    """
    document = _load(source)
    if not isinstance(document, dict) or "type" not in document:
        raise one_fault(RouteError, source.where, "geojson-other-kind", "this JSON is not GeoJSON: it has no \"type\"",
                        "Export the road as GeoJSON")
    faults = FaultBook(source.where)
    collector = _Collector(source.where, faults, _crs(document, source.where))
    for number, feature in enumerate(_features(document), 1):
        collector.feature(feature, number)
    name = clean_text(document.get("name") or "") if isinstance(document.get("name"), str) else ""
    return Features(tuple(collector.parts), tuple(collector.spots), name,
                    other_shapes=tuple(sorted(collector.others)), faults=faults)


def _load(source: SourceFile) -> Any:
    data = read_bytes(source, LIMIT_BYTES)
    check_count(data.count(b"[") - MAX_PARTS, source.where)  # each position has one: known before it takes memory
    text = decode(data, source.where)
    try:
        return json.loads(text)
    except json.JSONDecodeError as error:
        raise one_fault(RouteError, source.where, "json-malformed",
                        f"the JSON is wrong or breaks off at line {error.lineno}, column {error.colno}",
                        "Export the file again; it may have been cut off", value=error.msg) from None
    except (RecursionError, ValueError):
        raise one_fault(RouteError, source.where, "json-malformed",
                        "the JSON is nested too deep or holds a number of absurd length",
                        "Export the file again from where it comes from") from None


def _crs(document: Mapping[str, Any], where: str) -> Any:
    member = document.get("crs")
    if member is None:
        return None
    properties = member.get("properties") if isinstance(member, dict) else None
    name = properties.get("name") if isinstance(properties, dict) else None
    try:
        return named_crs(str(name))
    except CrsNotKnown:
        raise crs_unknown(where, str(name)) from None


def _features(document: Mapping[str, Any]) -> Iterator[Any]:
    if document["type"] == "FeatureCollection":
        members = document.get("features")
        yield from members if isinstance(members, list) else ()
    else:
        yield document


class _Collector:
    """Gathers parts and spots feature by feature."""

    def __init__(self, where: str, faults: FaultBook, crs: Any) -> None:
        self.where, self.faults, self.crs = where, faults, crs
        self.parts: list[Part] = []
        self.spots: list[Spot] = []
        self.others: set[str] = set()
        self.points = 0

    def feature(self, feature: Any, number: int) -> None:
        """Take one member of the collection, whatever it is."""
        if not isinstance(feature, dict):
            self.faults.add("geojson-other-kind", "this member is not a GeoJSON feature", "Remove or correct it",
                            place=f"feature {number}", value=type(feature).__name__)
            return
        bare = feature.get("type") != "Feature"
        properties = feature.get("properties") if not bare else None
        attributes = _attributes(properties) if isinstance(properties, dict) else {}
        name = next((text for key, text in attributes.items() if key.lower() == "name"), "")
        place = f"feature {number}" + (f" ({name[:40]})" if name else "")
        self.geometry(feature if bare else feature.get("geometry"), name, attributes, place, 0)

    def geometry(self, geometry: Any, name: str, attributes: Mapping[str, str], place: str, depth: int) -> None:
        if not isinstance(geometry, dict) or depth > MAX_NESTING:
            return
        kind = geometry.get("type") if isinstance(geometry.get("type"), str) else None
        if kind == "GeometryCollection" and isinstance(geometry.get("geometries"), list):
            for member in geometry["geometries"]:
                self.geometry(member, name, attributes, place, depth + 1)
            return
        coordinates = geometry.get("coordinates")
        if kind in _LINES:
            lines = [coordinates] if kind == "LineString" else coordinates
            for index, line in enumerate(lines if isinstance(lines, list) else [lines], 1):
                part_place = f"{place}, part {index}" if kind == "MultiLineString" else place
                self.line(line, name, attributes, part_place)
        elif kind in _POINTS:
            lon, lat, _ = self.numbers([coordinates] if kind == "Point" else coordinates, place)
            self.spots += [Spot(float(x), float(y), name, attributes, place) for x, y in zip(lon, lat, strict=True)]
        else:
            self.others.add(f"{clean_text(kind, limit=30)} shapes")

    def line(self, coordinates: Any, name: str, attributes: Mapping[str, str], place: str) -> None:
        lon, lat, elevation = self.numbers(coordinates, place)
        if len(self.parts) >= MAX_PARTS:
            raise one_fault(RouteError, self.where, "too-many-parts",
                            f"the file holds more than {MAX_PARTS:,} separate lines", "Keep the road that is driven")
        self.parts.append(Part(lon, lat, elevation, None, name, attributes, place))

    def numbers(self, coordinates: Any, place: str) -> tuple[FloatArray, FloatArray, FloatArray | None]:
        """Positions as lon, lat [degree] and elevation [m] (None without any), converted to WGS84."""
        table = self._table(coordinates, place)
        self.points += len(table)
        check_count(self.points, self.where)
        lon, lat = table[:, 0], table[:, 1]
        if self.crs is not None:
            try:
                lon, lat = to_wgs84(self.crs, lon, lat)
            except CrsNotKnown:
                raise crs_unknown(self.where, self.crs.name) from None
        return lon, lat, None if np.isnan(table[:, 2]).all() else table[:, 2]

    def _table(self, coordinates: Any, place: str) -> FloatArray:
        if not isinstance(coordinates, list):
            self.faults.add("coordinate-not-a-number", "the coordinates are not a list of positions",
                            "Write positions as [longitude, latitude] or [longitude, latitude, elevation]",
                            place=place, value=coordinates)
            return np.empty((0, 3))
        try:
            table = np.asarray(coordinates)
        except (ValueError, OverflowError):
            table = np.empty(0, dtype=object)
        if table.ndim == 2 and table.shape[1] in (2, 3) and table.dtype.kind in "iuf":
            return np.column_stack([table.astype(float), np.full((len(table), 3 - table.shape[1]), np.nan)])
        return self._slow_table(coordinates, place)

    def _slow_table(self, coordinates: list[Any], place: str) -> FloatArray:
        rows, bad = [], []
        for number, position in enumerate(coordinates, 1):
            row = _position(position)
            if row is None:
                bad.append((number, position))
            rows.append(row or (0.0, 0.0, float("nan")))  # keeps the numbers of the points after it
        if bad:
            more = f", and {len(bad) - 1} more like it" if len(bad) > 1 else ""
            self.faults.add("coordinate-not-a-number", f"the position is not two or three numbers{more}",
                            "Write positions as [longitude, latitude] or [longitude, latitude, elevation]",
                            place=f"{place}, point {bad[0][0]}", value=bad[0][1])
        return np.array(rows, dtype=float).reshape(-1, 3)


def _position(position: Any) -> tuple[float, float, float] | None:
    if not isinstance(position, list) or len(position) < 2:
        return None
    numbers = [value for value in position[:3] if isinstance(value, int | float) and not isinstance(value, bool)]
    if len(numbers) < min(len(position), 3):
        if len(position) > 2 and position[2] is None and len(numbers) == 2:
            return float(numbers[0]), float(numbers[1]), float("nan")
        return None
    try:
        lon, lat, *rest = (float(value) for value in numbers)
    except OverflowError:
        return None
    return lon, lat, rest[0] if rest else float("nan")


def _attributes(properties: Mapping[str, Any]) -> dict[str, str]:
    """Properties as clean text; null, lists and objects are left out."""
    kept = {}
    for key, value in list(properties.items())[:200]:
        if isinstance(value, str | int | float):
            text = f"{value:g}" if isinstance(value, float) else str(value).lower() if isinstance(value, bool) else value
            kept[clean_text(key, limit=60)] = clean_text(text)
    return kept
