# SPDX-License-Identifier: MIT
"""Signed plan curvature of a digitised line, robust to the noise of its vertices."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from descent.route.line import WGS84

FloatArray = NDArray[np.float64]
WINDOW_M = 15.0             # sd of the smoothing: shrinks a 20 m hairpin radius's curvature by about a tenth
MOST_CURVED_1PM = 1 / 6.0   # tighter than any road a long vehicle can drive is noise of the line


def plan_curvature(lon: FloatArray, lat: FloatArray, spacing_m: float, *, window_m: float = WINDOW_M) -> FloatArray:
    """Curvature at equally spaced points: (n,) [1/m], left turns positive.

    lon, lat: (n,) [degree, WGS84] at equal distance. The azimuths of the steps (geodesic inverse) are unwrapped
    and their change is averaged with a Gaussian window, so a single jagged vertex cancels out.
    """
    n = len(lon)
    if n < 3:
        return np.zeros(n)
    azimuth, _, _ = WGS84.inv(lon[:-1], lat[:-1], lon[1:], lat[1:])
    heading = -np.unwrap(np.radians(np.asarray(azimuth, dtype=float)))
    turn = np.concatenate([[0.0], np.diff(heading), [0.0]]) / spacing_m
    smooth = gaussian_filter1d(turn, max(window_m / spacing_m, 0.5), mode="nearest")
    return np.asarray(np.clip(smooth, -MOST_CURVED_1PM, MOST_CURVED_1PM))
