# SPDX-License-Identifier: MIT
"""The length-and-grade rule: MUTCD hill signs W7-1 (from memory: 2003 and 2009 editions, section 2C.16)."""

from __future__ import annotations

import numpy as np
import pytest

from descent.downgrades.hill_sign import hill_sign_on, hill_sign_warranted

FOOT_M = 0.3048                     # exact


# grade and length the rule names: 5 % > 3000 ft, 6 % > 2000, 7 % > 1000, 8 % > 750, 9 % > 500 ft
@pytest.mark.parametrize(("grade", "feet"), [(-0.05, 3000), (-0.06, 2000), (-0.07, 1000), (-0.08, 750), (-0.09, 500)])
def test_each_line_of_the_rule(grade: float, feet: float) -> None:
    assert not hill_sign_warranted(grade, feet * FOOT_M)
    assert hill_sign_warranted(grade, (feet + 1) * FOOT_M)


def test_below_the_table_and_uphill() -> None:
    assert not hill_sign_warranted(-0.049, 5000 * FOOT_M)
    assert not hill_sign_warranted(0.09, 5000 * FOOT_M)
    assert hill_sign_warranted(-0.12, 501 * FOOT_M)


def test_a_steep_part_of_a_mild_descent_counts() -> None:
    station = np.arange(0, 4000, 10.0)
    grade = np.where((station > 1000) & (station <= 1400), -0.07, -0.03)      # 400 m = 1312 ft of 7 %
    steep = np.concatenate([[0.0], np.cumsum(grade[1:] * 10.0)])
    assert hill_sign_on(steep, 10.0)
    assert not hill_sign_on(-0.03 * station, 10.0)
    assert not hill_sign_on(steep[100:130], 10.0)                             # 290 m of 7 % = 951 ft: too short
