# SPDX-License-Identifier: MIT
"""Contour lines as thin SVG under the route, every fifth thicker and labelled, within a budget of characters."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Protocol

import numpy as np
from markupsafe import Markup

from descent.report.map_window import MapWindow, mercator_x, mercator_y
from descent.report.shown import Shown
from descent.report.svg import join, tag, text_width
from descent.report.thin import thin_line
from descent.report.trip import FloatArray

CONTOURS_ID = "contours"
LABEL_PX = 10.5
_COLOUR = "#6b5a45"
_BUDGET = 90_000  # characters of path data
_TOLERANCES_PX = (0.35, 0.6, 1.0, 1.7, 3.0)
_LABEL_EVERY = 5
_ROOM_PX = 130.0  # between two labels
_MOST_LABELS = 40


class ContourLine(Protocol):
    """A line of equal height: height_m, lonlat (k, 2) [degree], higher ground on the left."""

    @property
    def height_m(self) -> float: ...
    @property
    def lonlat(self) -> FloatArray: ...


def contour_layer(
    lines: Sequence[ContourLine], shown: Shown, window: MapWindow, width_px: float, road: FloatArray
) -> Markup:
    """The layer in the picture of `window`, `width_px` wide; road: (n, 2) its points there, kept free of labels.

    Empty without lines.
    """
    if not lines:
        return Markup("")
    scale = width_px / (window.east - window.west)
    placed = [
        (line.height_m, (mercator_x(line.lonlat[:, 0]) - window.west) * scale,
         (mercator_y(line.lonlat[:, 1]) - window.north) * scale)
        for line in lines
    ]
    index_m = _LABEL_EVERY * _interval_m(sorted({line.height_m for line in lines}))
    labels = _labels([one for one in placed if _is_index(one[0], index_m)], shown, width_px, window, road)
    for tolerance in _TOLERANCES_PX:
        thin, thick = _paths(placed, index_m, tolerance)
        if len(thin) + len(thick) <= _BUDGET:
            break
    else:
        thin = ""
    look: dict[str, object] = {"fill": "none", "stroke": _COLOUR, "vector_effect": "non-scaling-stroke",
                               "transform": "scale(.1)"}
    return tag(
        "g",
        join([
            tag("path", d=thin, stroke_width=0.6, stroke_opacity=0.55, **look) if thin else "",
            tag("path", d=thick, stroke_width=1.1, stroke_opacity=0.75, **look) if thick else "",
            tag("g", labels, class_="contour-labels", font_size=LABEL_PX, fill="#4a3c2c", text_anchor="middle"),
        ]),
        id=CONTOURS_ID,
    )


def contour_words(lines: Sequence[ContourLine], shown: Shown) -> str:
    """What the lines on the map stand for; empty without lines."""
    if not lines:
        return ""
    step_m = _interval_m(sorted({line.height_m for line in lines}))
    return shown.words("map.contours", interval=shown.height(step_m), index=shown.height(_LABEL_EVERY * step_m))


def _interval_m(heights: Sequence[float]) -> float:
    steps = [b - a for a, b in pairwise(heights)]
    return min(steps, default=max(abs(heights[0]), 1.0))


def _is_index(height_m: float, index_m: float) -> bool:
    share = height_m / index_m
    return abs(share - round(share)) < 1e-6


def _paths(placed: Sequence[tuple[float, FloatArray, FloatArray]], index_m: float, tolerance: float) -> tuple[str, str]:
    """The path data of the ordinary and of the index contours, in tenths of a picture unit."""
    found: tuple[list[str], list[str]] = ([], [])
    for height_m, x, y in placed:
        kept = thin_line(x, y, tolerance=tolerance)
        points = np.round(10.0 * np.column_stack([x[kept], y[kept]])).astype(int)
        steps = np.diff(points, axis=0)
        drawn = "".join(f"{dx}{dy:+d}" if i == 0 else f"{dx:+d}{dy:+d}" for i, (dx, dy) in enumerate(steps.tolist()))
        found[int(_is_index(height_m, index_m))].append(f"M{points[0, 0]} {points[0, 1]}l{drawn}")
    return "".join(found[0]), "".join(found[1])


def _labels(
    placed: Sequence[tuple[float, FloatArray, FloatArray]], shown: Shown, width_px: float, window: MapWindow,
    road: FloatArray
) -> Markup:
    """Heights along the index contours, reading uphill, apart from one another and from the road."""
    taken: list[tuple[float, float]] = []
    parts: list[Markup] = []
    height_px = width_px * window.aspect
    for height_m, x, y in sorted(placed, key=lambda one: -len(one[1])):
        label = shown.number(height_m / shown.units.height[1])
        room = text_width(label, LABEL_PX) + 6.0
        lengths = np.hypot(np.diff(x), np.diff(y))
        along = np.concatenate([[0.0], np.cumsum(lengths)])
        if along[-1] < 3.0 * room or len(parts) >= _MOST_LABELS:
            continue
        for share in (0.5, 0.25, 0.75, 0.12, 0.88):
            at = share * along[-1]
            a, b, middle = ((float(np.interp(at + d, along, x)), float(np.interp(at + d, along, y)))
                            for d in (-room / 2, room / 2, 0.0))
            straight = math.dist(a, b) > 0.9 * room
            inside = room < middle[0] < width_px - room and 12 < middle[1] < height_px - 12
            alone = all(math.dist(middle, other) > _ROOM_PX for other in taken)
            off_road = float(np.min(np.hypot(road[:, 0] - middle[0], road[:, 1] - middle[1]))) > 26.0
            if straight and inside and alone and off_road:
                angle = math.degrees(math.atan2(b[1] - a[1], b[0] - a[0]))
                angle = (angle + 90.0) % 180.0 - 90.0
                taken.append(middle)
                parts.append(tag("text", label, dy="0.35em",
                                 transform=f"translate({middle[0]:.1f} {middle[1]:.1f}) rotate({angle:.0f})"))
                break
    return join(parts)
