# SPDX-License-Identifier: MIT
"""Forward pass over tangent-and-curve alignments: the leading hypotheses at each step, alike ones merged."""

from __future__ import annotations

from typing import Any

import numba
import numpy as np

from descent.terrain.alignment_gauss import (
    copy,
    distance,
    distance_height_grade,
    mix,
    move,
    observe,
    switch_rate,
)

TANGENT, CURVE = 0, 1
STAY, NEW_CURVE, NEW_TANGENT = 0, 1, 2
START_VARIANCE_M2, START_GRADE_VARIANCE = 1e6, 0.06**2
_NEAR, _ALIKE = 4.0, 0.4            # merge: squared distance of means, least ratio of variances
_DROPPED = 16.0                     # hypotheses this far (log) below the best are left out


@numba.njit(cache=True, fastmath=False, error_model="numpy")
def decorrelate(y: Any, sd: Any, phi: Any, ds: Any, rows: Any) -> None:
    """Samples with first-order noise as independent ones: zeros in, rows (n, 6) as `observe` reads them.

    y[i]/sd[i] - phi y[i-1]/sd[i-1] depends on the states at i alone, as z[i-1] follows from z, g, a at i.
    """
    for i in range(y.size):
        if np.isnan(y[i]):
            continue
        rows[i, 0] = 1.0 / sd[i]
        rows[i, 3] = y[i] / sd[i]
        rows[i, 4] = 1.0
        if i > 0 and not np.isnan(y[i - 1]):
            k = phi[i] / sd[i - 1]
            rows[i, 0] -= k
            rows[i, 1] = k * ds
            rows[i, 2] = -0.5 * k * ds * ds
            rows[i, 3] -= k * y[i - 1]
            rows[i, 4] = 1.0 - phi[i] ** 2
            rows[i, 5] = k


@numba.njit(cache=True, fastmath=False, error_model="numpy")
def start(m: Any, p: Any, mode: Any, z0: Any, rate_variance: Any) -> None:
    """The state before any sample."""
    m[0], m[1], m[2] = z0, 0.0, 0.0
    p[1], p[2], p[4] = 0.0, 0.0, 0.0
    p[0] = START_VARIANCE_M2
    p[3] = START_GRADE_VARIANCE
    p[5] = rate_variance * mode


@numba.njit(cache=True, fastmath=False, error_model="numpy")
def forward(rows: Any, ds: Any, slow: Any, rate_variance: Any, chances: Any, z0: Any, modes: Any, means: Any,
            covs: Any, weights: Any, counts: Any) -> None:
    """Fill the hypotheses of every step: modes (n, N), means (n, N, 3), covs (n, N, 6), log weights (n, N).

    chances (2, 3): log probability of each event (stay, new curve, new tangent) in each mode.
    """
    n, width = modes.shape
    next_m = np.empty((3 * width, 3))
    next_p = np.empty((3 * width, 6))
    next_w = np.empty(3 * width)
    next_mode = np.empty(3 * width, np.int8)
    order = np.empty(3 * width, np.int64)
    for mode in range(2):
        modes[0, mode] = mode
        start(means[0, mode], covs[0, mode], mode, z0, rate_variance)
        weights[0, mode] = np.log(0.7) if mode == TANGENT else np.log(0.3)
        if rows[0, 4] > 0.0:
            weights[0, mode] += observe(means[0, mode], covs[0, mode], rows[0], 0.0)
    counts[0] = 2
    for i in range(1, n):
        count = 0
        for j in range(counts[i - 1]):
            for event in range(3):
                chance = chances[modes[i - 1, j], event]
                if chance == -np.inf:
                    continue
                m, p = next_m[count], next_p[count]
                copy(means[i - 1, j], m)
                copy(covs[i - 1, j], p)
                next_mode[count] = modes[i - 1, j]
                if event != STAY:
                    next_mode[count] = CURVE if event == NEW_CURVE else TANGENT
                    switch_rate(m, p, rate_variance if event == NEW_CURVE else 0.0)
                move(m, p, ds, slow)
                next_w[count] = weights[i - 1, j] + chance
                if rows[i, 4] > 0.0:
                    next_w[count] += observe(m, p, rows[i], slow)
                count += 1
        counts[i] = _select(count, next_m, next_p, next_w, next_mode, order, modes[i], means[i], covs[i],
                            weights[i])


@numba.njit(cache=True, fastmath=False, error_model="numpy")
def _select(total: Any, m: Any, p: Any, w: Any, mode: Any, order: Any, kept_mode: Any, kept_m: Any, kept_p: Any,
            kept_w: Any) -> int:
    """Keep the heaviest; merge those like a kept one, and all others once there is no room, into the nearest."""
    _sort_down(total, w, order)
    top = w[order[0]]
    room_t, room_c = kept_mode.size // 3, kept_mode.size - kept_mode.size // 3
    count = 0
    for r in range(total):
        q = order[r]
        if w[q] < top - _DROPPED:
            break
        full = (room_t if mode[q] == TANGENT else room_c) == 0
        home = _nearest(m[q], p[q], mode[q], full, count, kept_mode, kept_m, kept_p)
        if home >= 0:
            heavy, light = np.exp(kept_w[home]), np.exp(w[q] - top)
            mix(kept_m[home], kept_p[home], m[q], p[q], light / (heavy + light))
            kept_w[home] = np.log(heavy + light)
            continue
        kept_mode[count] = mode[q]
        copy(m[q], kept_m[count])
        copy(p[q], kept_p[count])
        kept_w[count] = w[q] - top
        if mode[q] == TANGENT:
            room_t -= 1
        else:
            room_c -= 1
        count += 1
    return count


@numba.njit(cache=True, fastmath=False, error_model="numpy")
def _sort_down(count: Any, w: Any, order: Any) -> None:
    """order := indices of the first `count` weights from heavy to light (insertion sort: the lists are short)."""
    for k in range(count):
        r = k
        while r > 0 and w[order[r - 1]] < w[k]:
            order[r] = order[r - 1]
            r -= 1
        order[r] = k


@numba.njit(cache=True, fastmath=False, error_model="numpy")
def _nearest(m: Any, p: Any, mode: Any, full: Any, count: Any, kept_mode: Any, kept_m: Any, kept_p: Any) -> int:
    """The kept hypothesis to merge with, or -1: the first alike one, or with no room the nearest of its mode."""
    best, home = np.inf, -1
    for k in range(count):
        if kept_mode[k] != mode:
            continue
        pk = kept_p[k]
        dz, dg, da = m[0] - kept_m[k, 0], m[1] - kept_m[k, 1], m[2] - kept_m[k, 2]
        if not full:
            if dg * dg > _NEAR * pk[3] or p[3] < _ALIKE * pk[3] or pk[3] < _ALIKE * p[3]:
                continue
            if mode == CURVE and (da * da > _NEAR * pk[5] or p[5] < _ALIKE * pk[5] or pk[5] < _ALIKE * p[5]):
                continue
        far = distance_height_grade(dz, dg, pk) if mode == TANGENT else distance(dz, dg, da, pk)
        if not full:
            if far < _NEAR:
                return k
        elif far < best:
            best, home = far, k
    return home
