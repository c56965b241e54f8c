# SPDX-License-Identifier: MIT
"""Reads places along a route: pull-outs, check areas, ramps, towns, limits, snapped to the line."""

from __future__ import annotations

import math
import os
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from descent.errors import PlacesError, RequestError, RouteError
from descent.route.faultbook import FaultBook, one_fault
from descent.route.features import Spot, check_coordinates
from descent.route.files import find_source
from descent.route.line import Route
from descent.route.place_kinds import KINDS, LANDMARK, find_kind
from descent.route.readers import read_features
from descent.route.snapping import Pass, SnapLine, passes, snap_line
from descent.route.text import length_text
from descent.units import LENGTH, parse

RAMP = "escape-ramp"
LIMIT_M = 150.0
MAX_PLACES = 20_000
STEEPEST = 0.40
MAX_NAMED = 6
_SIDES = {"left": "left", "l": "left", "right": "right", "r": "right", "both": "both", "": ""}
_OTHER = {"left": "right", "right": "left"}


@dataclass(frozen=True)
class Place:
    """A place at one pass of the route.

    lon, lat [degree] of the place itself; station_m along the route; offset_m from the line; side of travel:
    "left", "right", "both" or "on" (within 1 m of the line); grade: of the place itself, rise over run along
    travel (of an escape ramp: along the ramp), None if unknown; room_m: length a vehicle can stand on, None if unknown; attributes: all else the file
    says, tag name to text.
    """

    name: str
    kind: str
    lon: float
    lat: float
    station_m: float
    offset_m: float
    side: str
    grade: float | None = None
    room_m: float | None = None
    attributes: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class PlacesRead:
    """The places of a file in travel order, and what was left out or read differently, as sentences."""

    places: tuple[Place, ...]
    said: tuple[str, ...] = ()


def read_places(path: str | os.PathLike[str], route: Route, *, limit_m: float = LIMIT_M) -> tuple[Place, ...]:
    """The places of a file within `limit_m` of the route, in travel order; see `survey_places`."""
    return survey_places(path, route, limit_m=limit_m).places


def survey_places(path: str | os.PathLike[str], route: Route, *, limit_m: float = LIMIT_M) -> PlacesRead:
    """The places of a file within `limit_m` of the route, and what became of the others.

    Any format `read_route` reads; only its points count. Properties: name, kind, side (left or right of the
    line as drawn), grade_percent (negative downhill along the line as drawn; of a ramp, positive up it), room_m (or room with a unit). A
    place the route passes more than once appears at each pass. Raises PlacesError with all faults:
    places-none, places-too-many, place-value, and those of coordinates and files.
    """
    try:
        source = find_source(path)
        features = read_features(path)
    except RouteError as error:
        raise PlacesError(*error.faults) from None
    if not features.spots and not features.faults:
        raise one_fault(PlacesError, source.where, "places-none", "the file holds no points",
                        "Export the places as points", value="only lines or areas" if features.parts else "nothing")
    if len(features.spots) > MAX_PLACES:
        raise one_fault(PlacesError, source.where, "places-too-many", f"more than {MAX_PLACES:,} places",
                        "Keep those along the route", value=len(features.spots))
    faults = FaultBook(source.where)
    faults.take(features.faults)
    survey = _Survey(route, snap_line(route), limit_m, faults)
    for spot in features.spots:
        survey.take(spot)
    faults.raise_if_any(PlacesError)
    said = [*features.notes, *survey.said()]
    if features.other_shapes:
        said.append(f"{', '.join(features.other_shapes)} in the places file were left out: only points are places")
    order = sorted(survey.places, key=lambda place: (place.station_m, place.name, place.kind))
    return PlacesRead(tuple(order), tuple(said))


class _Survey:
    """Takes the points of a file one by one."""

    def __init__(self, route: Route, line: SnapLine, limit_m: float, faults: FaultBook) -> None:
        self.route, self.line, self.limit_m, self.faults = route, line, limit_m, faults
        self.places: list[Place] = []
        self.far: list[str] = []
        self.unknown: Counter[str] = Counter()
        self.twice = 0
        self.seen: set[tuple[str, str, float, float]] = set()

    def take(self, spot: Spot) -> None:
        """Read and snap one point."""
        where = spot.place if not spot.name or spot.name[:40] in spot.place else f"{spot.place} ({spot.name[:40]})"
        before = self.faults.count
        check_coordinates(np.array([spot.lon]), np.array([spot.lat]), self.faults, place=where)
        tags = {key.lower(): value for key, value in spot.attributes.items()}
        side = self._side(tags, where)
        grade = self._number(tags, "grade_percent", where, -100 * STEEPEST, 100 * STEEPEST)
        room_m = self._room(tags, where)
        if self.faults.count > before:
            return
        kind, word = find_kind(spot.attributes)
        if kind is None:
            kind = LANDMARK
            self.unknown[word] += 1
        name = spot.name or kind.replace("-", " ")
        key = (name, kind, round(spot.lon, 5), round(spot.lat, 5))
        if key in self.seen:
            self.twice += 1
            return
        self.seen.add(key)
        found = passes(self.line, spot.lon, spot.lat, limit_m=self.limit_m)
        if not found:
            self.far.append(name)
        ratio = None if grade is None else grade / 100
        for one in found:
            turned = self.route.reversed ^ (math.cos(one.heading_rad - found[0].heading_rad) < 0)
            self.places.append(Place(
                name, kind, spot.lon, spot.lat, one.station_m, one.offset_m, self._side_at(side, one, turned),
                -ratio if turned and ratio and kind != RAMP else ratio, room_m, spot.attributes))

    def _side_at(self, given: str, one: Pass, turned: bool) -> str:
        if not given:
            return one.side
        return _OTHER.get(given, given) if turned else given

    def _side(self, tags: Mapping[str, str], where: str) -> str:
        word = tags.get("side", "").strip().lower()
        if word not in _SIDES:
            self.faults.add("place-value", "the side is not left, right or both",
                            "Write the side of the road as the line is drawn, or leave it out", place=where,
                            value=word)
        return _SIDES.get(word, "")

    def _number(self, tags: Mapping[str, str], key: str, where: str, low: float, high: float) -> float | None:
        text = tags.get(key, "").strip()
        if not text:
            return None
        try:
            value = float(text.removesuffix("%"))
        except ValueError:
            value = float("nan")
        if not low <= value <= high:
            self.faults.add("place-value", f"{key} is not a number from {low:g} to {high:g}",
                            "Correct it, or leave it out when it is not known", place=where, value=text)
            return None
        return value

    def _room(self, tags: Mapping[str, str], where: str) -> float | None:
        text = tags.get("room", "").strip()
        if not text or "room_m" in tags:
            return self._number(tags, "room_m", where, 0.0, 10_000.0)
        try:
            return parse(text, LENGTH, where=where)
        except RequestError as error:
            fault = error.faults[0]
            self.faults.add("place-value", f"room: {fault.what}", fault.remedy, place=where, value=text)
            return None

    def said(self) -> list[str]:
        """What was left out or taken differently."""
        said = []
        if self.far:
            more = f" and {len(self.far) - MAX_NAMED} more" if len(self.far) > MAX_NAMED else ""
            said.append(f"{len(self.far)} places farther than {length_text(self.limit_m)} from the route were left "
                        f"out: {', '.join(self.far[:MAX_NAMED])}{more}")
        for word, count in sorted(self.unknown.items()):
            what = f"the kind \"{word}\" is not known" if word else "no kind is given"
            said.append(f"{what} for {count} of the places, kept as landmarks; kinds: {', '.join(KINDS)}")
        if self.twice:
            said.append(f"{self.twice} places that are in the file twice were left out")
        return said[:MAX_NAMED * 5]
