# SPDX-License-Identifier: MIT
"""The strip's panels of the drive: speed, gear and retarder, brake temperature, stopping distance."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from markupsafe import Markup

from descent.report.leg_words import retarder_words
from descent.report.strip_sheet import EMERGENCY, Key, Panel, Sheet, framed, panel_frame
from descent.report.svg import ACCENT, ALARM, INK, MUTED, PAPER, join, path_of, tag, text_width
from descent.report.thin import runs_of, thin_line
from descent.report.trip import FloatArray, RiskBand

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
_BAND = {"stroke": "#e3d3c4", "stroke_width": 9}
_MIDDLE = {"stroke": "#8a5a2b", "stroke_width": 1.2}
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
    named = {s: retarder_words(_as_stage(s), trip, sheet.shown) if s else "" for s in set(trace.retarder_stage)}
    stages = tuple(named[s] for s in trace.retarder_stage)
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
    band = trip.risk_band
    if band is not None:
        drawn.append(band.p95_c)
    highest = max([float(np.nanmax(t)) for t in drawn] + ([limit_c] if limit_c is not None else []))
    looks = [AXLE_LOOKS[i % len(AXLE_LOOKS)] for i in range(len(axles))]
    keys = [Key(words.said(name), look) for (name, _, _), look in zip(axles, looks, strict=True)]
    if trace.emergency_temp_c is not None:
        keys.append(Key(words("strip.emergency"), EMERGENCY))
    if band is not None:
        keys += [Key(words("strip.risk_band"), _BAND), Key(words("strip.risk_middle"), _MIDDLE)]
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
    lines = [] if band is None else _risk_lines(sheet, band, lambda temp_c: frame.y(factor * temp_c + offset))
    lines += [
        sheet.line(trace.station_m, frame.y(factor * temps + offset), **look)
        for (_, _, temps), look in zip(axles, looks, strict=True)
    ]
    if trace.emergency_temp_c is not None:
        lines.append(
            sheet.line(trace.station_m, frame.y(factor * trace.emergency_temp_c + offset), **EMERGENCY)
        )
    if limit_c is not None:
        levels = [(limit_c, _LIMIT)]
        if trip.margin_c is not None:
            levels.append((limit_c - trip.margin_c, _MARGIN))
        for level_c, look in levels:
            y = float(frame.y(np.array([factor * level_c + offset]))[0])
            lines.append(tag("path", d=f"M{sheet.layout.left:.1f},{y:.1f}H{sheet.plot_right:.1f}", **look))
    return framed(lines, frame)


def _risk_lines(sheet: Sheet, band: RiskBand, y: Callable[[FloatArray], FloatArray]) -> list[Markup]:
    """The 5th to the 95th percentile of the hottest brake as a wash, the 50th as a line."""
    x, upper, lower = sheet.x(band.station_m), y(band.p95_c), y(band.p05_c)
    up, low = thin_line(x, upper, tolerance=0.4), thin_line(x, lower, tolerance=0.4)
    outline = path_of(np.append(x[up], x[low][::-1]), np.append(upper[up], lower[low][::-1]))
    return [tag("path", d=outline + "z", fill=_BAND["stroke"], class_="risk-band"),
            sheet.line(band.station_m, y(band.p50_c), **_MIDDLE)]


def stopping_panel(sheet: Sheet, top: float) -> Panel:
    """How far a full stop takes from the speed on the way, reaction included."""
    shown, trace = sheet.shown, sheet.trip.trace
    if trace is None or trace.stopping_distance_m is None or not np.isfinite(trace.stopping_distance_m).any():
        return Panel(Markup(""), top, None)
    symbol, unit = shown.units.short
    stop = trace.stopping_distance_m / unit
    frame = panel_frame(
        sheet,
        top,
        title=shown.words("strip.stopping", unit=symbol),
        keys=[Key(shown.words("strip.stopping_line"), _RUNNING)],
        low=0.0,
        high=1.1 * float(np.nanmax(stop)),
        height=90.0,
        most_ticks=4,
    )
    return framed([sheet.line(trace.station_m, frame.y(stop), **_RUNNING)], frame)
