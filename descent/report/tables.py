# SPDX-License-Identifier: MIT
"""The page's tables as rows of words: legs, stops, downgrades, second opinion, failures, energy, changes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from descent.report.phrases import (
    gauge_words,
    gear_by_words,
    landmark_words,
    retarder_words,
    slower_words,
    snub_words,
    steep_words,
    stop_name,
)
from descent.report.shown import Shown
from descent.report.trip import Row, Trip
from descent.units import MPH_MPS

SEVERITY_CEILING_MPS = 90.0 * MPH_MPS  # the published equations are not read above this speed
_ENERGY_PARTS = ("rolling_j", "air_j", "engine_j", "retarder_j", "brakes_j", "kinetic_change_j")


@dataclass(frozen=True)
class Cell:
    """One cell: its text, a smaller line under it, and whether it is what the reader came for."""

    text: str
    note: str = ""
    style: str = ""


@dataclass(frozen=True)
class Table:
    """A table with its title; heads and rows have the same width; the first cell of a row names the row."""

    name: str
    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]


def _table(name: str, columns: tuple[str, ...], rows: Sequence[tuple[Cell, ...]], shown: Shown) -> Table:
    words = shown.words
    return Table(
        name,
        words(f"table.{name}.title"),
        tuple(
            words(f"table.{name}.{c}", long=shown.distance(1000.0), short=shown.short(300.0)) for c in columns
        ),
        tuple(rows),
    )


def legs_table(trip: Trip, shown: Shown) -> Table:
    """What to do on each leg."""
    words = shown.words
    rows = []
    for leg in trip.legs:
        gauge = gauge_words(leg, shown)
        peak = leg.get("peak_brake_temp_c")
        rows.append(
            (
                Cell(str(leg["number"]), style="leg"),
                Cell(shown.at(leg["start_m"]), landmark_words(trip, leg["start_m"], shown)),
                Cell(shown.distance(leg["end_m"] - leg["start_m"]), steep_words(trip, leg, shown)),
                Cell(str(leg["gear"]), gear_by_words(leg, trip, shown), "big"),
                Cell(shown.speed(leg["control_speed_mps"]), slower_words(leg, trip, shown), "big"),
                Cell(retarder_words(leg.get("retarder_stage"), trip, shown)),
                Cell(snub_words(leg, shown), gauge),
                Cell(words("unknown") if peak is None else shown.hot(peak), str(leg.get("peak_axle") or "")),
            )
        )
    return _table(
        "legs", ("leg", "start", "length", "gear", "speed", "retarder", "brakes", "hottest"), rows, shown
    )


def stops_table(trip: Trip, shown: Shown) -> Table:
    """Where to stop, what for and how long."""
    words = shown.words
    rows = []
    for stop in trip.stops:
        arrive, leave = stop.get("arrive_temp_c"), stop.get("leave_temp_c")
        heat = (
            ""
            if arrive is None or leave is None
            else words("stop_heat", arrive=shown.hot(arrive), leave=shown.hot(leave))
        )
        grade = stop.get("local_grade")
        rows.append(
            (
                Cell(words.one_of("stop", str(stop["kind"])), style=f"sign-{stop['kind']}"),
                Cell(
                    shown.at(stop["station_m"]),
                    landmark_words(trip, stop["station_m"], shown) if not stop.get("place") else "",
                ),
                Cell(stop_name(stop, trip, shown)),
                Cell(shown.minutes(60.0 * stop["minutes"]), "", "big"),
                Cell(words("unknown") if grade is None else shown.grade(grade)),
                Cell(heat or words("unknown")),
            )
        )
    return _table("stops", ("kind", "at", "place", "minutes", "grade", "heat"), rows, shown)


def downgrades_table(trip: Trip, shown: Shown) -> Table:
    """The sustained downgrades of the road."""
    words = shown.words
    rows = []
    for row in trip.rows("downgrades"):
        pitch = [
            shown.grade(row[key]) if row.get(key) is not None else words("unknown")
            for key in ("steepest_1km", "steepest_300m")
        ]
        notes = [words(f"downgrade.{key}") for key in ("hill_sign", "boundary_uncertain") if row.get(key)]
        sd = row.get("mean_grade_sd")
        band = "" if sd is None else words("downgrade.band", band=shown.percent_up(2.0 * sd))
        rows.append(
            (
                Cell(str(row["number"])),
                Cell(shown.span(row["start_m"], row["end_m"])),
                Cell(shown.distance(row["length_m"])),
                Cell(shown.height(row["drop_m"])),
                Cell(shown.grade(row["mean_grade"]), band),
                Cell(pitch[0]),
                Cell(pitch[1]),
                Cell(" ".join(notes) or words("none")),
            )
        )
    return _table(
        "downgrades",
        ("number", "span", "length", "drop", "mean", "steepest_1km", "steepest_300m", "notes"),
        rows,
        shown,
    )


def severity_table(trip: Trip, shown: Shown) -> Table:
    """The published speeds beside the plan's, and why where the plan is faster."""
    words = shown.words
    rows = []
    for row in trip.rows("severity"):
        legs = _legs_on(row["downgrade"], trip)
        speeds = [leg["control_speed_mps"] for leg in legs]
        published = [row.get(key) for key in ("original_mps", "updated_mps")]
        shown_speeds = [
            words("severity.no_limit", speed=shown.speed(SEVERITY_CEILING_MPS))
            if value is None
            else shown.speed(value)
            for value in published
        ]
        known = [value for value in published if value is not None]
        note = words("none")
        if speeds and known and max(speeds) > min(known) + 0.1:
            note = _why_faster(legs, trip, shown)
        rows.append(
            (
                Cell(str(row["downgrade"])),
                Cell(shown.speed(max(speeds)) if speeds else words("unknown"), "", "big" if speeds else ""),
                Cell(shown_speeds[0]),
                Cell(shown_speeds[1]),
                Cell(note),
            )
        )
    return _table("severity", ("downgrade", "plan", "original", "updated", "why"), rows, shown)


def _legs_on(number: object, trip: Trip) -> list[Row]:
    """The legs that lie on a downgrade for more than a moment."""
    spans = [(d["start_m"], d["end_m"]) for d in trip.rows("downgrades") if d["number"] == number]
    return [
        leg
        for leg in trip.legs
        for start_m, end_m in spans
        if min(leg["end_m"], end_m) - max(leg["start_m"], start_m) > 100.0
    ]


def _why_faster(legs: list[Row], trip: Trip, shown: Shown) -> str:
    retarder = sum(float(leg.get("retarder_energy_j") or 0.0) for leg in legs)
    brakes = sum(float(leg.get("brake_energy_j") or 0.0) for leg in legs)
    if retarder <= 0.0:
        return shown.words("severity.faster")
    stages = ", ".join(dict.fromkeys(retarder_words(leg.get("retarder_stage"), trip, shown) for leg in legs))
    return shown.words(
        "severity.faster_retarder",
        stage=stages,
        share=shown.percent(retarder / max(retarder + brakes, 1.0), 0),
    )


def failures_table(trip: Trip, shown: Shown) -> Table:
    """What is left when something fails."""
    words = shown.words
    rows = []
    for row in trip.rows("failures"):
        last, place, speed = row.get("last_full_stop_m"), row.get("next_place"), row.get("speed_there_mps")
        there = (
            ""
            if speed is None
            else words("failure.speed_there", speed=shown.speed_up(speed))
            if speed > 0.1
            else words("failure.stopped_there")
        )
        rows.append(
            (
                Cell(
                    str(row["what"]),
                    words("failure.on", number=row["downgrade"]) if row.get("downgrade") else "",
                ),
                Cell(
                    words("failure.holds" if row.get("holds") else "failure.lost"),
                    "",
                    "" if row.get("holds") else "alarm",
                ),
                Cell(str(row.get("first_sign") or words("unknown"))),
                Cell(str(row.get("do_this") or words("unknown"))),
                Cell(words("unknown") if last is None else shown.before(last)),
                Cell(str(place) if place else words("unknown"), there if place else ""),
            )
        )
    return _table("failures", ("what", "holds", "sign", "do", "last", "next"), rows, shown)


def alternatives_table(trip: Trip, shown: Shown) -> Table:
    """What another choice would change."""
    rows = [(Cell(str(row["change"])), Cell(str(row["effect"]))) for row in trip.rows("alternatives")]
    name = "alternatives" if trip.feasible else "would_hold"
    return _table(name, ("change", "effect"), rows, shown)


@dataclass(frozen=True)
class EnergyPart:
    """One share of the energy: a key of `plan.energy`, its words, its share of the whole and its amount."""

    key: str
    label: str
    share: float
    percent: str
    amount: str


def energy_parts(trip: Trip, shown: Shown) -> tuple[EnergyPart, ...]:
    """Where height and drive go, in order; empty when the plan carries no energy account."""
    energy = trip.document.get("energy") or {}
    if not trip.feasible or not energy:
        return ()
    whole = float(energy.get("gravity_j") or 0.0) + float(energy.get("drive_j") or 0.0)
    if whole <= 0:
        return ()
    parts = []
    for key in _ENERGY_PARTS:
        amount = float(energy.get(key) or 0.0)
        if abs(amount) >= 0.002 * whole:
            parts.append(
                EnergyPart(
                    key,
                    shown.words(f"energy.{key}"),
                    amount / whole,
                    shown.percent(amount / whole, 0),
                    shown.energy(amount),
                )
            )
    return tuple(parts)
