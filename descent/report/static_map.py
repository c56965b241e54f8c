# SPDX-License-Identifier: MIT
"""The map as a still SVG: what prints, and what shows where scripts do not run."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from markupsafe import Markup

from descent.report.contour_lines import ContourLine, contour_layer
from descent.report.grade_class import COLOURS, WIDTHS_PX, grade_runs
from descent.report.map_features import MapPoint, map_points
from descent.report.map_layout import Room, label_box, lay_out
from descent.report.map_window import MapWindow, mercator_x, mercator_y, route_window
from descent.report.markers import placed
from descent.report.shown import Shown
from descent.report.svg import INK, PAPER, join, nice_step, path_of, tag, text_width
from descent.report.thin import thin_line
from descent.report.trip import FloatArray, Hillshade, Trip

WIDTH = 960.0
_LABEL_PX = 14.0
_EARTH_M = 2 * math.pi * 6378137.0  # web-mercator's sphere: the world's width at the equator
HILLSHADE_ID = "hillshade"


def static_map(
    trip: Trip, shown: Shown, hillshade: Hillshade | None, contours: Sequence[ContourLine] = ()
) -> Markup:
    """The route over its relief and contours, with signs, labels and a scale bar; width 960, height by the route's
    shape."""
    window = route_window(trip)
    height = WIDTH * window.aspect
    x, y = _to_picture(window, trip.road.lon, trip.road.lat)
    points = map_points(trip, shown)
    px, py = _to_picture(window, np.array([p.lon for p in points]), np.array([p.lat for p in points]))
    points, steps = lay_out(points, px, py, Room(_LABEL_PX, WIDTH, height, x, y))
    feet_x, feet_y = px, py
    px, py = px + steps[:, 0], py + steps[:, 1]
    words = shown.words
    content = join(
        [
            tag("title", words("map.title"), id="map-title"),
            tag("desc", words("map.desc"), id="map-desc"),
            tag("rect", width=WIDTH, height=height, fill=PAPER),
            _relief(window, hillshade),
            contour_layer(contours, shown, window, WIDTH, np.column_stack([x, y])[:: max(1, len(x) // 2000)]),
            _route(trip, x, y),
            _leaders(feet_x, feet_y, px, py),
            join(
                placed(p.shapes, float(a), float(b) - p.lift, size=_size(p))
                for p, a, b in zip(points, px, py, strict=True)
            ),
            join(
                _label(p, float(a), float(b)) for p, a, b in zip(points, px, py, strict=True) if p.label_side
            ),
            _scale_bar(trip, shown, window, height),
        ]
    )
    return tag(
        "svg",
        content,
        class_="static-map",
        viewBox=f"0 0 {WIDTH:.0f} {height:.0f}",
        role="img",
        aria_labelledby="map-title map-desc",
        preserveAspectRatio="xMidYMid meet",
        data_bounds=" ".join(f"{edge:.6f}" for edge in window.bounds_lonlat),
    )


def _to_picture(window: MapWindow, lon: FloatArray, lat: FloatArray) -> tuple[FloatArray, FloatArray]:
    scale = WIDTH / (window.east - window.west)
    return (mercator_x(lon) - window.west) * scale, (mercator_y(lat) - window.north) * scale


def _size(point: MapPoint) -> float:
    return 15.0 if point.kind in ("milepost", "landmark", "other") else 23.0


def _relief(window: MapWindow, hillshade: Hillshade | None) -> Markup:
    if hillshade is None:
        return Markup("")
    x, y = _to_picture(
        window, np.array([hillshade.west, hillshade.east]), np.array([hillshade.north, hillshade.south])
    )
    return tag(
        "image",
        id=HILLSHADE_ID,
        href=hillshade.data_uri,
        x=float(x[0]),
        y=float(y[0]),
        width=float(x[1] - x[0]),
        height=float(y[1] - y[0]),
        preserveAspectRatio="none",
    )


def _route(trip: Trip, x: FloatArray, y: FloatArray) -> Markup:
    whole = thin_line(x, y, tolerance=0.5)
    outline = path_of(x[whole], y[whole])
    lines = [
        tag("path", d=outline, stroke=INK, stroke_width=WIDTHS_PX[-1] + 5),
        tag("path", d=outline, stroke=PAPER, stroke_width=WIDTHS_PX[-1] + 3.4),
    ]
    for run in grade_runs(trip.road.station_m, trip.road.grade):
        part = slice(run.first, run.last + 1)
        kept = thin_line(x[part], y[part], tolerance=0.4)
        lines.append(
            tag(
                "path",
                d=path_of(x[part][kept], y[part][kept]),
                stroke=COLOURS[run.grade_class],
                stroke_width=WIDTHS_PX[run.grade_class],
            )
        )
    return tag("g", join(lines), fill="none", stroke_linecap="round", stroke_linejoin="round")


def _leaders(from_x: FloatArray, from_y: FloatArray, to_x: FloatArray, to_y: FloatArray) -> Markup:
    """Short lines from the places to the signs that stepped aside."""
    moved = np.flatnonzero((from_x != to_x) | (from_y != to_y))
    d = "".join(f"M{from_x[i]:.1f},{from_y[i]:.1f}L{to_x[i]:.1f},{to_y[i]:.1f}" for i in moved)
    if not d:
        return Markup("")
    return join(
        [tag("path", d=d, stroke=PAPER, stroke_width=4.5), tag("path", d=d, stroke=INK, stroke_width=1.6)]
    )


def _label(point: MapPoint, x: float, y: float) -> Markup:
    box = label_box(x, y, point.label_side, text_width(point.label, _LABEL_PX), _LABEL_PX)
    anchor = {"right": "start", "left": "end"}.get(point.label_side, "middle")
    at = {"start": box[0], "end": box[2], "middle": (box[0] + box[2]) / 2}[anchor]
    return tag(
        "text",
        point.label,
        x=at,
        y=box[3] - 0.3 * _LABEL_PX,
        text_anchor=anchor,
        font_size=_LABEL_PX,
        font_weight=600,
        fill=INK,
        stroke=PAPER,
        stroke_width=3.5,
        stroke_linejoin="round",
        paint_order="stroke",
    )


def _scale_bar(trip: Trip, shown: Shown, window: MapWindow, height: float) -> Markup:
    middle_lat = math.radians(float(np.mean(trip.road.lat)))
    metres_per_px = (window.east - window.west) * _EARTH_M * math.cos(middle_lat) / WIDTH
    symbol, unit_m = shown.units.distance
    length = nice_step(metres_per_px * 170.0 / unit_m, most=1)
    while length * unit_m / metres_per_px > 210.0:
        length /= 2
    px, y = length * unit_m / metres_per_px, height - 16.0
    label = shown.unit(symbol, shown.number(length, 0 if length >= 1 else 2))
    bar = f"M16,{y - 7:.1f} V{y:.1f} H{16 + px:.1f} V{y - 7:.1f}"
    return join(
        [
            tag("path", d=bar, fill="none", stroke=PAPER, stroke_width=5),
            tag("path", d=bar, fill="none", stroke=INK, stroke_width=2),
            tag(
                "text",
                label,
                x=16 + px / 2,
                y=y - 7,
                text_anchor="middle",
                font_size=13.0,
                fill=INK,
                stroke=PAPER,
                stroke_width=3,
                paint_order="stroke",
            ),
        ]
    )
