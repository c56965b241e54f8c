# SPDX-License-Identifier: MIT
"""The alignment average against the sum over every alignment of a short road, each solved densely."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from descent.terrain import alignment as alignment_module
from descent.terrain.alignment import AlignmentModel, average_alignments
from descent.terrain.alignment_filter import START_GRADE_VARIANCE, START_VARIANCE_M2

DS, SD = 100.0, 0.85
MODEL = AlignmentModel(step_m=DS, tangent_m=500.0, curve_m=250.0, rate_sd_1pm=4.5e-4, slow_density=0.01,
                       noise_length_m=55.0, draws=4000)


def all_alignments(y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Mean and sd of the grade, summed over every sequence of tangents and curves with its exact evidence."""
    n = len(y)
    lag = np.abs(np.subtract.outer(np.arange(n), np.arange(n))) * DS
    noise = SD**2 * np.exp(-lag / MODEL.noise_length_m)
    noise += MODEL.slow_density * DS * np.minimum.outer(np.arange(n), np.arange(n))
    leave, end, again = DS / MODEL.tangent_m, DS / MODEL.curve_m, DS / 1000.0
    chance = {(0, 0): 1 - leave, (0, 1): leave, (0, 2): 0.0, (1, 0): 1 - end - again, (1, 1): again, (1, 2): end}
    total, first, second, within = 0.0, np.zeros(n), np.zeros(n), np.zeros(n)
    for start in (0, 1):
        for events in itertools.product(range(3), repeat=n - 1):
            mode, weight, count = start, 0.3 if start else 0.7, 3
            rate = 2 if start else -1
            z, g = np.zeros((n, n + 2)), np.zeros((n, n + 2))
            z[0, 0], g[0, 1] = 1.0, 1.0
            for i, event in enumerate(events, start=1):
                weight *= chance[mode, event]
                if event == 1:
                    mode, rate, count = 1, count, count + 1
                elif event == 2:
                    mode, rate = 0, -1
                z[i], g[i] = z[i - 1] + DS * g[i - 1], g[i - 1]
                if rate >= 0:
                    z[i, rate] += DS * DS / 2
                    g[i, rate] += DS
            if weight == 0.0:
                continue
            prior = np.diag([START_VARIANCE_M2, START_GRADE_VARIANCE, *[MODEL.rate_sd_1pm**2] * n])
            full = noise + z @ prior @ z.T
            gain = np.linalg.solve(full, z @ prior).T
            weight *= np.exp(-0.5 * np.linalg.slogdet(full)[1] - 0.5 * (y - y[0]) @ np.linalg.solve(full, y - y[0]))
            mean = g @ gain @ (y - y[0])
            total += weight
            first += weight * mean
            second += weight * mean**2
            within += weight * np.diag(g @ (prior - gain @ z @ prior) @ g.T)
    mean = first / total
    return mean, np.sqrt(within / total + second / total - mean**2)


@pytest.mark.parametrize("seed", [1, 2])
def test_average_is_the_sum_over_all_alignments(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(seed)
    y = np.cumsum(np.concatenate([[0.0], -4.0 + np.array([0, 0, 3.0, 3.0]) + rng.normal(0, 0.8, 4)]))
    monkeypatch.setattr(alignment_module, "HYPOTHESES", 3**6)
    got = average_alignments(y, spacing_m=DS, noise_sd_m=np.full(5, SD), model=MODEL)
    mean, sd = all_alignments(y)
    assert got.grade == pytest.approx(mean, abs=0.0015)         # 4000 draws and merged hypotheses
    assert got.grade_sd == pytest.approx(sd, rel=0.08)


ROAD = AlignmentModel(step_m=40.0, tangent_m=800.0, curve_m=120.0, rate_sd_1pm=3e-4, slow_density=1e-4,
                      noise_length_m=55.0, draws=6)


def test_uniform_grade_is_exact_and_shift_does_not_matter() -> None:
    station = np.arange(0, 4000, 10.0)
    y = 900 - 0.06 * station
    one = average_alignments(y, spacing_m=10.0, noise_sd_m=np.full(len(y), 0.9), model=ROAD)
    two = average_alignments(y + 250, spacing_m=10.0, noise_sd_m=np.full(len(y), 0.9), model=ROAD)
    assert one.grade[50:-50] == pytest.approx(-0.06, abs=5e-5)
    assert one.grade == pytest.approx(-0.06, abs=8e-4)              # the prior of the first grade is 0 +- 6 %
    assert two.grade == pytest.approx(one.grade, abs=1e-9)
    assert two.z_m - 250 == pytest.approx(one.z_m, abs=1e-6)


def test_same_input_same_output() -> None:
    y = 900 - 0.06 * np.arange(0, 3000, 10.0) + np.sin(np.arange(300) / 7)
    runs = [average_alignments(y, spacing_m=10.0, noise_sd_m=np.full(300, 0.9), model=ROAD) for _ in range(2)]
    assert np.array_equal(runs[0].grade, runs[1].grade) and np.array_equal(runs[0].grade_sd, runs[1].grade_sd)


def test_a_gap_widens_the_band_and_is_bridged() -> None:
    station = np.arange(0, 4000, 10.0)
    y = 900 - 0.05 * station
    y[110:230] = np.nan
    got = average_alignments(y, spacing_m=10.0, noise_sd_m=np.full(len(y), 0.9), model=ROAD)
    assert got.z_m == pytest.approx(900 - 0.05 * station, abs=0.5)
    whole = average_alignments(900 - 0.05 * station, spacing_m=10.0, noise_sd_m=np.full(len(y), 0.9), model=ROAD)
    assert got.z_sd_m[170] > 1.3 * whole.z_sd_m[170] and got.grade_sd[170] > whole.grade_sd[170]
