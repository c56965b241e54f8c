# SPDX-License-Identifier: MIT
"""Sentences about a stop, a place or the whole plan, put together from its values and the language's words."""

from __future__ import annotations

import numpy as np

from descent.report.leg_words import slower_words
from descent.report.shown import Shown
from descent.report.trip import Row, Trip

_AT_M = 60.0
_LEGS_IN_ONE_SENTENCE = 4


def place_words(place: Row, shown: Shown) -> tuple[str, ...]:
    """A place in one or two lines: its kind and side, where it is."""
    words = shown.words
    kind = words.one_of("place", str(place["kind"]))
    side = side_words(place.get("side"), shown)
    return (f"{kind}, {side}" if side else kind, shown.at(place["station_m"]))


def side_words(side: object, shown: Shown) -> str:
    """ "right side", "left side" or nothing."""
    return shown.words(f"side.{side}") if side in ("left", "right") else ""


def landmark_words(trip: Trip, station_m: float, shown: Shown) -> str:
    """Where a station lies as a driver would say it: "milepost 212.4, 0.3 mi past Twin Alder"; empty with no
    posts and nothing near."""
    post = trip.milepost_at(station_m)
    told = "" if post is None else shown.number(post, 1)
    named = [shown.words("landmark.milepost", number=told)] if told not in ("", shown.distance_number(station_m)) else []
    return ", ".join(part for part in (*named, _near_words(trip, station_m, shown)) if part)


def coordinate_words(row: Row, shown: Shown) -> str:
    """Latitude and longitude of a leg or stop to type into a receiver: "41.2031 N, 107.5532 W" (decimal point in
    every language)."""
    if row.get("lat") is None or row.get("lon") is None:
        return ""
    lat, lon = float(row["lat"]), float(row["lon"])
    north = shown.words("compass.north" if lat >= 0 else "compass.south")
    east = shown.words("compass.east" if lon >= 0 else "compass.west")
    return f"{abs(lat):.4f}\u00a0{north}, {abs(lon):.4f}\u00a0{east}"


def _near_words(trip: Trip, station_m: float, shown: Shown) -> str:
    found = trip.landmark_near(station_m)
    if found is None:
        return ""
    place, past_m = found
    if abs(past_m) <= _AT_M:
        return shown.words("landmark.at", name=place["name"])
    side = "past" if past_m > 0 else "before"
    distance = shown.short(abs(past_m)) if abs(past_m) < 250.0 else shown.distance(abs(past_m))
    return shown.words(f"landmark.{side}", name=place["name"], distance=distance)


def stop_name(stop: Row, trip: Trip, shown: Shown) -> str:
    """A stop's place and side, or what is said where no place is known."""
    words = shown.words
    name = str(stop.get("place") or "") or words("stop_place.unknown")
    side = side_words(trip.side_of(stop), shown)
    return words("stop_place.sided", name=name, side=side) if side else name


def stop_sentence(stop: Row, trip: Trip, shown: Shown) -> str:
    """A stop in one line: where, which side, what for, how long."""
    words = shown.words
    what = words.one_of("stop_order", str(stop["kind"]), minutes=shown.stop_minutes(stop["minutes"]))
    return words(
        "stop_place.sentence", at=shown.at(stop["station_m"]), place=stop_name(stop, trip, shown), what=what
    )


def condition_words(trip: Trip, shown: Shown) -> str:
    """The vehicle, its weight and the day in one line."""
    conditions, words = trip.document.get("conditions") or {}, shown.words
    vehicle = trip.document.get("vehicle") or {}
    parts = [words.said(vehicle.get("title") or vehicle.get("name") or "")]
    if vehicle.get("gross_kg") is not None:
        parts.append(shown.mass(vehicle["gross_kg"]))
    if conditions.get("road"):
        parts.append(words.one_of("road", str(conditions["road"])))
    if conditions.get("air_temp_c") is not None:
        parts.append(words("condition.air", temperature=shown.temperature(conditions["air_temp_c"])))
    return ", ".join(part for part in parts if part)


def verdict_headline(trip: Trip, shown: Shown) -> str:
    """The answer in a few words."""
    return shown.words("verdict.holds" if trip.feasible else "verdict.not")


def defer_words(trip: Trip, shown: Shown) -> str:
    """What comes before this plan, or before this refusal."""
    return shown.words("page.defer" if trip.feasible else "page.defer_refusal")


def verdict_sentence(trip: Trip, shown: Shown) -> str:
    """The answer as one sentence to be read aloud."""
    words = shown.words
    if not trip.feasible:
        return words("verdict.not_sentence", vehicle=condition_words(trip, shown))
    parts = [_legs_clause(trip, shown)]
    if any(slower_words(leg, trip, shown) for leg in trip.legs):
        parts.append(words("verdict.slower"))
    stops = [
        words.one_of(
            "stop_clause",
            str(stop["kind"]),
            at=shown.at(stop["station_m"]),
            minutes=shown.stop_minutes(stop["minutes"]),
        )
        for stop in trip.stops
    ]
    if stops:
        parts.append(words("verdict.stops", stops=_listed(stops, words("list.and"))))
    return words("verdict.sentence", body=words("verdict.glue").join(parts))


def _legs_clause(trip: Trip, shown: Shown) -> str:
    words = shown.words
    if not trip.legs:
        return words("verdict.no_legs")
    if len(trip.legs) > _LEGS_IN_ONE_SENTENCE:
        top = max(leg["control_speed_mps"] for leg in trip.legs)
        return words("verdict.many_legs", count=len(trip.legs), speed=shown.speed(top))
    orders: list[str] = []
    last = None
    for leg in trip.legs:
        order = (leg["gear"], shown.speed(leg["control_speed_mps"]))
        if order != last:
            key = "verdict.leg_from" if orders else "verdict.leg"
            orders.append(words(key, gear=order[0], speed=order[1], at=shown.at(leg["start_m"])))
        last = order
    return words("verdict.legs", legs=words("list.then").join(orders))


def _listed(items: list[str], last: str) -> str:
    if len(items) < 2:
        return "".join(items)
    return ", ".join(items[:-1]) + last + items[-1]


def hottest(trip: Trip) -> tuple[float, str] | None:
    """The hottest brake of the plan without an emergency stop: temperature [C] and axle."""
    found = [
        (float(np.nanmax(temps)), axle) for axle, temps in (trip.trace.brake_temp_c if trip.trace else {}).items()
    ]
    found += [
        (float(leg["peak_brake_temp_c"]), str(leg.get("peak_axle") or ""))
        for leg in trip.legs
        if leg.get("peak_brake_temp_c") is not None
    ]
    return max(found, key=lambda one: round(one[0], 1), default=None)      # of equals the foremost axle


def hottest_emergency_c(trip: Trip) -> float | None:
    """The hottest brake if one emergency stop is added at the worst place [C]; never below the hottest brake
    without one."""
    if trip.trace is None or trip.trace.emergency_temp_c is None:
        return None
    without = hottest(trip)
    return max(float(np.nanmax(trip.trace.emergency_temp_c)), -np.inf if without is None else without[0])


def source_text(source: object, shown: Shown) -> str:
    """A source as one line, whether it came as text or as a record: what it is, what for, how far to trust
    it."""
    if not isinstance(source, dict):
        return str(source)
    citation = shown.words.said(source.get("citation") or source.get("title") or source.get("key") or "")
    if not source.get("used_for") or not source.get("trust"):
        return citation
    return shown.words(
        "source.full",
        citation=citation.rstrip("."),
        used_for=shown.words.said(source["used_for"]).rstrip("."),
        trust=shown.words.said(source["trust"]),
    )
