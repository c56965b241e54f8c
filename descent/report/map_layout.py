# SPDX-License-Identifier: MIT
"""Where signs and labels find room on a map: signs step aside from one another, labels take a free side."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from descent.report.map_features import MapPoint
from descent.report.svg import text_width
from descent.report.trip import FloatArray

Box = tuple[float, float, float, float]
_HALF = 11.0
_FIRST_SIGNS, _FIRST_LABELS = 2, 0  # ranks of what gets room before all else: stops and legs; stops
SIDES = ("right", "left", "above", "below", "right-up", "left-up", "right-down", "left-down")
_STEPS_PX = (24.0, 36.0, 50.0)
_DIRECTIONS = (90, 270, 0, 180, 45, 135, 225, 315)  # degrees: below and above first, a road often runs across


@dataclass(frozen=True)
class Room:
    """The picture signs and labels share, and the route on it: label size, width and height, the road's points in
    picture units."""

    size_px: float
    width: float
    height: float
    road_x: FloatArray
    road_y: FloatArray


def lay_out(
    points: Sequence[MapPoint], x: FloatArray, y: FloatArray, room: Room
) -> tuple[tuple[MapPoint, ...], FloatArray]:
    """Points with the side their label stands on ("" for none), and how far each sign steps aside, (n, 2).

    x, y: (n,) the places in picture units. Stops and legs come first, then the stops' labels, then the other
    signs, then the other labels; nothing covers what came before it. Small marks such as mileposts stay where
    they are and may be covered.
    """
    steps = np.zeros((len(points), 2))
    sides = [""] * len(points)
    taken: list[Box] = []
    order = sorted(range(len(points)), key=lambda i: (points[i].rank, points[i].station_m))
    labels = sorted(range(len(points)), key=lambda i: (points[i].label_rank, points[i].station_m))
    for first in (True, False):
        for i in order:
            if points[i].kind != "milepost" and (points[i].rank <= _FIRST_SIGNS) is first:
                at_x, at_y = float(x[i]), float(y[i]) - points[i].lift
                steps[i] = _free_step(at_x, at_y, taken, room)
                taken.append(_sign_box(at_x + steps[i, 0], at_y + steps[i, 1]))
        for i in labels:
            if points[i].label and (points[i].label_rank <= _FIRST_LABELS) is first:
                at = (float(x[i] + steps[i, 0]), float(y[i] + steps[i, 1]))
                sides[i], box = _free_side(points[i], at, taken, room)
                taken += [box] if sides[i] else []
    return tuple(replace(p, label_side=side) for p, side in zip(points, sides, strict=True)), steps


def _free_step(x: float, y: float, taken: list[Box], room: Room) -> tuple[float, float]:
    tries = [(0.0, 0.0)]
    tries += [
        (step * math.cos(math.radians(angle)), step * math.sin(math.radians(angle)))
        for step in _STEPS_PX
        for angle in _DIRECTIONS
    ]
    for dx, dy in tries:
        box = _sign_box(x + dx, y + dy)
        inside = box[0] >= 0 and box[1] >= 0 and box[2] <= room.width and box[3] <= room.height
        if (inside or (dx, dy) == (0.0, 0.0)) and not any(_overlap(box, other) for other in taken):
            return dx, dy
    return 0.0, 0.0


def _free_side(point: MapPoint, at: tuple[float, float], taken: list[Box], room: Room) -> tuple[str, Box]:
    """The free side that covers least of the road."""
    best: tuple[int, str, Box] = (len(room.road_x) + 1, "", (0.0, 0.0, 0.0, 0.0))
    wide = text_width(point.label, room.size_px) + 4
    for side in SIDES:
        box = label_box(*at, side, wide, room.size_px)
        outside = box[0] < 2 or box[1] < 2 or box[2] > room.width - 2 or box[3] > room.height - 2
        if outside or any(_overlap(box, other) for other in taken):
            continue
        in_x = (room.road_x > box[0]) & (room.road_x < box[2])
        covered = int(np.sum(in_x & (room.road_y > box[1]) & (room.road_y < box[3])))
        if covered < best[0]:
            best = (covered, side, box)
    return best[1], best[2]


def label_box(x: float, y: float, side: str, wide: float, size_px: float) -> Box:
    """The box (left, top, right, bottom) of a label beside a sign at x, y."""
    tall, gap = size_px * 1.25, 13.0
    middle = {"up": y - gap - tall / 2, "down": y + gap + tall / 2}.get(side.partition("-")[2], y)
    if side.startswith("right"):
        left = x + gap - (4.0 if "-" in side else 0.0)
        return (left, middle - tall / 2, left + wide, middle + tall / 2)
    if side.startswith("left"):
        right = x - gap + (4.0 if "-" in side else 0.0)
        return (right - wide, middle - tall / 2, right, middle + tall / 2)
    top = y - gap - tall if side == "above" else y + gap
    return (x - wide / 2, top, x + wide / 2, top + tall)


def _sign_box(x: float, y: float) -> Box:
    return (x - _HALF, y - _HALF, x + _HALF, y + _HALF)


def _overlap(a: Box, b: Box) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]
