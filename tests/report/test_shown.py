# SPDX-License-Identifier: MIT
"""Numbers as read: units by definition (mile 1609.344 m, pound 0.45359237 kg), rounding toward caution."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from descent.report.shown import Shown, shown_for
from descent.report.words import load_words

NBSP = "\u00a0"


def test_us_values(us: Shown) -> None:
    assert us.at(1609.344 * 4.2) == f"mi{NBSP}4.2"
    assert us.mass(80000 * 0.45359237) == f"80,000{NBSP}lb"
    assert us.temperature(100.0) == f"212{NBSP}°F"
    assert us.rise(10.0) == f"18{NBSP}°F"
    assert us.pressure(689.4757) == f"100{NBSP}psi"  # 1 psi = 6.894757 kPa
    assert us.height(304.8) == f"1,000{NBSP}ft"


def test_metric_values(metric: Shown) -> None:
    assert metric.distance(12340.0) == f"12.3{NBSP}km"
    assert metric.mass(36287.0) == f"36.3{NBSP}t"
    assert metric.temperature(214.4) == f"214{NBSP}°C"
    assert metric.speed(55 / 3.6) == f"55{NBSP}km/h"
    assert metric.grade(-0.0614) == "6.1%"


def test_speeds_to_hold_are_never_rounded_up(us: Shown) -> None:
    assert us.speed_number(35 * 0.44704) == "35"
    assert us.speed_number(35.99 * 0.44704) == "35"


def test_places_to_be_ready_by_are_never_later(us: Shown) -> None:
    assert us.before(1609.344 * 3.29) == f"mi{NBSP}3.2"
    assert us.before(1609.344 * 3.3) == f"mi{NBSP}3.3"


def test_temperatures_reached_are_rounded_up(metric: Shown) -> None:
    assert metric.hot(214.01) == f"215{NBSP}°C"
    assert metric.hot(214.0) == f"214{NBSP}°C"


def test_short_lengths_and_room(us: Shown, metric: Shown) -> None:
    """300 m are 984 ft, 90 m 295 ft: a pitch is told roundly, room to stand rounded down."""
    assert us.short(300.0) == f"1,000{NBSP}ft"
    assert us.room(90.0) == f"290{NBSP}ft"
    assert metric.room(90.0) == f"90{NBSP}m"
    assert us.stretch(50.0) == f"160{NBSP}ft" and us.stretch(805.0) == f"0.5{NBSP}mi"
    assert us.span(1609.0, 1615.0) == f"mi{NBSP}1.0" and us.span(1609.0, 3219.0) == f"mi{NBSP}1.0–2.0"


def test_stop_minutes_are_those_of_the_plan(us: Shown) -> None:
    assert us.stop_minutes(63) == f"63{NBSP}min"
    assert us.stop_minutes(17.2) == f"18{NBSP}min"


def test_times(us: Shown) -> None:
    assert us.minutes(61.0) == f"2{NBSP}min"
    assert us.minutes(72 * 60.0) == f"1{NBSP}h{NBSP}12{NBSP}min"


@given(st.floats(0.0, 60.0))
def test_shown_speed_times_unit_is_at_most_the_speed(speed_mps: float) -> None:
    shown = shown_for("us", load_words("en"))
    assert int(shown.speed_number(speed_mps)) * 0.44704 <= speed_mps + 0.001


@given(st.floats(-1e6, 1e6), st.integers(0, 3))
def test_no_minus_zero(value: float, decimals: int) -> None:
    text = shown_for("us", load_words("en")).number(value, decimals)
    assert not (text.startswith("-") and not any(c in "123456789" for c in text))


def test_marks_of_a_language() -> None:
    english = load_words("en")
    comma = type(english)("xx", {**english.table, "number.decimal": ",", "number.thousands": "."})
    assert shown_for("metric", comma).number(12345.6, 1) == "12.345,6"
