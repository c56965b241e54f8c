# SPDX-License-Identifier: MIT
"""The strip's panels of the drive: speed, gear and retarder, brake temperature, application pressure."""

from __future__ import annotations

import numpy as np
from markupsafe import Markup

from descent.report.leg_words import retarder_words
from descent.report.strip_sheet import Key, Panel, Sheet, framed, panel_frame
from descent.report.svg import ACCENT, ALARM, INK, MUTED, PAPER, join, tag, text_width
from descent.report.thin import runs_of
from descent.report.trip import FloatArray

# One look per axle: colour and dash, so that they stay apart in grey (hues of Okabe and Ito's set, darkened).
AXLE_LOOKS: tuple[dict[str, object], ...] = (
    {"stroke": "#0b4f6c", "stroke_width": 2},
    {"stroke": "#b34700", "stroke_width": 2, "stroke_dasharray": "9 3"},
    {"stroke": "#5b2a86", "stroke_width": 2.4, "stroke_dasharray": "2 2.4"},
    {"stroke": "#00694e", "stroke_width": 2, "stroke_dasharray": "12 3 2 3"},
    {"stroke": "#333333", "stroke_width": 1.4},
    {"stroke": "#8a6d00", "stroke_width": 2, "stroke_dasharray": "5 4"},
)
_LIMIT = {"stroke": ALARM, "stroke_width": 2.2}
_MARGIN = {"stroke": ALARM, "stroke_width": 1.1, "stroke_dasharray": "1.5 3"}
_EMERGENCY = {"stroke": ALARM, "stroke_width": 1.4, "stroke_dasharray": "6 3"}
_CONTROL = {"stroke": INK, "stroke_width": 3.2}
_POSTED = {"stroke": MUTED, "stroke_width": 1.6, "stroke_dasharray": "7 4"}
_CURVE = {"stroke": ALARM, "stroke_width": 1.8, "stroke_dasharray": "2 3"}
_RUNNING = {"stroke": ACCENT, "stroke_width": 1.3}


def speed_panel(sheet: Sheet, top: float) -> Panel:
    """The speed on the way with what limits it."""
    trip, shown, words = sheet.trip, sheet.shown, sheet.shown.words
    symbol, unit = shown.units.speed
    road, trace = trip.road, trip.trace
    running = None if trace is None else trace.speed_mps
    curve = _telling_curves(sheet)
    found = [a for a in (running, road.posted_limit_mps, curve) if a is not None]
    top_speed = max((float(np.nanmax(a)) for a in found if np.isfinite(a).any()), default=25.0) / unit
    keys = []
    if trip.legs:
        keys.append(Key(words("strip.control"), _CONTROL))
    if running is not None:
        keys.append(Key(words("strip.speed_line"), _RUNNING))
    if np.isfinite(road.posted_limit_mps).any():
        keys.append(Key(words("strip.posted"), _POSTED))
    if np.isfinite(curve).any():
        keys.append(Key(words("strip.curve"), _CURVE))
    frame = panel_frame(
        sheet,
        top,
        title=words("strip.speed", unit=symbol),
        keys=keys,
        low=0.0,
        high=1.08 * top_speed,
        height=120.0,
        most_ticks=5,
    )
    lines = [
        sheet.line(road.station_m, frame.y(road.posted_limit_mps / unit), **_POSTED),
        sheet.line(road.station_m, frame.y(curve / unit), **_CURVE),
    ]
    if trace is not None and running is not None:
        lines.append(sheet.line(trace.station_m, frame.y(running / unit), **_RUNNING))
    for leg in trip.legs:
        y = float(frame.y(np.array([leg["control_speed_mps"] / unit]))[0])
        lines.append(
            tag(
                "path",
                d=f"M{sheet.x_at(leg['start_m']):.1f},{y:.1f}H{sheet.x_at(leg['end_m']):.1f}",
                **_CONTROL,
            )
        )
    return framed(lines, frame)


def _telling_curves(sheet: Sheet) -> FloatArray:
    """Curve limits [m/s] near or below what holds there anyway; elsewhere NaN: a wide curve says nothing."""
    road = sheet.trip.road
    held = np.where(np.isfinite(road.posted_limit_mps), road.posted_limit_mps, 25.0)
    for leg in sheet.trip.legs:
        inside = (road.station_m >= leg["start_m"]) & (road.station_m <= leg["end_m"])
        held[inside] = np.minimum(held[inside], leg["control_speed_mps"])
    telling = np.isfinite(road.curve_limit_mps) & (road.curve_limit_mps < 1.1 * held)
    return np.where(telling, road.curve_limit_mps, np.nan)


def gear_panel(sheet: Sheet, top: float) -> Panel:
    """Gear and retarder stage as named bars."""
    trip, words, font = sheet.trip, sheet.shown.words, sheet.layout.font
    trace = trip.trace
    if trace is None:
        return Panel(Markup(""), top, None)
    parts = [sheet.text(2.0, top + font, words("strip.gear"), font_weight=700, font_size=font * 1.08)]
    first_y = y = top + font * 1.65
    tall = font * 1.75
    stages = tuple(retarder_words(_as_stage(s), trip, sheet.shown) if s else "" for s in trace.retarder_stage)
    for values, key in ((trace.gear, "strip.gear_bar"), (stages, "strip.retarder_bar")):
        for number, (value, first, last) in enumerate(runs_of(values)):
            x0, x1 = (
                sheet.x_at(trace.station_m[first]),
                sheet.x_at(trace.station_m[min(last + 1, len(values) - 1)]),
            )
            parts.append(
                tag(
                    "rect",
                    x=x0,
                    y=y,
                    width=max(x1 - x0, 0.8),
                    height=tall,
                    stroke=INK,
                    stroke_width=1,
                    fill=("#e8edf1", PAPER)[number % 2],
                )
            )
            choices = (words(key, value=value), value) if value else (words("strip.free"), words("none"))
            parts.append(_bar_label(sheet, (x0 + x1) / 2, y + 0.5 * tall, x1 - x0, choices))
        y += tall + 4.0 if values else 0.0
    return Panel(Markup(""), y, (first_y, y - 4.0), join(parts))


def _bar_label(sheet: Sheet, x: float, y: float, room: float, choices: tuple[str, ...]) -> Markup:
    """The longest of the choices that fits."""
    font = sheet.layout.font
    for label in choices:
        if text_width(label, font) + 3 <= room:
            return sheet.text(x, y + 0.36 * font, label, text_anchor="middle", font_weight=600)
    return Markup("")


def _as_stage(text: str) -> object:
    return int(text) if text.isdigit() else text


def temperature_panel(sheet: Sheet, top: float) -> Panel:
    """Each axle's brakes, the same with one emergency stop added, and the limit."""
    trip, shown, words = sheet.trip, sheet.shown, sheet.shown.words
    trace, limit_c = trip.trace, trip.limit("brake_temp_c")
    if trace is None or not trace.brake_temp_c:
        return Panel(Markup(""), top, None)
    axles = [
        (name, shown.units.temperature(1.0) - shown.units.temperature(0.0), temps)
        for name, temps in trace.brake_temp_c.items()
    ]
    factor, offset = axles[0][1], shown.units.temperature(0.0)
    drawn = [temps for _, _, temps in axles]
    if trace.emergency_temp_c is not None:
        drawn.append(trace.emergency_temp_c)
    highest = max([float(np.nanmax(t)) for t in drawn] + ([limit_c] if limit_c is not None else []))
    looks = [AXLE_LOOKS[i % len(AXLE_LOOKS)] for i in range(len(axles))]
    keys = [Key(name, look) for (name, _, _), look in zip(axles, looks, strict=True)]
    if trace.emergency_temp_c is not None:
        keys.append(Key(words("strip.emergency"), _EMERGENCY))
    if limit_c is not None:
        keys.append(Key(words("strip.limit", value=shown.temperature(limit_c)), _LIMIT))
        if trip.margin_c is not None:
            keys.append(Key(words("strip.margin", value=shown.margin(trip.margin_c)), _MARGIN))
    frame = panel_frame(
        sheet,
        top,
        title=words("strip.temperature", unit=shown.units.temperature_symbol),
        keys=keys,
        low=min(offset, factor * min(float(np.nanmin(t)) for t in drawn) + offset),
        high=1.06 * (factor * highest + offset),
        height=150.0,
        most_ticks=6,
    )
    lines = [
        sheet.line(trace.station_m, frame.y(factor * temps + offset), **look)
        for (_, _, temps), look in zip(axles, looks, strict=True)
    ]
    if trace.emergency_temp_c is not None:
        lines.append(
            sheet.line(trace.station_m, frame.y(factor * trace.emergency_temp_c + offset), **_EMERGENCY)
        )
    if limit_c is not None:
        levels = [(limit_c, _LIMIT)]
        if trip.margin_c is not None:
            levels.append((limit_c - trip.margin_c, _MARGIN))
        for level_c, look in levels:
            y = float(frame.y(np.array([factor * level_c + offset]))[0])
            lines.append(tag("path", d=f"M{sheet.layout.left:.1f},{y:.1f}H{sheet.plot_right:.1f}", **look))
    return framed(lines, frame)


def pressure_panel(sheet: Sheet, top: float) -> Panel:
    """The application pressure on the way and the one that means fade."""
    shown, trace = sheet.shown, sheet.trip.trace
    if trace is None or trace.application_kpa is None:
        return Panel(Markup(""), top, None)
    symbol, unit = shown.units.pressure
    highest = float(np.nanmax(trace.application_kpa))
    keys = [Key(shown.words("strip.application"), {"stroke": ACCENT, "stroke_width": 2})]
    if trace.fade_kpa is not None:
        highest = max(highest, float(np.nanmax(trace.fade_kpa)))
        keys.append(Key(shown.words("strip.fade"), _EMERGENCY))
    frame = panel_frame(
        sheet,
        top,
        title=shown.words("strip.pressure", unit=symbol),
        keys=keys,
        low=0.0,
        high=max(1.1 * highest, 50.0) / unit,
        height=90.0,
        most_ticks=4,
    )
    lines = [
        sheet.line(trace.station_m, frame.y(trace.application_kpa / unit), stroke=ACCENT, stroke_width=1.2)
    ]
    if trace.fade_kpa is not None:
        fade_kpa = bridged(trace.station_m, trace.fade_kpa)
        lines.append(sheet.line(trace.station_m, frame.y(fade_kpa / unit), **_EMERGENCY))
    return framed(lines, frame)


def bridged(station_m: FloatArray, pressure_kpa: FloatArray, *, gap_m: float = 500.0) -> FloatArray:
    """A pressure known only while braking (0 in between) as a level: straight over gaps up to `gap_m`, else
    NaN."""
    known = np.flatnonzero(pressure_kpa > 0.0)
    if len(known) == 0:
        return np.full_like(pressure_kpa, np.nan)
    level = np.interp(station_m, station_m[known], pressure_kpa[known])
    at = np.searchsorted(station_m[known], station_m, side="left")
    after = station_m[known[np.minimum(at, len(known) - 1)]]
    before = station_m[known[np.maximum(at - 1, 0)]]
    near = (after >= station_m) & ((after - before <= gap_m) | (after == station_m))
    return np.where((pressure_kpa > 0.0) | (near & (before <= station_m)), level, np.nan)
