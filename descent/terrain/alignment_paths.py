# SPDX-License-Identifier: MIT
"""Backward pass over tangent-and-curve alignments: draws whole alignments and smooths the road along each.

Backward simulation with the states integrated out: at each step one of the stored hypotheses and its event are
drawn with the probability that both the past (the hypothesis) and the future already drawn (as information about
the state) give it. The tests check the averages against the sum over all alignments of a short road.
"""

from __future__ import annotations

from typing import Any

import numba
import numpy as np

from descent.terrain.alignment_filter import CURVE, NEW_CURVE, NEW_TANGENT, STAY, TANGENT, start
from descent.terrain.alignment_gauss import (
    absorb,
    combine,
    copy,
    move,
    observe,
    pull_back,
    switch_rate,
    weigh_height_grade,
)


@numba.njit(cache=True, fastmath=False, error_model="numpy")
def draw_and_smooth(rows: Any, ds: Any, slow: Any, rate_variance: Any, chances: Any, z0: Any, modes: Any,
                    means: Any, covs: Any, weights: Any, counts: Any, uniform: Any, sums: Any) -> None:
    """For each row of uniform (draws, n): one alignment, its smoothed moments added to sums (n, 6).

    sums: mean z, mean g, variance z, variance g, mean z squared, mean g squared.
    """
    n = modes.shape[0]
    info = np.zeros((n, 6))
    vector = np.zeros((n, 3))
    events = np.zeros(n, np.int8)
    for draw in range(uniform.shape[0]):
        first = _draw(rows, ds, slow, rate_variance, chances, modes, means, covs, weights, counts,
                      uniform[draw], info, vector, events)
        _smooth_along(rows, ds, slow, rate_variance, z0, first, info, vector, events, sums)


@numba.njit(cache=True, fastmath=False, error_model="numpy")
def _draw(rows: Any, ds: Any, slow: Any, rate_variance: Any, chances: Any, modes: Any, means: Any, covs: Any,
          weights: Any, counts: Any, uniform: Any, info: Any, vector: Any, events: Any) -> int:
    """Draw the events from the end to the start; returns the first mode. info, vector: the future at each step."""
    n, width = modes.shape
    score = np.empty(2 * width)
    owner = np.empty(2 * width, np.int64)
    event_of = np.empty(2 * width, np.int8)
    u, e, unused = np.zeros(6), np.zeros(3), np.empty(4)
    fresh_u, fresh_e = np.zeros(6), np.zeros(3)
    copy(fresh_u, info[n - 1])                  # no future: zeros
    copy(fresh_e, vector[n - 1])
    last = counts[n - 1]
    for j in range(last):
        score[j] = weights[n - 1, j]
    mode = modes[n - 1, _pick(score, last, uniform[n - 1])]
    for i in range(n - 2, -1, -1):
        copy(info[i + 1], u)
        copy(vector[i + 1], e)
        absorb(u, e, rows[i + 1], slow)
        pull_back(u, e, ds)
        bonus = _forget_rate(u, e, rate_variance, fresh_u, fresh_e)
        count = 0
        for j in range(counts[i]):
            old = modes[i, j]
            if mode == TANGENT:
                event = STAY if old == TANGENT else NEW_TANGENT
                score[count] = chances[old, event] + weigh_height_grade(means[i, j], covs[i, j], u, e)
            else:
                event = NEW_CURVE
                score[count] = chances[old, event] + bonus + weigh_height_grade(means[i, j], covs[i, j],
                                                                                fresh_u, fresh_e)
            score[count] += weights[i, j]
            owner[count], event_of[count] = j, event
            count += 1
            if mode == CURVE and old == CURVE:
                score[count] = (weights[i, j] + chances[old, STAY]
                                + combine(means[i, j], covs[i, j], u, e, unused))
                owner[count], event_of[count] = j, STAY
                count += 1
        chosen = _pick(score, count, uniform[i])
        events[i] = event_of[chosen]
        _remember(i, mode, events[i], u, e, fresh_u, fresh_e, info, vector)
        mode = modes[i, owner[chosen]]
    return int(mode)


@numba.njit(cache=True, fastmath=False, error_model="numpy")
def _forget_rate(u: Any, e: Any, rate_variance: Any, fresh_u: Any, fresh_e: Any) -> float:
    """Information with the rate of a fresh curve integrated out; returns the log factor that comes with it."""
    total = u[5] + 1.0 / rate_variance
    fresh_u[0] = u[0] - u[2] * u[2] / total
    fresh_u[1] = u[1] - u[2] * u[4] / total
    fresh_u[3] = u[3] - u[4] * u[4] / total
    fresh_e[0] = e[0] - u[2] * e[2] / total
    fresh_e[1] = e[1] - u[4] * e[2] / total
    return float(-0.5 * np.log(rate_variance * total) + 0.5 * e[2] * e[2] / total)


@numba.njit(cache=True, fastmath=False, error_model="numpy")
def _pick(score: Any, count: Any, uniform: Any) -> int:
    """One of the first `count` indices with probability proportional to exp(score); score is overwritten."""
    best = 0
    for k in range(1, count):
        if score[k] > score[best]:
            best = k
    top, total = score[best], 0.0
    for k in range(count):
        score[k] = np.exp(score[k] - top)
        total += score[k]
    goal = uniform * total
    for k in range(count):
        goal -= score[k]
        if goal <= 0.0:
            return k
    return best


@numba.njit(cache=True, fastmath=False, error_model="numpy")
def _remember(i: Any, mode: Any, event: Any, u: Any, e: Any, fresh_u: Any, fresh_e: Any, info: Any,
              vector: Any) -> None:
    """The future as information about the state before the event at step i."""
    if event == NEW_CURVE:
        copy(fresh_u, info[i])
        copy(fresh_e, vector[i])
        return
    copy(u, info[i])
    copy(e, vector[i])
    if mode == TANGENT:                     # the rate is zero: nothing is known or asked of it
        info[i, 2] = 0.0
        info[i, 4] = 0.0
        info[i, 5] = 0.0
        vector[i, 2] = 0.0


@numba.njit(cache=True, fastmath=False, error_model="numpy")
def _smooth_along(rows: Any, ds: Any, slow: Any, rate_variance: Any, z0: Any, first: Any, info: Any,
                  vector: Any, events: Any, sums: Any) -> None:
    """Filter along the drawn alignment and combine with the future at each step."""
    m, p, out = np.empty(3), np.empty(6), np.empty(4)
    start(m, p, first, z0, rate_variance)
    for i in range(rows.shape[0]):
        if i > 0:
            if events[i - 1] != STAY:
                switch_rate(m, p, rate_variance if events[i - 1] == NEW_CURVE else 0.0)
            move(m, p, ds, slow)
        if rows[i, 4] > 0.0:
            observe(m, p, rows[i], slow if i > 0 else 0.0)
        combine(m, p, info[i], vector[i], out)
        for k in range(4):
            sums[i, k] += out[k]
        sums[i, 4] += out[0] * out[0]
        sums[i, 5] += out[1] * out[1]
