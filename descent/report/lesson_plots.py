# SPDX-License-Identifier: MIT
"""The lesson's drawn pictures: the gears side by side on one pair of axes, and as small multiples for the class."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from markupsafe import Markup

from descent.report.shown import Shown
from descent.report.svg import ALARM, HAIRLINE, INK, MUTED, PAPER, join, nice_ticks, path_of, tag, text_width
from descent.report.words import Words

LINES = ("#0b4f6c", "#1d7a74", "#5b8c2a", "#b07d00", "#c2571a", "#9b1c4b", "#6b2a8c", "#3a2c6f", "#15191d")
_DASHES = (None, "9 4", "2 4", "14 4 3 4", None, "9 4", "2 4", "14 4 3 4", None)


@dataclass(frozen=True)
class GearLine:
    """One line of a picture: its label and its temperatures [C] at the ends of the stretches."""

    label: str
    temp_c: Sequence[float]


@dataclass(frozen=True)
class _Axes:
    """The drawing's frame and scales: stations [m] across, temperatures [C] up."""

    left: float
    right: float
    top: float
    bottom: float
    end_m: float
    low_c: float
    high_c: float

    def x(self, station_m: Any) -> Any:
        return self.left + (self.right - self.left) * np.asarray(station_m, dtype=float) / self.end_m

    def y(self, temp_c: Any) -> Any:
        share = (np.asarray(temp_c, dtype=float) - self.low_c) / (self.high_c - self.low_c)
        return self.bottom - (self.bottom - self.top) * share


def gears_picture(document: dict[str, Any], lines: Sequence[GearLine], shown: Shown, say: Words, *, width: float = 1000.0,
                  size: float = 14.0) -> Markup:
    """Brake temperature along the hill, a line per gear, with the limit; labels stand at the line's highest place."""
    height = 0.44 * width if width > 700 else 0.8 * width
    widest = max(size * 4.7, *(1.08 * text_width(line.label, size) for line in lines))       # bold
    axes = _axes(document, lines, left=size * 4.2, right=width - size * 0.9 - widest, top=size * 2.6, bottom=height - size * 3.4)
    parts = [tag("rect", width=width, height=height, fill=PAPER), *_frame(document, axes, shown, say, size)]
    stations, start_c = document["stretch_ends_m"], document["conditions"]["start_temp_c"]
    ends: list[tuple[float, str, str]] = []
    for number, line in enumerate(lines):
        colour, dash = LINES[number % len(LINES)], _DASHES[number % len(_DASHES)]
        x, y = axes.x([0.0, *stations]), axes.y([start_c, *line.temp_c])
        parts.append(tag("path", d=path_of(x, y), fill="none", stroke=colour, stroke_width=2.6, stroke_dasharray=dash,
                         stroke_linejoin="round"))
        ends.append((float(y[-1]), line.label, colour))
    parts += _labels(ends, axes, size)
    return tag("svg", join([tag("title", say("plot.gears_title")), *parts]), viewBox=f"0 0 {width:g} {height:g}", role="img",
               class_="gears wide" if width > 700 else "gears narrow")


def _labels(ends: list[tuple[float, str, str]], axes: _Axes, size: float) -> list[Markup]:
    """The lines' names at their right ends, moved apart from the lowest up so that none covers another."""
    found, floor = [], axes.bottom + size * 0.4
    for y, label, colour in sorted(ends, reverse=True):
        at = min(y + size * 0.35, floor)
        floor = at - size * 1.15
        found.append(tag("text", label, x=axes.right + size * 0.5, y=at, fill=colour, font_size=size, font_weight="700"))
        found.append(tag("line", x1=axes.right, y1=y, x2=axes.right + size * 0.4, y2=at - size * 0.35, stroke=colour))
    return found


def small_multiples(document: dict[str, Any], lines: Sequence[GearLine], shown: Shown, say: Words) -> list[Markup]:
    """One small picture per line on common axes, its label above: for the class to read off."""
    pictures = []
    for line in lines:
        axes = _axes(document, lines, left=44.0, right=300.0, top=24.0, bottom=170.0)
        x = axes.x([0.0, *document["stretch_ends_m"]])
        y = axes.y([document["conditions"]["start_temp_c"], *line.temp_c])
        inside = [tag("title", say("plot.small_title", label=line.label)), *_frame(document, axes, shown, say, 11.0),
                  tag("path", d=path_of(x, y), fill="none", stroke=INK, stroke_width=2.4, stroke_linejoin="round"),
                  tag("text", line.label, x=44.0, y=15.0, font_size=14.0, font_weight="700", fill=INK)]
        pictures.append(tag("svg", join(inside), viewBox="0 0 312 204", role="img"))
    return pictures


def _axes(document: dict[str, Any], lines: Sequence[GearLine], *, left: float, right: float, top: float,
          bottom: float) -> _Axes:
    highest = max(document["limits"]["brake_temp_c"], *(max(line.temp_c) for line in lines))
    return _Axes(left, right, top, bottom, document["stretch_ends_m"][-1], 0.0, highest * 1.06)


def _frame(document: dict[str, Any], axes: _Axes, shown: Shown, say: Words, size: float) -> list[Markup]:
    """Grid, numbers, crest, foot and the limit."""
    units, hill = shown.units, document["hill"]
    parts = []
    low, high = units.temperature(axes.low_c), units.temperature(axes.high_c)
    for value in nice_ticks(low, high, most=5):
        y = float(axes.y(axes.low_c + (value - low) / (high - low) * (axes.high_c - axes.low_c)))
        parts += [tag("line", x1=axes.left, x2=axes.right, y1=y, y2=y, stroke=HAIRLINE),
                  _text(axes.left - size * 0.4, y + size * 0.35, shown.number(value), size, anchor="end", fill=MUTED)]
    unit_m = units.distance[1]
    for value in nice_ticks(0.0, hill["length_m"] / unit_m, most=5 if axes.right < 500 else 8):
        x = float(axes.x(hill["crest_m"] + value * unit_m))
        parts += [tag("line", x1=x, x2=x, y1=axes.bottom, y2=axes.bottom + size * 0.35, stroke=MUTED),
                  _text(x, axes.bottom + size * 1.35, shown.number(value, 0 if value == round(value) else 1), size,
                        anchor="middle", fill=MUTED)]
    for station, word in ((hill["crest_m"], "plot.crest"), (hill["foot_m"], "plot.foot")):
        x = float(axes.x(station))
        parts.append(tag("line", x1=x, x2=x, y1=axes.top, y2=axes.bottom, stroke=MUTED, stroke_dasharray="2 3"))
        if axes.right > 320:
            parts.append(_text(x, axes.top - size * 0.4, say(word), size, anchor="middle", fill=MUTED))
    limit = document["limits"]["brake_temp_c"]
    y = float(axes.y(limit))
    label = say("plot.limit", limit=shown.temperature(limit)) if axes.right > 320 else say("plot.limit_short")
    parts += [tag("line", x1=axes.left, x2=axes.right, y1=y, y2=y, stroke=ALARM, stroke_width=1.8),
              tag("rect", x=axes.left + 4, y=y - size * 1.3, width=text_width(label, size) + 6, height=size * 1.15,
                  fill=PAPER, opacity="0.85"),
              _text(axes.left + 7, y - size * 0.4, label, size, fill=ALARM, weight="600")]
    under = say("plot.across", unit=units.distance[0])
    if axes.right > 320:
        parts.append(_text((axes.left + axes.right) / 2, axes.bottom + size * 2.8, under, size, anchor="middle", fill=INK))
        parts.append(_text(4.0, size, say("plot.up", unit=units.temperature_symbol), size, fill=INK))
    else:
        parts.append(_text((axes.left + axes.right) / 2, axes.bottom + size * 2.6, under, size, anchor="middle", fill=MUTED))
        parts.append(_text(axes.right, axes.top - size * 0.9, units.temperature_symbol, size, anchor="end", fill=MUTED))
    return parts


def _text(x: float, y: float, text: str, size: float, *, anchor: str | None = None, fill: str = INK,
          weight: str | None = None) -> Markup:
    return tag("text", text, x=x, y=y, font_size=size, text_anchor=anchor, fill=fill, font_weight=weight)
