# SPDX-License-Identifier: MIT
"""Kalman smoother of a road: height, grade and its rate, with DEM noise and line offset correlated along the road.

State [z, g, a = dg/ds, n, o]: a is a random walk; n is the height noise of the elevation model and o the
sideways error of the line, both first-order autoregressive. A sample reads y = z + n - c o + white noise, with c
the slope of the ground across the road. The smoothed moments come from the modified Bryson-Frazier backward
pass, which equals the Rauch-Tung-Striebel smoother without inverting a matrix (Bierman 1973, Fixed interval
smoothing with discrete measurements; from memory; the tests check it against dense least squares).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numba
import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
WHITE_SD_M = 0.1
_START_GRADE_SD, _START_RATE_SD_1PM = 0.10, 1e-3


@dataclass(frozen=True)
class NoiseModel:
    """Noise along a road, arrays (n,): sd_m and length_m of the elevation model's own noise, offset_sd_m and
    offset_length_m of the line's sideways error, cross_slope (rise per metre to the left) that turns the
    offset into height."""

    sd_m: FloatArray
    length_m: FloatArray
    offset_sd_m: FloatArray
    offset_length_m: FloatArray
    cross_slope: FloatArray


@dataclass(frozen=True)
class Smoothed:
    """Posterior at n stations: means z_m, grade, rate_1pm (dg/ds); sds z_sd_m, grade_sd; noise_square, the
    mean of the noise squared [m^2]."""

    z_m: FloatArray
    grade: FloatArray
    z_sd_m: FloatArray
    grade_sd: FloatArray
    rate_1pm: FloatArray
    noise_square: FloatArray


def smooth(height_m: FloatArray, *, spacing_m: float, noise: NoiseModel, rate_density: FloatArray) -> Smoothed:
    """Posterior of height and grade given samples at equal spacing.

    height_m: (n,) samples, NaN where there is none or it is not the road; rate_density: (n,) variance of the
    change of a per metre [(1/m)^2 per m].
    """
    out = np.empty((len(height_m), 6))
    first = float(height_m[np.flatnonzero(~np.isnan(height_m))[0]])
    _smooth(np.asarray(height_m, dtype=float), spacing_m, noise.sd_m, np.exp(-spacing_m / noise.length_m),
            noise.offset_sd_m, np.exp(-spacing_m / noise.offset_length_m), noise.cross_slope, rate_density,
            WHITE_SD_M, first, np.array([1e3, _START_GRADE_SD, _START_RATE_SD_1PM]), out)
    return Smoothed(*(out[:, k] for k in range(6)))


@numba.njit(cache=True, fastmath=False, error_model="numpy")
def _propagate(p: Any, f: Any, tmp: Any) -> None:
    """p := f p f' for the sparse transition f (rows 0, 1 couple; 2, 3, 4 are diagonal)."""
    for j in range(5):
        tmp[0, j] = p[0, j] + f[0, 1] * p[1, j] + f[0, 2] * p[2, j]
        tmp[1, j] = p[1, j] + f[1, 2] * p[2, j]
        tmp[2, j] = p[2, j]
        tmp[3, j] = f[3, 3] * p[3, j]
        tmp[4, j] = f[4, 4] * p[4, j]
    for i in range(5):
        p[i, 0] = tmp[i, 0] + f[0, 1] * tmp[i, 1] + f[0, 2] * tmp[i, 2]
        p[i, 1] = tmp[i, 1] + f[1, 2] * tmp[i, 2]
        p[i, 2] = tmp[i, 2]
        p[i, 3] = f[3, 3] * tmp[i, 3]
        p[i, 4] = f[4, 4] * tmp[i, 4]


@numba.njit(cache=True, fastmath=False, error_model="numpy")
def _pull_back(p: Any, f: Any, tmp: Any) -> None:
    """p := f' p f."""
    for j in range(5):
        tmp[0, j] = p[0, j]
        tmp[1, j] = p[1, j] + f[0, 1] * p[0, j]
        tmp[2, j] = p[2, j] + f[1, 2] * p[1, j] + f[0, 2] * p[0, j]
        tmp[3, j] = f[3, 3] * p[3, j]
        tmp[4, j] = f[4, 4] * p[4, j]
    for i in range(5):
        p[i, 0] = tmp[i, 0]
        p[i, 1] = tmp[i, 1] + f[0, 1] * tmp[i, 0]
        p[i, 2] = tmp[i, 2] + f[1, 2] * tmp[i, 1] + f[0, 2] * tmp[i, 0]
        p[i, 3] = f[3, 3] * tmp[i, 3]
        p[i, 4] = f[4, 4] * tmp[i, 4]


@numba.njit(cache=True, fastmath=False, error_model="numpy")
def _smooth(y: Any, ds: Any, sd: Any, phi: Any, osd: Any, ophi: Any, cross: Any, q: Any, white: Any, z0: Any,
            start: Any, out: Any) -> None:
    n = y.size
    xs = np.zeros((n, 5))
    ps = np.zeros((n, 5, 5))
    f = np.zeros((5, 5))
    for k in range(5):
        f[k, k] = 1.0
    f[0, 1] = ds
    f[0, 2] = 0.5 * ds * ds
    f[1, 2] = ds
    x = np.zeros(5)
    p = np.zeros((5, 5))
    tmp = np.zeros((5, 5))
    ph = np.zeros(5)
    x[0] = z0
    for k in range(3):
        p[k, k] = start[k] ** 2
    p[3, 3] = sd[0] ** 2
    p[4, 4] = osd[0] ** 2
    for i in range(n):
        if i > 0:
            f[3, 3] = phi[i]
            f[4, 4] = ophi[i]
            x[0] += ds * x[1] + 0.5 * ds * ds * x[2]
            x[1] += ds * x[2]
            x[3] *= phi[i]
            x[4] *= ophi[i]
            _propagate(p, f, tmp)
            p[2, 2] += q[i] * ds
            p[3, 3] += sd[i] ** 2 * (1.0 - phi[i] ** 2)
            p[4, 4] += osd[i] ** 2 * (1.0 - ophi[i] ** 2)
        for k in range(5):
            xs[i, k] = x[k]
            for m in range(5):
                ps[i, k, m] = p[k, m]
        if not np.isnan(y[i]):
            c = -cross[i]
            for k in range(5):
                ph[k] = p[k, 0] + p[k, 3] + c * p[k, 4]
            s = ph[0] + ph[3] + c * ph[4] + white * white
            nu = (y[i] - x[0] - x[3] - c * x[4]) / s
            for k in range(5):
                x[k] += ph[k] * nu
                for m in range(5):
                    p[k, m] -= ph[k] * ph[m] / s
    lam = np.zeros(5)
    big = np.zeros((5, 5))
    col = np.zeros(5)
    h = np.zeros(5)
    h[0] = 1.0
    h[3] = 1.0
    for i in range(n - 1, -1, -1):
        x = xs[i]
        p = ps[i]
        if not np.isnan(y[i]):
            c = -cross[i]
            for k in range(5):
                ph[k] = p[k, 0] + p[k, 3] + c * p[k, 4]
            s = ph[0] + ph[3] + c * ph[4] + white * white
            nu = (y[i] - x[0] - x[3] - c * x[4]) / s
            dot = 0.0                                   # lambda := C' lambda - H' nu, C = I - K H, K = ph / s
            quad = 0.0
            for k in range(5):
                dot += ph[k] / s * lam[k]
                col[k] = 0.0
                for m in range(5):
                    col[k] += big[k, m] * ph[m] / s
            for k in range(5):
                quad += ph[k] / s * col[k]
            h[4] = c
            for k in range(5):
                lam[k] -= h[k] * (dot + nu)
                for m in range(5):
                    big[k, m] += h[k] * h[m] * (1.0 / s + quad) - h[k] * col[m] - col[k] * h[m]
        _write(x, p, lam, big, out[i])
        if i > 0:
            f[3, 3] = phi[i]
            f[4, 4] = ophi[i]
            lam[4] *= ophi[i]
            lam[3] *= phi[i]
            lam[2] += ds * lam[1] + 0.5 * ds * ds * lam[0]
            lam[1] += ds * lam[0]
            _pull_back(big, f, tmp)


@numba.njit(cache=True, fastmath=False, error_model="numpy")
def _write(x: Any, p: Any, lam: Any, big: Any, out: Any) -> None:
    """Smoothed means x - P lambda and variances P - P Lambda P of z, g, a, n."""
    for k in range(4):
        mean = x[k]
        variance = p[k, k]
        for m in range(5):
            mean -= p[k, m] * lam[m]
            for r in range(5):
                variance -= p[k, m] * big[m, r] * p[r, k]
        variance = max(variance, 0.0)
        if k < 2:
            out[k] = mean
            out[k + 2] = np.sqrt(variance)
        elif k == 2:
            out[4] = mean
        else:
            out[5] = mean * mean + variance
