# SPDX-License-Identifier: MIT
"""Classes of steepness: every sample in one run, gentler slivers never hide steep road, dark is steep."""

from __future__ import annotations

import itertools

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from descent.report.grade_class import BREAKS, COLOURS, WIDTHS_PX, class_labels, grade_runs
from descent.report.shown import Shown


def luminance(colour: str) -> float:
    """Relative luminance of WCAG 2.1 (formula from memory)."""
    channels = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255.0
    linear = np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)
    return float(linear @ np.array([0.2126, 0.7152, 0.0722]))


def test_steeper_is_darker_and_thicker() -> None:
    light = [luminance(colour) for colour in COLOURS]
    assert light == sorted(light, reverse=True)
    assert list(WIDTHS_PX) == sorted(WIDTHS_PX)
    assert len(COLOURS) == len(WIDTHS_PX) == len(BREAKS) + 1


@given(st.lists(st.floats(-0.15, 0.1), min_size=3, max_size=200))
def test_runs_cover_the_road_and_never_look_gentler(grades: list[float]) -> None:
    grade, station = np.array(grades), 10.0 * np.arange(len(grades))
    runs = grade_runs(station, grade)
    assert runs[0].first == 0 and runs[-1].last == len(grades) - 1
    for before, after in itertools.pairwise(runs):
        assert before.last == after.first and before.grade_class != after.grade_class
    own = np.digitize(np.maximum(-grade, 0.0), BREAKS)
    for run in runs:
        end = run.last if run is not runs[-1] else run.last + 1
        assert np.all(run.grade_class >= own[run.first : end])


def test_sliver_joins_the_gentler_neighbour() -> None:
    grade = np.concatenate([np.full(50, -0.06), np.full(5, -0.01), np.full(50, -0.08)])
    assert [run.grade_class for run in grade_runs(10.0 * np.arange(105), grade)] == [2, 3]


def test_every_colour_has_words(us: Shown) -> None:
    labels = class_labels(us)
    assert len(set(labels)) == len(COLOURS)
    assert labels[1] == "3–5%" and labels[-1] == "9% and over"
