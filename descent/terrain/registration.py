# SPDX-License-Identifier: MIT
"""Shifts a digitised line sideways onto the level bench of the road, where the elevation model shows one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numba
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from descent.terrain.sample import CrossSamples

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

LINE_SD_M = 5.0             # digitised centre-lines (published comparisons: within about 6 m)
LINE_LENGTH_M = 120.0
SLOPE_WEIGHT = 30.0
CONTRAST_LIMIT = 0.70       # measured: 0.35-0.53 where the bench is in the model, 0.85-0.99 where it is not
CONTRAST_SPAN_M = 600.0
FINE_CELL_M = 15.0
_SIDE_M = 9.0


@dataclass(frozen=True)
class Registered:
    """height_m (n,): samples on the shifted line; offset_m (n,): the shift, left positive; cross_slope (n,):
    rise per metre to the left there; bench (n,): the bench is seen; contrast (n,): ground slope on the line over
    ground slope beside it, local mean (below 0.7: a bench)."""

    height_m: FloatArray
    offset_m: FloatArray
    cross_slope: FloatArray
    bench: BoolArray
    contrast: FloatArray


def slope_half_width_m(cell_m: float) -> float:
    """Half the base over which cross-slope is read: a bench on fine cells, the hillside on coarse ones [m]."""
    return 4.0 if cell_m <= FINE_CELL_M else 14.0


def register(samples: CrossSamples, masked: BoolArray, *, spacing_m: float) -> Registered:
    """The line moved onto the least cross-slope by dynamic programming, where that shows a bench.

    Only tried where cells are at most 15 m; elsewhere the line stays. masked: (n,) stations that are no evidence.
    """
    heights, offsets = _filled(samples.height_m), samples.offsets_m
    n, centre = len(heights), samples.centre
    fine = samples.cell_m <= FINE_CELL_M
    slopes = _slopes(heights, offsets, 4.0)
    shift = np.full(n, centre, dtype=np.int64)
    contrast = np.ones(n)
    usable = fine & ~masked & ~np.isnan(samples.height_m).any(axis=1)
    if usable.sum() * spacing_m > 2 * CONTRAST_SPAN_M:
        shift = _best_shift(slopes, offsets, usable, spacing_m)
        contrast = _contrast(slopes, offsets, shift, usable, spacing_m)
    bench = (contrast < CONTRAST_LIMIT) & fine
    shift = np.where(bench, shift, centre)
    rows = np.arange(n)
    wide = _slopes(heights, offsets, 14.0)
    medium = _slopes(heights, offsets, 6.0)
    cross = np.where(bench, slopes[rows, shift], np.where(fine, medium[:, centre], wide[:, centre]))
    return Registered(samples.height_m[rows, shift], offsets[shift], np.nan_to_num(cross), bench, contrast)


def _filled(heights: FloatArray) -> FloatArray:
    """Heights with gaps beside the line taken as level with it (slopes there become flat)."""
    centre = heights[:, [heights.shape[1] // 2]]
    return np.where(np.isnan(heights), centre, heights)


def _slopes(heights: FloatArray, offsets: FloatArray, half_m: float) -> FloatArray:
    """Rise per metre to the left at each offset over +-half_m (clipped at the outermost offsets)."""
    step = float(offsets[1] - offsets[0])
    k = max(1, round(half_m / step))
    index = np.arange(len(offsets))
    ahead, behind = np.minimum(index + k, len(offsets) - 1), np.maximum(index - k, 0)
    return np.asarray((heights[:, ahead] - heights[:, behind]) / ((ahead - behind) * step))


def _best_shift(slopes: FloatArray, offsets: FloatArray, usable: BoolArray, spacing_m: float) -> NDArray[np.int64]:
    data = np.where(usable[:, None], SLOPE_WEIGHT * np.nan_to_num(slopes) ** 2, 0.0)
    sd = LINE_SD_M
    shift = _viterbi(data, offsets, sd, spacing_m / LINE_LENGTH_M)
    rms = float(np.sqrt(np.mean(offsets[shift] ** 2)))
    if rms > LINE_SD_M:
        sd = 1.3 * rms
        shift = _viterbi(data, offsets, sd, spacing_m / LINE_LENGTH_M)
    return np.asarray(shift)


def _contrast(slopes: FloatArray, offsets: FloatArray, shift: NDArray[np.int64], usable: BoolArray,
              spacing_m: float) -> FloatArray:
    """Mean slope on the shifted line over mean slope beside it, as a local mean along the road."""
    rows = np.arange(len(shift))
    aside = round(_SIDE_M / float(offsets[1] - offsets[0]))
    left = np.clip(shift + aside, 0, len(offsets) - 1)
    right = np.clip(shift - aside, 0, len(offsets) - 1)
    on = np.where(usable, np.abs(slopes[rows, shift]), 0.0)
    beside = np.where(usable, (np.abs(slopes[rows, left]) + np.abs(slopes[rows, right])) / 2, 0.0)
    span = CONTRAST_SPAN_M / spacing_m
    near = gaussian_filter1d(beside, span, mode="nearest")
    return np.where(near > 1e-6, gaussian_filter1d(on, span, mode="nearest") / np.maximum(near, 1e-6), 1.0)


@numba.njit(cache=True, fastmath=False, error_model="numpy")
def _viterbi(data: Any, offsets: Any, sd: Any, share: Any) -> Any:
    """The path of least cost: data + prior on the offset + squared steps; share = spacing over line length."""
    n, k = data.shape
    best = np.empty((n, k), dtype=np.int64)
    cost = np.empty(k)
    fresh = np.empty(k)
    stay = 0.5 * share / (sd * sd)
    move = 0.5 / (2.0 * sd * sd * share)
    for j in range(k):
        cost[j] = data[0, j] + stay * offsets[j] ** 2
    for i in range(1, n):
        for j in range(k):
            least = np.inf
            for m in range(max(0, j - 4), min(k, j + 5)):
                value = cost[m] + move * (offsets[j] - offsets[m]) ** 2
                if value < least:
                    least = value
                    best[i, j] = m
            fresh[j] = least + data[i, j] + stay * offsets[j] ** 2
        for j in range(k):
            cost[j] = fresh[j]
    path = np.empty(n, dtype=np.int64)
    path[n - 1] = 0
    for j in range(1, k):
        if cost[j] < cost[path[n - 1]]:
            path[n - 1] = j
    for i in range(n - 1, 0, -1):
        path[i - 1] = best[i, path[i]]
    return path
