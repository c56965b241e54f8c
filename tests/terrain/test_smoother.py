# SPDX-License-Identifier: MIT
"""The smoother against the same model written as one dense Gaussian in plain numpy."""

from __future__ import annotations

import numpy as np
import pytest

from descent.terrain.smoother import NoiseModel, smooth

N, DS, WHITE = 40, 10.0, 0.1


def model(rng: np.random.Generator) -> tuple[NoiseModel, np.ndarray, np.ndarray]:
    noise = NoiseModel(rng.uniform(0.5, 2.0, N), rng.uniform(40, 120, N), rng.uniform(2, 6, N),
                       rng.uniform(80, 150, N), rng.uniform(-0.5, 0.5, N))
    height = 700 - 0.06 * DS * np.arange(N) + rng.normal(0, 1.5, N)
    height[[5, 6, 7, 20]] = np.nan
    return noise, rng.uniform(1e-10, 1e-9, N), height


def dense(noise: NoiseModel, rate: np.ndarray, height: np.ndarray) -> tuple[np.ndarray, ...]:
    """Posterior of z and g by conditioning the joint covariance of all states (independent of the recursion)."""
    phi, ophi = np.exp(-DS / noise.length_m), np.exp(-DS / noise.offset_length_m)
    cov = np.zeros((N, N, 5, 5))
    cov[0, 0] = np.diag([1e6, 0.1**2, 1e-6, noise.sd_m[0] ** 2, noise.offset_sd_m[0] ** 2])
    steps = []
    for i in range(1, N):
        f = np.diag([1, 1, 1, phi[i], ophi[i]])
        f[0, 1], f[0, 2], f[1, 2] = DS, DS * DS / 2, DS
        q = np.diag([0, 0, rate[i] * DS, noise.sd_m[i] ** 2 * (1 - phi[i] ** 2),
                     noise.offset_sd_m[i] ** 2 * (1 - ophi[i] ** 2)])
        cov[i, i] = f @ cov[i - 1, i - 1] @ f.T + q
        steps.append(f)
    for i in range(N):
        for j in range(i + 1, N):
            cov[i, j] = cov[i, j - 1] @ steps[j - 1].T
            cov[j, i] = cov[i, j].T
    big = cov.transpose(0, 2, 1, 3).reshape(5 * N, 5 * N)
    known = np.flatnonzero(~np.isnan(height))
    h = np.zeros((len(known), 5 * N))
    for k, i in enumerate(known):
        h[k, 5 * i], h[k, 5 * i + 3], h[k, 5 * i + 4] = 1.0, 1.0, -noise.cross_slope[i]
    total = h @ big @ h.T + WHITE**2 * np.eye(len(known))
    gain = np.linalg.solve(total, h @ big).T
    mean = gain @ (height[known] - height[0])
    variance = np.diag(big - gain @ h @ big)
    return (mean[0::5] + height[0], mean[1::5], np.sqrt(variance[0::5]), np.sqrt(variance[1::5]),
            mean[2::5], mean[3::5] ** 2 + variance[3::5])


@pytest.mark.parametrize("seed", range(4))
def test_smoother_is_the_dense_posterior(seed: int) -> None:
    noise, rate, height = model(np.random.default_rng(seed))
    got = smooth(height, spacing_m=DS, noise=noise, rate_density=rate)
    z, g, z_sd, g_sd, a, n2 = dense(noise, rate, height)
    assert got.z_m == pytest.approx(z, abs=1e-4)
    assert got.grade == pytest.approx(g, abs=1e-6)
    assert got.z_sd_m == pytest.approx(z_sd, rel=1e-3)         # the vague start (1000 m) costs digits of both
    assert got.grade_sd == pytest.approx(g_sd, rel=1e-4)
    assert got.rate_1pm == pytest.approx(a, abs=1e-8)
    assert got.noise_square == pytest.approx(n2, rel=1e-3)


def test_uniform_grade_without_noise_is_exact() -> None:
    flat = np.zeros(N)
    noise = NoiseModel(flat + 1.0, flat + 50.0, flat + 2.0, flat + 100.0, flat)
    got = smooth(800 - 0.07 * DS * np.arange(N), spacing_m=DS, noise=noise, rate_density=flat + 1e-10)
    assert got.grade == pytest.approx(-0.07, abs=1.5e-3)   # 400 m at 1 m noise against a first grade of 0 +- 10 %
