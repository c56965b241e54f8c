# SPDX-License-Identifier: MIT
"""A line chart as SVG for the pages in this folder: axes with units, lines named at their ends, nothing else."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from markupsafe import Markup
from numpy.typing import NDArray

from descent.report.svg import HAIRLINE, INK, MUTED, PAPER, join, nice_ticks, path_of, tag, text_width

FloatArray = NDArray[np.float64]
WIDTH, HEIGHT, LEFT, TOP, FOOT, LETTER = 760.0, 400.0, 74.0, 76.0, 56.0, 13.0
COLOURS = ("#0b4f6c", "#9b1c1c", "#5a6b00", "#6b3fa0", "#8a5a00", "#15191d")
DASHES = (None, "7 4", "2 3", "10 3 2 3", None, "7 4")


@dataclass(frozen=True)
class Line:
    """One line with its name."""

    name: str
    x: FloatArray
    y: FloatArray


@dataclass(frozen=True)
class Chart:
    """What is drawn; tops of the axes are those of the data unless given."""

    title: str
    x_name: str
    y_name: str
    lines: tuple[Line, ...]
    y_top: float | None = None


def chart_svg(chart: Chart) -> str:
    """The chart as a whole SVG file; the same input gives the same bytes."""
    right = 1.1 * max(text_width(line.name, LETTER) for line in chart.lines) + 26.0
    low = min(float(line.x.min()) for line in chart.lines)
    high = max(float(line.x.max()) for line in chart.lines)
    bottom = min(0.0, *(float(np.nanmin(line.y)) for line in chart.lines))
    top = chart.y_top or 1.04 * max(float(np.nanmax(line.y)) for line in chart.lines)

    def across(x: FloatArray) -> FloatArray:
        return LEFT + (WIDTH - LEFT - right) * (x - low) / (high - low)

    def up(y: FloatArray) -> FloatArray:
        return HEIGHT - FOOT - (HEIGHT - FOOT - TOP) * (np.minimum(y, top) - bottom) / (top - bottom)

    parts: list[Markup | str] = [tag("title", chart.title), tag("rect", width=WIDTH, height=HEIGHT, fill=PAPER),
                                 _text(16.0, 28.0, chart.title, size=16.0, weight="600"),
                                 _text(16.0, 50.0, chart.y_name, fill=MUTED)]
    for value in nice_ticks(bottom, top, most=6):
        y = float(up(np.array(value)))
        parts.append(tag("line", x1=LEFT, x2=WIDTH - right, y1=y, y2=y, stroke=HAIRLINE))
        parts.append(_text(LEFT - 8.0, y + 4.0, f"{value:,g}", anchor="end", fill=MUTED))
    for value in nice_ticks(low, high, most=8):
        x = float(across(np.array(value)))
        parts.append(tag("line", x1=x, x2=x, y1=HEIGHT - FOOT, y2=HEIGHT - FOOT + 5.0, stroke=MUTED))
        parts.append(_text(x, HEIGHT - FOOT + 20.0, f"{value:,g}", anchor="middle", fill=MUTED))
    parts.append(_text((LEFT + WIDTH - right) / 2, HEIGHT - 12.0, chart.x_name, anchor="middle"))
    parts.append(tag("line", x1=LEFT, x2=WIDTH - right, y1=float(up(np.array(0.0))), y2=float(up(np.array(0.0))),
                     stroke=INK))
    ends = _spread([float(up(line.y[-1:])[0]) for line in chart.lines])
    for index, line in enumerate(chart.lines):
        colour = COLOURS[index % len(COLOURS)]
        parts.append(tag("path", d=path_of(across(line.x), up(line.y)), fill="none", stroke=colour, stroke_width=2.2,
                         stroke_dasharray=DASHES[index % len(DASHES)]))
        parts.append(_text(float(across(line.x[-1:])[0]) + 8.0, ends[index] + 4.0, line.name, fill=colour, weight="600"))
    return str(tag("svg", join(parts), xmlns="http://www.w3.org/2000/svg", role="img",
                   viewBox=f"0 0 {WIDTH:g} {HEIGHT:g}", font_family="system-ui, sans-serif")) + "\n"


def _spread(ends: list[float]) -> list[float]:
    """Heights of the names, pushed apart so that none covers another."""
    order = sorted(range(len(ends)), key=lambda index: ends[index])
    placed = list(ends)
    for before, after in itertools.pairwise(order):
        placed[after] = max(placed[after], placed[before] + 16.0)
    over = max(placed[order[-1]] - (HEIGHT - FOOT - 2.0), 0.0)
    return [place - over for place in placed]


def _text(x: float, y: float, text: str, *, anchor: str = "start", size: float = LETTER, fill: str = INK,
          weight: str | None = None) -> Markup:
    return tag("text", text, x=x, y=y, text_anchor=anchor, font_size=size, fill=fill, font_weight=weight)
