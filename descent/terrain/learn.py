# SPDX-License-Identifier: MIT
"""Smooths a road with the noise level and the roughness learnt from the samples themselves."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from descent.terrain.noise_class import NoiseClass
from descent.terrain.smoother import NoiseModel, Smoothed, smooth

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

NOISE_PASSES = 4
RATE_PASSES = 4
_RATE_UNIT_1PM = 1e-4           # 1 % of grade per 100 m
_RATE_GAIN, _LEAST_SHARE = 0.05, 0.003


def learn(height_m: FloatArray, *, spacing_m: float, cross_slope: FloatArray, kinds: NDArray[np.int64],
          classes: tuple[NoiseClass, ...]) -> tuple[Smoothed, NoiseModel]:
    """Smooth with noise level and process noise learnt from the samples.

    height_m (n,): samples, NaN left out; kinds (n,): index into `classes` of each station. The noise sd of each
    class is the fixed point of sd^2 = mean E[n^2 | y]; the process noise follows the local mean of E[a | y]^2.
    """
    noise = _first_noise(kinds, classes, cross_slope)
    rate = _per_station(kinds, [item.rate_density for item in classes])
    here = smooth(height_m, spacing_m=spacing_m, noise=noise, rate_density=rate)
    for _ in range(NOISE_PASSES):
        noise = _renewed(noise, here, kinds, ~np.isnan(height_m))
        here = smooth(height_m, spacing_m=spacing_m, noise=noise, rate_density=rate)
    window = _per_station(kinds, [item.rate_window_m for item in classes])
    for _ in range(RATE_PASSES):
        share = _local_mean(here.rate_1pm**2, window, spacing_m) / _RATE_UNIT_1PM**2
        rate = _RATE_GAIN * _RATE_UNIT_1PM**2 * np.clip(share, _LEAST_SHARE, 1.0)
        here = smooth(height_m, spacing_m=spacing_m, noise=noise, rate_density=rate)
    return here, noise


def _per_station(kinds: NDArray[np.int64], values: list[float]) -> FloatArray:
    return np.asarray(values, dtype=float)[kinds]


def _first_noise(kinds: NDArray[np.int64], classes: tuple[NoiseClass, ...], cross: FloatArray) -> NoiseModel:
    def pick(name: str) -> FloatArray:
        return _per_station(kinds, [getattr(item, name) for item in classes])
    return NoiseModel(pick("start_sd_m"), pick("length_m"), pick("offset_sd_m"), pick("offset_length_m"), cross)


def _renewed(noise: NoiseModel, here: Smoothed, kinds: NDArray[np.int64], seen: BoolArray) -> NoiseModel:
    sd = noise.sd_m.copy()
    for kind in np.unique(kinds):
        members = (kinds == kind) & seen
        if members.sum() > 30:
            sd[kinds == kind] = np.sqrt(np.mean(here.noise_square[members]))
    return NoiseModel(sd, noise.length_m, noise.offset_sd_m, noise.offset_length_m, noise.cross_slope)


def _local_mean(values: FloatArray, window_m: FloatArray, spacing_m: float) -> FloatArray:
    out = np.empty_like(values)
    for window in np.unique(window_m):
        smoothed = gaussian_filter1d(values, window / spacing_m, mode="nearest")
        out[window_m == window] = smoothed[window_m == window]
    return out
