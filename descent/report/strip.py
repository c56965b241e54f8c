# SPDX-License-Identifier: MIT
"""The strip: stacked panels on one distance axis, drawn wide and narrow, complete without scripts."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from markupsafe import Markup

from descent.report.markers import drawing, leg_drawing, placed
from descent.report.ramps import useful_ramps
from descent.report.shown import Shown
from descent.report.strip_air import pressure_panel, reservoir_panel
from descent.report.strip_drive import gear_panel, speed_panel, stopping_panel, temperature_panel
from descent.report.strip_road import grade_panel, height_panel
from descent.report.strip_sheet import NARROW, WIDE, Layout, Panel, Sheet
from descent.report.svg import INK, MUTED, join, tag
from descent.report.trip import Trip

_PANEL_GAP = 12.0
_ROW = 21.0
# The rows under the road's height, which a reader may leave out, in their order.
_ROWS: tuple[tuple[str, Callable[[Sheet, float], Panel]], ...] = (
    ("grade", grade_panel),
    ("speed", speed_panel),
    ("gear", gear_panel),
    ("temperature", temperature_panel),
    ("stopping", stopping_panel),
    ("pressure", pressure_panel),
    ("reservoir", reservoir_panel),
)


@dataclass(frozen=True)
class Strip:
    """The strip, and its rows under the road's height as (name, words)."""

    drawn: Markup
    rows: tuple[tuple[str, str], ...]


def strips(trip: Trip, shown: Shown) -> Strip:
    """Both versions of the strip; the style sheet shows the one that fits."""
    wide, narrow = draw_strip(trip, shown, WIDE), draw_strip(trip, shown, NARROW)
    return Strip(join([wide.drawn, narrow.drawn]), wide.rows)


def draw_strip(trip: Trip, shown: Shown, layout: Layout) -> Strip:
    """One version of the strip as an SVG element.

    `data-left`, `data-right` (picture units) and `data-length` (metres) tell the page's script where the axis
    lies.
    """
    sheet = Sheet(trip, shown, layout)
    signs = _sign_rows(sheet)
    road = height_panel(sheet, 0.0, gap=_ROW * (1 + max((row for _, row, _ in signs), default=-1)) + 2.0)
    assert road.plot is not None
    head_bottom = layout.font * 1.65
    axis, y = sheet.distance_axis(road.bottom - 3.0)
    body = [road.drawn, axis, _threads(sheet, head_bottom, road.plot[0])]
    cursor = [_cursor_part(None, *road.plot)]
    rows = _panels(sheet, y)
    for row, panel, top in rows:
        assert panel.plot is not None
        parts = [panel.drawn, _threads(sheet, *panel.plot), panel.over or ""]
        body.append(tag("g", join(parts), data_row=row, data_space=panel.bottom - top))
        cursor.append(_cursor_part(row, *panel.plot))
        y = panel.bottom
    axis, height = sheet.distance_axis(y)
    body.append(tag("g", axis, data_row="axis"))
    placed_signs = join(
        placed(shapes, x, head_bottom + _ROW * (row + 0.5), size=20.0) for x, row, shapes in signs
    )
    name = f"strip-{layout.name}"
    head = [
        tag("title", shown.words("strip.title"), id=f"{name}-title"),
        tag("desc", shown.words("strip.desc"), id=f"{name}-desc"),
    ]
    picture = tag(
        "svg",
        join([*head, *body, placed_signs, tag("g", join(cursor), class_="cursor")]),
        class_=f"strip {layout.name}",
        viewBox=f"0 0 {layout.width:.0f} {height:.0f}",
        role="img",
        aria_labelledby=f"{name}-title {name}-desc",
        data_left=layout.left,
        data_right=sheet.plot_right,
        data_width=layout.width,
        data_length=round(trip.road.length_m, 1),
    )
    return Strip(picture, tuple((row, shown.words(f"strip.row.{row}")) for row, _, _ in rows))


def _panels(sheet: Sheet, y: float) -> list[tuple[str, Panel, float]]:
    """Each row that has something to draw, and where the one above it ends."""
    found = []
    for row, draw in _ROWS:
        panel = draw(sheet, y + _PANEL_GAP)
        if panel.plot is not None:
            found.append((row, panel, y))
            y = panel.bottom
    return found


def _cursor_part(row: str | None, top: float, bottom: float) -> Markup:
    return tag("path", d=f"M0,{top:.1f}V{bottom:.1f}", stroke=INK, stroke_width=2.0, data_row=row)


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


def _threads(sheet: Sheet, top: float, bottom: float) -> Markup:
    """Thin lines down through a plot where a leg starts and where a stop is."""
    legs = [(leg["start_m"], INK, None) for leg in sheet.trip.legs]
    stops = [(stop["station_m"], MUTED, "2 3") for stop in sheet.trip.stops]
    return join(
        tag(
            "path",
            d=f"M{sheet.x_at(station_m):.1f},{top:.1f}V{bottom:.1f}",
            stroke=colour,
            stroke_width=0.9,
            stroke_dasharray=dash,
        )
        for station_m, colour, dash in legs + stops
    )
