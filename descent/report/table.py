# SPDX-License-Identifier: MIT
"""What a table of the page is: cells, heads, a title."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from descent.report.shown import Shown


@dataclass(frozen=True)
class Cell:
    """One cell: its text, a smaller line under it, whether it is what the reader came for, and a last small line."""

    text: str
    note: str = ""
    style: str = ""
    extra: str = ""


@dataclass(frozen=True)
class Table:
    """A table with its title; heads and rows have the same width; the first cell of a row names the row."""

    name: str
    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]


def make_table(name: str, columns: tuple[str, ...], rows: Sequence[tuple[Cell, ...]], shown: Shown) -> Table:
    """A table whose title and heads stand under `table.NAME` in the words."""
    words = shown.words
    long, short = shown.distance(1000.0), shown.short(300.0)
    heads = tuple(words(f"table.{name}.{column}", long=long, short=short) for column in columns)
    return Table(name, words(f"table.{name}.title"), heads, tuple(rows))
