# SPDX-License-Identifier: MIT
"""The driver's card: everything along the road in order of meeting it, on one page, or no card at all."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from markupsafe import Markup

from descent.report.card_fit import (
    A4,
    BRIEF_BELOW_PT,
    LETTER,
    CardTexts,
    RowTexts,
    brief_card_size_pt,
    card_size_pt,
)
from descent.report.cold_wet_words import Advised, card_advice
from descent.report.leg_words import (
    brief_gauge_words,
    brief_gear_by_words,
    brief_snub_words,
    gauge_words,
    gear_by_words,
    retarder_order,
    snub_words,
    steep_words,
)
from descent.report.lower_speeds import LowerSpeed, lower_speeds
from descent.report.markers import drawing, icon, leg_drawing, placed
from descent.report.phrases import condition_words, coordinate_words, landmark_words, place_words, stop_name
from descent.report.ramps import ramp_order, ramp_sentence, useful_ramps
from descent.report.shown import Shown
from descent.report.standing_places import if_taken_words, standing_places
from descent.report.svg import INK, MUTED, join, path_of, tag
from descent.report.thin import thin_line
from descent.report.trip import Row, Trip
from descent.units import UnitSystem

_WIDTH, _HEIGHT = 960.0, 86.0


@dataclass(frozen=True)
class CardRow:
    """One thing the driver meets. kind: "leg", "lower", "stop" or "ramp"; fields not used by a kind are empty.
    note: smaller words under the order."""

    kind: str
    station_m: float
    sign: Markup
    at: str
    where: str
    text: str
    length: str = ""
    steep: str = ""
    gear: str = ""
    gear_by: str = ""
    speed: str = ""
    speed_unit: str = ""
    retarder: str = ""
    note: str = ""
    coordinates: str = ""


@dataclass(frozen=True)
class CardPlace:
    """One line of the list of places to stop."""

    at: str
    text: str
    planned: str


@dataclass(frozen=True)
class Card:
    """The card's content, words ready. blocks: (title, lines) of what to know by heart; size_pt: the letter size
    that makes it fit one printed page; length: "", "bare" (no room for the small road profile) or "long" (in brief
    words); walk: the walk-round in order; cold_wet: what a cold or wet day asks for, by place."""

    rows: tuple[CardRow, ...]
    profile: Markup
    size_pt: float
    length: str
    blocks: tuple[tuple[str, tuple[str, ...]], ...]
    places: tuple[CardPlace, ...]
    gross: str
    walk: tuple[str, ...]
    cold_wet: tuple[Advised, ...] = ()


def driver_card(trip: Trip, shown: Shown) -> Card | None:
    """The card of a plan that holds; None otherwise: no speed may leave the page that could be taken for a
    plan."""
    if not trip.feasible or not trip.legs:
        return None
    blocks, places, walk = _blocks(trip, shown), _places(trip, shown), shown.words.lines("card.walk.lines")
    if not (trip.document.get("vehicle") or {}).get("retarder_stages"):
        walk = walk[:-1]                                       # the last is the retarder
    cold_wet = card_advice(trip, shown)
    texts = CardTexts(
        tuple(lines for _, lines in blocks),
        tuple(f"{place.at} {place.text} {place.planned}" for place in places),
        trip.warnings,
        trip.reversed,
        tuple(" ".join((f"{place.where}:", *place.lines)) for place in cold_wet),
        f"{shown.words('card.walk.title')} {'     '.join(walk)}",
        f"{trip.name} {condition_words(trip, shown)} {shown.words('card.zero')}",
        shown.words("card.caution"),
        LETTER if shown.units.system is UnitSystem.US else A4,
    )
    rows = _rows(trip, shown, _leg)
    size_pt, with_profile = card_size_pt(_row_texts(rows), texts)
    length = "" if with_profile else "bare"
    if size_pt < BRIEF_BELOW_PT:
        brief = _rows(trip, shown, _brief_leg)
        brief_pt = brief_card_size_pt(_row_texts(brief), texts)
        if brief_pt >= size_pt:
            rows, size_pt, length = brief, brief_pt, "long"
    gross = (trip.document.get("vehicle") or {}).get("gross_kg")
    return Card(
        rows, _profile(trip, shown), size_pt, length, blocks, places, "" if gross is None else shown.mass(gross), walk,
        cold_wet,
    )


def _rows(trip: Trip, shown: Shown, leg_row: Callable[[Row, Trip, Shown], CardRow]) -> tuple[CardRow, ...]:
    rows = [leg_row(leg, trip, shown) for leg in trip.legs] + [_stop(stop, trip, shown) for stop in trip.stops]
    rows += [_lower(one, trip, shown) for leg in trip.legs for one in lower_speeds(leg, trip, shown)]
    rows += [_ramp(place, trip, shown) for place in useful_ramps(trip)]
    order = {"stop": 0, "leg": 1, "lower": 2, "ramp": 3}
    return tuple(sorted(rows, key=lambda row: (row.station_m, order[row.kind])))


def _row_texts(rows: Sequence[CardRow]) -> list[RowTexts]:
    return [
        RowTexts(row.kind, row.where, row.text, row.note, row.gear_by, row.steep, row.retarder, row.coordinates)
        for row in rows
    ]


def _blocks(trip: Trip, shown: Shown) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Signs of fade, low air, and how to stand with hot brakes."""
    words, reservoir = shown.words, trip.limit("reservoir_kpa")
    low_air = (
        words("card.low_air.sign")
        if reservoir is None
        else words("card.low_air.sign_at", pressure=shown.pressure(reservoir))
    )
    park = trip.limit("park_grade")
    steepest = "" if park is None else words("card.hot.steepest", grade=shown.percent(park, 0))
    hot = words("card.hot.drums" if trip.on_drums else "card.hot.brakes")
    return (
        (words("card.fade.title"), (*words.lines("card.fade.lines"), ramp_sentence(trip, shown))),
        (words("card.low_air.title"), (low_air, *words.lines("card.low_air.lines"))),
        (words("card.hot.title"), words.lines("card.hot.lines", hot=hot, steepest=steepest)),
    )


def _places(trip: Trip, shown: Shown) -> tuple[CardPlace, ...]:
    return tuple(
        CardPlace(place.at, place.line, place.stop) for place in standing_places(trip, shown)
    )


def _leg(leg: Row, trip: Trip, shown: Shown) -> CardRow:
    return CardRow(
        "leg",
        leg["start_m"],
        icon(leg_drawing(leg["number"]), size=34),
        shown.at(leg["start_m"]),
        landmark_words(trip, leg["start_m"], shown),
        snub_words(leg, trip, shown),
        length=shown.distance(leg["end_m"] - leg["start_m"]),
        steep=steep_words(trip, leg, shown),
        gear=str(leg["gear"]),
        gear_by=gear_by_words(leg, trip, shown),
        speed=shown.speed_number(leg["control_speed_mps"]),
        speed_unit=shown.units.speed[0],
        retarder=retarder_order(leg, trip, shown),
        note=gauge_words(leg, shown),
        coordinates=coordinate_words(leg, shown),
    )


def _brief_leg(leg: Row, trip: Trip, shown: Shown) -> CardRow:
    """A leg in few words, for a card of many; the heads of the columns say what they mean."""
    return replace(
        _leg(leg, trip, shown),
        text=brief_snub_words(leg, trip, shown),
        gear_by=brief_gear_by_words(leg, trip, shown),
        note=brief_gauge_words(leg, shown),
    )


def _lower(one: LowerSpeed, trip: Trip, shown: Shown) -> CardRow:
    return CardRow(
        "lower",
        one.start_m,
        icon(drawing(one.kind), size=26),
        shown.at(one.start_m),
        landmark_words(trip, one.start_m, shown),
        one.why,
        length=shown.stretch(one.end_m - one.start_m),
        speed=one.number,
        speed_unit=one.unit,
    )


def _stop(stop: Row, trip: Trip, shown: Shown) -> CardRow:
    kind = str(stop["kind"])
    return CardRow(
        "stop",
        stop["station_m"],
        icon(drawing(kind), size=28),
        shown.at(stop["station_m"]),
        stop_name(stop, trip, shown),
        shown.words.one_of("card.stop", kind, minutes=shown.stop_minutes(stop["minutes"])),
        note=if_taken_words(stop, trip, shown),
    )


def _ramp(place: Row, trip: Trip, shown: Shown) -> CardRow:
    return CardRow(
        "ramp",
        place["station_m"],
        icon(drawing("escape-ramp"), size=24),
        shown.at(place["station_m"]),
        str(place.get("name") or place_words(place, shown)[0]),
        ramp_order(place, trip, shown),
    )


def _profile(trip: Trip, shown: Shown) -> Markup:
    """The road's height in grey with the legs' diamonds and the stops' signs; the numbers count along the
    road."""
    road = trip.road
    pad = 16.0
    x = pad + road.station_m / road.length_m * (_WIDTH - 2 * pad)
    low, high = float(road.elevation_m.min()), float(road.elevation_m.max())
    top, bottom = 26.0, _HEIGHT - 16.0
    y = bottom - 6.0 - (road.elevation_m - low) / max(high - low, 1.0) * (bottom - 6.0 - top)
    kept = thin_line(x, y, tolerance=0.4)
    ridge = path_of(x[kept], y[kept])

    def at(station_m: float) -> tuple[float, float]:
        return float(np.interp(station_m, road.station_m, x)), float(np.interp(station_m, road.station_m, y))

    parts = [
        tag("path", d=f"{ridge}V{bottom:.1f}H{pad:.1f}z", fill="#e3e6e8"),
        tag("path", d=ridge, fill="none", stroke=INK, stroke_width=2.2, stroke_linejoin="round"),
    ]
    for leg in trip.legs:
        leg_x, _ = at(leg["start_m"])
        parts.append(
            tag("path", d=f"M{leg_x:.1f},{top - 8:.1f}V{bottom:.1f}", stroke=INK, stroke_dasharray="3 3")
        )
        parts.append(placed(leg_drawing(leg["number"]), leg_x, 13.0, size=24.0))
    for stop in trip.stops:
        stop_x, stop_y = at(stop["station_m"])
        parts.append(placed(drawing(str(stop["kind"])), stop_x, max(stop_y - 12.0, 30.0), size=18.0))
    for place in useful_ramps(trip):
        ramp_x, ramp_y = at(place["station_m"])
        parts.append(placed(drawing("escape-ramp"), ramp_x, max(ramp_y - 12.0, 30.0), size=16.0))
    for station_m, label, anchor in (
        (0.0, shown.at(0.0), "start"),
        (road.length_m, shown.at(road.length_m), "end"),
    ):
        parts.append(
            tag(
                "text",
                label,
                x=at(station_m)[0],
                y=_HEIGHT - 2.0,
                font_size=13.0,
                fill=MUTED,
                text_anchor=anchor,
            )
        )
    return tag(
        "svg",
        join(parts),
        class_="card-profile",
        viewBox=f"0 0 {_WIDTH:.0f} {_HEIGHT:.0f}",
        aria_hidden="true",
        focusable="false",
    )
