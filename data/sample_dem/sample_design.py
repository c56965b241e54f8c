# SPDX-License-Identifier: MIT
"""The designed road of the sample country: plan, vertical alignment, structures, limits and places.

Everything a reader may want to tune is a table constant at the top. Lengths are metres of horizontal
distance, x is east and y is north from the corner of the sample area, grades in the tables are percent
(positive uphill in the travel direction). The functions below only turn the tables into arrays.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

CRS = "EPSG:32613"
CORNER_EASTING_M, CORNER_NORTHING_M = 310_000.0, 1_660_000.0
AREA_M = (20_960.0, 7_040.0)
STEP_M = 1.0
START_ELEVATION_M = 2_088.0
METRES_PER_MILE = 1609.344

# The vertical design in travel order: what, length [m], grade [%]. The last row takes what is left of the plan.
VERTICAL: list[tuple[str, float, float]] = [
    ("out of the start town", 1200.0, 1.2),
    ("lower valley", 900.0, 2.0),
    ("first climb", 2300.0, 3.6),
    ("second climb", 2900.0, 5.4),
    ("third climb", 2350.0, 4.4),
    ("up to the crest, brake check area", 450.0, 0.5),
    ("summit flat", 600.0, -0.3),
    ("first descent", 2200.0, -4.8),
    ("hairpins", 3600.0, -6.0),
    ("false flat, upper pull-out", 900.0, -0.6),
    ("gorge bridge and tunnel", 3000.0, -6.2),
    ("side valley, steep pull-out", 1750.0, -5.4),
    ("short bench, lower pull-out", 350.0, -1.0),
    ("second side valley", 1750.0, -5.4),
    ("last steep grade, escape ramp", 1800.0, -4.2),
    ("run-out", 1000.0, -1.5),
    ("to the foot town", 900.0, 0.4),
    ("foot town", 900.0, -0.5),
]
# Vertical curves: metres of curve per percent of grade change (60-70 km/h road, from memory of design tables).
K_CREST_M, K_SAG_M, MIN_CURVE_M = 17.0, 20.0, 40.0

# Plan: points of intersection x [m], y [m] and the radius of the arc between the tangents [m].
PLAN: list[tuple[float, float, float]] = [
    (880, 1450, 0), (1700, 1600, 400), (2090, 1925, 300), (2550, 2150, 300), (3200, 2230, 260),
    (3640, 2750, 160), (3755, 3208, 200), (3760, 3680, 130), (4120, 3760, 70), (4270, 3400, 200),
    (4330, 3010, 130), (4620, 2890, 220), (4920, 2930, 180), (5280, 3300, 180), (5275, 3750, 220),
    (5400, 4190, 130), (5760, 4270, 75), (5860, 3900, 200), (6040, 3560, 120), (6480, 3600, 170),
    (6820, 4180, 180), (7220, 4460, 200), (7900, 4520, 350), (8350, 4960, 180), (8900, 5080, 220),
    (9350, 4960, 260), (9720, 5020, 300),
    (10400, 4975, 30), (10400, 4912, 30), (9750, 4850, 29), (9750, 4790, 29),
    (10350, 4735, 28), (10350, 4677, 28), (9800, 4620, 31), (9800, 4556, 31),
    (10450, 4490, 250), (10900, 4560, 200), (11350, 4330, 200), (11800, 4150, 300), (12650, 3890, 300),
    (13050, 3840, 300), (13850, 3540, 200), (14340, 3700, 150), (14510, 4000, 200), (14560, 4350, 110),
    (14940, 4390, 70), (14985, 4030, 200), (15120, 3700, 160), (15350, 3465, 200), (15680, 3340, 180),
    (16080, 3560, 160), (16245, 3800, 200), (16310, 4100, 110), (16680, 4090, 75), (16735, 3690, 200),
    (16880, 3350, 170), (17125, 3130, 220), (17320, 2850, 200), (17395, 2470, 250), (17600, 2150, 240),
    (18200, 1750, 300), (18900, 1600, 400), (19430, 1400, 400), (20050, 1290, 0),
]

# Structures: kind, name, x of the middle [m], length [m], ground minus deck at the middle [m].
STRUCTURES: list[tuple[str, str, float, float, float]] = [
    ("bridge", "Kestin Gorge Bridge", 12_250.0, 150.0, -42.0),
    ("tunnel", "Pallow Spur Tunnel", 13_440.0, 300.0, 52.0),
]

TOWN_START, TOWN_FOOT, PASS_NAME = "Hallinford", "Merrowby", "Ostrel Saddle"


@dataclass(frozen=True)
class Structure:
    """One bridge or tunnel: stations [m] and the ground minus deck at its middle [m]."""

    kind: str
    name: str
    start_m: float
    end_m: float
    ground_minus_deck_m: float


@dataclass(frozen=True)
class Road:
    """The true road axis, arrays of shape (n,) at STEP_M; x, y from the corner of the area, heading from east."""

    station_m: Floats
    x_m: Floats
    y_m: Floats
    heading_rad: Floats
    curvature_1pm: Floats
    elevation_m: Floats
    grade: Floats
    in_structure: Bools
    structures: tuple[Structure, ...]
    hairpins: tuple[tuple[float, float], ...]
    breaks_m: tuple[float, ...]

    def at(self, values: Floats, station_m: float | Floats) -> Floats:
        """Linear interpolation of one of the arrays at a station."""
        return np.asarray(np.interp(station_m, self.station_m, values))


def _arcs() -> tuple[list[tuple[float, float, float]], float, float]:
    """Arcs (start station, end station, signed curvature) between tangents, the length, the first heading."""
    points = np.array([(x, y) for x, y, _ in PLAN])
    legs = np.diff(points, axis=0)
    length = np.hypot(legs[:, 0], legs[:, 1])
    heading = np.unwrap(np.arctan2(legs[:, 1], legs[:, 0]))
    turn = np.diff(heading)
    radius = np.array([r for _, _, r in PLAN[1:-1]])
    cut = radius * np.tan(np.abs(turn) / 2)
    room = length - np.concatenate([[0.0], cut]) - np.concatenate([cut, [0.0]])
    if room.min() < 0:
        raise ValueError(f"plan: the arcs at points {room.argmin()} and {room.argmin() + 1} overlap; move them apart")
    arcs, station = [], 0.0
    for i, angle in enumerate(turn):
        station += room[i]
        arcs.append((station, station + radius[i] * abs(angle), float(np.sign(angle) / radius[i])))
        station = arcs[-1][1]
    return arcs, station + float(room[-1]), float(heading[0])


def _plan() -> tuple[Floats, Floats, Floats, Floats, Floats, tuple[tuple[float, float], ...]]:
    """Tangents and arcs joined by clothoids: curvature averaged over one spiral length ramps linearly."""
    arcs, total_m, first_heading = _arcs()
    station = np.arange(0.0, np.floor(total_m / 10) * 10 + STEP_M / 2, STEP_M)
    curvature = np.zeros_like(station)
    for start, end, kappa in arcs:
        spiral = min(float(np.clip(0.35 / abs(kappa), 14.0, 60.0)), 0.9 * (end - start))
        knots = [start - spiral / 2, start + spiral / 2, end - spiral / 2, end + spiral / 2]
        curvature += np.interp(station, knots, [0.0, kappa, kappa, 0.0])
    middle = (curvature[1:] + curvature[:-1]) / 2 * STEP_M
    heading = first_heading + np.concatenate([[0.0], np.cumsum(middle)])
    half = (heading[1:] + heading[:-1]) / 2
    x = PLAN[0][0] + np.concatenate([[0.0], np.cumsum(np.cos(half) * STEP_M)])
    y = PLAN[0][1] + np.concatenate([[0.0], np.cumsum(np.sin(half) * STEP_M)])
    tight = [(a, b) for a, b, k in arcs if abs(k) > 1 / 40]
    hairpins = tuple((tight[i][0], tight[i + 1][1]) for i in range(0, len(tight), 2))
    return station, x, y, heading, curvature, hairpins


def vertical_rows(length_m: float) -> list[tuple[str, float, float]]:
    """VERTICAL with the last length stretched or cut so that the rows add up to the plan length."""
    rest = length_m - sum(row[1] for row in VERTICAL[:-1])
    if rest < 200.0:
        raise ValueError(f"vertical design is {200.0 - rest:.0f} m too long for the plan; shorten a row")
    return [*VERTICAL[:-1], (VERTICAL[-1][0], rest, VERTICAL[-1][2])]


def _vertical(station: Floats) -> tuple[Floats, Floats, tuple[float, ...]]:
    """Straight grades joined by parabolas: grade is piecewise linear, elevation its integral."""
    rows = vertical_rows(float(station[-1]))
    breaks = np.cumsum([row[1] for row in rows])[:-1]
    knots, grades = [0.0], [rows[0][2]]
    for at, (_, _, before), (_, _, after) in zip(breaks, rows[:-1], rows[1:], strict=True):
        change = after - before
        curve = max(MIN_CURVE_M, abs(change) * (K_SAG_M if change > 0 else K_CREST_M))
        if at - curve / 2 < knots[-1]:
            raise ValueError(f"vertical curves overlap before station {at:.0f} m; lengthen that row")
        knots += [at - curve / 2, at + curve / 2]
        grades += [before, after]
    grade = np.interp(station, [*knots, station[-1]], [*grades, rows[-1][2]]) / 100.0
    rise = np.concatenate([[0.0], np.cumsum((grade[1:] + grade[:-1]) / 2 * STEP_M)])
    return START_ELEVATION_M + rise, grade, tuple(float(b) for b in breaks)


def design_road() -> Road:
    """The road from the tables: one row a metre, the same on every call."""
    station, x, y, heading, curvature, hairpins = _plan()
    elevation, grade, breaks = _vertical(station)
    inside = np.zeros(len(station), dtype=np.bool_)
    structures = []
    for kind, name, middle_x, length, ground in STRUCTURES:
        middle = float(station[np.abs(x - middle_x).argmin()])
        structures.append(Structure(kind, name, middle - length / 2, middle + length / 2, ground))
        inside |= (station >= middle - length / 2) & (station <= middle + length / 2)
    return Road(
        station, x, y, heading, curvature, elevation, grade, inside, tuple(structures), hairpins, breaks
    )


def break_after(road: Road, what: str) -> float:
    """Station [m] where the vertical row called `what` begins."""
    names = [row[0] for row in VERTICAL]
    return (0.0, *road.breaks_m)[names.index(what)]


def speed_limits(road: Road) -> list[tuple[float, float, str]]:
    """Posted limits as (start, end, OpenStreetMap maxspeed value), covering the road without gaps."""
    end, crest = float(road.station_m[-1]), float(road.station_m[road.elevation_m.argmax()])
    first, last = road.hairpins[0][0] - 120.0, road.hairpins[-1][1] + 120.0
    cuts = [0.0, 600.0, crest, first, last, end - 900.0, end]
    values = ["30 mph", "55 mph", "45 mph", "30 mph", "45 mph", "30 mph"]
    return [(a, b, v) for a, b, v in zip(cuts[:-1], cuts[1:], values, strict=True)]


def write_grade_table(road: Road, path: Path) -> None:
    """The vertical rows as one would copy them from grade signs: miles to 0.01, percent to 0.1."""
    with path.open("w", newline="", encoding="utf-8") as handle:
        writer = csv.writer(handle, lineterminator="\n")
        writer.writerow(["length [mi]", "grade [%]"])
        for _, length, grade in vertical_rows(float(road.station_m[-1])):
            writer.writerow([f"{length / METRES_PER_MILE:.2f}", f"{grade:.1f}"])


def pads(road: Road) -> list[tuple[float, float, float, int]]:
    """Parking pads beside the road: start, end [m], extra width [m], +1 left or -1 right."""
    check = break_after(road, "up to the crest, brake check area")
    flat = break_after(road, "false flat, upper pull-out")
    steep = break_after(road, "side valley, steep pull-out")
    bench = break_after(road, "short bench, lower pull-out")
    run = break_after(road, "run-out")
    return [
        (check + 230, check + 350, 16.0, -1),
        (flat + 420, flat + 510, 12.0, -1),
        (steep + 880, steep + 950, 10.0, -1),
        (bench + 135, bench + 215, 12.0, -1),
        (run + 560, run + 640, 14.0, -1),
        (1700.0, 1800.0, 14.0, -1),
    ]
