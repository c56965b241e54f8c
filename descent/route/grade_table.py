# SPDX-License-Identifier: MIT
"""Reads a table of lengths and grades, as one copies it from grade signs or a road log."""

from __future__ import annotations

import os
from typing import NamedTuple

from descent.errors import RouteError
from descent.route.csv_tables import Column, CsvTable, read_table
from descent.route.faultbook import FaultBook, one_fault
from descent.route.files import find_source
from descent.units import LENGTH

STEEPEST = 0.40
SHORTEST_M = 200.0
LONGEST_M = 3_000_000.0
MAX_ROWS = 20_000
_GRADE_UNITS = {"%": 0.01, "percent": 0.01, "pct": 0.01, "1": 1.0, "ratio": 1.0, "m/m": 1.0, "‰": 0.001}
_DOWN, _UP = frozenset({"down", "d", "descent", "-"}), frozenset({"up", "u", "climb", "+"})
_LEVEL = frozenset({"", "level", "flat"})


class GradeRow(NamedTuple):
    """A stretch of one grade: length along the road [m], grade [rise over run, negative downhill]."""

    length_m: float
    grade: float


def read_grade_table(path: str | os.PathLike[str]) -> tuple[GradeRow, ...]:
    """The rows of a CSV table with columns length and grade, units in the header, in travel order.

    Example header: `length [mi],grade [%]`, with an optional column `direction` (down, up) for grades written
    without a sign, as signs show them. Without that column a downgrade has a minus sign, and a table with no
    downgrade at all is refused, since a sign's "6 %" copied as it stands would be read as a climb.

    Raises RouteError with all faults: grade-table-columns, grade-table-unit, grade-table-value,
    grade-table-no-downgrade, grade-table-length, and those of files.
    """
    source = find_source(path)
    table = read_table(source)
    length, grade, direction = table.column("length"), table.column("grade"), table.column("direction")
    if length is None or grade is None:
        raise one_fault(RouteError, source.where, "grade-table-columns", "there are no columns length and grade",
                        "Begin the table with a line such as length [mi],grade [%]",
                        value=", ".join(column.name for column in table.columns))
    factors = _factors(length, grade, source.where)
    faults = FaultBook(source.where)
    rows = []
    for line, cells in table.rows:
        row = _row(table, cells, (length, grade, direction), factors, faults, f"line {line}")
        if row:
            rows.append(row)
        if len(rows) > MAX_ROWS:
            raise one_fault(RouteError, source.where, "grade-table-length", f"more than {MAX_ROWS:,} rows",
                            "Keep the stretch with the mountains")
    _check_whole(rows, faults)
    faults.raise_if_any(RouteError)
    return tuple(rows)


def _factors(length: Column, grade: Column, where: str) -> tuple[float, float]:
    """Metres per unit of length, ratio per unit of grade."""
    faults = FaultBook(where)
    length_factor = LENGTH.to_si.get(length.unit.lower())
    grade_factor = _GRADE_UNITS.get(grade.unit.lower())
    if not isinstance(length_factor, float):
        faults.add("grade-table-unit", "the header gives no known unit for the length",
                   f"Write length [mi], with one of {', '.join(LENGTH.to_si)}", place="line 1", value=length.unit)
    if grade_factor is None:
        faults.add("grade-table-unit", "the header gives no known unit for the grade",
                   "Write grade [%], or grade [1] for rise over run", place="line 1", value=grade.unit)
    faults.raise_if_any(RouteError)
    assert isinstance(length_factor, float) and grade_factor is not None
    return length_factor, grade_factor


def _row(table: CsvTable, cells: list[str], columns: tuple[Column, Column, Column | None],
         factors: tuple[float, float], faults: FaultBook, place: str) -> GradeRow | None:
    def cell(column: Column | None) -> str:
        return cells[column.index].strip() if column and column.index < len(cells) else ""

    length_column, grade_column, direction_column = columns
    count = faults.count
    length_m = _value(table, cell(length_column), factors[0])
    grade = _value(table, cell(grade_column).removesuffix("%"), factors[1])
    if not 0.0 < length_m <= LONGEST_M:
        faults.add("grade-table-value", "the length is not a number above 0", "Correct the row", place=place,
                   value=cell(length_column))
    if not abs(grade) <= STEEPEST:
        faults.add("grade-table-value", f"the grade is not a number from -{STEEPEST:.0%} to {STEEPEST:.0%}",
                   "Correct the row or the unit in the header", place=place, value=cell(grade_column))
    word = cell(direction_column).lower()
    if word not in _DOWN | _UP | _LEVEL:
        faults.add("grade-table-value", "the direction is not down or up", "Write down or up", place=place,
                   value=word)
    elif direction_column and (grade < 0 or (grade != 0 and word in _LEVEL)):
        faults.add("grade-table-value", "a direction and the sign of the grade do not go together",
                   "With a direction column write grades without a sign, and down or up in each row", place=place,
                   value=f"{cell(grade_column)} {word}")
    if faults.count > count:
        return None
    return GradeRow(length_m, -grade if word in _DOWN and direction_column else grade)


def _value(table: CsvTable, text: str, factor: float) -> float:
    try:
        return table.number(text) * factor
    except ValueError:
        return float("nan")


def _check_whole(rows: list[GradeRow], faults: FaultBook) -> None:
    if faults:
        return
    total = sum(row.length_m for row in rows)
    if not SHORTEST_M <= total <= LONGEST_M:
        faults.add("grade-table-length", f"the rows do not add up to between {SHORTEST_M:.0f} m and "
                   f"{LONGEST_M / 1000:.0f} km", "Check the rows and the unit in the header",
                   value=f"{total:.0f} m in {len(rows)} rows")
    elif all(row.grade >= 0 for row in rows):
        faults.add("grade-table-no-downgrade", "no row goes downhill",
                   "Write downgrades with a minus sign, or add a column direction with down and up")
