# SPDX-License-Identifier: MIT
"""Contours under the route: where they lie, which are thick and labelled, how much they may weigh."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
from markupsafe import Markup
from numpy.typing import NDArray

from descent.report.contour_lines import contour_layer, contour_words
from descent.report.map_window import MapWindow
from descent.report.shown import Shown

FloatArray = NDArray[np.float64]
FOOT_M = 0.3048
# one degree square at the equator: 960 picture units wide, so that a degree of longitude is 960 units
WINDOW = MapWindow(west=0.5, east=0.5 + 1 / 360, north=0.5 - 1 / 360, south=0.5)
NO_ROAD = np.array([[-999.0, -999.0]])


@dataclass(frozen=True)
class Line:
    height_m: float
    lonlat: FloatArray


def level(height_m: float, lat: float) -> Line:
    """A straight contour from west to east."""
    lon = np.linspace(0.0, 1.0, 50)
    return Line(height_m, np.column_stack([lon, np.full(50, lat)]))


def lines(step_m: float, count: int) -> list[Line]:
    return [level(1000 * FOOT_M + k * step_m, (k + 0.5) / count) for k in range(count)]


def labels(layer: Markup) -> list[str]:
    return re.findall(r"<text[^>]*>([^<]*)</text>", layer)


def test_index_contours_are_thick_and_labelled(us: Shown) -> None:
    """100 ft lines from 1,000 ft up: of eleven, 1,000, 1,500 and 2,000 ft are every fifth."""
    layer = contour_layer(lines(100 * FOOT_M, 11), us, WINDOW, 960.0, NO_ROAD)
    thin, thick = re.findall(r' d="([^"]*)"', layer)
    assert (thin.count("M"), thick.count("M")) == (8, 3)
    # the lowest and the highest lie too close to the picture's edge for a label
    assert sorted(labels(layer)) in (["1,500"], ["1,000", "1,500", "2,000"])
    assert contour_words(lines(100 * FOOT_M, 11), us) == (
        "Contours every 100\u00a0ft, the thicker ones every 500\u00a0ft."
    )


def test_where_a_contour_lies(us: Shown) -> None:
    """The equator is the picture's lower edge, 960 units below the top but for Mercator's stretch of 0.005 %."""
    layer = contour_layer([level(0.0, 0.0), level(50.0, 0.5)], us, WINDOW, 960.0, NO_ROAD)
    start = re.findall(r"M(-?\d+) (-?\d+)", layer)
    assert {(int(x), round(int(y), -1)) for x, y in start} == {(0, 9600), (0, 4800)}


def test_labels_keep_off_the_road(us: Shown) -> None:
    road = np.column_stack([np.linspace(0, 960, 300), np.full(300, 480.0)])
    assert "1,500" not in labels(contour_layer(lines(100 * FOOT_M, 11), us, WINDOW, 960.0, road))


def test_many_contours_stay_within_the_budget(us: Shown) -> None:
    rng = np.random.default_rng(3)
    wild = []
    for k in range(120):
        lon = np.linspace(0, 1, 600)
        wild.append(Line(10.0 * k, np.column_stack([lon, k / 120 + 0.004 * rng.standard_normal(600)])))
    layer = contour_layer(wild, us, WINDOW, 960.0, NO_ROAD)
    assert len(layer) < 120_000
    assert "M" in layer


def test_no_lines_no_layer(us: Shown) -> None:
    assert contour_layer([], us, WINDOW, 960.0, NO_ROAD) == "" and contour_words([], us) == ""
