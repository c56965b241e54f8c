# SPDX-License-Identifier: MIT
"""What a map shows: its points with their words."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from markupsafe import Markup

from descent.report.markers import LEG_LIFT, drawing, leg_post
from descent.report.named_places import number_on_post
from descent.report.phrases import place_words, stop_sentence
from descent.report.shown import Shown
from descent.report.trip import Row, Trip

# The lower the rank, the earlier a point is drawn on top and the earlier its label gets room.
_RANKS = {
    "cool-down": 0,
    "build-air": 0,
    "cool-and-air": 0,
    "brake-check": 1,
    "gear-change": 1,
    "leg": 2,
    "crest": 3,
    "escape-ramp": 4,
    "start": 5,
    "end": 5,
    "town": 6,
    "landmark": 7,
    "truck-speed-limit": 8,
    "rest-area": 8,
    "chain-up-area": 8,
    "scale": 8,
    "brake-check-area": 8,
    "stop-sign": 8,
    "pull-out": 8,
    "milepost": 9,
}
_LABELLED_RANK = 7
# Which label gets room first: the stops, then what a driver steers by, then the rest in the signs' order.
_LABEL_RANKS = {"cool-down": 0, "build-air": 0, "cool-and-air": 0, "brake-check": 0, "gear-change": 0, "town": 2, "escape-ramp": 3}
_PASS_WITHIN_M = 800.0


@dataclass(frozen=True)
class MapPoint:
    """One sign on the map. label: short words beside it, side: where they find room ("" for none); title: one
    line; lines: the popup's lines."""

    kind: str
    lon: float
    lat: float
    station_m: float
    shapes: Markup
    title: str
    lines: tuple[str, ...]
    label: str = ""
    label_side: str = ""
    names_pass: bool = False

    @property
    def lift(self) -> float:
        """How far the sign's centre stands above its place on the road, in picture units."""
        return LEG_LIFT if self.kind == "leg" else 0.0

    @property
    def rank(self) -> int:
        """Order of importance, 0 first."""
        return 6 if self.names_pass else _RANKS.get(self.kind, 8)


    @property
    def label_rank(self) -> int:
        """Order in which labels get room, 0 first."""
        return 1 if self.names_pass else _LABEL_RANKS.get(self.kind, self.rank + 4)


def map_points(trip: Trip, shown: Shown) -> tuple[MapPoint, ...]:
    """Every sign of the trip, most important last so that it is drawn on top."""
    points = [_place_point(place, shown) for place in trip.places]
    stop_places = {stop.get("place") for stop in trip.stops}
    points = [p for p in points if not (p.title and p.title in stop_places)]
    points = [replace(p, names_pass=True) if _is_pass(p, trip) else p for p in points]
    points += [_crest_point(downgrade, trip, shown) for downgrade in trip.rows("downgrades")]
    points += [_stop_point(stop, trip, shown) for stop in trip.stops]
    points += [_leg_point(leg, shown) for leg in trip.legs]
    points += [_end_point(trip, shown, "start", 0), _end_point(trip, shown, "end", -1)]
    return tuple(sorted(points, key=lambda p: (-p.rank, p.station_m)))


def _is_pass(point: MapPoint, trip: Trip) -> bool:
    """Whether a landmark stands where the road is highest."""
    top_m = float(trip.road.station_m[int(np.argmax(trip.road.elevation_m))])
    return point.kind == "landmark" and abs(point.station_m - top_m) <= _PASS_WITHIN_M


def _place_point(place: Row, shown: Shown) -> MapPoint:
    name = str(place.get("name") or "")
    kind = str(place["kind"])
    where = place_words(place, shown)
    return MapPoint(
        kind,
        place["lon"],
        place["lat"],
        place["station_m"],
        drawing(kind),
        name or where[0],
        where,
        label=_post_label(place, shown) if kind == "milepost" else name if _RANKS.get(kind, 8) <= _LABELLED_RANK or kind == "pull-out" else "",
    )


def _post_label(place: Row, shown: Shown) -> str:
    """The number on a milepost."""
    number = number_on_post(place)
    return "" if number is None else shown.number(number, 0 if number == round(number) else 1)


def _crest_point(downgrade: Row, trip: Trip, shown: Shown) -> MapPoint:
    start_m, words = downgrade["start_m"], shown.words
    title = words("map.crest", number=downgrade["number"])
    lines = (
        shown.at(start_m),
        words(
            "map.downgrade",
            length=shown.distance(downgrade["length_m"]),
            grade=shown.grade(downgrade["mean_grade"]),
        ),
    )
    return MapPoint(
        "crest",
        trip.road.at(start_m, trip.road.lon),
        trip.road.at(start_m, trip.road.lat),
        start_m,
        drawing("crest"),
        title,
        lines,
        label=title,
    )


def _stop_point(stop: Row, trip: Trip, shown: Shown) -> MapPoint:
    words = shown.words
    kind = str(stop["kind"])
    label = words.one_of("stop_label", kind, minutes=shown.stop_minutes(stop["minutes"]))
    return MapPoint(
        kind,
        stop["lon"],
        stop["lat"],
        stop["station_m"],
        drawing(kind),
        words.one_of("stop", kind),
        (stop_sentence(stop, trip, shown),),
        label=label,
    )


def _leg_point(leg: Row, shown: Shown) -> MapPoint:
    words = shown.words
    title = words("map.leg", number=leg["number"])
    lines = (
        shown.at(leg["start_m"]),
        words("map.leg_orders", gear=leg["gear"], speed=shown.speed(leg["control_speed_mps"])),
    )
    return MapPoint("leg", leg["lon"], leg["lat"], leg["start_m"], leg_post(leg["number"]), title, lines)


def _end_point(trip: Trip, shown: Shown, kind: str, index: int) -> MapPoint:
    road = trip.road
    title = shown.words(f"map.{kind}")
    return MapPoint(
        kind,
        float(road.lon[index]),
        float(road.lat[index]),
        float(road.station_m[index]),
        drawing(kind),
        title,
        (shown.at(float(road.station_m[index])),),
        label=title,
    )
