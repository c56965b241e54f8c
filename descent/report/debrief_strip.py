# SPDX-License-Identifier: MIT
"""The debrief's strip: road, speed, gear, brake power and temperature on one distance axis, drive over plan."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from markupsafe import Markup

from descent.report.debrief_document import OUT_OF_GEAR
from descent.report.shown import Shown
from descent.report.strip_sheet import NARROW, WIDE, Key, Layout, Panel, Sheet, framed, panel_frame
from descent.report.svg import ACCENT, ALARM, INK, MUTED, PAPER, decimal, join, tag, text_width
from descent.report.thin import runs_of
from descent.report.trip import FloatArray, read_trip
from descent.units import HORSEPOWER_W, UnitSystem

Document = Mapping[str, Any]
_GAP = 12.0
_DRIVEN = {"stroke": ACCENT, "stroke_width": 1.5}
_PLAN = {"stroke": "#b34700", "stroke_width": 1.6, "stroke_dasharray": "6 3"}
_CONTROL = {"stroke": INK, "stroke_width": 3.0}
_LIMIT = {"stroke": ALARM, "stroke_width": 2.2}
_BAND = "#c3d7e2"
_BRAKES = "#8c4a4a"
_WORD = {1.0: "kW", HORSEPOWER_W / 1000.0: "hp"}


@dataclass(frozen=True)
class _View:
    """The sheet and the columns that are drawn on it: samples of the drive (n,), plan (m,) or None."""

    sheet: Sheet
    document: Document
    station_m: FloatArray

    def column(self, name: str) -> FloatArray:
        """A column of the drive, NaN where there is none."""
        return np.array([np.nan if value is None else value for value in self.document["series"][name]], dtype=float)

    def planned(self, name: str) -> FloatArray | None:
        """A column of the plan as written."""
        plan = self.document["planned"]
        return None if plan is None else np.array(plan[name], dtype=float)


def debrief_strips(document: Document, shown: Shown) -> Markup:
    """Both versions of the strip, wide and narrow; the style sheet shows the one that fits."""
    return join([_strip(document, shown, WIDE), _strip(document, shown, NARROW)])


def _strip(document: Document, shown: Shown, layout: Layout) -> Markup:
    trip = read_trip({"profile": document["profile"], "route": document["route"], "feasible": False})
    sheet = Sheet(trip, shown, layout)
    view = _View(sheet, document, np.array(document["series"]["station_m"], dtype=float))
    panels, y = [], -_GAP
    for draw in (_height, _speed, _gear, _power, _temperature):
        panel = draw(view, y + _GAP)
        panels.append(panel)
        y = panel.bottom
    axis, height = sheet.distance_axis(y)
    plots = [panel.plot for panel in panels if panel.plot is not None]
    cursor = tag("g", tag("path", d="".join(f"M0,{a:.1f}V{b:.1f}" for a, b in plots), stroke=INK, stroke_width=2.0),
                 class_="cursor")
    words, name = shown.words, f"strip-{layout.name}"
    head = [tag("title", words("debrief.strip.title"), id=f"{name}-title"),
            tag("desc", words("debrief.strip.desc"), id=f"{name}-desc")]
    marks = _marks(view, plots)
    return tag("svg", join([*head, *(panel.drawn for panel in panels), axis, marks,
                            *(panel.over for panel in panels if panel.over is not None), cursor]),
               class_=f"strip {layout.name}", viewBox=f"0 0 {layout.width:.0f} {height:.0f}", role="img",
               aria_labelledby=f"{name}-title {name}-desc", data_left=layout.left, data_right=sheet.plot_right,
               data_width=layout.width, data_length=round(trip.road.length_m, 1))


def _marks(view: _View, plots: list[tuple[float, float]]) -> Markup:
    """Thin lines where a leg starts and, dashed, where a stop is planned or was made."""
    places: list[tuple[float, str, str | None]] = [(leg["start_m"], INK, None) for leg in view.document["legs"]]
    places += [(stop["station_m"], MUTED, "2 3") for stop in view.document["stops"]]
    return join(tag("path", d="".join(f"M{view.sheet.x_at(at):.1f},{a:.1f}V{b:.1f}" for a, b in plots), stroke=colour,
                    stroke_width=0.9, stroke_dasharray=dash) for at, colour, dash in places)


def _height(view: _View, top: float) -> Panel:
    sheet, shown = view.sheet, view.sheet.shown
    symbol, unit = shown.units.height
    road = sheet.trip.road
    height = road.elevation_m / unit
    low, high = float(height.min()), float(height.max())
    pad = 0.08 * max(high - low, 1.0)
    frame = panel_frame(sheet, top, title=shown.words("debrief.strip.height", unit=symbol), keys=[], low=low - pad,
                        high=high + pad, height=64.0, most_ticks=3)
    return framed([sheet.line(road.station_m, frame.y(height), stroke=INK, stroke_width=2)], frame)


def _speed(view: _View, top: float) -> Panel:
    sheet, words = view.sheet, view.sheet.shown.words
    symbol, unit = sheet.shown.units.speed
    driven, control, plan = view.column("speed_mps"), view.column("control_speed_mps"), view.planned("speed_mps")
    found = [column for column in (driven, control, plan) if column is not None and np.isfinite(column).any()]
    keys = [Key(words("debrief.strip.driven"), _DRIVEN)]
    if plan is not None:
        keys += [Key(words("debrief.strip.control"), _CONTROL), Key(words("debrief.strip.plan"), _PLAN)]
    frame = panel_frame(sheet, top, title=words("debrief.strip.speed", unit=symbol), keys=keys, low=0.0,
                        high=1.1 * max(float(np.nanmax(column)) for column in found) / unit, height=130.0, most_ticks=5)
    lines = []
    for leg in view.document["legs"]:
        y = float(frame.y(np.array([leg["control_speed_mps"] / unit]))[0])
        lines.append(tag("path", d=f"M{sheet.x_at(leg['start_m']):.1f},{y:.1f}H{sheet.x_at(leg['end_m']):.1f}", **_CONTROL))
    if plan is not None:
        lines.append(sheet.line(np.array(view.document["planned"]["station_m"]), frame.y(plan / unit),
                                **{**_PLAN, "stroke_width": 1.0}))
    return framed([*lines, sheet.line(view.station_m, frame.y(driven / unit), **_DRIVEN)], frame)


def _gear(view: _View, top: float) -> Panel:
    """Gears as named bars."""
    sheet, words, font = view.sheet, view.sheet.shown.words, view.sheet.layout.font
    known = view.document["recording"]["has_engine_speed"]
    title = words("debrief.strip.gear_known" if known else "debrief.strip.gear_assumed")
    parts = [sheet.text(2.0, top + font, title, font_weight=700, font_size=font * 1.08)]
    y, tall = top + font * 1.65, font * 1.75
    values = tuple(value or "" for value in view.document["series"]["gear"])
    for number, (value, first, last) in enumerate(runs_of(values)):
        x0, x1 = sheet.x_at(view.station_m[first]), sheet.x_at(view.station_m[min(last + 1, len(values) - 1)])
        out = value == OUT_OF_GEAR
        fill = "#f3d9d6" if out else ("#e8edf1", PAPER)[number % 2]
        parts.append(tag("rect", x=x0, y=y, width=max(x1 - x0, 0.8), height=tall, stroke=INK, stroke_width=1, fill=fill))
        label = words.said(value) or words("none")
        if text_width(label, font) + 3 <= x1 - x0:
            parts.append(sheet.text((x0 + x1) / 2, y + 0.5 * tall + 0.36 * font, label, text_anchor="middle", font_weight=600))
    return Panel(Markup(""), y + tall, (y, y + tall), join(parts))


def _power(view: _View, top: float) -> Panel:
    """Mean power of the service brakes over short stretches of road, as bars."""
    sheet, words = view.sheet, view.sheet.shown.words
    unit_kw = HORSEPOWER_W / 1000.0 if sheet.shown.units.system is UnitSystem.US else 1.0
    edges, mean_w = _binned_power(view)
    shown_power = mean_w / 1000.0 / unit_kw
    frame = panel_frame(sheet, top, title=words("debrief.strip.power", unit=_WORD[unit_kw]), keys=[], low=0.0,
                        high=1.1 * max(float(shown_power.max()), 10.0), height=80.0, most_ticks=4)
    tops = frame.y(shown_power)
    d = "".join(f"M{decimal(sheet.x_at(a))},{decimal(frame.bottom)}V{decimal(float(y))}H{decimal(sheet.x_at(b))}"
                f"V{decimal(frame.bottom)}Z" for a, b, y, power in zip(edges[:-1], edges[1:], tops, mean_w, strict=True)
                if power > 0.0)
    return framed([tag("path", d=d, fill=_BRAKES, stroke="none")] if d else [], frame)


def _binned_power(view: _View) -> tuple[FloatArray, FloatArray]:
    """Edges (k + 1,) [m] of equal stretches and the mean brake power (k,) [W] while driving over each."""
    time, power = view.column("time_s"), view.column("brake_power_w")
    seconds, still = np.diff(time), np.array(view.document["series"]["standing"], dtype=bool)[:-1]
    edges = np.linspace(0.0, view.sheet.trip.road.length_m, 161 if view.sheet.layout.name == "wide" else 81)
    middle = 0.5 * (view.station_m[1:] + view.station_m[:-1])
    at = np.clip(np.searchsorted(edges, middle, side="right") - 1, 0, len(edges) - 2)
    weight = np.where(still, 0.0, seconds)
    energy = np.bincount(at, power[:-1] * weight, len(edges) - 1)
    lasting = np.bincount(at, weight, len(edges) - 1)
    return edges, energy / np.maximum(lasting, 1e-9)


def _temperature(view: _View, top: float) -> Panel:
    """The hottest axle's brakes with their band, the plan's and the limit."""
    sheet, shown, words = view.sheet, view.sheet.shown, view.sheet.shown.words
    axle = view.document["hottest_axle"]
    factor, offset = shown.units.temperature(1.0) - shown.units.temperature(0.0), shown.units.temperature(0.0)
    limit_c = view.document["limits"]["brake_temp_c"]
    series = view.document["series"]
    temps, low, high = (np.array(series[name][axle], dtype=float)
                        for name in ("brake_temp_c", "brake_temp_low_c", "brake_temp_high_c"))
    plan = None if view.document["planned"] is None else np.array(view.document["planned"]["brake_temp_c"][axle])
    highest = max(float(high.max()), limit_c, float(plan.max()) if plan is not None else 0.0)
    keys = [Key(words("debrief.strip.driven"), {**_DRIVEN, "stroke_width": 2.2}),
            Key(words("debrief.strip.band"), {"stroke": _BAND, "stroke_width": 9})]
    if plan is not None:
        keys.append(Key(words("debrief.strip.plan"), _PLAN))
    keys.append(Key(words("debrief.strip.limit", value=shown.temperature(limit_c)), _LIMIT))
    frame = panel_frame(sheet, top, title=words("debrief.strip.temperature", axle=words.said(axle), unit=shown.units.temperature_symbol),
                        keys=keys, low=min(offset, factor * float(low.min()) + offset), high=1.05 * (factor * highest + offset),
                        height=150.0, most_ticks=6)
    y = float(frame.y(np.array([factor * limit_c + offset]))[0])
    lines = [_band(sheet, view.station_m, frame.y(factor * low + offset), frame.y(factor * high + offset)),
             tag("path", d=f"M{sheet.layout.left:.1f},{y:.1f}H{sheet.plot_right:.1f}", **_LIMIT)]
    if plan is not None:
        lines.append(sheet.line(np.array(view.document["planned"]["station_m"]), frame.y(factor * plan + offset), **_PLAN))
    lines.append(sheet.line(view.station_m, frame.y(factor * temps + offset), **{**_DRIVEN, "stroke_width": 2.2}))
    return framed(lines, frame)


def _band(sheet: Sheet, station_m: FloatArray, low: FloatArray, high: FloatArray) -> Markup:
    """A filled band, thinned to one point for each picture unit and a half: outward, so that it only grows."""
    x = sheet.x(station_m)
    cell = np.floor((x - x[0]) / 1.5).astype(int)
    starts = np.append(0, np.flatnonzero(np.diff(cell)) + 1)
    at = x[starts]
    upper, lower = np.minimum.reduceat(high, starts), np.maximum.reduceat(low, starts)
    points = [f"{decimal(float(a))},{decimal(float(b))}" for a, b in zip(at, upper, strict=True)]
    points += [f"{decimal(float(a))},{decimal(float(b))}" for a, b in zip(at[::-1], lower[::-1], strict=True)]
    return tag("path", d="M" + " ".join(points) + "Z", fill=_BAND, stroke="none")
