# SPDX-License-Identifier: MIT
"""The table of what small changes do: degrees if the plan is driven as it is, minutes if it is made again."""

from __future__ import annotations

from descent.report.shown import Shown
from descent.report.table import Cell, Table, make_table
from descent.report.trip import Row, Trip


def sensitivities_table(trip: Trip, shown: Shown) -> Table:
    """One tonne, ten degrees of air, a retarder stage, a stroke step."""
    rows = [(Cell(str(row["what"])), _degrees(row, shown), _minutes(row, shown)) for row in trip.rows("sensitivities")]
    return make_table("sensitivities", ("what", "degrees", "minutes"), rows, shown)


def _degrees(row: Row, shown: Shown) -> Cell:
    words, change = shown.words, row.get("change_c")
    if change is None:
        return Cell(words("sensitivity.no_stop"), "", "alarm")
    if abs(change) < 0.05:
        return Cell(words("sensitivity.same"))
    return Cell(words("sensitivity.hotter" if change > 0 else "sensitivity.cooler", degrees=shown.rise(abs(change))))


def _minutes(row: Row, shown: Shown) -> Cell:
    words, change = shown.words, row.get("change_s")
    if change is None:
        return Cell(words("sensitivity.nothing"), "", "alarm")
    if abs(change) < 30.0:
        return Cell(words("sensitivity.same"))
    return Cell(words("sensitivity.longer" if change > 0 else "sensitivity.shorter", minutes=shown.minutes(abs(change))))
