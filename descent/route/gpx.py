# SPDX-License-Identifier: MIT
"""Reads tracks, routes and waypoints from GPX (GPX 1.1 schema, and 1.0, which names the same elements)."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from descent.route.features import Features, Part, PartOrder, Spot, check_count
from descent.route.files import MEGABYTE, SourceFile, chunks_of
from descent.route.text import clean_text
from descent.route.timestamps import epoch_s
from descent.route.xml_events import number_in, walk

LIMIT_BYTES = 150 * MEGABYTE
_POINTS = frozenset({"trkpt", "rtept", "wpt"})
_TEXTS: tuple[str, ...] = ("type", "sym", "desc", "cmt")


class _Gpx:
    """Gathers points as the elements go by."""

    with_text = frozenset({"ele", "time", "name", "type", "sym", "desc", "cmt", "speed"})
    long_text: frozenset[str] = frozenset()

    def __init__(self, where: str) -> None:
        self.where = where
        self.tracks: list[Part] = []
        self.routes: list[Part] = []
        self.spots: list[Spot] = []
        self.name = ""
        self.line_name = ""
        self.numbers = {"trk": 0, "rte": 0, "trkseg": 0, "wpt": 0}
        self.rows: list[tuple[float, float, float, float, float]] = []
        self.points = 0
        self.point: dict[str, str] | None = None
        self.stack: list[str] = []

    def opened(self, tag: str, attributes: Mapping[str, str]) -> None:
        self.stack.append(tag)
        if tag in _POINTS:
            self.point = {"lon": attributes.get("lon", ""), "lat": attributes.get("lat", "")}
            self.points += 1
            if self.points % 10_000 == 0:
                check_count(self.points, self.where)
        elif tag in self.numbers:
            self.numbers[tag] += 1
            self.rows = []
            if tag != "trkseg":
                self.line_name = ""
                self.numbers["trkseg"] = 0

    def closed(self, tag: str, text: str) -> None:
        self.stack.pop()
        parent = self.stack[-1] if self.stack else ""
        if tag in self.with_text:
            if self.point is not None and (parent in _POINTS or tag == "speed"):
                self.point[tag] = text
            elif tag == "name" and parent in ("trk", "rte"):
                self.line_name = clean_text(text)
            elif tag == "name" and parent in ("gpx", "metadata"):
                self.name = self.name or clean_text(text)
        elif tag in _POINTS and self.point is not None:
            self._point_done(tag)
        elif tag == "trkseg":
            self._line_done(self.tracks, f"track {self.numbers['trk']}, segment {self.numbers['trkseg']}")
        elif tag == "rte":
            self._line_done(self.routes, f"route {self.numbers['rte']}")

    def _point_done(self, tag: str) -> None:
        point = self.point or {}
        self.point = None
        lon, lat = number_in(point["lon"]), number_in(point["lat"])
        if tag == "wpt":
            self.numbers["wpt"] += 1
            attributes: dict[str, str] = {key: clean_text(point[key]) for key in _TEXTS if key in point}
            self.spots.append(Spot(lon, lat, clean_text(point.get("name", "")), attributes,
                                   f"waypoint {self.numbers['wpt']}"))
        else:
            self.rows.append((lon, lat, number_in(point.get("ele", "")), epoch_s(point.get("time", "")),
                              number_in(point.get("speed", ""))))

    def _line_done(self, lines: list[Part], place: str) -> None:
        table = np.array(self.rows, dtype=float).reshape(-1, 5)
        self.rows = []
        elevation, time_s, speed = (None if np.isnan(column).all() else column.copy() for column in table[:, 2:].T)
        lines.append(Part(table[:, 0].copy(), table[:, 1].copy(), elevation, time_s, self.line_name, {}, place,
                          {} if speed is None else {"speed_mps": speed}))


def read_gpx(source: SourceFile) -> Features:
    """Tracks (or, without any, routes) and waypoints of a GPX file.

    Raises RouteError: too-many-points and what `xml_events.walk` and `files.chunks_of` raise.
    """
    gpx = _Gpx(source.where)
    with chunks_of(source, LIMIT_BYTES) as pieces:
        walk(pieces, gpx, root="gpx", where=source.where)
    check_count(gpx.points, source.where)
    parts, notes = gpx.tracks, []
    if any(len(part.lon) > 1 for part in gpx.tracks):
        if gpx.routes:
            notes.append("the file holds tracks and routes: the tracks are used")
    else:
        parts = gpx.routes or gpx.tracks
    name = gpx.name or next((part.name for part in parts if part.name), "")
    return Features(tuple(parts), tuple(gpx.spots), name, PartOrder.RECORDED, tuple(notes))
