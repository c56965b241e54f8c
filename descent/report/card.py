# SPDX-License-Identifier: MIT
"""The driver's card: everything along the road in order of meeting it, on one page, or no card at all."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from markupsafe import Markup

from descent.report.card_fit import RowTexts, card_size_pt
from descent.report.markers import drawing, icon, leg_drawing, placed
from descent.report.phrases import (
    gauge_words,
    gear_by_words,
    landmark_words,
    place_words,
    retarder_words,
    side_words,
    slower_words,
    snub_words,
    steep_words,
    stop_name,
)
from descent.report.shown import Shown
from descent.report.svg import INK, MUTED, join, path_of, tag
from descent.report.thin import thin_line
from descent.report.trip import Row, Trip

_WIDTH, _HEIGHT = 960.0, 86.0


@dataclass(frozen=True)
class CardRow:
    """One thing the driver meets. kind: "leg", "stop" or "ramp"; fields not used by a kind are empty."""

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
    gauge: str = ""
    slower: str = ""


@dataclass(frozen=True)
class Card:
    """The card's content, words ready. size_pt: the letter size that makes it fit one printed page; length:
    "" or "long" (too much for the small road profile as well)."""

    rows: tuple[CardRow, ...]
    profile: Markup
    size_pt: float
    length: str
    low_air: str
    gross: str


def driver_card(trip: Trip, shown: Shown) -> Card | None:
    """The card of a plan that holds; None otherwise: no speed may leave the page that could be taken for a
    plan."""
    if not trip.feasible or not trip.legs:
        return None
    rows = [_leg(leg, trip, shown) for leg in trip.legs] + [_stop(stop, trip, shown) for stop in trip.stops]
    rows += [_ramp(place, shown) for place in trip.places_of("escape-ramp")]
    order = {"stop": 0, "leg": 1, "ramp": 2}
    rows.sort(key=lambda row: (row.station_m, order[row.kind]))
    size_pt, with_profile = card_size_pt(
        [
            RowTexts(row.kind, row.where, row.text if row.kind == "leg" else "", row.gauge, row.slower)
            for row in rows
        ]
    )
    reservoir = trip.limit("reservoir_kpa")
    low_air = (
        shown.words("card.low_air.sign")
        if reservoir is None
        else shown.words("card.low_air.sign_at", pressure=shown.pressure(reservoir))
    )
    gross = (trip.document.get("vehicle") or {}).get("gross_kg")
    return Card(
        tuple(rows),
        _profile(trip, shown),
        size_pt,
        "" if with_profile else "long",
        low_air,
        "" if gross is None else shown.mass(gross),
    )


def _leg(leg: Row, trip: Trip, shown: Shown) -> CardRow:
    return CardRow(
        "leg",
        leg["start_m"],
        icon(leg_drawing(leg["number"]), size=34),
        shown.at(leg["start_m"]),
        landmark_words(trip, leg["start_m"], shown),
        snub_words(leg, shown),
        slower=slower_words(leg, trip, shown),
        length=shown.distance(leg["end_m"] - leg["start_m"]),
        steep=steep_words(trip, leg, shown),
        gear=str(leg["gear"]),
        gear_by=gear_by_words(leg, trip, shown),
        speed=shown.speed_number(leg["control_speed_mps"]),
        speed_unit=shown.units.speed[0],
        retarder=retarder_words(leg.get("retarder_stage"), trip, shown),
        gauge=gauge_words(leg, shown),
    )


def _stop(stop: Row, trip: Trip, shown: Shown) -> CardRow:
    kind = str(stop["kind"])
    text = shown.words.one_of("card.stop", kind, minutes=shown.minutes(60.0 * stop["minutes"]))
    return CardRow(
        "stop",
        stop["station_m"],
        icon(drawing(kind), size=28),
        shown.at(stop["station_m"]),
        stop_name(stop, trip, shown),
        text,
    )


def _ramp(place: Row, shown: Shown) -> CardRow:
    side = side_words(place.get("side"), shown)
    name = str(place.get("name") or place_words(place, shown)[0])
    return CardRow(
        "ramp",
        place["station_m"],
        icon(drawing("escape-ramp"), size=24),
        shown.at(place["station_m"]),
        name,
        shown.words("card.ramp_sided", side=side) if side else shown.words("card.ramp"),
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
    for place in trip.places_of("escape-ramp"):
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
