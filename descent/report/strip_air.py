# SPDX-License-Identifier: MIT
"""The strip's panels of the air: the application pressure and its fade reading, the reservoirs and their warning."""

from __future__ import annotations

import numpy as np
from markupsafe import Markup

from descent.report.strip_sheet import EMERGENCY, Key, Panel, Sheet, framed, panel_frame
from descent.report.svg import ACCENT, ALARM, MUTED, tag
from descent.report.trip import FloatArray

_GOVERNOR: dict[str, object] = {"stroke": MUTED, "stroke_width": 1.4, "stroke_dasharray": "7 4"}
_WARNING: dict[str, object] = {"stroke": ALARM, "stroke_width": 2.2}


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
        keys.append(Key(shown.words("strip.fade"), EMERGENCY))
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
        lines.append(sheet.line(trace.station_m, frame.y(fade_kpa / unit), **EMERGENCY))
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


def reservoir_panel(sheet: Sheet, top: float) -> Panel:
    """The pressure in the reservoirs with the governor's cut-in and the low-air warning."""
    shown, trace, trip = sheet.shown, sheet.trip.trace, sheet.trip
    if trace is None or trace.reservoir_kpa is None:
        return Panel(Markup(""), top, None)
    symbol, unit = shown.units.pressure
    levels = [
        (trip.limit("reservoir_cut_in_kpa"), "strip.cut_in", _GOVERNOR),
        (trip.limit("reservoir_kpa"), "strip.low_air", _WARNING),
    ]
    known = [(kpa, key, look) for kpa, key, look in levels if kpa is not None]
    shown_kpa = [float(np.nanmin(trace.reservoir_kpa)), *(kpa for kpa, _, _ in known)]
    high = max(float(np.nanmax(trace.reservoir_kpa)), *shown_kpa)
    low = max(min(shown_kpa) - 0.12 * high, 0.0)
    line: dict[str, object] = {"stroke": ACCENT, "stroke_width": 1.3}
    frame = panel_frame(
        sheet,
        top,
        title=shown.words("strip.reservoir", unit=symbol),
        keys=[
            Key(shown.words("strip.reservoir_line"), line),
            *(Key(shown.words(key, value=shown.pressure(kpa)), look) for kpa, key, look in known),
        ],
        low=low / unit,
        high=1.04 * high / unit,
        height=90.0,
        most_ticks=4,
    )
    lines = [
        tag("path", d=f"M{sheet.layout.left:.1f},{y:.1f}H{sheet.plot_right:.1f}", **look)
        for kpa, _, look in known
        for y in (float(frame.y(np.array([kpa / unit]))[0]),)
    ]
    return framed([*lines, sheet.line(trace.station_m, frame.y(trace.reservoir_kpa / unit), **line)], frame)
