# SPDX-License-Identifier: MIT
"""The estimate on roads of closed form: error, coverage, symmetry, and the enlargement's laws."""

from __future__ import annotations

import numpy as np
import pytest

from descent.terrain.estimate import Estimate, enlarge, estimate
from descent.terrain.from_grades import profile_from_grades
from descent.terrain.noise_class import BENCH, FINE, coarse_class
from descent.terrain.road_profile import RoadProfile

DS, N = 10.0, 900
STATION = np.arange(N) * DS
CLASSES = (BENCH, FINE, coarse_class(30.0))
# grade at the ends of curves [m, ratio]; linear between: tangents and parabolic curves
KNOTS = np.array([0, 800, 960, 2600, 2680, 4300, 4500, 6400, 6520, 9000.0])
GRADES = np.array([0.03, 0.03, -0.055, -0.055, -0.035, -0.035, -0.07, -0.07, -0.045, -0.045])
TRUE_GRADE = np.interp(STATION, KNOTS, GRADES)
TRUE_Z = 1800 + np.concatenate([[0.0], np.cumsum((TRUE_GRADE[1:] + TRUE_GRADE[:-1]) / 2 * DS)])


def noise(seed: int, n: int = N, *, sd_m: float = 0.85, length_m: float = 55.0) -> np.ndarray:
    """First-order noise."""
    rng, phi = np.random.default_rng(seed), np.exp(-DS / length_m)
    out = np.empty(n)
    out[0] = rng.normal(0, sd_m)
    for i in range(1, n):
        out[i] = phi * out[i - 1] + sd_m * np.sqrt(1 - phi**2) * rng.normal()
    return out


def noisy(seed: int, *, sd_m: float = 0.85, length_m: float = 55.0) -> np.ndarray:
    """The road plus noise."""
    return TRUE_Z + noise(seed, sd_m=sd_m, length_m=length_m)


def mountain_road(seed: int) -> RoadProfile:
    """Tangents of 300 to 1300 m at 3 to 8 % down with milder breaks between, joined by parabolas (closed form)."""
    rng, rows = np.random.default_rng(1000 + seed), []
    for _ in range(11):
        mild = rng.random() < 0.25
        rows.append((round(rng.uniform(300, 700 if mild else 1300), -1),
                     rng.uniform(-0.015, 0.03) if mild else rng.uniform(-0.08, -0.03)))
    return profile_from_grades(rows)


def run(height: np.ndarray, kind: int = 0, cross: float = 0.0) -> Estimate:
    return estimate(height, spacing_m=DS, cross_slope=np.full(len(height), cross),
                    kinds=np.full(len(height), kind, dtype=np.int64), classes=CLASSES)


def test_band_covers_and_error_is_small() -> None:
    errors, sds, z_scores = [], [], []
    for seed in range(12):
        road = mountain_road(seed)
        got = run(road.elevation_m + noise(seed, len(road.station_m)))
        errors.append(got.grade - road.grade)
        sds.append(got.grade_sd)
        z_scores.append((got.z_m - road.elevation_m) / got.z_sd_m)
    error, sd = np.concatenate(errors), np.concatenate(sds)
    covered = float(np.mean(np.abs(error) <= 1.645 * sd))           # 1.645: the normal's 90 % band
    assert 0.85 <= covered <= 0.97
    assert 0.7 < np.sqrt(np.mean(error**2) / np.mean(sd**2)) < 1.1
    assert np.sqrt(np.mean(error**2)) < 0.0045
    assert 0.85 <= float(np.mean(np.abs(np.concatenate(z_scores)) <= 1.645)) <= 0.97


def test_noise_level_is_learnt() -> None:
    levels = [float(np.median(run(noisy(3, sd_m=sd)).noise_sd_m)) for sd in (0.4, 0.85, 1.7)]
    assert levels == sorted(levels)
    assert levels == pytest.approx([0.4, 0.85, 1.7], rel=0.35)


def test_driven_the_other_way_it_is_the_same_road() -> None:
    height = noisy(5)
    there, back = run(height, cross=0.2), run(height[::-1].copy(), cross=-0.2)
    assert back.z_m[::-1] == pytest.approx(there.z_m, abs=1e-9)
    assert back.grade[::-1] == pytest.approx(-there.grade, abs=1e-12)
    assert back.grade_sd[::-1] == pytest.approx(there.grade_sd, abs=1e-12)


def test_height_of_the_datum_does_not_matter() -> None:
    low, high = run(noisy(6)), run(noisy(6) + 1000.0)
    assert high.grade == pytest.approx(low.grade, abs=1e-8)
    assert high.z_m - 1000 == pytest.approx(low.z_m, abs=1e-5)


def test_grade_is_the_slope_of_the_height() -> None:
    got = run(noisy(7))
    slope = (got.z_m[20:] - got.z_m[:-20]) / (20 * DS)
    mean = np.convolve(got.grade, np.concatenate([[0.5], np.ones(19), [0.5]]) / 20, "valid")
    assert slope == pytest.approx(mean, abs=0.002)


def test_coarse_models_get_wider_bands() -> None:
    height = noisy(8, sd_m=3.5, length_m=70.0)
    got = run(height, kind=2)
    assert np.median(got.grade_sd) > 1.8 * np.median(run(noisy(8)).grade_sd)
    assert np.median(got.z_sd_m) > 2.5


def test_a_short_road_is_estimated_too() -> None:
    got = run(TRUE_Z[200:208])
    assert got.grade == pytest.approx(-0.055, abs=0.03)


def test_enlargement_leaves_a_uniform_grade_and_opens_a_bend() -> None:
    z = 500 - 0.05 * STATION
    same_z, same_grade = enlarge(z, np.full(N, -0.05), spacing_m=DS, share=0.05, window_m=600.0)
    assert same_z == pytest.approx(z, abs=1e-6)
    assert same_grade == pytest.approx(-0.05, abs=1e-6)
    _, wide = enlarge(TRUE_Z, TRUE_GRADE, spacing_m=DS, share=0.05, window_m=600.0)
    assert wide[550] < TRUE_GRADE[550] and wide[350] > TRUE_GRADE[350]          # the 7 % gets steeper, the 3.5 % less
