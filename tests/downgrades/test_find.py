# SPDX-License-Identifier: MIT
"""Sustained downgrades on profiles of closed form."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from descent.downgrades.find import steepest_mean, sustained_downgrades
from descent.downgrades.zigzag import zigzag_falls
from descent.terrain.from_grades import profile_from_grades
from descent.terrain.road_profile import RoadProfile


def known(profile: RoadProfile) -> RoadProfile:
    """The same profile without any uncertainty."""
    return replace(profile, common_grade_sd=0.0)


def by_definition(w: np.ndarray, hysteresis: float) -> list[tuple[int, int]]:
    """Falls by the textbook recursion on turning points, written apart from the kernel."""
    falls, sign, extreme, last = [], 0, 0, 0
    for i in range(len(w)):
        if sign >= 0 and w[i] > w[extreme] or sign < 0 and w[i] < w[extreme]:
            extreme = i
        if sign >= 0 and w[extreme] - w[i] > hysteresis:
            sign, last, extreme = -1, extreme, i
        elif sign < 0 and w[i] - w[extreme] > hysteresis:
            falls.append((last, extreme))
            sign, extreme = 1, i
    return falls + ([(last, extreme)] if sign < 0 else [])


@given(st.lists(st.floats(-30, 30), min_size=2, max_size=80), st.floats(0.5, 20))
def test_zigzag_against_the_definition(steps: list[float], hysteresis: float) -> None:
    w = np.cumsum(np.round(steps, 3))
    found = zigzag_falls(w, hysteresis=hysteresis)
    assert found == by_definition(w, hysteresis)
    assert all(a < b and w[a] - w[b] > hysteresis for a, b in found)
    assert all(b <= c for (_, b), (c, _) in pairwise(found))


def test_crest_and_foot_of_one_descent() -> None:
    # +2 %, -6 %, 0 %: w = z + 0.03 s turns where the grade passes -3 %. Curves of 20 m per point, centred at the
    # corners: +2 to -6 over 160 m passes -3 % at 5/8 of it; -6 to 0 over 120 m passes it at the middle.
    profile = known(profile_from_grades([(1000, 0.02), (2000, -0.06), (1000, 0.0)]))
    (one,) = sustained_downgrades(profile)
    assert one.start_m == pytest.approx(920 + 100, abs=10) and one.end_m == pytest.approx(3000, abs=10)
    assert one.mean_grade == pytest.approx(-one.drop_m / one.length_m)
    # 60 m at a mean of -4.5 %, 1860 m of -6 %, 60 m at a mean of -4.5 %
    assert one.drop_m == pytest.approx(60 * 0.045 + 1860 * 0.06 + 60 * 0.045, abs=0.05)
    assert one.steepest_1km == pytest.approx(-0.06) == one.steepest_300m
    assert one.hill_sign and not one.boundary_uncertain and one.mean_grade_sd == 0.0


def test_threshold_is_an_input() -> None:
    profile = known(profile_from_grades([(500, 0.0), (3000, -0.04), (500, 0.0)]))
    assert len(sustained_downgrades(profile)) == 1
    assert sustained_downgrades(profile, threshold_grade=0.05) == ()


@pytest.mark.parametrize(("length", "grade", "count"), [
    (470, -0.08, 0),        # its -3 % points lie 10 m outside its ends: 490 m
    (700, -0.08, 1), (700, -0.035, 0), (4000, -0.034, 1)])
def test_least_length_and_drop(length: float, grade: float, count: int) -> None:
    profile = known(profile_from_grades([(1000, 0.01), (length, grade), (1000, 0.01)]))
    assert len(sustained_downgrades(profile, hysteresis_m=2.0)) == count


def test_a_bench_joins_or_splits_by_the_hysteresis() -> None:
    # 300 m level between two descents: w rises by about 0.03 x 300 = 9 m less the curves' share
    profile = known(profile_from_grades([(500, 0.0), (2000, -0.06), (300, 0.0), (2000, -0.06), (500, 0.0)]))
    assert len(sustained_downgrades(profile, hysteresis_m=5.0)) == 2
    assert len(sustained_downgrades(profile, hysteresis_m=12.0)) == 1
    assert len(sustained_downgrades(profile)) == 2                     # the profile's own 5 m


def test_doubtful_boundary_is_said() -> None:
    rows = [(500.0, 0.0), (2000.0, -0.06), (250.0, 0.0), (2000.0, -0.06), (500.0, 0.0)]
    sure = known(profile_from_grades(rows))
    n = len(sure.station_m)
    doubtful = replace(sure, grade_sd=np.full(n, 0.02), grade_correlation_m=150.0)
    assert not any(item.boundary_uncertain for item in sustained_downgrades(replace(sure, hysteresis_m=2.0)))
    assert all(item.boundary_uncertain for item in sustained_downgrades(doubtful))


def test_reverse_road_has_no_downgrade_where_it_climbs() -> None:
    rows = [(500.0, 0.0), (2000.0, -0.06), (700.0, 0.02), (1500.0, 0.05), (500.0, 0.0)]
    there = sustained_downgrades(known(profile_from_grades(rows)))
    back = sustained_downgrades(known(profile_from_grades([(length, -grade) for length, grade in reversed(rows)])))
    assert len(there) == len(back) == 1
    assert back[0].steepest_300m == pytest.approx(-0.05)


def test_mean_grade_band_is_the_drop_band_over_the_length() -> None:
    profile = profile_from_grades([(500, 0.0), (3000, -0.06), (500, 0.0)], grade_sd=0.005)
    (one,) = sustained_downgrades(profile)
    assert one.mean_grade_sd == pytest.approx(0.005)


def test_steepest_window_is_none_when_longer_than_the_downgrade() -> None:
    profile = known(profile_from_grades([(500, 0.0), (900, -0.06), (500, 0.0)]))
    (one,) = sustained_downgrades(profile)
    assert one.steepest_1km is None and one.steepest_300m == pytest.approx(-0.06)
    assert steepest_mean(profile, 0, 5, window_m=300.0) is None
