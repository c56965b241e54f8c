# SPDX-License-Identifier: MIT
"""The lines that shape the sample country around its road: river beds, creeks and ridges."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import gaussian_filter1d
from scipy.spatial import cKDTree

from sample_design import Floats, Road

# Points x [m], y [m] and height above the nearest point of the road axis [m], so that the ground follows
# the road when its vertical design is tuned.
Line = list[tuple[float, float, float]]
RIVERS: list[Line] = [
    [(-640, 900, -28), (880, 1150, -11), (2400, 1700, -11), (3500, 1950, -17), (4600, 2350, -99),
     (5600, 2700, -81), (6400, 3250, -128), (7000, 3850, -64)],
    [(11000, 3300, -125), (12300, 3000, -169),
     (13500, 2750, -158), (14600, 2650, -192), (15600, 2500, -101), (16500, 2150, 12), (17300, 1650, -8),
     (18200, 1300, -10), (19200, 1050, -12), (20200, 900, -15), (21600, 800, -27)],
]
# Creeks in side valleys: points below the road, the crossing of the road (nearest point), points above it.
CREEKS: list[Line] = [
    [(3960, 5000, 217), (3930, 4300, 67), (3940, 3725, -3), (3950, 2900, -22), (3900, 2080, -14)],
    [(5600, 5500, 250), (5560, 4850, 91), (5570, 4230, -3), (5680, 3500, -130), (5750, 2790, -80)],
    [(12550, 5400, 348), (12350, 4700, 129), (12250, 4000, -42), (12290, 3500, -105), (12350, 2990, -169)],
    [(14900, 5700, 419), (14780, 5000, 167), (14745, 4370, -3), (14780, 3500, -24), (14700, 2640, -61)],
    [(16700, 5300, 352), (16520, 4700, 154), (16490, 4080, -3), (16560, 3200, 8), (16500, 2150, 13)],
    [(8250, 4350, -68), (8800, 4100, -162), (9500, 3800, -32), (10300, 3500, -103), (11000, 3300, -110)],
]
RIDGES: list[Line] = [
    [(7700, 7700, 526), (7650, 6900, 575), (7750, 6200, 464), (7650, 5500, 316), (7800, 4950, 121)],
    [(7700, 4100, 95), (7900, 3400, 336), (7850, 2600, 564), (7650, 1600, 477), (7700, 500, 358),
     (7600, -600, 329)],
    [(7650, 6900, 575), (9300, 6600, 497), (11000, 6500, 511), (12700, 6100, 613), (14000, 6200, 733),
     (15700, 6050, 641), (17500, 5700, 644), (19500, 5200, 507), (21600, 4900, 549)],
    [(7850, 2600, 564), (9300, 1900, 688), (11000, 1500, 627), (13000, 1200, 632), (14800, 900, 634),
     (16200, 200, 632), (17200, -600, 524)],
    [(7650, 6900, 575), (6200, 6300, 519), (4800, 6200, 441), (3200, 5800, 495), (1500, 5200, 368),
     (-600, 4800, 392)],
    [(7850, 2600, 564), (6500, 1500, 444), (5200, 800, 444), (3800, 200, 447), (2400, -600, 333)],
    [(4700, 6200, 442), (4700, 5000, 244), (4620, 3900, 221)],
    [(13700, 6180, 742), (13550, 5200, 480), (13440, 4300, 120), (13460, 3900, 57)],
    [(15800, 6050, 642), (15650, 5000, 333), (15600, 4100, 114)],
    [(11200, 6480, 501), (11300, 5700, 282), (11200, 5000, 227)],
    [(8400, 6750, 520), (8500, 6000, 350), (8620, 5400, 150)],
    [(9750, 6570, 500), (9850, 5900, 310), (9900, 5350, 130)],
]


def wander(rng: np.random.Generator, count: int, step_m: float, length_m: float, sd: float) -> Floats:
    """Smooth noise along a line with the given correlation length and standard deviation."""
    noise = gaussian_filter1d(rng.standard_normal(count), length_m / step_m, mode="wrap")
    return np.asarray(noise / noise.std() * sd)


def densify(line: Line, road: Road, step_m: float) -> tuple[Floats, Floats, Floats]:
    """Points every `step_m` along a line, rounded between its corners, with elevations [m]."""
    corners = np.array(line, dtype=np.float64)
    _, nearest = cKDTree(np.column_stack([road.x_m, road.y_m])).query(corners[:, :2])
    corners[:, 2] += road.elevation_m[nearest]
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(corners[:, :2], axis=0).T))])
    at = np.arange(0.0, along[-1], step_m)
    fine = np.column_stack([np.interp(at, along, corners[:, k]) for k in range(3)])
    soft = gaussian_filter1d(fine, 120.0 / step_m, axis=0, mode="nearest")
    return soft[:, 0], soft[:, 1], soft[:, 2]


def river(line: Line, road: Road, step_m: float) -> tuple[Floats, Floats, Floats]:
    """A river bed: a line that bends to and fro and never rises downstream."""
    x, y, z = densify(line, road, 5.0)
    if z[0] < z[-1]:
        z = np.minimum.accumulate(z[::-1])[::-1]
    else:
        z = np.minimum.accumulate(z)
    rng = np.random.default_rng(len(line))
    sway = wander(rng, len(x), 5.0, 110.0, 42.0) + wander(rng, len(x), 5.0, 320.0, 45.0)
    heading = np.arctan2(np.gradient(y), np.gradient(x))
    x, y = x - np.sin(heading) * sway, y + np.cos(heading) * sway
    along = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))])
    at = np.arange(0.0, along[-1], step_m)
    return np.interp(at, along, x), np.interp(at, along, y), np.interp(at, along, z)
