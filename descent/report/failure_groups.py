# SPDX-License-Identifier: MIT
"""What could go wrong, downgrade by downgrade: a line that says what does not hold, and a table under it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from descent.report.shown import Shown
from descent.report.table import Cell, Table, make_table
from descent.report.trip import Row, Trip


@dataclass(frozen=True)
class FailureGroup:
    """The failures of one downgrade: its line and its table."""

    line: str
    table: Table


def failure_groups(trip: Trip, shown: Shown) -> tuple[FailureGroup, ...]:
    """One group for each downgrade that has failures, in order; those of no downgrade come first."""
    groups: dict[int, list[Row]] = {}
    for row in trip.rows("failures"):
        groups.setdefault(int(row.get("downgrade") or 0), []).append(row)
    return tuple(FailureGroup(_line(number, rows, trip, shown), _table(rows, shown))
                 for number, rows in sorted(groups.items()))


def _line(number: int, rows: Sequence[Row], trip: Trip, shown: Shown) -> str:
    words = shown.words
    span = next((shown.span(row["start_m"], row["end_m"]) for row in trip.rows("downgrades")
                 if row["number"] == number), "")
    where = words("failure.on", number=number, span=span) if number else words("failure.anywhere")
    lost = [str(row["what"]) for row in rows if not row.get("holds")]
    said = words("failure.lost_line", listed="; ".join(lost)) if lost else words("failure.all_hold")
    return words("failure.line", where=where, said=said)


def _table(failures: Sequence[Row], shown: Shown) -> Table:
    words = shown.words
    rows = []
    for row in failures:
        place, speed = row.get("next_place"), row.get("speed_there_mps")
        there = (
            ""
            if speed is None
            else words("failure.speed_there", speed=shown.speed_up(speed))
            if speed > 0.1
            else words("failure.stopped_there")
        )
        rows.append(
            (
                Cell(str(row["what"])),
                Cell(
                    words("failure.holds" if row.get("holds") else "failure.lost"),
                    "",
                    "" if row.get("holds") else "alarm",
                ),
                Cell(str(row.get("first_sign") or words("unknown"))),
                Cell(str(row.get("do_this") or words("unknown"))),
                _last_stop(row, shown),
                Cell(str(place) if place else words("failure.no_place" if "full_stop_all_the_way" in row else "unknown"),
                     there if place else ""),
            )
        )
    return make_table("failures", ("what", "holds", "sign", "do", "last", "next"), rows, shown)


def _last_stop(row: Row, shown: Shown) -> Cell:
    """The last place of a full stop, and that the speed may be held long after it."""
    if row.get("full_stop_all_the_way"):
        return Cell(shown.words("failure.all_way"))
    held, last = row.get("still_held_m"), row.get("last_full_stop_m")
    note = shown.words("failure.still_held", distance=shown.distance(held)) if held else ""
    if last is None:
        unknown = "unknown" if "full_stop_all_the_way" not in row else "failure.none"
        return Cell(shown.words(unknown), note, "alarm" if note else "")
    return Cell(shown.before(last), note, "alarm" if note else "")
