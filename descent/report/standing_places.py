# SPDX-License-Identifier: MIT
"""Where a vehicle can stop along the road: every bay with its slope, room and use, and what if it is taken."""

from __future__ import annotations

from dataclasses import dataclass

from descent.report.ramps import FAR_SIDE
from descent.report.shown import Shown
from descent.report.trip import Row, Trip

KINDS = ("pull-out", "brake-check-area", "rest-area", "chain-up-area")
COOLING = "cool-down"
NEEDED = (COOLING, "build-air", "cool-and-air")      # stops without which a plan does not hold
_LEVEL = 0.0005
_SAME_M = 60.0


@dataclass(frozen=True)
class StandingPlace:
    """One place in words. cooling: whether hot brakes may stand there; planned: what the plan stops there for,
    "" when it does not; line and stop: the same short, for the card."""

    kind: str
    station_m: float
    at: str
    name: str
    side: str
    slope: str
    room: str
    surface: str
    cooling: str
    note: str
    planned: str
    line: str
    stop: str


def standing_places(trip: Trip, shown: Shown) -> tuple[StandingPlace, ...]:
    """Every pull-out, brake check area, rest area and chain-up area along the road."""
    return tuple(_standing(place, trip, shown) for place in trip.places_of(*KINDS))


def slope_words(local_grade: object, shown: Shown) -> str:
    """A slope along travel with its sign in words: "falls 0.8%", "rises 0.5%", "level"."""
    if not isinstance(local_grade, int | float):
        return shown.words("unknown")
    case = "level" if abs(local_grade) < _LEVEL else "falls" if local_grade < 0 else "rises"
    return shown.words(f"slope.{case}", grade=shown.grade(local_grade))


def if_taken_words(stop: Row, trip: Trip, shown: Shown) -> str:
    """What to do where a planned stop's place is taken: the next usable place, and that the plan counts on the
    stop."""
    words = shown.words
    following = next((p for p in trip.places_of(*KINDS) if _is_next(p, stop, trip)), None)
    key = "taken.cool" if stop["kind"] in NEEDED else "taken.other"
    if following is None:
        return words(f"{key}_none")
    return words(key, name=str(following.get("name") or ""), at=shown.at(following["station_m"]))


def _standing(place: Row, trip: Trip, shown: Shown) -> StandingPlace:
    words, side = shown.words, place.get("side")
    kind = words.one_of("place", str(place["kind"]))
    name, known_side = str(place.get("name") or kind), side in ("left", "right")
    room = "" if place.get("room_m") is None else shown.room(float(place["room_m"]))
    slope, surface = slope_words(place.get("local_grade"), shown), words.said(place.get("surface") or "")
    ground = " ".join(part for part in (room, surface) if part)
    facts = [words(f"side_short.{side}") if known_side else "", slope, ground]
    use, stop = _use(place), next((s for s in trip.stops if _is_at(s, place)), None)
    line = words(
        "standing.line",
        name=name,
        facts=", ".join(fact for fact in facts if fact),
        cooling=words(f"usable_short.{use}"),
    )
    minutes = "" if stop is None else shown.stop_minutes(stop["minutes"])
    what = "" if stop is None else words.one_of("stop", str(stop["kind"]))
    return StandingPlace(
        kind=kind,
        station_m=place["station_m"],
        at=shown.at(place["station_m"]),
        name=name,
        side=words(f"side.{side}") if known_side else "",
        slope=slope,
        room=room,
        surface=surface,
        cooling=words(f"usable.{use}"),
        note=str(place.get("note") or ""),
        planned=words("standing.planned", what=what, minutes=minutes) if stop is not None else "",
        line=line,
        stop=words("standing.planned_short", minutes=minutes) if stop is not None else "",
    )


def _use(place: Row) -> str:
    """The plan's judgement of a place as a word key; a place across the road is none in any case."""
    usable = place.get("usable")
    if place.get("side") == FAR_SIDE or usable == "other side":
        return "other-side"
    known = {COOLING: "yes", "too steep": "steep", "on a structure": "structure"}
    return known.get(str(usable), "unknown")


def _is_at(stop: Row, place: Row) -> bool:
    near = abs(stop["station_m"] - place["station_m"]) <= _SAME_M
    return near and stop.get("place") in (None, "", place.get("name"))


def _is_next(place: Row, stop: Row, trip: Trip) -> bool:
    """Whether a place lies after a stop and may be used: judged so, or, where the plan judged none, not across
    the road."""
    judged = any(p.get("usable") for p in trip.places_of(*KINDS))
    fits = _use(place) == "yes" if judged else _use(place) == "unknown"
    return bool(place["station_m"] > stop["station_m"] + _SAME_M) and fits
