# SPDX-License-Identifier: MIT
"""The strip's panels of the road itself: height with downgrades and structures, grade with its band."""

from __future__ import annotations

import numpy as np
from markupsafe import Markup

from descent.report.grade_class import BREAKS, COLOURS, grade_runs
from descent.report.strip_sheet import Key, Panel, Sheet, framed, panel_frame
from descent.report.svg import ALARM, INK, MUTED, PAPER, join, nice_step, path_of, tag, text_width
from descent.report.thin import thin_line
from descent.report.trip import Row

# How far the height data is to be trusted, under the grade: dashes where less, a solid bar where little.
_FAIR: dict[str, object] = {"stroke": ALARM, "stroke_width": 5, "stroke_dasharray": "2 4"}
_POOR: dict[str, object] = {"stroke": ALARM, "stroke_width": 6}
_DOUBT = {"fair": _FAIR}


def height_panel(sheet: Sheet, top: float, *, gap: float) -> Panel:
    """The road's height, filled by class of grade, with brackets under it for downgrades and structures."""
    road, shown = sheet.trip.road, sheet.shown
    symbol, unit_m = shown.units.height
    height = road.elevation_m / unit_m
    low, high = float(np.min(height)), float(np.max(height))
    room = max(high - low, 30.0 / unit_m)
    step = nice_step(room, most=4)
    low, high = np.floor((low - 0.04 * room) / step) * step, high + 0.06 * room
    frame = panel_frame(
        sheet,
        top,
        title=shown.words("strip.height", unit=symbol),
        keys=(),
        low=low,
        high=high,
        height=150.0,
        most_ticks=5,
        gap=gap,
    )
    x, y = sheet.x(road.station_m), frame.y(height)
    fills = []
    for run in grade_runs(road.station_m, road.grade):
        part = np.arange(run.first, run.last + 1)
        part = part[thin_line(x[part], y[part], tolerance=0.3)]
        edge = path_of(x[part], y[part])
        fills.append(
            tag(
                "path", fill=COLOURS[run.grade_class], d=f"{edge}V{frame.bottom:.1f}H{float(x[part[0]]):.1f}z"
            )
        )
    ridge = sheet.line(road.station_m, y, stroke=INK, stroke_width=1.8)
    under, bottom = _brackets(sheet, frame.bottom + 6.0)
    return Panel(join([frame.drawn, *fills, ridge, under]), bottom, (frame.top, frame.bottom))


def _brackets(sheet: Sheet, top: float) -> tuple[Markup, float]:
    shown, font = sheet.shown, sheet.layout.font
    parts, y = [], top + 4.0
    for row in sheet.trip.rows("downgrades"):
        x0, x1 = sheet.x_at(row["start_m"]), sheet.x_at(row["end_m"])
        parts.append(
            tag(
                "path",
                d=f"M{x0:.1f},{y - 4:.1f}V{y:.1f}H{x1:.1f}V{y - 4:.1f}",
                fill="none",
                stroke=INK,
                stroke_width=1.6,
            )
        )
        long = shown.words(
            "strip.downgrade",
            number=row["number"],
            length=shown.distance(row["length_m"]),
            grade=shown.grade(row["mean_grade"]),
        )
        parts.append(_fitted(sheet, (x0 + x1) / 2, y + font + 1, x1 - x0, long, str(row["number"])))
    bottom = y + font + 6.0 if parts else top
    spans = [row for row in sheet.trip.rows("structures") if row.get("kind") in ("bridge", "tunnel")]
    if spans:
        y, last_right = bottom + 6.0, -1e9
        for row in spans:
            mark, last_right = _structure(sheet, row, y, last_right)
            parts.append(mark)
        bottom = y + font + 8.0
    return join(parts), bottom


def _structure(sheet: Sheet, row: Row, y: float, last_right: float) -> tuple[Markup, float]:
    """A tunnel as a solid bar, a bridge as an open one, named underneath where there is room."""
    font = sheet.layout.font
    x0, x1 = sheet.x_at(row["start_m"]), sheet.x_at(row["end_m"])
    x1 = max(x1, x0 + 4.0)
    solid = row["kind"] == "tunnel"
    bar = tag(
        "rect",
        x=x0,
        y=y - 3.0,
        width=x1 - x0,
        height=5.0,
        fill=INK if solid else PAPER,
        stroke=INK,
        stroke_width=1.4,
    )
    label = sheet.shown.words(f"structure.{row['kind']}")
    half = text_width(label, font) / 2
    middle = min(max((x0 + x1) / 2, half), sheet.layout.width - half)
    pushed = max(middle, last_right + 8 + half)
    if pushed - middle > half + 12 or pushed + half > sheet.layout.width:
        return bar, last_right
    middle = pushed
    return bar + sheet.text(middle, y + font + 4, label, text_anchor="middle", fill=MUTED), middle + half


def _fitted(sheet: Sheet, x: float, y: float, room: float, long: str, short: str) -> Markup:
    label = long if text_width(long, sheet.layout.font) <= room else short
    return sheet.text(x, y, label, text_anchor="middle", font_weight=600)


def grade_panel(sheet: Sheet, top: float) -> Panel:
    """Grade with its band of two standard deviations, and where the data is less trusted."""
    road, shown = sheet.trip.road, sheet.shown
    grade, band = 100.0 * road.grade, 200.0 * np.nan_to_num(road.grade_sd)
    low = min(float(np.nanmin(grade - band)), -100 * BREAKS[1])
    high = max(float(np.nanmax(grade + band)), 1.0)
    room = high - low
    keys = [
        Key(shown.words("strip.grade_line"), {"stroke": INK, "stroke_width": 1.8}),
        Key(shown.words("strip.grade_band"), {"stroke": "#b9c7d1", "stroke_width": 9}),
    ]
    doubtful = [(c, _DOUBT.get(str(c["level"]), _POOR)) for c in road.confidence if c.get("level") not in ("good", None)]
    if any(look is _FAIR for _, look in doubtful):
        keys.append(Key(shown.words("strip.fair"), _FAIR))
    if any(look is _POOR for _, look in doubtful):
        keys.append(Key(shown.words("strip.poor"), _POOR))
    frame = panel_frame(
        sheet,
        top,
        title=shown.words("strip.grade"),
        keys=keys,
        low=low - 0.04 * room,
        high=high + 0.04 * room,
        height=105.0,
        most_ticks=5,
        suffix="%",
    )
    x = sheet.x(road.station_m)
    upper, lower = frame.y(grade + band), frame.y(grade - band)
    keep_up, keep_low = thin_line(x, upper, tolerance=0.4), thin_line(x, lower, tolerance=0.4)
    outline = path_of(
        np.append(x[keep_up], x[keep_low][::-1]), np.append(upper[keep_up], lower[keep_low][::-1])
    )
    level = float(frame.y(np.zeros(1))[0])
    marks = [
        tag(
            "path",
            d=f"M{sheet.x_at(c['start_m']):.1f},{frame.bottom - 3:.1f}H{sheet.x_at(c['end_m']):.1f}",
            **look,
        )
        for c, look in doubtful
    ]
    return framed(
        [
            tag("path", d=outline + "z", fill="#b9c7d1"),
            tag("path", d=f"M{sheet.layout.left:.1f},{level:.1f}H{sheet.plot_right:.1f}", stroke=MUTED),
            sheet.line(road.station_m, frame.y(grade), stroke=INK, stroke_width=1.8),
            *marks,
        ],
        frame,
    )
