# SPDX-License-Identifier: MIT
"""Reads recorded drives and courses from TCX (the published Training Center schema, version 2)."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from descent.route.features import Features, Part, PartOrder, check_count
from descent.route.files import MEGABYTE, SourceFile, chunks_of
from descent.route.text import clean_text
from descent.route.timestamps import epoch_s
from descent.route.xml_events import number_in, walk

LIMIT_BYTES = 150 * MEGABYTE


class _Tcx:
    """Gathers track points as the elements go by."""

    with_text = frozenset({"Time", "LatitudeDegrees", "LongitudeDegrees", "AltitudeMeters", "Name", "Speed"})
    long_text: frozenset[str] = frozenset()

    def __init__(self, where: str) -> None:
        self.where = where
        self.parts: list[Part] = []
        self.name = ""
        self.points = self.unplaced = 0
        self.rows: list[tuple[float, float, float, float, float]] = []
        self.point: dict[str, str] | None = None
        self.stack: list[str] = []

    def opened(self, tag: str, attributes: Mapping[str, str]) -> None:
        self.stack.append(tag)
        if tag == "Trackpoint":
            self.point = {}
            self.points += 1
            if self.points % 10_000 == 0:
                check_count(self.points, self.where)
        elif tag == "Track":
            self.rows = []

    def closed(self, tag: str, text: str) -> None:
        self.stack.pop()
        if tag == "Trackpoint" and self.point is not None:
            self._point_done(self.point)
            self.point = None
        elif tag == "Track":
            self._track_done()
        elif tag in self.with_text:
            if self.point is not None:
                self.point[tag] = text
            elif tag == "Name" and self.stack and self.stack[-1] == "Course":
                self.name = self.name or clean_text(text)

    def _point_done(self, point: dict[str, str]) -> None:
        if "LatitudeDegrees" not in point and "LongitudeDegrees" not in point:
            self.unplaced += 1
            return
        self.rows.append((number_in(point.get("LongitudeDegrees", "")), number_in(point.get("LatitudeDegrees", "")),
                          number_in(point.get("AltitudeMeters", "")), epoch_s(point.get("Time", "")),
                          number_in(point.get("Speed", ""))))

    def _track_done(self) -> None:
        if not self.rows:
            return
        lon, lat, height, time_s, speed = np.array(self.rows, dtype=float).T
        self.rows = []
        self.parts.append(Part(lon, lat, None if np.isnan(height).all() else height,
                               None if np.isnan(time_s).all() else time_s, self.name, {},
                               f"track {len(self.parts) + 1}",
                               {} if np.isnan(speed).all() else {"speed_mps": speed}))


def read_tcx(source: SourceFile) -> Features:
    """The tracks of a TCX file in the order recorded.

    Raises RouteError: too-many-points and what `xml_events.walk` and `files.chunks_of` raise.
    """
    tcx = _Tcx(source.where)
    with chunks_of(source, LIMIT_BYTES) as pieces:
        walk(pieces, tcx, root="trainingcenterdatabase", where=source.where)
    check_count(tcx.points, source.where)
    notes = (f"{tcx.unplaced} points of the recording have no position and were left out",) if tcx.unplaced else ()
    return Features(tuple(tcx.parts), (), tcx.name, PartOrder.RECORDED, notes)
