# SPDX-License-Identifier: MIT
"""A table of lengths and grades becomes tangents and parabolas with the heights of the closed form."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from descent.errors import RouteError
from descent.terrain.from_grades import profile_from_grades

ROWS = [(1000.0, 0.02), (3000.0, -0.06), (800.0, -0.01), (2000.0, -0.07)]


def test_heights_are_the_sums_of_length_times_grade() -> None:
    got = profile_from_grades(ROWS, start_elevation_m=1500.0)
    # a symmetrical parabola joins two tangents at their point of intersection: the ends of the table's pieces
    # lie on the tangents away from curves, and the last station is one
    assert got.elevation_m[-1] == pytest.approx(1500 + sum(length * grade for length, grade in ROWS), abs=1e-9)
    assert got.elevation_m[250] == pytest.approx(1500 + 20 - 0.06 * 1500, abs=1e-9)       # middle of the 6 %
    assert got.grade[250] == -0.06 and got.length_m == 6800.0 and got.spacing_m == 10.0


def test_parabola_between_two_grades() -> None:
    got = profile_from_grades(ROWS)
    # 8 points of change: 160 m of curve, centred at 1000 m; the offset at its middle is A L / 8
    middle = int(1000 / got.spacing_m)
    assert got.grade[middle] == pytest.approx((0.02 - 0.06) / 2)
    assert got.elevation_m[middle] == pytest.approx(20.0 - 0.08 * 160 / 8, abs=1e-9)


@given(st.lists(st.tuples(st.floats(30, 4000), st.floats(-0.12, 0.12)), min_size=1, max_size=12))
def test_any_table(rows: list[tuple[float, float]]) -> None:
    got = profile_from_grades(rows)
    assert got.length_m == pytest.approx(sum(length for length, _ in rows))
    assert got.elevation_m[-1] == pytest.approx(sum(length * grade for length, grade in rows), abs=1e-6)
    lowest, highest = min(grade for _, grade in rows), max(grade for _, grade in rows)
    assert lowest - 1e-12 <= got.grade.min() and got.grade.max() <= highest + 1e-12
    assert np.isnan(got.lon).all() and not got.curvature_1pm.any()


def test_the_stated_uncertainty_is_common_to_the_road() -> None:
    got = profile_from_grades(ROWS, grade_sd=0.004)
    assert (got.grade_sd == 0.004).all()
    assert got.drop_sd_m(100, 400) == pytest.approx(0.004 * 3000)


@pytest.mark.parametrize(("rows", "code"), [
    ([], "grades-empty"), ([(0.0, -0.05)], "grades-length"), ([(float("nan"), 0.0)], "grades-length"),
    ([(500.0, -6.0)], "grades-grade"), ([(5.0, -0.05)], "grades-short")])
def test_bad_rows(rows: list[tuple[float, float]], code: str) -> None:
    with pytest.raises(RouteError) as error:
        profile_from_grades(rows)
    assert [fault.code for fault in error.value.faults] == [code]


def test_every_bad_row_is_named() -> None:
    with pytest.raises(RouteError) as error:
        profile_from_grades([(500.0, -0.05), (-1.0, 0.0), (300.0, 5.0)])
    assert [fault.where for fault in error.value.faults] == ["row 2", "row 3"]
