# SPDX-License-Identifier: MIT
"""Sentences about one leg, stop or place, put together from a plan's values and the language's words."""

from __future__ import annotations

from descent.report.shown import Shown
from descent.report.trip import Row, Trip

_AT_M = 60.0
_LEGS_IN_ONE_SENTENCE = 4
_SIGNS_ON_ONE_LEG = 4
_LEVEL = 0.005


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
    """Where a station lies as a driver would say it: "0.3 mi past Milepost 212"; empty with nothing near."""
    found = trip.landmark_near(station_m)
    if found is None:
        return ""
    place, past_m = found
    if abs(past_m) <= _AT_M:
        return shown.words("landmark.at", name=place["name"])
    side = "past" if past_m > 0 else "before"
    distance = shown.short(abs(past_m)) if abs(past_m) < 250.0 else shown.distance(abs(past_m))
    return shown.words(f"landmark.{side}", name=place["name"], distance=distance)


def retarder_words(stage: object, trip: Trip, shown: Shown) -> str:
    """A retarder setting: "stage 2", "off", "none" for a vehicle without one."""
    stages = (trip.document.get("vehicle") or {}).get("retarder_stages") or ()
    if stage is None or stage == 0 or stage == "0" or stage == "":
        return shown.words("retarder.none" if len(stages) == 0 else "retarder.off")
    if isinstance(stage, int | float):
        return shown.words("retarder.stage", stage=f"{stage:g}")
    return str(stage)


def snub_words(leg: Row, shown: Shown) -> str:
    """How the service brakes are used on a leg."""
    snubs, words = leg.get("snubs"), shown.words
    control = shown.speed_number(leg["control_speed_mps"])
    if not snubs:
        balance = leg.get("balance_speed_mps")
        if balance is None:
            return words("snub.none", control=control)
        return words("snub.none_balance", control=control, balance=shown.speed_number(balance))
    return words(
        "snub.pattern",
        start=shown.speed_number(snubs["from_mps"]),
        end=shown.speed_number(snubs["to_mps"]),
        duration=shown.seconds(snubs["duration_s"]),
        interval=shown.seconds(snubs["interval_s"]),
    )


def gear_by_words(leg: Row, trip: Trip, shown: Shown) -> str:
    """By where the gear must be in: a place on the road, or before moving off from the stop where the leg
    starts."""
    if any(abs(stop["station_m"] - leg["gear_by_m"]) <= _AT_M for stop in trip.stops):
        return shown.words("leg.gear_standing")
    return shown.words("leg.gear_by", at=shown.before(leg["gear_by_m"]))


def slower_words(leg: Row, trip: Trip, shown: Shown) -> str:
    """Where on a leg signs or curves ask for less than the control speed; empty when nowhere."""
    words, stretch = shown.words, (leg["start_m"], leg["end_m"], leg["control_speed_mps"])
    signs, curve = trip.road.sign_spans(*stretch), trip.road.curve_span(*stretch)
    found = []
    if len(signs) > _SIGNS_ON_ONE_LEG:
        lowest = min(limit_mps for _, _, limit_mps in signs)
        found.append(
            words(
                "slower.signs_down_to", speed=shown.speed(lowest), span=shown.span(signs[0][0], signs[-1][1])
            )
        )
    elif signs:
        listed = [
            words("slower.span", speed=shown.speed(limit_mps), span=shown.span(start_m, end_m))
            for start_m, end_m, limit_mps in signs
        ]
        found.append(words("slower.signs", spans=", ".join(listed)))
    if curve is not None:
        found.append(words("slower.curves", speed=shown.speed(curve[2]), span=shown.span(curve[0], curve[1])))
    return " ".join(found)


def gauge_words(leg: Row, shown: Shown) -> str:
    """The application pressure to expect and the one that means fade, as far as the plan gives them."""
    normal, fade = leg.get("application_pressure_kpa"), leg.get("fade_pressure_kpa")
    if normal is None:
        return ""
    if fade is None:
        return shown.words("gauge.normal", normal=shown.pressure(normal))
    return shown.words("gauge.pair", normal=shown.pressure(normal), fade=shown.pressure(fade))


def steep_words(trip: Trip, leg: Row, shown: Shown) -> str:
    """A leg's mean grade and its steepest 300 m."""
    mean = trip.road.mean_grade(leg["start_m"], leg["end_m"])
    steepest = trip.road.steepest_down(leg["start_m"], leg["end_m"])
    key = "steep.level" if abs(mean) < _LEVEL else "steep.down" if mean < 0 else "steep.up"
    return shown.words(key, mean=shown.grade(mean), steepest=shown.grade(min(steepest, 0.0)))


def stop_name(stop: Row, trip: Trip, shown: Shown) -> str:
    """A stop's place and side, or what is said where no place is known."""
    words = shown.words
    name = str(stop.get("place") or "") or words("stop_place.unknown")
    side = side_words(trip.side_of(stop), shown)
    return words("stop_place.sided", name=name, side=side) if side else name


def stop_sentence(stop: Row, trip: Trip, shown: Shown) -> str:
    """A stop in one line: where, which side, what for, how long."""
    words = shown.words
    what = words.one_of("stop_order", str(stop["kind"]), minutes=shown.minutes(60.0 * stop["minutes"]))
    return words(
        "stop_place.sentence", at=shown.at(stop["station_m"]), place=stop_name(stop, trip, shown), what=what
    )


def condition_words(trip: Trip, shown: Shown) -> str:
    """The vehicle, its weight and the day in one line."""
    conditions, words = trip.document.get("conditions") or {}, shown.words
    vehicle = trip.document.get("vehicle") or {}
    parts = [str(vehicle.get("title") or vehicle.get("name") or "")]
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
            minutes=shown.minutes(60.0 * stop["minutes"]),
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
        (float(temps.max()), axle) for axle, temps in (trip.trace.brake_temp_c if trip.trace else {}).items()
    ]
    found += [
        (float(leg["peak_brake_temp_c"]), str(leg.get("peak_axle") or ""))
        for leg in trip.legs
        if leg.get("peak_brake_temp_c") is not None
    ]
    return max(found, default=None)


def hottest_emergency_c(trip: Trip) -> float | None:
    """The hottest brake if one emergency stop is added at the worst place [C]."""
    if trip.trace is None or trip.trace.emergency_temp_c is None:
        return None
    return float(trip.trace.emergency_temp_c.max())


def source_text(source: object, shown: Shown) -> str:
    """A source as one line, whether it came as text or as a record: what it is, what for, how far to trust
    it."""
    if not isinstance(source, dict):
        return str(source)
    citation = str(source.get("citation") or source.get("title") or source.get("key") or "")
    if not source.get("used_for") or not source.get("trust"):
        return citation
    return shown.words(
        "source.full",
        citation=citation.rstrip("."),
        used_for=str(source["used_for"]).rstrip("."),
        trust=source["trust"],
    )
