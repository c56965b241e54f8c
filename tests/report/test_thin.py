# SPDX-License-Identifier: MIT
"""Thinning keeps what it promises: no dropped point off the line by more than the tolerance, no peak lost."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Point

from descent.report.thin import runs_of, thin_columns, thin_line, thin_rows

curves = st.lists(st.floats(-50, 50), min_size=2, max_size=120)


@given(curves, st.floats(0.01, 5.0))
def test_no_dropped_point_far_off(values: list[float], tolerance: float) -> None:
    """Distances by shapely, an independent implementation."""
    x, y = np.arange(len(values), dtype=float), np.array(values)
    kept = thin_line(x, y, tolerance=tolerance)
    line = LineString(np.column_stack([x[kept], y[kept]]))
    assert kept[0] == 0 and kept[-1] == len(values) - 1
    assert max(line.distance(Point(a, b)) for a, b in zip(x, y, strict=True)) <= tolerance + 1e-9


def test_straight_line_is_two_points() -> None:
    x = np.linspace(0, 10, 500)
    assert thin_line(x, 3 * x, tolerance=0.01).tolist() == [0, 499]


@given(curves)
def test_columns_keep_peaks(values: list[float]) -> None:
    y = np.array(values)
    kept = thin_columns(np.arange(len(y)) * 0.1, y, column=1.0)
    assert y[kept].max() == y.max() and y[kept].min() == y.min()
    assert np.all(np.diff(kept) > 0) or len(kept) == 1


def test_rows_keep_both_sides_of_a_stop() -> None:
    station = np.concatenate([np.arange(0, 5000.0, 10.0), np.arange(4990.0, 9000.0, 10.0)])
    kept = thin_rows(station, most=100)
    assert len(kept) <= 103
    assert {499, 500} <= set(kept.tolist())


def test_runs() -> None:
    assert runs_of(("a", "a", "b", "a")) == (("a", 0, 1), ("b", 2, 2), ("a", 3, 3))
