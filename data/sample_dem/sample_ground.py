# SPDX-License-Identifier: MIT
"""The ground of the sample country: a landscape shaped by rivers around a road that is already designed.

Four steps. (1) The smoothest surface through the road, the rivers, the creeks and the ridge lines.
(2) River erosion at ever finer cells: uplift, the stream-power law dz/dt = U - K sqrt(A) S solved implicitly
from outlet to source (Braun and Willett, 2013), hill creep and a limit to steepness; slowed down near the
road, where step 1 already is the answer. (3) A smooth correction that brings the ground to the road.
(4) Earthworks: bench, cut 1:1, fill 1:1.5, averaged from 2 m samples into 10 m cells.
"""

from __future__ import annotations

import heapq
from dataclasses import dataclass

import numba
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter, map_coordinates
from scipy.sparse import coo_matrix, diags, identity, kron, vstack
from scipy.sparse.linalg import spsolve
from scipy.spatial import cKDTree

from sample_design import AREA_M, Bools, Floats, Road, pads
from sample_lines import CREEKS, RIDGES, RIVERS, densify, river, wander

SEED = 20
CELL_M = 10.0
MARGIN_M = 640.0  # shaped as well, then cut off, so that no edge shows
HALF_BENCH_M, CUT_SLOPE, FILL_SLOPE = 5.5, 1.0, 1 / 1.5
UPLIFT_MPY, ERODIBILITY, CREEP_M2PY, STEEPEST = 1.0e-3, 1.05e-5, 0.015, 0.85
ROAD_REACH_M, RIVER_REACH_M = 480.0, 1600.0  # how far the road slows erosion and the river slows uplift


@dataclass(frozen=True)
class Grid:
    """Square cells, row 0 in the south; x, y of the first cell centre from the corner of the sample area [m]."""

    cell_m: float
    rows: int
    cols: int

    @property
    def first_m(self) -> float:
        """Centre of the first cell along both axes [m]."""
        return self.cell_m / 2 - MARGIN_M

    def index(self, x_m: Floats, y_m: Floats) -> tuple[Floats, Floats]:
        """Fractional row and column of points."""
        return (y_m - self.first_m) / self.cell_m, (x_m - self.first_m) / self.cell_m

    def sample(self, values: Floats, x_m: Floats, y_m: Floats) -> Floats:
        """Bilinear interpolation."""
        return np.asarray(map_coordinates(values, self.index(x_m, y_m), order=1, mode="nearest"))

    def burn(self, x_m: Floats, y_m: Floats, values: Floats) -> tuple[Floats, Floats]:
        """Sum of values and number of points per cell."""
        row, col = (np.clip(np.rint(v).astype(int), 0, n - 1)
                    for v, n in zip(self.index(x_m, y_m), (self.rows, self.cols), strict=True))
        total, count = np.zeros((self.rows, self.cols)), np.zeros((self.rows, self.cols))
        np.add.at(total, (row, col), values)
        np.add.at(count, (row, col), 1.0)
        return total, count


def grid_of(cell_m: float) -> Grid:
    """The grid of the area with its margin."""
    cols, rows = (round((length + 2 * MARGIN_M) / cell_m) for length in AREA_M)
    return Grid(cell_m, rows, cols)


def fractal(rng: np.random.Generator, grid: Grid, longest_m: float, power: float) -> Floats:
    """Unit-variance noise with spectrum 1/k^power above the longest wavelength, made by FFT."""
    white = np.fft.rfft2(rng.standard_normal((grid.rows, grid.cols)))
    ky, kx = np.fft.fftfreq(grid.rows, grid.cell_m)[:, None], np.fft.rfftfreq(grid.cols, grid.cell_m)[None]
    shape = (1.0 / longest_m**2 + kx**2 + ky**2) ** (-power / 2)
    field = np.fft.irfft2(white * shape, s=(grid.rows, grid.cols))
    return np.asarray((field - field.mean()) / field.std())


def ground_target(road: Road, rng: np.random.Generator) -> Floats:
    """Natural ground on the axis, shape of the road: near the road outside structures, far from it inside."""
    target = road.elevation_m + wander(rng, len(road.station_m), 1.0, 70.0, 1.6)
    for item in road.structures:
        middle, length = (item.start_m + item.end_m) / 2, item.end_m - item.start_m
        u = np.abs(road.station_m - middle) / (length / 2)
        near = np.clip(u - 1, 0, None) * length / 2
        shape = np.clip(1 - u**2, 0, 1) ** 0.9
        edge = (-2.0 if item.kind == "bridge" else 7.0) * np.exp(-near / 25.0)
        calm = np.exp(-near / 60.0)
        target = road.elevation_m + (target - road.elevation_m) * (1 - calm) + edge + item.ground_minus_deck_m * shape
    return np.asarray(target)


def macro_surface(grid: Grid, road: Road, target: Floats) -> Floats:
    """Least bending (with a little tension) through all lines, as one sparse system."""
    every = slice(0, None, 20)
    parts = [(road.x_m[every], road.y_m[every], target[every], 3.0)]
    parts += [(*river(line, road, 40.0), 1.5) for line in RIVERS]
    parts += [(*densify(line, road, 40.0), 0.7) for line in CREEKS]
    parts += [(*densify(line, road, 40.0), 0.12) for line in RIDGES]
    x, y, z = (np.concatenate([part[k] for part in parts]) for k in range(3))
    weight = np.concatenate([np.full(len(part[0]), part[3]) for part in parts])
    row, col = grid.index(x, y)
    r0, c0 = np.floor(row).astype(int), np.floor(col).astype(int)
    fr, fc = row - r0, col - c0
    keep = (r0 >= 0) & (c0 >= 0) & (r0 < grid.rows - 1) & (c0 < grid.cols - 1)
    cells, shares = [], []
    for dr, dc in ((0, 0), (0, 1), (1, 0), (1, 1)):
        cells.append((r0 + dr) * grid.cols + c0 + dc)
        shares.append((fr if dr else 1 - fr) * (fc if dc else 1 - fc) * weight)
    number = np.cumsum(keep) - 1
    size = grid.rows * grid.cols
    picks = coo_matrix((np.concatenate([s[keep] for s in shares]),
                        (np.concatenate([number[keep]] * 4), np.concatenate([c[keep] for c in cells]))),
                       shape=(int(keep.sum()), size))
    second = [diags([1.0, -2.0, 1.0], [0, 1, 2], shape=(n - 2, n)) for n in (grid.rows, grid.cols)]
    first = [diags([-1.0, 1.0], [0, 1], shape=(n - 1, n)) for n in (grid.rows, grid.cols)]
    eye = [identity(n) for n in (grid.rows, grid.cols)]
    bend, tension = 0.35, 0.10
    system = vstack([
        bend * kron(second[0], eye[1]), bend * kron(eye[0], second[1]), 1.4 * bend * kron(first[0], first[1]),
        tension * kron(first[0], eye[1]), tension * kron(eye[0], first[1]), picks,
    ]).tocsr()
    right = np.concatenate([np.zeros(system.shape[0] - picks.shape[0]), (z * weight)[keep]])
    solved = spsolve((system.T @ system).tocsc(), system.T @ right)
    return np.asarray(solved.reshape(grid.rows, grid.cols))


@numba.njit(cache=False, fastmath=False)
def _drain(
    z: Floats, fixed: Bools, rock: Floats, spacing: float
) -> tuple[Floats, NDArray[np.int64], NDArray[np.int64]]:
    """Fill hollows by priority flood from the fixed cells; order of filling and steepest receiver."""
    rows, cols = z.shape
    filled = z.copy().ravel()
    seen = np.zeros(rows * cols, dtype=np.bool_)
    order = np.empty(rows * cols, dtype=np.int64)
    receiver = np.arange(rows * cols)
    heap = [(0.0, np.int64(0)) for _ in range(0)]
    for rim in range(rows * cols):
        if fixed.flat[rim]:
            heapq.heappush(heap, (filled[rim], np.int64(rim)))
            seen[rim] = True
    done = 0
    while len(heap) > 0:
        level, i = heapq.heappop(heap)
        order[done] = i
        done += 1
        r, c = i // cols, i % cols
        steep, best = 0.0, i
        for dr in range(-1, 2):
            for dc in range(-1, 2):
                rr, cc = r + dr, c + dc
                if (dr == 0 and dc == 0) or rr < 0 or cc < 0 or rr >= rows or cc >= cols:
                    continue
                j = rr * cols + cc
                if not seen[j]:
                    seen[j] = True
                    filled[j] = max(filled[j], level + 1e-3 * spacing * rock.flat[j])
                    heapq.heappush(heap, (filled[j], np.int64(j)))
                slope = (level - filled[j]) / (spacing * np.sqrt(dr * dr + dc * dc))
                if slope > steep:
                    steep, best = slope, np.int64(j)
        if not fixed.flat[i]:
            receiver[i] = best
    return filled, order, receiver


@numba.njit(cache=False, fastmath=False)
def _erode(
    z: Floats, fixed: Bools, pace: Floats, rock: Floats, uplift: Floats, spacing: float, years: float
) -> Floats:
    """One implicit stream-power step with a limit to steepness; then hill creep."""
    rows, cols = z.shape
    filled, order, receiver = _drain(z, fixed, rock, spacing)
    area = np.full(rows * cols, spacing * spacing)
    for k in range(rows * cols - 1, -1, -1):
        i = order[k]
        if receiver[i] != i:
            area[receiver[i]] += area[i]
    out = filled
    for k in range(rows * cols):
        i = order[k]
        j = receiver[i]
        if j == i or fixed.flat[i]:
            continue
        diagonal = abs(i // cols - j // cols) + abs(i % cols - j % cols) == 2
        run = spacing * np.sqrt(2.0) if diagonal else spacing
        f = ERODIBILITY * pace.flat[i] * rock.flat[i] * years * np.sqrt(area[i]) / run
        level = (out[i] + uplift.flat[i] * pace.flat[i] * years + f * out[j]) / (1.0 + f)
        out[i] = min(level, out[j] + STEEPEST * run) if level > out[j] else max(level, out[j])
    step = out.reshape(rows, cols)
    result = step.copy()
    share = min(CREEP_M2PY * years / spacing**2, 0.2)
    for r in range(1, rows - 1):
        for c in range(1, cols - 1):
            if not fixed[r, c]:
                curve = step[r - 1, c] + step[r + 1, c] + step[r, c - 1] + step[r, c + 1] - 4 * step[r, c]
                result[r, c] = step[r, c] + share * curve
    return result


def lower_to_rivers(grid: Grid, road: Road, z: Floats) -> tuple[Floats, Bools]:
    """Set the river cells to the river and mark them and the rim as fixed."""
    fixed = np.zeros(z.shape, dtype=np.bool_)
    fixed[[0, -1], :] = True
    fixed[:, [0, -1]] = True
    out = z.copy()
    for line in RIVERS:
        total, count = grid.burn(*river(line, road, grid.cell_m / 3))
        at = count > 0
        out[at] = total[at] / count[at]
        fixed |= at
    return out, fixed


def pull_to_road(grid: Grid, z: Floats, road: Road, target: Floats, widths_m: list[float]) -> Floats:
    """Add smooth corrections, wide first, that bring the ground on the axis to its target."""
    out = z
    for width in widths_m:
        miss = target - grid.sample(out, road.x_m, road.y_m)
        total, count = grid.burn(road.x_m, road.y_m, miss)
        sigma = width / grid.cell_m
        top = gaussian_filter(total, sigma, truncate=5.0)
        bottom = gaussian_filter(count, sigma, truncate=5.0)
        line = grid.cell_m / (np.sqrt(2 * np.pi) * sigma)  # what a straight road gives on its axis
        out = out + top / (bottom + 0.25 * line)
    return out


def away_from(grid: Grid, x_m: Floats, y_m: Floats, reach_m: float) -> Floats:
    """0 on the points rising smoothly to 1 at `reach_m`, on the grid."""
    centre = grid.first_m + grid.cell_m * np.arange(max(grid.rows, grid.cols))
    x, y = np.meshgrid(centre[: grid.cols], centre[: grid.rows])
    tree = cKDTree(np.column_stack([x_m, y_m]))
    distance, _ = tree.query(np.column_stack([x.ravel(), y.ravel()]))
    u = np.clip(distance.reshape(grid.rows, grid.cols) / reach_m, 0, 1)
    return np.asarray(u * u * (3 - 2 * u))


def natural_ground(road: Road, target: Floats, rng: np.random.Generator) -> tuple[Grid, Floats]:
    """The landscape before earthworks on the 10 m grid with its margin."""
    grid = grid_of(80.0)
    z = macro_surface(grid, road, target)
    for cell, steps, years, rough in ((80.0, 30, 20e3, 25.0), (40.0, 20, 10e3, 8.0), (20.0, 14, 4e3, 3.0),
                                      (10.0, 8, 1.5e3, 0.8)):
        finer = grid_of(cell)
        if cell < grid.cell_m:
            row = (np.arange(finer.rows) + 0.5) * cell / grid.cell_m - 0.5
            col = (np.arange(finer.cols) + 0.5) * cell / grid.cell_m - 0.5
            z = map_coordinates(z, np.meshgrid(row, col, indexing="ij"), order=3, mode="nearest")
        grid = finer
        free = away_from(grid, road.x_m[::5], road.y_m[::5], ROAD_REACH_M)
        z = z + rough * free * fractal(rng, grid, 1500.0, 2.2)
        pace = 0.03 + 0.97 * free
        rock = np.exp(np.clip(0.45 * rng.standard_normal(z.shape), -1.0, 1.0))
        beds = [river(line, road, 20.0) for line in RIVERS]
        bed_x, bed_y = (np.concatenate([bed[k] for bed in beds]) for k in range(2))
        uplift = UPLIFT_MPY * (0.25 + 0.75 * away_from(grid, bed_x, bed_y, RIVER_REACH_M))
        for _ in range(steps):
            z, fixed = lower_to_rivers(grid, road, z)
            z = _erode(z, fixed, pace, rock, uplift, cell, years)
        z = pull_to_road(grid, z, road, target, [w for w in (400.0, 200.0, 100.0, 50.0, 25.0) if w >= cell])
    return grid, pull_to_road(grid, z, road, target, [60.0, 30.0, 15.0])


def earthworks(grid: Grid, z: Floats, road: Road, reach_m: float = 60.0) -> Floats:
    """Cut and fill the bench outside structures: 10 m cells near the road become means of 25 samples at 2 m."""
    tree = cKDTree(np.column_stack([road.x_m, road.y_m]))
    centre = grid.first_m + grid.cell_m * np.arange(max(grid.rows, grid.cols))
    cell_x, cell_y = np.meshgrid(centre[: grid.cols], centre[: grid.rows])
    far, _ = tree.query(np.column_stack([cell_x.ravel(), cell_y.ravel()]), distance_upper_bound=reach_m + 8)
    cells = np.flatnonzero(np.isfinite(far))
    shift = (np.arange(5) - 2) * 2.0
    x = (cell_x.ravel()[cells, None] + np.tile(shift, 5)[None]).ravel()
    y = (cell_y.ravel()[cells, None] + np.repeat(shift, 5)[None]).ravel()
    before = grid.sample(z, x, y)
    distance, at = tree.query(np.column_stack([x, y]))
    side = np.cos(road.heading_rad[at]) * (y - road.y_m[at]) - np.sin(road.heading_rad[at]) * (x - road.x_m[at])
    half = np.full((2, len(road.station_m)), HALF_BENCH_M)  # right, left
    for start, end, extra, hand in pads(road):
        taper = np.clip(np.minimum(road.station_m - start, end - road.station_m) / 20.0 + 1.0, 0, 1)
        half[int(hand > 0)] += extra * taper
    beyond = np.clip(distance - half[(side > 0).astype(int), at], 0, None)
    level = road.elevation_m[at]
    after = np.clip(before, level - beyond * FILL_SLOPE, level + beyond * CUT_SLOPE)
    open_road = ~road.in_structure[at] & (distance <= reach_m)
    ends = (at == 0) | (at == len(road.station_m) - 1)
    surface = np.where(open_road & ~ends, after, before)
    out = z.copy().ravel()
    out[cells] = surface.reshape(-1, 25).mean(axis=1)
    return out.reshape(z.shape)


def make_ground(road: Road) -> Floats:
    """Elevation [m] of the sample area in 10 m cells, row 0 in the north, a multiple of 1/16 m."""
    rng = np.random.default_rng(SEED)
    target = ground_target(road, rng)
    grid, z = natural_ground(road, target, rng)
    z = earthworks(grid, z, road)
    edge = round(MARGIN_M / CELL_M)
    inner = z[edge:-edge, edge:-edge][::-1]
    return np.ascontiguousarray(np.round(inner * 16) / 16)
