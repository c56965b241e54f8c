# SPDX-License-Identifier: MIT
"""Reads lines, tracks and points from KML and KMZ (OGC 12-007r2, KML 2.3; element names from memory)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np
from numpy.typing import NDArray

from descent.errors import RouteError
from descent.route.archive import read_members
from descent.route.faultbook import FaultBook, one_fault
from descent.route.features import MAX_PARTS, Features, Part, PartOrder, Spot, check_count
from descent.route.files import CHUNK_BYTES, MEGABYTE, SourceFile, chunks_of
from descent.route.text import clean_text
from descent.route.timestamps import epoch_s
from descent.route.xml_events import walk

FloatArray = NDArray[np.float64]
LIMIT_BYTES = 150 * MEGABYTE
_SHAPES = frozenset({"LineString", "Point", "LinearRing", "Track"})
_HOLDERS = frozenset({"Document", "Folder", "kml"})


class _Kml:
    """Gathers lines and points as the elements go by."""

    with_text = frozenset({"name", "coordinates", "coord", "when", "altitudeMode", "value", "SimpleData"})
    long_text = frozenset({"coordinates"})

    def __init__(self, where: str, faults: FaultBook) -> None:
        self.where, self.faults = where, faults
        self.parts: list[Part] = []
        self.spots: list[Spot] = []
        self.name = ""
        self.links = False
        self.others: set[str] = set()
        self.points = self.placemarks = 0
        self.stack: list[str] = []
        self.data_name = ""
        self._new_placemark()
        self._new_shape()

    def _new_placemark(self) -> None:
        self.title = ""
        self.attributes: dict[str, str] = {}
        self.shapes: list[tuple[str, FloatArray, FloatArray | None]] = []

    def _new_shape(self) -> None:
        self.on_ground = False
        self.coordinates = ""
        self.rows: list[str] = []
        self.moments: list[str] = []

    def opened(self, tag: str, attributes: Mapping[str, str]) -> None:
        self.stack.append(tag)
        if tag == "Placemark":
            self._new_placemark()
            self.placemarks += 1
        elif tag in _SHAPES:
            self._new_shape()
        elif tag in ("Data", "SimpleData"):
            self.data_name = clean_text(attributes.get("name", ""), limit=60)
        elif tag == "NetworkLink":
            self.links = True

    def closed(self, tag: str, text: str) -> None:
        self.stack.pop()
        parent = self.stack[-1] if self.stack else ""
        if tag == "name":
            if parent == "Placemark":
                self.title = clean_text(text)
            elif parent in _HOLDERS and not self.name:
                self.name = clean_text(text)
        elif tag in ("value", "SimpleData"):
            if self.data_name and len(self.attributes) < 200:
                self.attributes[self.data_name] = clean_text(text)
        elif tag == "altitudeMode":
            self.on_ground = text not in ("absolute", "relativeToSeaFloor")
        elif tag == "coordinates":
            self.coordinates = text
        elif tag == "coord":
            self.rows.append(text)
            if len(self.rows) % 10_000 == 0:
                check_count(self.points + len(self.rows), self.where)
        elif tag == "when":
            self.moments.append(text)
        elif tag in _SHAPES:
            self._shape_done(tag)
        elif tag == "Placemark":
            self._placemark_done()

    def _shape_done(self, tag: str) -> None:
        tuples = [row.replace(" ", ",") for row in self.rows] if tag == "Track" else self.coordinates.split()
        place = f"placemark {self.placemarks}" + (f" ({self.title[:40]})" if self.title else "")
        self.points += len(tuples)
        check_count(self.points, self.where)
        table = _numbers(tuples, self.faults, place)
        if self.on_ground:
            table[:, 2] = np.nan
        moments = None
        if tag == "Track" and len(self.moments) == len(table):
            moments = np.array([epoch_s(text) for text in self.moments], dtype=float)
        self.shapes.append((tag, table, moments))
        self._new_shape()

    def _placemark_done(self) -> None:
        place = f"placemark {self.placemarks}" + (f" ({self.title[:40]})" if self.title else "")
        for kind, table, moments in self.shapes:
            lon, lat, height = table.T
            if kind == "Point":
                self.spots += [Spot(float(x), float(y), self.title, self.attributes, place)
                               for x, y in zip(lon, lat, strict=True)]
            elif kind == "LinearRing":
                self.others.add("areas")
            elif len(self.parts) >= MAX_PARTS:
                raise one_fault(RouteError, self.where, "too-many-parts",
                                f"the file holds more than {MAX_PARTS:,} separate lines",
                                "Keep the road that is driven")
            else:
                number = f", part {len(self.parts) + 1}" if len(self.shapes) > 1 else ""
                self.parts.append(Part(lon, lat, None if np.isnan(height).all() else height,
                                       None if moments is None or np.isnan(moments).all() else moments,
                                       self.title, self.attributes, place + number))
        self._new_placemark()


def _numbers(tuples: list[str], faults: FaultBook, place: str) -> FloatArray:
    """Texts "lon,lat[,height]" as (n, 3), NaN where there is no height."""
    rows = []
    for number, text in enumerate(tuples, 1):
        cells = text.split(",")
        try:
            if len(cells) not in (2, 3):
                raise ValueError
            rows.append((float(cells[0]), float(cells[1]),
                         float(cells[2]) if len(cells) > 2 and cells[2] else float("nan")))
        except ValueError:
            faults.add("coordinate-not-a-number", "the position is not two or three numbers",
                       "Write positions as longitude,latitude or longitude,latitude,height",
                       place=f"{place}, point {number}", value=text[:60])
            rows.append((0.0, 0.0, float("nan")))  # keeps the numbers of the points after it
    return np.array(rows, dtype=float).reshape(-1, 3)


def _features(pieces: Iterable[bytes], where: str) -> Features:
    faults = FaultBook(where)
    kml = _Kml(where, faults)
    walk(pieces, kml, root="kml", where=where)
    notes = ("links to other files in it were not followed",) if kml.links else ()
    order = PartOrder.RECORDED if any(part.time_s is not None for part in kml.parts) else PartOrder.UNORDERED
    name = kml.parts[0].name if len(kml.parts) == 1 and kml.parts[0].name else kml.name
    return Features(tuple(kml.parts), tuple(kml.spots), name, order, notes, tuple(kml.others), faults)


def read_kml(source: SourceFile) -> Features:
    """Lines, tracks and points of a KML file. Heights are left out where the file says that they follow the ground.

    Faults: coordinate-not-a-number. Raises RouteError: too-many-points, too-many-parts and what `xml_events.walk` raises.
    """
    with chunks_of(source, LIMIT_BYTES) as pieces:
        return _features(pieces, source.where)


def _main_document(names: list[str]) -> list[str]:
    found = [name for name in names if name.lower().endswith(".kml")]
    return sorted(found, key=lambda name: (name.lower() != "doc.kml", name.count("/"), name))[:1]


def read_kmz(source: SourceFile) -> Features:
    """The main document of a KMZ archive. Raises RouteError: archive-no-kml and what the archive or KML raises."""
    members = read_members(source, _main_document)
    if not members:
        raise one_fault(RouteError, source.where, "archive-no-kml", "the archive holds no .kml file",
                        "Export the route as KML or KMZ again")
    data = next(iter(members.values()))
    pieces = (data[start:start + CHUNK_BYTES] for start in range(0, len(data), CHUNK_BYTES))
    return _features(pieces, source.where)
