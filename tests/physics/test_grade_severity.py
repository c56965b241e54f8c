# SPDX-License-Identifier: MIT
"""The grade-severity equations against their published constants, tables derived from them and the laws they obey.

Trust of the expected values: the constants are from memory (original high, updated medium confidence); no printed
table of speeds was seen, so every speed and temperature is DERIVED: computed from those constants by separate code
that scans the closed forms at 0.005 mph, not by this package. Tolerances are one unit of the last printed digit or
half of it. W in lb, L in miles, V in mph, T in degrees Fahrenheit.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from descent.errors import InputError
from descent.physics.grade_severity import (
    CAP_MPS,
    ORIGINAL,
    UPDATED,
    SeverityModel,
    brake_power_w,
    chain_temperatures_c,
    chained_speeds,
    emergency_rise_k,
    final_temperature_c,
    maximum_speed_mps,
)

MPH = 0.44704
MILE = 1609.344
LB = 0.45359237
HP = 745.69987
UNLIMITED = None
COARSE = settings(max_examples=60, deadline=None)


def to_c(temp_f: float) -> float:
    return (temp_f - 32) / 1.8


def to_f(temp_c: float) -> float:
    return temp_c * 1.8 + 32


def temperature_f(model: SeverityModel, pounds: float, percent: float, miles: float, mph: float) -> float:
    return to_f(final_temperature_c(model, gross_kg=pounds * LB, grade=-percent / 100, length_m=miles * MILE,
                                    speed_mps=mph * MPH))


def rise_f(model: SeverityModel, pounds: float, mph: float) -> float:
    return emergency_rise_k(model, gross_kg=pounds * LB, speed_mps=mph * MPH) * 1.8


def speed_mph(model: SeverityModel, pounds: float, *road: tuple[float, float], start_f: float = 150,
              limit_f: float = 500) -> float | None:
    """Greatest speed on segments of (percent down, miles)."""
    segments = [(miles * MILE, -percent / 100) for percent, miles in road]
    found = maximum_speed_mps(model, gross_kg=pounds * LB, segments=segments, start_temp_c=to_c(start_f),
                              limit_temp_c=to_c(limit_f))
    return None if found is None else found / MPH


def as_cap(speed: float | None) -> float:
    return math.inf if speed is None else speed


def test_g1_terms_at_20_mph() -> None:
    assert ORIGINAL.drag_lbf[0] + ORIGINAL.drag_lbf[1] * 20 == pytest.approx(795.0)
    assert ORIGINAL.cooling_per_h[0] + ORIGINAL.cooling_per_h[1] * 20 == pytest.approx(1.7420)
    assert 1 / (ORIGINAL.conductance_hp_per_f[0] + ORIGINAL.conductance_hp_per_f[1] * 20) == pytest.approx(
        7.0621, abs=5e-5)
    power_w = brake_power_w(ORIGINAL, gross_kg=80000 * LB, grade=-0.06, speed_mps=20 * MPH)
    assert power_w / HP == pytest.approx(140.60, abs=0.005)
    assert temperature_f(ORIGINAL, 80000, 6, 6, 20) == pytest.approx(529.73, abs=0.005)
    assert rise_f(ORIGINAL, 80000, 20) == pytest.approx(9.95, abs=0.005)


def test_g2_temperature_at_18_mph() -> None:
    temp_f, emergency_f = temperature_f(ORIGINAL, 80000, 6, 6, 18), rise_f(ORIGINAL, 80000, 18)
    assert temp_f == pytest.approx(503.13, abs=0.005)
    assert emergency_f == pytest.approx(8.06, abs=0.005)
    assert temp_f + emergency_f == pytest.approx(511.19, abs=0.01)


def test_g2_si_route() -> None:
    """The same hill in kg, N, W and s, from the SI constants (derived by hand from the published ones)."""
    speed, speed_kmh = 18 * MPH, 18 * MPH * 3.6
    conductance, capacity = 134.226 + 1.73481 * speed_kmh, 392.86e3
    drag_n = 2001.7 + 47.679 * speed_kmh
    power_w = (80000 * LB * 9.80665 * 0.06 - drag_n) * speed - 73 * 745.7
    steady_c = 32.2222 + power_w / conductance
    end_c = steady_c + (65.5556 - steady_c) * math.exp(-6 * MILE / speed * conductance / capacity)
    assert end_c == pytest.approx(261.715, abs=0.005)
    assert temperature_f(ORIGINAL, 80000, 6, 6, 18) == pytest.approx(to_f(end_c), abs=0.1)


@pytest.mark.parametrize(("model", "expected", "tolerance"), [(ORIGINAL, 17.31, 0.02), (UPDATED, 36.80, 0.05)])
def test_g5_greatest_speed(model: SeverityModel, expected: float, tolerance: float) -> None:
    assert speed_mph(model, 80000, (6, 6)) == pytest.approx(expected, abs=tolerance)


@pytest.mark.parametrize(("model", "pounds", "percent", "expected"), [
    (ORIGINAL, 80000, 6, 6.459), (ORIGINAL, 80000, 4, 10.668), (ORIGINAL, 40000, 6, 16.425),
    (UPDATED, 80000, 6, 5.474), (UPDATED, 80000, 4, 8.693), (UPDATED, 40000, 6, 12.360)])
def test_g6_engine_alone_holds(model: SeverityModel, pounds: float, percent: float, expected: float) -> None:
    """Just below the speed at which drag and engine hold the truck the brakes do nothing, just above they work."""
    def power_w(mph: float) -> float:
        return brake_power_w(model, gross_kg=pounds * LB, grade=-percent / 100, speed_mps=mph * MPH)

    assert power_w(expected - 0.001) == 0.0
    assert power_w(expected + 0.001) > 0.0


@pytest.mark.parametrize(("model", "minutes"), [(ORIGINAL, (32.6, 45.9, 64.2, 93.7)), (UPDATED, (22.6, 31.8, 44.4, 64.9))])
def test_g7_cooling_at_a_walk_of_no_speed(model: SeverityModel, minutes: tuple[float, ...]) -> None:
    """500 F cools to 300, 250, 200, 150 F in 90 F air; standing still is the limit of a speed that tends to zero."""
    speed = 1e-9
    for minute, expected_f in zip(minutes, (300, 250, 200, 150), strict=True):
        for edge, colder in ((-0.1, False), (0.1, True)):
            end_c = final_temperature_c(model, gross_kg=30000, grade=0.0, length_m=speed * (minute + edge) * 60,
                                        speed_mps=speed, start_temp_c=260.0)
            assert (to_f(end_c) < expected_f) is colder


def test_g8_runge_kutta_of_the_rate_equation() -> None:
    """dT/dt = K1 (T_inf - T + K2 HP_B), fourth-order Runge-Kutta, against the closed form of the module."""
    mph, miles = 18.0, 6.0
    cooling, gain = 1.23 + 0.0256 * mph, 1 / (0.1 + 0.00208 * mph)
    power_hp = (80000 * 0.06 - 450 - 17.25 * mph) * mph / 375 - 73

    def rate(temp_f: float) -> float:
        return cooling * (90 - temp_f + gain * power_hp)

    temp_f, step_h = 150.0, miles / mph / 2000
    for _ in range(2000):
        k1 = rate(temp_f)
        k2 = rate(temp_f + step_h * k1 / 2)
        k3 = rate(temp_f + step_h * k2 / 2)
        temp_f += step_h * (k1 + 2 * k2 + 2 * k3 + rate(temp_f + step_h * k3)) / 6
    assert temperature_f(ORIGINAL, 80000, 6, 6, 18) == pytest.approx(temp_f, abs=1e-3)


def test_g9_chained_grades_and_the_mean_grade_misuse() -> None:
    """A hill of 4, 1 and 6 % is not a hill of its mean 4 %: 31.5 mph, never 62."""
    hill = ((4.0, 3.0), (1.0, 2.0), (6.0, 3.0))
    temps_c = chain_temperatures_c(ORIGINAL, gross_kg=80000 * LB, speed_mps=25 * MPH,
                                   segments=[(miles * MILE, -percent / 100) for percent, miles in hill])
    assert [to_f(temp_c) for temp_c in temps_c] == pytest.approx([245.83, 224.17, 446.15], abs=0.006)
    assert rise_f(ORIGINAL, 80000, 25) == pytest.approx(15.55, abs=0.005)
    whole_hill = speed_mph(ORIGINAL, 80000, *hill)
    assert whole_hill == pytest.approx(31.52, abs=0.01)
    mean_grade = speed_mph(ORIGINAL, 80000, (4.0, 8.0))
    assert mean_grade == pytest.approx(61.98, abs=0.01)
    assert as_cap(whole_hill) < 0.55 * as_cap(mean_grade)


def test_g12_low_drag_truck_as_a_steeper_grade() -> None:
    """0.34 % more grade (seen in the abstract of bowman_1989_jte) is 272 lb less drag at 80,000 lb."""
    low_drag = replace(ORIGINAL, drag_lbf=(450.0 - 272.0, 17.25, 0.0))
    assert speed_mph(low_drag, 80000, (6.0, 6.0)) == pytest.approx(15.22, abs=0.006)
    assert speed_mph(ORIGINAL, 80000, (6.34, 6.0)) == pytest.approx(15.22, abs=0.006)


@pytest.mark.parametrize("percent", [4, 5, 6, 7])
@pytest.mark.parametrize("miles", [1, 5, 10, 15])
def test_g13_no_limit_for_a_light_truck(percent: float, miles: float) -> None:
    """Brakes can overheat above 45,000 lb on the hills looked at (seen in the abstract of bowman_1989_jte)."""
    assert speed_mph(ORIGINAL, 40000, (percent, miles)) is UNLIMITED


LENGTHS = (1, 2, 3, 4, 5, 6, 8, 10, 15)
SPEEDS = [
    (ORIGINAL, 80000, 4, (90, 90, 90, 90, 90, 90, 61.98, 37.58, 25.95)),
    (ORIGINAL, 80000, 5, (90, 90, 89.34, 71.05, 45.64, 30.65, 21.63, 18.60, 15.94)),
    (ORIGINAL, 80000, 6, (90, 88.79, 62.32, 31.31, 21.02, 17.31, 14.31, 13.05, 11.83)),
    (ORIGINAL, 80000, 7, (90, 73.37, 31.96, 17.80, 14.06, 12.39, 10.86, 10.17, 9.50)),
    (ORIGINAL, 80000, 8, (90, 54.33, 18.38, 12.62, 10.68, 9.73, 8.81, 8.38, 7.97)),
    (ORIGINAL, 80000, 10, (81.60, 19.67, 10.02, 8.10, 7.30, 6.87, 6.44, 6.24, 6.06)),
    (ORIGINAL, 40000, 10, (90, 90, 90, 90, 90, 33.74, 22.11, 18.81, 16.03)),
    (UPDATED, 80000, 5, (90, 90, 90, 90, 84.67, 72.35, 45.61, 32.52, 24.13)),
    (UPDATED, 80000, 6, (90, 90, 90, 75.52, 55.55, 36.80, 23.25, 19.44, 16.60)),
    (UPDATED, 80000, 7, (90, 90, 76.98, 50.83, 27.85, 20.29, 15.67, 14.08, 12.77)),
    (UPDATED, 80000, 8, (90, 87.18, 59.91, 26.22, 17.00, 14.12, 11.96, 11.13, 10.43)),
]


@pytest.mark.parametrize(("model", "pounds", "percent", "speeds"), SPEEDS)
def test_table_of_greatest_speeds(model: SeverityModel, pounds: float, percent: float,
                                  speeds: tuple[float, ...]) -> None:
    """90 stands for no limit below 90 mph. The table is truncated to 0.01 mph; 0.0005 mph is the refined scan's step."""
    for miles, expected in zip(LENGTHS, speeds, strict=True):
        found = speed_mph(model, pounds, (percent, miles))
        if expected == 90:
            assert found is UNLIMITED
        else:
            assert found is not None
            assert -0.0005 <= found - expected < 0.0105


def test_forbidden_band_gives_its_lower_edge() -> None:
    """Original, 40,000 lb, 8 %, 10 mi: 46.3 to 66.1 mph is forbidden and above it is "allowed" again (derived)."""
    found = speed_mph(ORIGINAL, 40000, (8, 10))
    assert found == pytest.approx(46.318, abs=0.002)

    def total_f(mph: float) -> float:
        return temperature_f(ORIGINAL, 40000, 8, 10, mph) + rise_f(ORIGINAL, 40000, mph)

    assert total_f(46.3) < 500 < total_f(46.4)
    assert total_f(66.0) > 500 > total_f(66.2)
    assert total_f(89.9) < 500


def test_flat_curve_of_the_updated_constants() -> None:
    """Updated, 80,000 lb, 6 %, 6 mi: 30 F of limit move the speed by 13 mph (derived)."""
    assert speed_mph(UPDATED, 80000, (6, 6), limit_f=530) == pytest.approx(49.45, abs=0.01)
    assert speed_mph(UPDATED, 80000, (6, 6), limit_f=470) == pytest.approx(28.15, abs=0.01)


@COARSE
@given(model=st.sampled_from([ORIGINAL, UPDATED]), pounds=st.floats(20e3, 150e3), percent=st.floats(1, 14),
       miles=st.floats(0.2, 25), start_f=st.floats(90, 450), more=st.floats(1.0, 1.5))
def test_laws_of_the_greatest_speed(model: SeverityModel, pounds: float, percent: float, miles: float,
                                    start_f: float, more: float) -> None:
    """Never faster with weight, grade, length or start temperature; never slower with engine drag or limit."""
    base = as_cap(speed_mph(model, pounds, (percent, miles), start_f=start_f))
    tiny = 5e-4  # mph: what the refined scan resolves

    def speed(of: SeverityModel = model, w: float = pounds, p: float = percent, m: float = miles, s: float = start_f,
              limit: float = 500) -> float:
        return as_cap(speed_mph(of, w, (p, m), start_f=s, limit_f=limit))

    for harder in (speed(w=pounds * more), speed(p=percent * more), speed(m=miles * more), speed(s=start_f * more)):
        assert harder <= base + tiny
    stronger = replace(model, engine_hp=model.engine_hp * more)
    for easier in (speed(of=stronger), speed(limit=500 * more)):
        assert easier >= base - tiny


@COARSE
@given(model=st.sampled_from([ORIGINAL, UPDATED]), pounds=st.floats(30e3, 120e3),
       road=st.lists(st.tuples(st.floats(-3, 12), st.floats(0.1, 6)), min_size=1, max_size=5))
def test_no_lower_speed_passes_the_limit(model: SeverityModel, pounds: float, road: list[tuple[float, float]]) -> None:
    """At 200 speeds up to the one returned every temperature holds; just above it one does not."""
    found = speed_mph(model, pounds, *road)
    segments = [(miles * MILE, -percent / 100) for percent, miles in road]

    def hottest_f(mph: float) -> float:
        temps = chain_temperatures_c(model, gross_kg=pounds * LB, segments=segments, speed_mps=mph * MPH)
        return max(150.0, to_f(float(temps.max()))) + rise_f(model, pounds, mph)

    top = 90.0 if found is None else found
    assert all(hottest_f(mph) <= 500 + 0.01 for mph in np.linspace(top / 200, top, 200))
    if found is not None:
        assert hottest_f(found) <= 500 + 1e-7 < hottest_f(found + 3e-4)


@COARSE
@given(percent=st.floats(-5, 12), miles=st.floats(0.1, 10), cut=st.floats(0.05, 0.95), mph=st.floats(3, 90))
def test_cutting_a_grade_changes_nothing(percent: float, miles: float, cut: float, mph: float) -> None:
    whole = [(miles * MILE, -percent / 100)]
    halves = [(miles * MILE * cut, -percent / 100), (miles * MILE * (1 - cut), -percent / 100)]
    ends = [chain_temperatures_c(UPDATED, gross_kg=30000, segments=road, speed_mps=mph * MPH)[-1]
            for road in (whole, halves)]
    assert ends[0] == pytest.approx(ends[1], rel=1e-9)


@COARSE
@given(percent=st.floats(-8, 0), start_c=st.floats(40, 400), mph=st.floats(3, 90))
def test_a_flat_or_a_climb_only_cools_and_never_below_the_air(percent: float, start_c: float, mph: float) -> None:
    end_c = final_temperature_c(ORIGINAL, gross_kg=36000, grade=-percent / 100, length_m=5000, speed_mps=mph * MPH,
                                start_temp_c=start_c)
    assert ORIGINAL.ambient_temp_c <= end_c <= start_c


def test_chained_downgrades_carry_the_temperature() -> None:
    """Two like downgrades with a short gap: the second starts hot and must be slower; a long gap heals it."""
    hill = [(3 * MILE, -0.06)]
    alone = maximum_speed_mps(ORIGINAL, gross_kg=80000 * LB, segments=hill)
    assert alone is not None

    def second(gap_miles: float) -> tuple[float, float]:
        first, last = chained_speeds(ORIGINAL, [hill, hill], gross_kg=80000 * LB, gaps=[[(gap_miles * MILE, 0.0)]],
                                     gap_speed_mps=55 * MPH)
        assert first.maximum_mps == pytest.approx(alone)
        assert first.end_temp_c >= final_temperature_c(ORIGINAL, gross_kg=80000 * LB, grade=-0.06, length_m=3 * MILE,
                                                       speed_mps=alone) - 1e-6
        assert last.maximum_mps is not None
        return last.maximum_mps, last.start_temp_c

    short, short_start_c = second(1.0)
    far, far_start_c = second(40.0)
    assert short_start_c > to_c(150) > far_start_c
    assert short < alone < far
    # closed form: a flat cools by exp(-K1 L / V), least at the greatest gap speed
    first_c = chained_speeds(ORIGINAL, [hill], gross_kg=80000 * LB, gaps=[])[0].end_temp_c
    for start_c, miles in ((short_start_c, 1.0), (far_start_c, 40.0)):
        expected_c = to_c(90) + (first_c - to_c(90)) * math.exp(-(1.23 + 0.0256 * 55) * miles / 55)
        assert start_c == pytest.approx(expected_c, abs=0.01)


def test_a_downgrade_is_left_as_hot_as_any_allowed_speed_leaves_it() -> None:
    """40,000 lb, 8 %, 8 mi has no limit below 90 mph, yet 45 mph leaves the brakes 48 K hotter than 90 mph does."""
    def end_c(mph: float) -> float:
        return final_temperature_c(ORIGINAL, gross_kg=40000 * LB, grade=-0.08, length_m=8 * MILE, speed_mps=mph * MPH)

    found, = chained_speeds(ORIGINAL, [[(8 * MILE, -0.08)]], gross_kg=40000 * LB, gaps=[])
    assert found.maximum_mps is UNLIMITED
    assert found.end_temp_c == pytest.approx(max(end_c(mph) for mph in np.linspace(1, 90, 891)), abs=0.01)
    assert found.end_temp_c == pytest.approx(end_c(45), abs=0.1)
    assert found.end_temp_c - end_c(90) == pytest.approx(48.0, abs=0.1)


def test_chain_after_no_possible_speed_stays_hot() -> None:
    hill = [(3 * MILE, -0.06)]
    found = chained_speeds(ORIGINAL, [hill, hill], gross_kg=80000 * LB, gaps=[[]], start_temp_c=300.0)
    assert [one.maximum_mps for one in found] == [0.0, 0.0]
    assert [one.start_temp_c for one in found] == [300.0, 300.0]


@pytest.mark.parametrize("call", [
    lambda: maximum_speed_mps(ORIGINAL, gross_kg=math.nan, segments=[(1000, -0.06)]),
    lambda: maximum_speed_mps(ORIGINAL, gross_kg=36000, segments=[(1000, math.nan)]),
    lambda: maximum_speed_mps(ORIGINAL, gross_kg=36000, segments=[(-5, -0.06)]),
    lambda: maximum_speed_mps(ORIGINAL, gross_kg=36000, segments=[(1000, -6.0)]),
    lambda: maximum_speed_mps(ORIGINAL, gross_kg=36000, segments=[(1000, -0.06)], start_temp_c=math.nan),
    lambda: maximum_speed_mps(ORIGINAL, gross_kg=36000, segments=[(1000, -0.06)], limit_temp_c=math.inf),
    lambda: final_temperature_c(ORIGINAL, gross_kg=36000, grade=-0.06, length_m=1000, speed_mps=0.0),
    lambda: emergency_rise_k(ORIGINAL, gross_kg=0.0, speed_mps=10.0),
    lambda: chained_speeds(ORIGINAL, [[(1000, -0.06)]] * 2, gross_kg=36000, gaps=[]),
])
def test_numbers_that_would_read_as_no_limit_are_refused(call: Callable[[], object]) -> None:
    with pytest.raises(InputError, match="out of range"):
        call()


def test_cap_is_90_mph() -> None:
    assert pytest.approx(90 * MPH) == CAP_MPS
