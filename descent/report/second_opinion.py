# SPDX-License-Identifier: MIT
"""The published grade-severity speeds beside the plan's, capped at the posted limit, and why they differ."""

from __future__ import annotations

from descent.plan.model import COOLING_STOPS
from descent.report.leg_words import retarder_words
from descent.report.shown import Shown
from descent.report.table import Cell, Table, make_table
from descent.report.trip import Row, Trip
from descent.units import MPH_MPS

SEVERITY_CEILING_MPS = 90.0 * MPH_MPS  # the published equations are not read above this speed
_FASTER_MPS = 0.1


def severity_table(trip: Trip, shown: Shown) -> Table:
    """The published speeds beside the plan's, and why where the plan is faster."""
    words = shown.words
    rows = []
    for row in trip.rows("severity"):
        legs = _legs_on(row["downgrade"], trip)
        posted_mps = _posted_on(row["downgrade"], trip)
        published = [row.get(key) for key in ("original_mps", "updated_mps")]
        top = max((leg["control_speed_mps"] for leg in legs), default=None)
        known = [value for value in published if value is not None]
        faster = top is not None and bool(known) and top > min(known) + _FASTER_MPS
        rows.append(
            (
                Cell(str(row["downgrade"])),
                Cell(words("unknown")) if top is None else Cell(shown.speed(top), "", "big"),
                *(_published(value, posted_mps, shown) for value in published),
                Cell(_why_faster(legs, row["downgrade"], trip, shown) if faster else words("none")),
            )
        )
    return make_table("severity", ("downgrade", "plan", "original", "updated", "why"), rows, shown)


def _published(value_mps: float | None, posted_mps: float | None, shown: Shown) -> Cell:
    """A published speed, or the posted limit where that is lower."""
    words = shown.words
    if posted_mps is not None and (value_mps is None or value_mps > posted_mps):
        return Cell(shown.speed(posted_mps), words("severity.capped"))
    if value_mps is None:
        return Cell(words("severity.no_limit", speed=shown.speed(SEVERITY_CEILING_MPS)))
    return Cell(shown.speed(value_mps))


def _spans(number: object, trip: Trip) -> list[tuple[float, float]]:
    return [(d["start_m"], d["end_m"]) for d in trip.rows("downgrades") if d["number"] == number]


def _posted_on(number: object, trip: Trip) -> float | None:
    found = [trip.road.posted_on(*span) for span in _spans(number, trip)]
    return max((value for value in found if value is not None), default=None)


def _legs_on(number: object, trip: Trip) -> list[Row]:
    """The legs that lie on a downgrade for more than a moment."""
    return [
        leg
        for leg in trip.legs
        for start_m, end_m in _spans(number, trip)
        if min(leg["end_m"], end_m) - max(leg["start_m"], start_m) > 100.0
    ]


def _why_faster(legs: list[Row], number: object, trip: Trip, shown: Shown) -> str:
    """What carries the difference: standing to cool before it, the retarder; else what the method leaves out."""
    words, found = shown.words, []
    foot_m = max((end_m for _, end_m in _spans(number, trip)), default=0.0)
    minutes = sum(
        float(stop["minutes"])
        for stop in trip.stops
        if stop["kind"] in COOLING_STOPS and stop["station_m"] < foot_m
    )
    if minutes:
        found.append(words("severity.faster_stop", minutes=shown.stop_minutes(minutes)))
    retarder = sum(float(leg.get("retarder_energy_j") or 0.0) for leg in legs)
    brakes = sum(float(leg.get("brake_energy_j") or 0.0) for leg in legs)
    if retarder > 0.0:
        stages = dict.fromkeys(retarder_words(leg.get("retarder_stage"), trip, shown) for leg in legs)
        share = shown.percent(retarder / max(retarder + brakes, 1.0), 0)
        found.append(words("severity.faster_retarder", stage=", ".join(stages), share=share))
    return " ".join(found) or words("severity.faster")
