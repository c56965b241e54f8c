# SPDX-License-Identifier: MIT
"""Height and grade of a road with bands that cover: the smoother and the alignment average put together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from descent.terrain.alignment import average_alignments
from descent.terrain.learn import learn
from descent.terrain.noise_class import NoiseClass

FloatArray = NDArray[np.float64]
_NEAR_SPAN_M, _USUAL_MOST = 600.0, 0.008      # gaps are far less known and no measure of the road around them
_FEWEST_STATIONS = 12           # shorter roads are smoothed only


@dataclass(frozen=True)
class Estimate:
    """Arrays (n,): z_m, grade and their sds; noise_sd_m: the noise learnt; height_length_m, grade_length_m: correlation
    lengths of the two errors."""

    z_m: FloatArray
    grade: FloatArray
    z_sd_m: FloatArray
    grade_sd: FloatArray
    noise_sd_m: FloatArray
    height_length_m: float
    grade_length_m: float


def estimate(height_m: FloatArray, *, spacing_m: float, cross_slope: FloatArray, kinds: NDArray[np.int64],
             classes: tuple[NoiseClass, ...]) -> Estimate:
    """Estimate a road from samples at equal spacing.

    height_m (n,): samples [m], NaN left out (at least one is a number); kinds (n,): index into `classes`. What
    the classes give for the whole road comes from the most frequent one, the rest station by station.
    """
    valid = height_m[~np.isnan(height_m)]
    if valid[0] < valid[-1]:                        # always downhill: a road and its reverse give the same answer
        turned = _downhill(height_m[::-1], spacing_m, -cross_slope[::-1], kinds[::-1], classes)
        return Estimate(turned.z_m[::-1], -turned.grade[::-1], turned.z_sd_m[::-1], turned.grade_sd[::-1],
                        turned.noise_sd_m[::-1], turned.height_length_m, turned.grade_length_m)
    return _downhill(height_m, spacing_m, cross_slope, kinds, classes)


def _downhill(height_m: FloatArray, spacing_m: float, cross_slope: FloatArray, kinds: NDArray[np.int64],
              classes: tuple[NoiseClass, ...]) -> Estimate:
    smoothed, noise = learn(height_m, spacing_m=spacing_m, cross_slope=cross_slope, kinds=kinds, classes=classes)
    main = classes[int(np.argmax(np.bincount(kinds, minlength=len(classes))))]
    z, grade = smoothed.z_m, smoothed.grade
    z_var = (main.smoother_band * smoothed.z_sd_m) ** 2
    g_var = (main.smoother_band * smoothed.grade_sd) ** 2
    if len(height_m) >= _FEWEST_STATIONS:
        side = np.array([item.alignment_offset_sd_m for item in classes])[kinds] * cross_slope
        sd = np.hypot(noise.sd_m * np.array([item.alignment_noise for item in classes])[kinds], side)
        average = average_alignments(height_m, spacing_m=spacing_m, noise_sd_m=np.maximum(sd, 0.05),
                                     model=main.alignment)
        share = main.smoother_share
        z, z_var = _mixture(average.z_m, average.z_sd_m**2, z, z_var, share)
        grade, g_var = _mixture(average.grade, average.grade_sd**2, grade, g_var, share)
    z, grade = enlarge(z, grade, spacing_m=spacing_m, share=main.contrast, window_m=main.contrast_window_m)
    band = np.array([item.band for item in classes])[kinds]
    slow = np.array([item.slow_sd_m for item in classes])[kinds]
    own = np.array([item.grade_band for item in classes])[kinds]
    near = np.array([item.near_band for item in classes])[kinds]
    usual = gaussian_filter1d(np.minimum(g_var, _USUAL_MOST**2), _NEAR_SPAN_M / spacing_m, mode="nearest")
    return Estimate(z, grade, np.sqrt(band**2 * z_var + slow**2), np.sqrt(own**2 * g_var + near**2 * usual), noise.sd_m,
                    main.height_length_m, main.grade_length_m)


def _mixture(mean: FloatArray, variance: FloatArray, mean2: FloatArray, variance2: FloatArray,
             share: float) -> tuple[FloatArray, FloatArray]:
    """Mean and variance of a mixture with weight `share` on the second."""
    apart = mean2 - mean
    return mean + share * apart, (1 - share) * variance + share * variance2 + share * (1 - share) * apart**2


def enlarge(z_m: FloatArray, grade: FloatArray, *, spacing_m: float, share: float,
            window_m: float) -> tuple[FloatArray, FloatArray]:
    """Enlarge departures of height and grade from their local mean by a share.

    Any smoother states steep stretches flatter than they are; this takes out the part measured on roads of
    known truth. A uniform grade stays as it is (the ends are continued by point reflection).
    """
    width = window_m / spacing_m
    pad = min(int(3 * width), len(z_m) - 1)
    head, tail = 2 * z_m[0] - z_m[pad:0:-1], 2 * z_m[-1] - z_m[-2:-pad - 2:-1]
    calm = gaussian_filter1d(np.concatenate([head, z_m, tail]), width, truncate=3.0)
    inner = slice(pad, pad + len(z_m))
    calm_grade = np.gradient(calm, spacing_m)[inner]
    return z_m + share * (z_m - calm[inner]), grade + share * (grade - calm_grade)
