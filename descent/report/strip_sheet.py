# SPDX-License-Identifier: MIT
"""The sheet the strip is drawn on: one distance axis, panel frames with ticks and keys, thinned lines."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from markupsafe import Markup

from descent.report.shown import Shown
from descent.report.svg import ALARM, HAIRLINE, INK, MUTED, join, nice_ticks, path_of, tag, text_width
from descent.report.thin import thin_columns, thin_line
from descent.report.trip import FloatArray, Trip


@dataclass(frozen=True)
class Layout:
    """Sizes of one version of the strip, in picture units."""

    name: str
    width: float
    left: float
    right: float
    font: float
    height_scale: float
    most_x_ticks: int


# A dashed dark red line: what an emergency stop adds, what means fade, where the air warns.
EMERGENCY: dict[str, object] = {"stroke": ALARM, "stroke_width": 1.4, "stroke_dasharray": "6 3"}
WIDE = Layout("wide", 960.0, 54.0, 14.0, 13.0, 1.0, 18)
NARROW = Layout("narrow", 400.0, 44.0, 12.0, 13.0, 0.92, 7)


@dataclass(frozen=True)
class Key:
    """One entry of a panel's key: the words and the look of its line (SVG attributes) or patch."""

    label: str
    line: dict[str, object]


@dataclass(frozen=True)
class Frame:
    """A panel's frame: what is drawn already, the plot's top and bottom, and value -> y."""

    drawn: Markup
    top: float
    bottom: float
    y: Callable[[FloatArray], FloatArray]


@dataclass(frozen=True)
class Panel:
    """A finished panel: its drawing, where it ends, the plot's top and bottom (None: nothing to draw), and
    what lies over the lines that run through all panels."""

    drawn: Markup
    bottom: float
    plot: tuple[float, float] | None
    over: Markup | None = None


@dataclass(frozen=True)
class Sheet:
    """A trip, its reader and a layout: all a panel needs to draw itself."""

    trip: Trip
    shown: Shown
    layout: Layout

    @property
    def plot_right(self) -> float:
        """Right edge of every plot."""
        return self.layout.width - self.layout.right

    def x(self, station_m: FloatArray | float) -> FloatArray:
        """Station [m] to picture x."""
        share = np.asarray(station_m, dtype=np.float64) / self.trip.road.length_m
        return self.layout.left + share * (self.plot_right - self.layout.left)

    def x_at(self, station_m: float) -> float:
        """One station's x."""
        return float(self.x(station_m))

    def line(self, station_m: FloatArray, y: FloatArray, **style: object) -> Markup:
        """A thinned line, broken where y is NaN."""
        x = self.x(station_m)
        good = np.isfinite(y)
        edges = np.flatnonzero(np.diff(good.astype(int))) + 1
        d = ""
        for part in np.split(np.arange(len(y)), edges):
            if good[part[0]] and len(part) > 1:
                part = part[thin_columns(x[part], y[part], column=0.8)]
                part = part[thin_line(x[part], y[part], tolerance=0.3)]
                d += path_of(x[part], y[part])
        return tag("path", d=d, fill="none", stroke_linejoin="round", **style) if d else Markup("")

    def text(self, x: float, y: float, words: str, **style: object) -> Markup:
        """A label in the layout's size."""
        look: dict[str, object] = {"font_size": self.layout.font, "fill": INK, **style}
        return tag("text", words, x=x, y=y, **look)

    def distance_ticks(self) -> tuple[tuple[float, str], ...]:
        """Round distances: (station [m], words)."""
        size = self.shown.units.distance[1]
        ticks = nice_ticks(0.0, self.trip.road.length_m / size, most=self.layout.most_x_ticks)
        decimals = 0 if all(abs(t - round(t)) < 1e-6 for t in ticks) else 1
        return tuple((t * size, self.shown.number(t, decimals)) for t in ticks)

    def distance_axis(self, y: float) -> tuple[Markup, float]:
        """The numbers of the distance axis under a plot that ends at y, and where the next thing may
        start."""
        font = self.layout.font
        base = y + font + 3.0
        unit = self.shown.units.distance[0]
        label = self.shown.words("strip.distance", unit=unit)
        right_end = self.plot_right - text_width(label, font) - 24
        numbers = [
            self.text(self.x_at(s), base, t, text_anchor="middle", fill=MUTED)
            for s, t in self.distance_ticks()
            if self.x_at(s) < right_end
        ]
        return join(
            [*numbers, self.text(self.plot_right, base, label, text_anchor="end", fill=MUTED)]
        ), base + 7.0


def panel_frame(
    sheet: Sheet,
    top: float,
    *,
    title: str,
    keys: Sequence[Key],
    low: float,
    high: float,
    height: float,
    most_ticks: int,
    suffix: str = "",
    gap: float = 0.0,
) -> Frame:
    """Title, key, horizontal lines with numbers, vertical hairlines; values low..high over `height` units.

    gap: room kept free between the title and the plot.
    """
    layout = sheet.layout
    head, plot_top = _header(sheet, top, title, keys)
    plot_top += gap
    plot_bottom = plot_top + height * layout.height_scale

    def y(values: FloatArray) -> FloatArray:
        return np.asarray(
            plot_bottom - (values - low) / (high - low) * (plot_bottom - plot_top), dtype=np.float64
        )

    lines = []
    for tick in nice_ticks(low, high, most=most_ticks):
        at = float(y(np.float64(tick)))  # type: ignore[arg-type]
        lines.append(tag("path", d=f"M{layout.left:.1f},{at:.1f}H{sheet.plot_right:.1f}", stroke=HAIRLINE))
        lines.append(
            sheet.text(
                layout.left - 6,
                at + 0.35 * layout.font,
                sheet.shown.number(tick) + suffix,
                text_anchor="end",
                fill=MUTED,
            )
        )
    for station_m, _ in sheet.distance_ticks():
        lines.append(
            tag("path", d=f"M{sheet.x_at(station_m):.1f},{plot_top:.1f}V{plot_bottom:.1f}", stroke="#e4e7ea")
        )
    lines.append(
        tag(
            "path",
            d=f"M{layout.left:.1f},{plot_top:.1f}V{plot_bottom:.1f}H{sheet.plot_right:.1f}",
            fill="none",
            stroke=MUTED,
        )
    )
    return Frame(join([head, *lines]), plot_top, plot_bottom, y)


def _header(sheet: Sheet, top: float, title: str, keys: Sequence[Key]) -> tuple[Markup, float]:
    """Title and key entries, flowing onto more lines where the layout is narrow."""
    font = sheet.layout.font
    line_height = font * 1.45
    x, y = 2.0 + 1.1 * text_width(title, font * 1.08) + 20.0, top + font
    parts = [sheet.text(2.0, y, title, font_weight=700, font_size=font * 1.08)]
    for key in keys:
        width = 26.0 + text_width(key.label, font) + 14.0
        if x + width > sheet.layout.width and x > 10:
            x, y = 2.0, y + line_height
        parts.append(tag("path", d=f"M{x:.1f},{y - 0.32 * font:.1f}h22", **{"fill": "none", **key.line}))
        parts.append(sheet.text(x + 26.0, y, key.label))
        x += width
    return join(parts), y + 0.65 * font


def framed(parts: Sequence[Markup], frame: Frame) -> Panel:
    """A panel of a frame and what is drawn in it."""
    return Panel(join([frame.drawn, *parts]), frame.bottom, (frame.top, frame.bottom))
