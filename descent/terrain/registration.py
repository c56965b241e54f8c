# SPDX-License-Identifier: MIT
"""Shifts a digitised line sideways onto the level bench of the road, where the elevation model shows one.

A first path of least cross-slope (dynamic programming) says where to look; around it whole cross-sections are
compared with benches cut into a slope (`bench_template`). On roads of known truth this leaves the line 1.5 m off
(root mean square; median 0.7 m) where the cross-slope alone leaves 2.7 m, and reads the height without cut and fill.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numba
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from descent.terrain.bench_template import compare, make_templates, position_probability
from descent.terrain.sample import CrossSamples

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

LINE_SD_M = 5.0             # digitised centre-lines (published comparisons: within about 6 m)
LINE_LENGTH_M = 120.0
SLOPE_WEIGHT = 30.0
FINE_CELL_M = 15.0
# Evidence: log of how much better a bench explains a section than a plain slope, mean over EVIDENCE_SPAN_M.
# Measured with 10 m cells: 5 to 13 where the bench is in the model, -3 to -8 where it is not.
EVIDENCE_LIMIT, EVIDENCE_SPAN_M = 1.0, 600.0
OFFSETS_M = np.arange(-30.0, 30.1, 2.0)     # read this far aside: a window around a line that is itself far off
_WINDOW_M, _REACH_M, _FIRST_REACH_M = 20.0, 16.0, 20.0
_SAME_PLACE_M, _FARTHEST_SHIFT_M, _SHIFT_SPAN_M = 6.0, 10.0, 20.0
_EVIDENCE_SHARE, _SHARE_SPACING_M = 0.3, 10.0
_IMPOSSIBLE = -60.0
_LOCAL_SPAN_M, _LOCAL_NONE, _LOCAL_FULL = 100.0, -2.0, 0.0


@dataclass(frozen=True)
class Registered:
    """height_m (n,): heights of the road on the shifted line; offset_m (n,): the shift, left positive, and
    offset_sd_m (n,) how sure it is; cross_slope (n,): rise per metre to the left there; bench (n,): the bench is
    seen; evidence (n,): local mean of the evidence for a bench."""

    height_m: FloatArray
    offset_m: FloatArray
    offset_sd_m: FloatArray
    cross_slope: FloatArray
    bench: BoolArray
    evidence: FloatArray


def register(samples: CrossSamples, masked: BoolArray, *, spacing_m: float) -> Registered:
    """The line moved onto the road bench, where the cross-sections show one.

    Only tried where cells are at most 15 m and on more than 1.2 km of road; elsewhere the line stays. samples: at
    OFFSETS_M (or any equal steps up to at least 20 m on both sides); masked: (n,) stations that are no evidence.
    """
    heights, offsets = _filled(samples.height_m), samples.offsets_m
    n, centre = len(heights), samples.centre
    fine = samples.cell_m <= FINE_CELL_M
    usable = fine & ~masked & ~np.isnan(samples.height_m).any(axis=1)
    height, offset, sd = samples.height_m[:, centre].copy(), np.zeros(n), np.full(n, LINE_SD_M)
    evidence = np.full(n, _IMPOSSIBLE)
    if usable.sum() * spacing_m > 2 * EVIDENCE_SPAN_M:
        found = _Search(heights, offsets, usable, spacing_m, float(np.median(samples.cell_m[usable])))
        evidence = _mean_where(found.evidence, usable, EVIDENCE_SPAN_M / spacing_m)
    bench = (evidence > EVIDENCE_LIMIT) & fine
    cross = np.where(fine, _slopes(heights, offsets, 6.0)[:, centre], _slopes(heights, offsets, 14.0)[:, centre])
    if bench.any():
        column = np.clip(np.round((found.offset_m - offsets[0]) / (offsets[1] - offsets[0])), 0, len(offsets) - 1)
        on_bench = _slopes(heights, offsets, 4.0)[np.arange(n), column.astype(np.int64)]
        height, offset = np.where(bench, found.height_m, height), np.where(bench, found.offset_m, offset)
        sd, cross = np.where(bench, found.offset_sd_m, sd), np.where(bench, on_bench, cross)
    height = np.where(np.isnan(samples.height_m[:, centre]), np.nan, height)
    return Registered(height, offset, sd, np.nan_to_num(cross), bench, evidence)


class _Search:
    """Positions and heights of the bench along a road, found in two steps."""

    def __init__(self, heights: FloatArray, offsets: FloatArray, usable: BoolArray, spacing_m: float,
                 cell_m: float) -> None:
        step = float(offsets[1] - offsets[0])
        aside, near = round(_WINDOW_M / step), round(_REACH_M / step)
        middle, n = len(offsets) // 2, len(heights)
        shift = _first_shift(heights, offsets, usable, spacing_m, min(middle - aside, round(_FARTHEST_SHIFT_M / step)))
        rows = np.arange(n)[:, None]
        sections = heights[rows, middle + shift[:, None] + np.arange(-aside, aside + 1)[None, :]]
        window, candidates = _steps(aside, step), _steps(near, step)
        ratio, level = compare(sections, make_templates(window, candidates, cell_m=cell_m))
        most = int(np.max(np.abs(shift))) + near
        positions = _steps(most, step)
        columns = most + shift[:, None] + np.arange(-near, near + 1)[None, :]
        on_grid = np.full((n, len(positions)), _IMPOSSIBLE)
        np.put_along_axis(on_grid, columns, np.where(usable[:, None], ratio, 0.0), axis=1)
        on_grid[~usable] = 0.0
        chance = _positions(on_grid, positions, usable, spacing_m)
        self.offset_m = chance @ positions
        self.offset_sd_m = np.sqrt(np.maximum(chance @ positions**2 - self.offset_m**2, 0.0))
        seen = np.take_along_axis(chance, columns, axis=1)
        seen /= np.maximum(seen.sum(axis=1, keepdims=True), 1e-300)
        self.evidence = np.where(usable, np.sum(seen * ratio, axis=1), 0.0)
        local = _mean_where(self.evidence, usable, _LOCAL_SPAN_M / spacing_m)
        trust = np.clip((local - _LOCAL_NONE) / (_LOCAL_FULL - _LOCAL_NONE), 0.0, 1.0)
        read = np.sum(seen * sections[:, aside - near:aside + near + 1], axis=1)
        self.height_m = trust * np.sum(seen * level, axis=1) + (1.0 - trust) * read


def _steps(most: int, step: float) -> FloatArray:
    return np.asarray(np.arange(-most, most + 1) * step, dtype=np.float64)


def _positions(ratio: FloatArray, positions: FloatArray, usable: BoolArray, spacing_m: float) -> FloatArray:
    """Probability of each position; a line that turns out to be further off than usual is searched again as such."""
    share = min(1.0, _EVIDENCE_SHARE * spacing_m / _SHARE_SPACING_M)
    decay = float(np.exp(-spacing_m / LINE_LENGTH_M))
    chance = position_probability(ratio, positions, share=share, line_sd_m=LINE_SD_M, step_decay=decay)
    rms = float(np.sqrt(np.mean((chance @ positions**2)[usable])))
    if rms > LINE_SD_M:
        chance = position_probability(ratio, positions, share=share, line_sd_m=1.3 * rms, step_decay=decay)
    return chance


def _first_shift(heights: FloatArray, offsets: FloatArray, usable: BoolArray, spacing_m: float,
                 most: int) -> NDArray[np.int64]:
    """How far (in offset steps) to move the window that is searched: 0 unless the line looks more than 6 m off."""
    near = np.abs(offsets) <= _FIRST_REACH_M
    inner, step = offsets[near], float(offsets[1] - offsets[0])
    path = inner[_best_shift(_slopes(heights[:, near], inner, 4.0), inner, usable, spacing_m)]
    calm = gaussian_filter1d(path, _SHIFT_SPAN_M / spacing_m)
    moved = np.sign(calm) * np.clip(np.abs(calm) - _SAME_PLACE_M, 0.0, most * step)
    return np.asarray(np.round(moved / step), dtype=np.int64)


def _mean_where(values: FloatArray, usable: BoolArray, span: float) -> FloatArray:
    """Local mean (Gaussian, sd `span` stations) over the usable stations; 0 where none is near."""
    weight = gaussian_filter1d(usable.astype(float), span, mode="nearest")
    return np.asarray(gaussian_filter1d(np.where(usable, values, 0.0), span, mode="nearest") / np.maximum(weight, 1e-6))


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
