# SPDX-License-Identifier: MIT
"""The comparison's tables: every case in a row, and what each vehicle can take down at most."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from descent.plan.model import COOLING_STOPS
from descent.report.shown import Shown
from descent.report.table import Cell, Table
from descent.report.words import Words

Row = Mapping[str, Any]
_ORDERS_SHOWN = 3


def cases_table(document: Mapping[str, Any], labels: Sequence[str], shown: Shown, words: Words) -> Table:
    """One row per case, in the order asked."""
    columns: tuple[str, ...] = ("case", "verdict", "time", "stops", "hottest", "margin", "chance", "stopping", "orders")
    rows = tuple(_case(row, label, row["number"] == document["quickest"], shown, words)
                 for row, label in zip(document["cases"], labels, strict=True))
    if all(row.get("upper_95") is None for row in document["cases"]):
        columns = tuple(column for column in columns if column != "chance")
        rows = tuple((*row[:6], *row[7:]) for row in rows)
    return Table("compare", words("table.compare.title"), tuple(words(f"table.compare.{one}") for one in columns), rows)


def _case(row: Row, label: str, quickest: object, shown: Shown, words: Words) -> tuple[Cell, ...]:
    name = Cell(f"{row['number']}. {label}", words("cell.quickest") if quickest else "", "")
    if not row["feasible"]:
        said = words("cell.no_data" if row["elevation_refused"] else "cell.not")
        empty = Cell("", style="empty")
        return (name, Cell(said, str(row["verdict_reason"]), "alarm"), *([empty] * 7))
    margin, upper = row["margin_c"], row["upper_95"]
    return (
        name, Cell(words("cell.holds")), Cell(shown.minutes(row["time_s"]), "", "big"), Cell(_cooling(row, shown, words), _where_cooled(row, shown, words)),
        Cell(shown.hot(row["peak_brake_temp_c"]), words.said(row["peak_axle"] or "")),
        Cell(words("cell.unknown") if margin is None else shown.margin(margin)),
        Cell(words("cell.unknown") if upper is None else words("cell.upper", share=shown.percent_up(upper)),
             "" if upper is None else words("cell.upper_note")),
        Cell(words("cell.unknown") if row["longest_stop_m"] is None else shown.short(row["longest_stop_m"]),
             "" if row["longest_stop_at_m"] is None else shown.at(row["longest_stop_at_m"])),
        Cell(*_orders(row, shown, words)))


def _cooling(row: Row, shown: Shown, words: Words) -> str:
    count = int(row["cool_down_stops"])
    if not count:
        return words("cell.no_cooling")
    minutes = shown.stop_minutes(row["cool_down_minutes"])
    return words("cell.cooling_one" if count == 1 else "cell.cooling_many", minutes=minutes, count=count)


def _where_cooled(row: Row, shown: Shown, words: Words) -> str:
    """The places of the stops to cool the brakes with their minutes."""
    return "; ".join(words("cell.cooled_at", place=stop["place"] or shown.at(stop["station_m"]),
                           minutes=shown.stop_minutes(stop["minutes"]))
                     for stop in row["stops"] if stop["kind"] in COOLING_STOPS)


def _orders(row: Row, shown: Shown, words: Words) -> tuple[str, str]:
    """Gear and speed of the first leg, and of the legs after it where they differ."""
    said: list[str] = []
    for leg in row["legs"]:
        text = words("cell.leg", gear=leg["gear"], speed=shown.speed(leg["control_speed_mps"]))
        if leg["retarder_stage"]:
            text += ", " + words("cell.stage", stage=leg["retarder_stage"])
        if not said or not said[-1].startswith(text):
            said.append(text if not said else text + " " + words("cell.from", at=shown.at(leg["start_m"])))
    more = said[1:_ORDERS_SHOWN]
    return said[0] if said else words("cell.no_cooling"), "; ".join(more) + (" \u2026" if len(said) > _ORDERS_SHOWN else "")


def heaviest_table(document: Mapping[str, Any], labels: Sequence[str], shown: Shown, words: Words) -> Table:
    """The most weight for every vehicle, road and day, and what a tonne more costs at each weight asked for.

    labels: of the cases, without their weights.
    """
    groups: dict[str, list[Row]] = {}
    for row, label in zip(document["cases"], labels, strict=True):
        if row.get("heaviest") is not None:
            groups.setdefault(label, []).append(row)
    rows = tuple(
        (Cell(label), _weight(members[0]["heaviest"]["no_cool_down_kg"], members[0], shown, words),
         _weight(members[0]["heaviest"]["any_stop_kg"], members[0], shown, words),
         Cell("; ".join(words("cell.at_weight", weight=shown.mass(row["gross_kg"]), change=_tonne(row, shown, words))
                        for row in members if row["feasible"]) or words("cell.too_heavy")))
        for label, members in groups.items())
    heads = tuple(words(f"table.heaviest.{one}") for one in ("case", "no_stop", "any_stop", "per_tonne"))
    return Table("heaviest", words("table.heaviest.title"), heads, rows)


def _weight(weight_kg: float | None, row: Row, shown: Shown, words: Words) -> Cell:
    if weight_kg is None:
        return Cell(words("cell.never"), "", "alarm")
    rated = float(row["heaviest"]["rated_kg"])
    if weight_kg >= rated:
        return Cell(shown.mass(rated), words("cell.weight_full"))
    return Cell(shown.mass_down(weight_kg), words("cell.rated", weight=shown.mass(rated)))


def _tonne(row: Row, shown: Shown, words: Words) -> str:
    change = row.get("tonne_more")
    if change is None:
        return words("cell.unknown")
    rated_kg = (row.get("heaviest") or {}).get("rated_kg")
    if rated_kg is not None and float(row["gross_kg"]) + 1000.0 > float(rated_kg):
        return words("cell.over_rating")
    if "change_s" not in change:
        return words("cell.too_heavy")
    minutes = float(change["change_s"]) / 60.0
    key = "same" if abs(minutes) < 0.5 else "saves" if minutes < 0 else "costs"
    return words(f"cell.{key}", minutes=shown.number(abs(minutes)))
