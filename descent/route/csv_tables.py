# SPDX-License-Identifier: MIT
"""Reads a CSV file as named columns with units, whatever its separator and decimal mark."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass

from descent.errors import RouteError
from descent.route.faultbook import one_fault
from descent.route.features import check_count
from descent.route.files import MEGABYTE, SourceFile, read_text
from descent.route.text import clean_text

LIMIT_BYTES = 100 * MEGABYTE
MAX_COLUMNS = 300
_UNIT = re.compile(r"^(?P<name>.*?)\s*[\[(]\s*(?P<unit>[^\])]*?)\s*[\])]\s*$")


@dataclass(frozen=True)
class Column:
    """A column: name in lower case with _ for spaces, and the unit its header gives in brackets ("" if none)."""

    name: str
    unit: str
    index: int


@dataclass(frozen=True)
class CsvTable:
    """The columns of a file and its rows as (line number, cells); the rows can be gone through once."""

    where: str
    columns: tuple[Column, ...]
    rows: Iterator[tuple[int, list[str]]]
    decimal_comma: bool

    def column(self, *names: str) -> Column | None:
        """The first column with one of these names."""
        return next((column for name in names for column in self.columns if column.name == name), None)

    def number(self, text: str) -> float:
        """A cell as a number, NaN when empty. Raises ValueError."""
        word = text.strip()
        if not word:
            return float("nan")
        return float(word.replace(",", ".") if self.decimal_comma else word)


def split_unit(header: str) -> tuple[str, str]:
    """Name and unit of a header such as "Length [mi]", "length (mi)"; the unit is "" when none is given."""
    match = _UNIT.match(header)
    name, unit = (match["name"], match["unit"]) if match else (header, "")
    return re.sub(r"[\s-]+", "_", clean_text(name).lower()), unit


def read_table(source: SourceFile) -> CsvTable:
    """The table in a CSV file. The separator (comma, semicolon, tab) is the one most frequent in the header.

    Raises RouteError: csv-no-header, csv-malformed (while the rows are read) and what `files.read_text` raises.
    """
    text = read_text(source, LIMIT_BYTES)
    check_count(text.count("\n") - 1, source.where)
    head = text.lstrip().split("\n", 1)[0]
    separator = max(",;\t", key=head.count)
    rows = _rows(text, separator, source.where)
    _, header = next(rows, (0, []))
    columns = tuple(Column(*split_unit(cell), index) for index, cell in enumerate(header[:MAX_COLUMNS]))
    if not any(re.search(r"[a-z]", column.name) for column in columns):
        raise one_fault(RouteError, source.where, "csv-no-header", "the first line does not name the columns",
                        "Begin the file with a line such as lon,lat or length [mi],grade [%]",
                        value=head[:60])
    return CsvTable(source.where, columns, rows, separator == ";")


def _rows(text: str, separator: str, where: str) -> Iterator[tuple[int, list[str]]]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
    while True:
        try:
            row = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            raise one_fault(RouteError, where, "csv-malformed", f"line {reader.line_num} cannot be read as CSV",
                            "Save the table again as CSV text", value=error) from None
        if any(cell.strip() for cell in row) and not row[0].lstrip().startswith("#"):
            yield reader.line_num, row
