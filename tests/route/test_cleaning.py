# SPDX-License-Identifier: MIT
"""Repeated, exchanged and stray points; heights; tags; text."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from descent.route.cleaning import clean_line
from descent.route.heights import settle_heights
from descent.route.line import TaggedSpan
from descent.route.tags import merge_spans, spans_of, speed_limit_mps
from descent.route.text import clean_text

from . import samples

LINE = samples.winding(40)
FINE = np.column_stack([7 + np.arange(40) * 0.0003, np.full(40, 46.0)])  # about 23 m steps
NO_TIME = np.full(400, np.nan)


def test_repeated_points_are_dropped() -> None:
    rows = np.repeat(LINE, [1 + (i % 3 == 0) for i in range(40)], axis=0)
    said: list[str] = []
    kept = clean_line(rows[:, 0], rows[:, 1], NO_TIME[:len(rows)], said)
    assert rows[kept, 0].tolist() == LINE[:, 0].tolist()
    assert said == ["14 points that repeat the one before were left out"]


@given(st.integers(1, 36), st.integers(2, 3))
def test_points_in_the_wrong_order_are_put_right(first: int, count: int) -> None:
    rows = FINE.copy()
    rows[first:first + count] = rows[first:first + count][::-1].copy()
    said: list[str] = []
    kept = clean_line(rows[:, 0], rows[:, 1], NO_TIME[:40], said)
    assert rows[kept, 0].tolist() == FINE[:, 0].tolist()
    assert "wrong order" in said[0]


def test_out_and_back_is_kept_and_said() -> None:
    rows = np.vstack([FINE, FINE[-2::-1]])
    said: list[str] = []
    kept = clean_line(rows[:, 0], rows[:, 1], NO_TIME[:len(rows)], said)
    assert kept.tolist() == list(range(len(rows)))
    assert len(said) == 1
    assert "turns round" in said[0]


def test_a_stray_point_and_a_stand_of_a_recording() -> None:
    rows = np.vstack([FINE[:20], FINE[19] + np.random.default_rng(1).normal(0, 5e-6, (60, 2)), FINE[20:]])
    rows[10] += 0.05
    said: list[str] = []
    kept = clean_line(rows[:, 0], rows[:, 1], np.arange(len(rows)) * 1.0, said)
    assert 10 not in kept.tolist()
    assert not set(range(20, 80)) & set(kept.tolist())
    assert len(said) == 2


def test_heights_with_short_gaps_are_filled_and_with_long_gaps_not_used() -> None:
    station = np.arange(10) * 100.0
    height = np.linspace(500.0, 410.0, 10)
    holes = height.copy()
    holes[4] = np.nan
    said: list[str] = []
    filled = settle_heights(station, holes, said)
    assert filled is not None
    assert filled == pytest.approx(height)
    holes[5] = np.nan
    assert settle_heights(station, holes, said) is None
    assert len(said) == 2
    assert settle_heights(station, np.zeros(10), said) is None
    wild = height.copy()
    wild[3] = 99_999.0
    assert settle_heights(station, wild, said) == pytest.approx(height)


@pytest.mark.parametrize(("text", "mps"), [
    ("80", 80 / 3.6), ("55 mph", 55 * 1609.344 / 3600), ("55mph", 55 * 1609.344 / 3600), ("30 km/h", 30 / 3.6),
    ("50;40", 40 / 3.6), ("none", None), ("signals", None), ("", None)])
def test_maxspeed_values(text: str, mps: float | None) -> None:
    assert speed_limit_mps(text) == (mps if mps is None else pytest.approx(mps))


@pytest.mark.parametrize("text", ["fast", "XX:rural", "1000", "-5", "5 furlongs", "nan mph", "1"])
def test_maxspeed_values_that_make_no_sense(text: str) -> None:
    with pytest.raises(ValueError):
        speed_limit_mps(text)


def test_spans_of_tags() -> None:
    said: list[str] = []
    tags = {"bridge": "viaduct", "tunnel": "no", "maxspeed": "80", "maxspeed:hgv": "60"}
    assert spans_of(tags, 0.0, 9.0, turned=False, notes=said) == [
        TaggedSpan("bridge", 0.0, 9.0), TaggedSpan("maxspeed", 0.0, 9.0, pytest.approx(60 / 3.6))]
    assert not said
    assert spans_of({"maxspeed": "\x1bfast"}, 0.0, 9.0, turned=False, notes=said) == []
    assert "maxspeed" in said[0]
    assert "\x1b" not in said[0]


def test_touching_spans_become_one() -> None:
    spans = [TaggedSpan("bridge", 5, 9), TaggedSpan("maxspeed", 0, 5, 20.0), TaggedSpan("bridge", 0, 5),
             TaggedSpan("maxspeed", 5, 9, 15.0)]
    assert merge_spans(spans) == (TaggedSpan("bridge", 0, 9), TaggedSpan("maxspeed", 0, 5, 20.0),
                                  TaggedSpan("maxspeed", 5, 9, 15.0))


@given(st.text())
def test_clean_text_is_printable_and_settled(text: str) -> None:
    cleaned = clean_text(text)
    assert len(cleaned) <= 120
    assert not any(ord(char) < 32 or 127 <= ord(char) < 160 or char in "\u202e\u2066\u2028" for char in cleaned)
    assert clean_text(cleaned) == cleaned


def test_clean_text_drops_whole_escape_sequences() -> None:
    assert clean_text("a\x1b]0;title\x07b\x1b[2Jc\nd\x00") == "abc d"
