# SPDX-License-Identifier: MIT
"""The share of drawn profiles that show a downgrade again, against a closed form and its limits."""

from __future__ import annotations

from dataclasses import replace
from math import erf, sqrt

import numpy as np
import pytest

from descent.downgrades.boundaries import Rule, shares_found_again
from descent.downgrades.find import sustained_downgrades
from descent.terrain.road_profile import RoadProfile
from made_roads import straight_profile

RULE = Rule(0.03, 5.0, 500.0, 25.0)


def road(bench_m: float = 400.0, *, grade_sd: float = 0.0, correlation_m: float = 100.0) -> RoadProfile:
    profile = straight_profile([(600, 0.0), (2000, -0.06), (bench_m, 0.0), (2000, -0.06), (600, 0.0)], grade_sd=grade_sd)
    return replace(profile, grade_correlation_m=correlation_m)


def ends(profile: RoadProfile) -> list[tuple[int, int]]:
    return [(profile.index_at(item.start_m), profile.index_at(item.end_m)) for item in sustained_downgrades(profile)]


def test_known_grades_are_sure() -> None:
    assert shares_found_again(road(), ends(road()), rule=RULE).tolist() == [1.0, 1.0]
    assert shares_found_again(road(grade_sd=0.01), [], rule=RULE).tolist() == []


def test_small_errors_leave_clear_ends_alone_and_large_ones_do_not() -> None:
    clear = road(600.0, grade_sd=0.003)
    assert (shares_found_again(clear, ends(clear), rule=RULE) > 0.95).all()
    lost = road(600.0, grade_sd=0.06, correlation_m=300.0)
    assert (shares_found_again(lost, ends(road(600.0)), rule=RULE) < 0.6).all()
    assert all(item.boundary_uncertain for item in sustained_downgrades(lost))


def test_a_bench_as_high_as_the_hysteresis_splits_in_the_share_of_a_normal_error() -> None:
    """A bench of length L raises w by 0.03 L; with an error common to the road of sd s the rise is normal with sd s L,
    so the split is found again with probability P(rise > 5 m): a closed form."""
    for bench_m, sd in ((200.0, 0.005), (230.0, 0.006)):
        profile = replace(road(bench_m), common_grade_sd=sd)
        split = [(60, 260), (260 + round(bench_m / 10), 460 + round(bench_m / 10))]
        rise = 0.03 * bench_m - 5.0
        expected = 0.5 * (1 + erf(rise / (sd * bench_m) / sqrt(2)))
        spread = sqrt(expected * (1 - expected) / 40)
        for share in shares_found_again(profile, split, rule=RULE):
            assert share == pytest.approx(expected, abs=3 * spread)


def test_the_same_every_time() -> None:
    profile = road(220.0, grade_sd=0.01)
    one, two = (shares_found_again(profile, ends(profile), rule=RULE) for _ in range(2))
    assert np.array_equal(one, two) and ((one > 0.0) & (one < 1.0)).all()
