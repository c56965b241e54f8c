# SPDX-License-Identifier: MIT
"""The strip: stacked panels on one distance axis, drawn wide and narrow, complete without scripts."""

from __future__ import annotations

from markupsafe import Markup

from descent.report.markers import drawing, leg_drawing, placed
from descent.report.ramps import useful_ramps
from descent.report.shown import Shown
from descent.report.strip_drive import gear_panel, pressure_panel, speed_panel, temperature_panel
from descent.report.strip_road import grade_panel, height_panel
from descent.report.strip_sheet import NARROW, WIDE, Layout, Sheet
from descent.report.svg import INK, MUTED, join, tag
from descent.report.trip import Trip

_PANEL_GAP = 12.0
_ROW = 21.0
_PANELS = (grade_panel, speed_panel, gear_panel, temperature_panel, pressure_panel)


def strips(trip: Trip, shown: Shown) -> Markup:
    """Both versions of the strip; the style sheet shows the one that fits."""
    return join([draw_strip(trip, shown, WIDE), draw_strip(trip, shown, NARROW)])


def draw_strip(trip: Trip, shown: Shown, layout: Layout) -> Markup:
    """One version of the strip as an SVG element.

    `data-left`, `data-right` (picture units) and `data-length` (metres) tell the page's script where the axis
    lies.
    """
    sheet = Sheet(trip, shown, layout)
    rows = _sign_rows(sheet)
    panels = [height_panel(sheet, 0.0, gap=_ROW * (1 + max((row for _, row, _ in rows), default=-1)) + 2.0)]
    axis, y = sheet.distance_axis(panels[0].bottom - 3.0)
    axes = [axis]
    for draw in _PANELS:
        panel = draw(sheet, y + _PANEL_GAP)
        if panel.plot is not None:
            panels.append(panel)
            y = panel.bottom
    axis, height = sheet.distance_axis(y)
    plots = [panel.plot for panel in panels if panel.plot is not None]
    head_bottom = layout.font * 1.65
    signs = join(placed(shapes, x, head_bottom + _ROW * (row + 0.5), size=20.0) for x, row, shapes in rows)
    cursor = tag(
        "g",
        tag("path", d="".join(f"M0,{a:.1f}V{b:.1f}" for a, b in plots), stroke=INK, stroke_width=2.0),
        class_="cursor",
    )
    body = [
        *(panel.drawn for panel in panels),
        *axes,
        axis,
        _threads(sheet, [(head_bottom, plots[0][1]), *plots[1:]]),
        *(panel.over for panel in panels if panel.over is not None),
    ]
    name = f"strip-{layout.name}"
    head = [
        tag("title", shown.words("strip.title"), id=f"{name}-title"),
        tag("desc", shown.words("strip.desc"), id=f"{name}-desc"),
    ]
    return tag(
        "svg",
        join([*head, *body, signs, cursor]),
        class_=f"strip {layout.name}",
        viewBox=f"0 0 {layout.width:.0f} {height:.0f}",
        role="img",
        aria_labelledby=f"{name}-title {name}-desc",
        data_left=layout.left,
        data_right=sheet.plot_right,
        data_width=layout.width,
        data_length=round(trip.road.length_m, 1),
    )


def _sign_rows(sheet: Sheet) -> list[tuple[float, int, Markup]]:
    """Signs above the first plot as (x, row, shapes), in as many rows as they need so that none covers
    another."""
    trip = sheet.trip
    marks = [(row["start_m"], drawing("crest")) for row in trip.rows("downgrades")]
    marks += [(place["station_m"], drawing("escape-ramp")) for place in useful_ramps(trip)]
    marks += [(stop["station_m"], drawing(str(stop["kind"]))) for stop in trip.stops]
    marks += [(leg["start_m"], leg_drawing(leg["number"])) for leg in trip.legs]
    taken: list[float] = []
    found = []
    for station_m, shapes in sorted(marks, key=lambda mark: mark[0]):
        x = sheet.x_at(station_m)
        row = next((i for i, right in enumerate(taken) if x - right >= _ROW + 1.0), len(taken))
        taken[row : row + 1] = [x]
        found.append((x, row, shapes))
    return found


def _threads(sheet: Sheet, spans: list[tuple[float, float]]) -> Markup:
    """Thin lines down through the plots where a leg starts and where a stop is."""
    legs = [(leg["start_m"], INK, None) for leg in sheet.trip.legs]
    stops = [(stop["station_m"], MUTED, "2 3") for stop in sheet.trip.stops]
    return join(
        tag(
            "path",
            d="".join(f"M{sheet.x_at(s):.1f},{a:.1f}V{b:.1f}" for a, b in spans),
            stroke=colour,
            stroke_width=0.9,
            stroke_dasharray=dash,
        )
        for s, colour, dash in legs + stops
    )
