# SPDX-License-Identifier: MIT
"""Finds a road's level bench in cross-sections by comparing them with benches cut into a slope and with bare slopes.

A cross-section of an elevation model is a blurred picture of the ground: a level carriageway of 8 to 13 m, a cut
face above it, a fill face below it, and the hillside beyond. For each sideways position of the bench the section is
compared with a family of such shapes (hillside slope, height of the hillside over the road) blurred as the cells
blur, against a plain slope with the same error; both have a free height. The bench's height comes out with it,
free of the cut and the fill that a bilinear sample mixes in. Positions along the road are tied by a first-order
process, so the answer is a probability of each position (forward-backward recursion; Rabiner 1989, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numba
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

FloatArray = NDArray[np.float64]

# Two lanes with shoulders are 8 to 13 m wide (common practice, no source); taking 8 or 13 instead leaves the line
# 0.3 m worse placed on roads of known truth.
BENCH_WIDTH_M = 10.5
CUT_SLOPE, FILL_SLOPE = 1.0, 0.67           # 1:1 and 1:1.5, usual in soil (common practice, no source)
_HILLSIDES = np.linspace(-0.8, 0.8, 9)      # slope across the road
_RISES_M = np.arange(-6.0, 6.1, 1.5)        # height of the hillside over the road at its centre
_HILLSIDE_SD, _RISE_SD_M = 0.4, 2.5
# Error of a section around its shape: rough ground and the elevation model's own noise; chosen on roads of known
# truth (tuning seeds).
_ERROR_SD_M, _ERROR_LENGTH_M, _WHITE_SD_M = 1.0, 50.0, 0.15
_BLUR_PER_CELL = 0.5                        # sd of a cell's mean read bilinearly: sqrt(1/12 + 1/6) cells
_FINE_STEP_M, _FAR_M = 0.5, 60.0
_CHUNK = 2048


@dataclass(frozen=True)
class Templates:
    """Shapes for sections read at `offsets_m` (u,): for each of c candidate positions, k shapes. filters (u, c k):
    inner products with a section; constants (c k,): what is added to get the log probability; levels (c k,): height
    of the shape's GLS mean over its bench [m]; mean (u,): weights of that mean; slope (u,), slope_scale,
    slope_constant: the plain slope's."""

    candidates_m: FloatArray
    filters: FloatArray
    constants: FloatArray
    levels: FloatArray
    mean: FloatArray
    slope: FloatArray
    slope_scale: float
    slope_constant: float


def bench_shape(u: FloatArray, *, hillside: float, rise_m: float, half_width_m: float) -> FloatArray:
    """Ground over the bench [m] at distances u [m] from its centre, left positive: level, then cut or fill faces
    until they meet the hillside."""
    beyond = np.clip(np.abs(u) - half_width_m, 0.0, None)
    ground = np.clip(rise_m + hillside * u, -FILL_SLOPE * beyond, CUT_SLOPE * beyond)
    return np.where(np.abs(u) <= half_width_m, 0.0, ground)


def make_templates(offsets_m: FloatArray, candidates_m: FloatArray, *, cell_m: float,
                   width_m: float = BENCH_WIDTH_M) -> Templates:
    """Shapes for sections at these offsets, for bench centres at the candidates, blurred as cells of this size do."""
    u = np.arange(-_FAR_M, _FAR_M + _FINE_STEP_M / 2, _FINE_STEP_M)
    blur = max(_BLUR_PER_CELL * cell_m, _FINE_STEP_M) / _FINE_STEP_M
    shapes, prior = [], []
    for hillside in _HILLSIDES:
        for rise in _RISES_M:
            shape = bench_shape(u, hillside=float(hillside), rise_m=float(rise), half_width_m=width_m / 2)
            blurred = gaussian_filter1d(shape, blur, mode="nearest")
            shapes.append([np.interp(offsets_m - c, u, blurred) for c in candidates_m])
            prior.append(-0.5 * (rise / _RISE_SD_M) ** 2 - 0.5 * (hillside / _HILLSIDE_SD) ** 2)
    shape_at = np.array(shapes).transpose(1, 0, 2)                       # (c, k, u)
    log_prior = np.array(prior) - np.log(np.sum(np.exp(prior)))
    weight, mean = _level_free_precision(offsets_m, _BLUR_PER_CELL * cell_m)
    filtered = shape_at @ weight
    constants = log_prior[None, :] - 0.5 * np.sum(filtered * shape_at, axis=2)
    slope = weight @ offsets_m
    scale = float(offsets_m @ slope)
    return Templates(candidates_m, np.ascontiguousarray(filtered.reshape(-1, len(offsets_m)).T), constants.ravel(),
                     (shape_at @ mean).ravel(), mean, slope, scale + 1 / _HILLSIDE_SD**2,
                     -0.5 * float(np.log(1 + scale * _HILLSIDE_SD**2)))


def _level_free_precision(offsets_m: FloatArray, blur_m: float) -> tuple[FloatArray, FloatArray]:
    """(u, u) precision of a section's error with the height left free, and the weights (u,) of its GLS mean."""
    apart = np.abs(offsets_m[:, None] - offsets_m[None, :])
    blur = max(blur_m / float(offsets_m[1] - offsets_m[0]) / np.sqrt(3.0), 1e-3)
    covariance = _ERROR_SD_M**2 * np.exp(-apart / _ERROR_LENGTH_M)
    for axis in (0, 1):
        covariance = gaussian_filter1d(covariance, blur, axis=axis, mode="nearest")
    precision = np.linalg.inv(covariance + _WHITE_SD_M**2 * np.eye(len(offsets_m)))
    precision = (precision + precision.T) / 2
    ones = precision.sum(axis=1)
    return np.asarray(precision - np.outer(ones, ones) / ones.sum()), np.asarray(ones / ones.sum())


def compare(sections_m: FloatArray, templates: Templates) -> tuple[FloatArray, FloatArray]:
    """(n, c) log of how much better a bench at each candidate explains a section than a plain slope, and (n, c)
    height of that bench [m]. sections_m: (n, u) heights."""
    n, count = len(sections_m), len(templates.candidates_m)
    ratio, level = np.empty((n, count)), np.empty((n, count))
    for first in range(0, n, _CHUNK):
        part = sections_m[first:first + _CHUNK]
        middle = part @ templates.mean
        plain = (0.5 * (part @ templates.slope) ** 2 / templates.slope_scale + templates.slope_constant)
        here = slice(first, first + len(part))
        _collect(part @ templates.filters, templates.constants, templates.levels, middle, plain, ratio[here],
                 level[here])
    return ratio, level


@numba.njit(cache=True, fastmath=False, error_model="numpy")
def _collect(score: Any, constants: Any, levels: Any, middle: Any, plain: Any, ratio: Any, level: Any) -> None:
    """Sum the shapes' probabilities for each candidate; the level is their mean, weighted with them."""
    n, count = ratio.shape
    each = constants.size // count
    for i in range(n):
        for c in range(count):
            first = c * each
            best = -np.inf
            for k in range(first, first + each):
                score[i, k] += constants[k]
                best = max(best, score[i, k])
            total, height = 0.0, 0.0
            for k in range(first, first + each):
                if score[i, k] > best - 12.0:
                    weight = np.exp(score[i, k] - best)
                    total += weight
                    height += weight * levels[k]
            ratio[i, c] = best + np.log(total) - plain[i]
            level[i, c] = middle[i] - height / total


def position_probability(ratio: FloatArray, positions_m: FloatArray, *, share: float, line_sd_m: float,
                         step_decay: float) -> FloatArray:
    """(n, p) probability of each position at each station given all stations.

    ratio: (n, p) log evidence, of which `share` counts (neighbours repeat much of the same error); positions follow
    a first-order process with sd line_sd_m and the correlation step_decay between neighbours.
    """
    least = 0.4 * float(positions_m[1] - positions_m[0])
    spread = max(line_sd_m * float(np.sqrt(1.0 - step_decay**2)), least)
    move = np.exp(-0.5 * ((positions_m[None, :] - step_decay * positions_m[:, None]) / spread) ** 2)
    move /= move.sum(axis=1, keepdims=True)
    seen = np.exp(share * (ratio - ratio.max(axis=1, keepdims=True)))
    start = np.exp(-0.5 * (positions_m / line_sd_m) ** 2)
    out = np.empty(seen.shape)
    _forward_backward(seen, move, start / start.sum(), out)
    return out


@numba.njit(cache=True, fastmath=False, error_model="numpy")
def _forward_backward(seen: Any, move: Any, start: Any, out: Any) -> None:
    n, count = seen.shape
    ahead = np.empty(count)
    for i in range(n):
        total = 0.0
        for c in range(count):
            value = start[c]
            if i > 0:
                value = 0.0
                for b in range(count):
                    value += out[i - 1, b] * move[b, c]
            out[i, c] = value * seen[i, c]
            total += out[i, c]
        for c in range(count):
            out[i, c] /= total
    future = np.ones(count)
    for i in range(n - 2, -1, -1):
        total = 0.0
        for b in range(count):
            ahead[b] = future[b] * seen[i + 1, b]
        for c in range(count):
            future[c] = 0.0
            for b in range(count):
                future[c] += move[c, b] * ahead[b]
            total += future[c]
        weight = 0.0
        for c in range(count):
            future[c] /= total
            out[i, c] *= future[c]
            weight += out[i, c]
        for c in range(count):
            out[i, c] /= weight
