# SPDX-License-Identifier: MIT
"""The bounded-grade fit against a linear programme solved by scipy."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from descent.terrain.lipschitz import lipschitz_fit


def programme(y: np.ndarray, step: float) -> float:
    """min sum t, t >= |y - z| where y is known, |z[i+1] - z[i]| <= step; variables z then t."""
    n, known = len(y), np.flatnonzero(~np.isnan(y))
    rows, limits = [], []
    for sign in (1.0, -1.0):
        for i in known:
            row = np.zeros(2 * n)
            row[i], row[n + i] = sign, -1.0
            rows.append(row)
            limits.append(sign * y[i])
        for i in range(n - 1):
            row = np.zeros(2 * n)
            row[i + 1], row[i] = sign, -sign
            rows.append(row)
            limits.append(step)
    cost = np.concatenate([np.zeros(n), np.ones(n)])
    found = linprog(cost, A_ub=np.array(rows), b_ub=np.array(limits), bounds=[(None, None)] * n + [(0, None)] * n)
    return float(found.fun)


@settings(max_examples=40)
@given(st.lists(st.one_of(st.floats(-40, 40), st.just(float("nan"))), min_size=2, max_size=25), st.floats(0.1, 8.0))
def test_optimum_of_the_linear_programme(values: list[float], step: float) -> None:
    y = np.array(values)
    if np.isnan(y).all():
        return
    z = lipschitz_fit(y, step_m=step)
    assert np.max(np.abs(np.diff(z))) <= step + 1e-9
    assert np.nansum(np.abs(y - z)) <= programme(y, step) + 1e-6


def test_a_road_within_the_bound_is_left_alone() -> None:
    y = np.cumsum(np.random.default_rng(1).uniform(-0.9, 0.9, 200))
    assert np.allclose(lipschitz_fit(y, step_m=1.0), y)


def test_a_narrow_gorge_is_bridged() -> None:
    y = np.linspace(100.0, 80.0, 101)                   # falls 0.2 a step
    truth = y.copy()
    y[45:52] -= 25.0
    assert np.allclose(lipschitz_fit(y, step_m=0.2), truth)             # bound equal to the fall: exact
    z = lipschitz_fit(y, step_m=0.3)
    outside = np.r_[0:40, 57:101]
    assert np.allclose(z[outside], truth[outside])
    assert np.max(np.abs(z - truth)) < 4 * 0.3                          # dips by at most half the gorge at the bound
