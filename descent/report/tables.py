# SPDX-License-Identifier: MIT
"""The page's tables as rows of words: legs, stops, bays, downgrades, failures, energy, changes."""

from __future__ import annotations

from dataclasses import dataclass

from descent.report.leg_words import (
    gauge_words,
    gear_by_words,
    gear_of_words,
    retarder_order,
    snub_words,
    steep_words,
)
from descent.report.lower_speeds import lower_speeds
from descent.report.phrases import coordinate_words, landmark_words, stop_name
from descent.report.shown import Shown
from descent.report.standing_places import if_taken_words, slope_words, standing_places
from descent.report.table import Cell, Table, make_table
from descent.report.trip import Row, Trip

_ENERGY_PARTS = ("rolling_j", "air_j", "engine_j", "retarder_j", "brakes_j", "kinetic_change_j")


def legs_table(trip: Trip, shown: Shown) -> Table:
    """What to do on each leg, and under it a row for each lower number a sign or curve on it asks for."""
    words = shown.words
    rows: list[tuple[Cell, ...]] = []
    for leg in trip.legs:
        peak = leg.get("peak_brake_temp_c")
        rows.append(
            (
                Cell(str(leg["number"]), style="leg"),
                Cell(
                    shown.at(leg["start_m"]),
                    landmark_words(trip, leg["start_m"], shown),
                    extra=coordinate_words(leg, shown),
                ),
                Cell(shown.distance(leg["end_m"] - leg["start_m"]), steep_words(trip, leg, shown)),
                Cell(str(leg["gear"]), "; ".join(part for part in (gear_of_words(leg, trip, shown), gear_by_words(leg, trip, shown)) if part), "big"),
                Cell(shown.speed(leg["control_speed_mps"]), "", "big"),
                Cell(retarder_order(leg, trip, shown)),
                Cell(snub_words(leg, trip, shown), gauge_words(leg, shown)),
                Cell(words("unknown") if peak is None else shown.hot(peak), words.said(leg.get("peak_axle") or "")),
            )
        )
        rows += _lower_rows(leg, trip, shown)
    columns = ("leg", "start", "length", "gear", "speed", "retarder", "brakes", "hottest")
    return make_table("legs", columns, rows, shown)


def _lower_rows(leg: Row, trip: Trip, shown: Shown) -> list[tuple[Cell, ...]]:
    empty = Cell("", style="empty")
    return [
        (
            Cell(shown.words("leg.inside", number=leg["number"]), style="inside"),
            Cell(shown.at(one.start_m), landmark_words(trip, one.start_m, shown)),
            Cell(shown.stretch(one.end_m - one.start_m)),
            empty,
            Cell(one.speed, "", "big"),
            empty,
            Cell(one.why, "", "strong"),
            empty,
        )
        for one in lower_speeds(leg, trip, shown)
    ]


def stops_table(trip: Trip, shown: Shown) -> Table:
    """Where to stop, what for and how long, and what if the place is taken."""
    words = shown.words
    rows = []
    for stop in trip.stops:
        arrive, leave = stop.get("arrive_temp_c"), stop.get("leave_temp_c")
        heat = (
            ""
            if arrive is None or leave is None
            else words("stop_heat", arrive=shown.hot(arrive), leave=shown.hot(leave))
        )
        room = "" if stop.get("room_m") is None else shown.room(float(stop["room_m"]))
        ground = ", ".join(part for part in (room, words.said(stop.get("surface") or "")) if part)
        rows.append(
            (
                Cell(words.one_of("stop", str(stop["kind"])), style=f"sign-{stop['kind']}"),
                Cell(
                    shown.at(stop["station_m"]),
                    landmark_words(trip, stop["station_m"], shown) if not stop.get("place") else "",
                    extra=coordinate_words(stop, shown),
                ),
                Cell(stop_name(stop, trip, shown), if_taken_words(stop, trip, shown)),
                Cell(shown.stop_minutes(stop["minutes"]), "", "big"),
                Cell(slope_words(stop.get("local_grade"), shown), ground),
                Cell(heat or words("unknown")),
            )
        )
    return make_table("stops", ("kind", "at", "place", "minutes", "grade", "heat"), rows, shown)


def standing_table(trip: Trip, shown: Shown) -> Table:
    """Where one can stop along the road."""
    unknown = shown.words("unknown")
    rows = [
        (
            Cell(place.at),
            Cell(place.name, place.note),
            Cell(place.kind, place.planned, "planned" if place.planned else ""),
            Cell(place.side or unknown),
            Cell(place.slope),
            Cell(place.room or unknown),
            Cell(place.surface or unknown),
            Cell(place.cooling),
        )
        for place in standing_places(trip, shown)
    ]
    columns = ("at", "name", "kind", "side", "slope", "room", "surface", "cooling")
    return make_table("standing", columns, rows, shown)


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
    return make_table(
        "downgrades",
        ("number", "span", "length", "drop", "mean", "steepest_1km", "steepest_300m", "notes"),
        rows,
        shown,
    )


def alternatives_table(trip: Trip, shown: Shown) -> Table:
    """What another choice would change."""
    rows = [(Cell(str(row["change"])), Cell(str(row["effect"]))) for row in trip.rows("alternatives")]
    name = "alternatives" if trip.feasible else "would_hold"
    return make_table(name, ("change", "effect"), rows, shown)


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
