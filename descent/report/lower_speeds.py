# SPDX-License-Identifier: MIT
"""Where a sign or a curve on a leg asks for less than the leg's control speed."""

from __future__ import annotations

from dataclasses import dataclass

from descent.errors import RequestError
from descent.report.shown import Shown
from descent.report.trip import Row, Trip
from descent.units import SPEED, parse

_MOST_ON_ONE_LEG = 3
_SIGN_WITHIN_M = 100.0
Span = tuple[float, float, float]


@dataclass(frozen=True)
class LowerSpeed:
    """A stretch with a lower number. kind: "sign" or "curve"; speed: "18 mph"; number, unit: the same apart;
    why: "in the curves, mi 8.2-9.1"."""

    kind: str
    start_m: float
    end_m: float
    speed: str
    number: str
    unit: str
    why: str


def lower_speeds(leg: Row, trip: Trip, shown: Shown) -> tuple[LowerSpeed, ...]:
    """The lower numbers of a leg along the road; one that reads like the control speed is no lower number."""
    stretch = (leg["start_m"], leg["end_m"], leg["control_speed_mps"])
    found = [
        _lower(kind, span, trip, shown)
        for kind, spans in (
            ("sign", trip.road.sign_spans(*stretch)),
            ("curve", trip.road.curve_spans(*stretch)),
        )
        for span in _few(spans)
    ]
    control = shown.speed(leg["control_speed_mps"])
    return tuple(sorted((one for one in found if one.speed != control), key=lambda one: one.start_m))


def _few(spans: tuple[Span, ...]) -> tuple[Span, ...]:
    """The spans, or all in one with the lowest number where there are more than a driver can keep."""
    if len(spans) <= _MOST_ON_ONE_LEG:
        return spans
    return ((spans[0][0], spans[-1][1], min(span[2] for span in spans)),)


def _lower(kind: str, span: Span, trip: Trip, shown: Shown) -> LowerSpeed:
    start_m, end_m, limit_mps = span
    where = shown.span(start_m, end_m)
    posted = _as_posted(trip, start_m, limit_mps, shown) if kind == "sign" else ""
    if posted:
        why = shown.words("slower.sign_posted", span=where, posted=posted)
    else:
        why = shown.words(f"slower.{kind}", span=where)
    number, unit = shown.speed_number(limit_mps), shown.units.speed[0]
    return LowerSpeed(kind, start_m, end_m, shown.speed(limit_mps), number, unit, why)


def _as_posted(trip: Trip, start_m: float, limit_mps: float, shown: Shown) -> str:
    """What the sign itself reads where its number is in another unit than the reader's; else empty."""
    signs = [p for p in trip.places_of("truck-speed-limit") if p["station_m"] <= start_m + _SIGN_WITHIN_M]
    if not signs or signs[-1].get("value") is None:
        return ""
    value = str(signs[-1]["value"])
    try:
        reads_mps = parse(value, SPEED, where="value")
    except RequestError:
        return ""
    same = abs(reads_mps - limit_mps) < 0.2
    return value if same and not value.replace(" ", "").endswith(shown.units.speed[0]) else ""
