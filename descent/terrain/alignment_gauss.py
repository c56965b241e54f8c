# SPDX-License-Identifier: MIT
"""Arithmetic of the three-state Gaussians (height, grade, grade rate) the alignment average is made of.

A Gaussian is a mean m (3,) and a packed covariance p (6,): zz, zg, za, gg, ga, aa. Information about a state is a
packed matrix u (6,) and a vector e (3,): exp(e.s - s.u.s / 2). Everything is written out because these run some
ten million times for 100 km of road.
"""

from __future__ import annotations

from typing import Any

import numba
import numpy as np


@numba.njit(cache=True, fastmath=False, error_model="numpy")
def copy(source: Any, target: Any) -> None:
    """Copy a short vector (a loop compiles much faster than a slice)."""
    for k in range(target.size):
        target[k] = source[k]


@numba.njit(cache=True, fastmath=False, error_model="numpy")
def switch_rate(m: Any, p: Any, variance: Any) -> None:
    """Forget the grade rate: mean 0 and this variance, independent of height and grade."""
    m[2] = 0.0
    p[2] = 0.0
    p[4] = 0.0
    p[5] = variance


@numba.njit(cache=True, fastmath=False, error_model="numpy")
def move(m: Any, p: Any, ds: Any, slow: Any) -> None:
    """Go one step along the road: z += g ds + a ds^2 / 2 (+ noise of variance `slow`), g += a ds."""
    h = 0.5 * ds * ds
    m[0] += ds * m[1] + h * m[2]
    m[1] += ds * m[2]
    zz, zg, za, gg, ga, aa = p[0], p[1], p[2], p[3], p[4], p[5]
    p[0] = zz + 2 * ds * zg + 2 * h * za + ds * ds * gg + 2 * ds * h * ga + h * h * aa + slow
    p[1] = zg + ds * za + ds * gg + (ds * ds + h) * ga + h * ds * aa
    p[2] = za + ds * ga + h * aa
    p[3] = gg + 2 * ds * ga + ds * ds * aa
    p[4] = ga + ds * aa


@numba.njit(cache=True, fastmath=False, error_model="numpy")
def observe(m: Any, p: Any, row: Any, slow: Any) -> float:
    """Condition on one decorrelated sample; returns its log density (without the constant).

    row: (h_z, h_g, h_a, value, variance, k): value = h.s + k w + noise, w the slow noise of the last move.
    """
    h0, h1, h2, k = row[0], row[1], row[2], row[5]
    c0 = p[0] * h0 + p[1] * h1 + p[2] * h2
    c1 = p[1] * h0 + p[3] * h1 + p[4] * h2
    c2 = p[2] * h0 + p[4] * h1 + p[5] * h2
    total = h0 * c0 + h1 * c1 + h2 * c2 + row[4] + (2 * h0 + k) * k * slow
    c0 += k * slow
    miss = row[3] - h0 * m[0] - h1 * m[1] - h2 * m[2]
    gain = miss / total
    m[0] += c0 * gain
    m[1] += c1 * gain
    m[2] += c2 * gain
    p[0] -= c0 * c0 / total
    p[1] -= c0 * c1 / total
    p[2] -= c0 * c2 / total
    p[3] -= c1 * c1 / total
    p[4] -= c1 * c2 / total
    p[5] -= c2 * c2 / total
    return float(-0.5 * (np.log(total) + miss * gain))


@numba.njit(cache=True, fastmath=False, error_model="numpy")
def absorb(u: Any, e: Any, row: Any, slow: Any) -> None:
    """Add a sample to the information about the state after a move and integrate the slow noise out."""
    ww, w0, w1, w2, ew = u[0] + 1.0 / slow, u[0], u[1], u[2], e[0]
    if row[4] > 0.0:
        a, b, c, r = row[0], row[1], row[2], 1.0 / row[4]
        value, x = row[3] * r, row[0] + row[5]
        u[0] += a * a * r
        u[1] += a * b * r
        u[2] += a * c * r
        u[3] += b * b * r
        u[4] += b * c * r
        u[5] += c * c * r
        e[0] += a * value
        e[1] += b * value
        e[2] += c * value
        ww += x * x * r
        w0 += a * x * r
        w1 += b * x * r
        w2 += c * x * r
        ew += x * value
    u[0] -= w0 * w0 / ww
    u[1] -= w0 * w1 / ww
    u[2] -= w0 * w2 / ww
    u[3] -= w1 * w1 / ww
    u[4] -= w1 * w2 / ww
    u[5] -= w2 * w2 / ww
    e[0] -= w0 * ew / ww
    e[1] -= w1 * ew / ww
    e[2] -= w2 * ew / ww


@numba.njit(cache=True, fastmath=False, error_model="numpy")
def pull_back(u: Any, e: Any, ds: Any) -> None:
    """Information about the state after a move, as information about the state before it."""
    h = 0.5 * ds * ds
    zz, zg, za, gg, ga, aa = u[0], u[1], u[2], u[3], u[4], u[5]
    u[1] = zz * ds + zg
    u[2] = zz * h + zg * ds + za
    u[3] = ds * ds * zz + 2 * ds * zg + gg
    u[4] = ds * u[2] + zg * h + gg * ds + ga
    u[5] = h * h * zz + ds * ds * gg + aa + 2 * (h * ds * zg + h * za + ds * ga)
    e[2] += h * e[0] + ds * e[1]
    e[1] += ds * e[0]


@numba.njit(cache=True, fastmath=False, error_model="numpy")
def weigh_height_grade(m: Any, p: Any, u: Any, e: Any) -> float:
    """log of the integral of a Gaussian times information on height and grade only (rate integrated out)."""
    zz, zg, gg = p[0], p[1], p[3]
    r0 = e[0] - u[0] * m[0] - u[1] * m[1]
    r1 = e[1] - u[1] * m[0] - u[3] * m[1]
    a, b = 1.0 + u[0] * zz + u[1] * zg, u[0] * zg + u[1] * gg
    c, d = u[1] * zz + u[3] * zg, 1.0 + u[1] * zg + u[3] * gg
    det = a * d - b * c
    x0, x1 = (d * r0 - b * r1) / det, (a * r1 - c * r0) / det
    quad = r0 * (zz * x0 + zg * x1) + r1 * (zg * x0 + gg * x1)
    base = e[0] * m[0] + e[1] * m[1] - 0.5 * (u[0] * m[0] ** 2 + 2 * u[1] * m[0] * m[1] + u[3] * m[1] ** 2)
    return float(base + 0.5 * quad - 0.5 * np.log(det))


@numba.njit(cache=True, fastmath=False, error_model="numpy")
def combine(m: Any, p: Any, u: Any, e: Any, out: Any) -> float:
    """log of the integral of a Gaussian times information; out := mean z, mean g, variance z, variance g."""
    p0, p1, p2, p3, p4, p5 = p[0], p[1], p[2], p[3], p[4], p[5]
    u0, u1, u2, u3, u4, u5 = u[0], u[1], u[2], u[3], u[4], u[5]
    r0 = e[0] - u0 * m[0] - u1 * m[1] - u2 * m[2]
    r1 = e[1] - u1 * m[0] - u3 * m[1] - u4 * m[2]
    r2 = e[2] - u2 * m[0] - u4 * m[1] - u5 * m[2]
    a00, a01, a02 = 1.0 + u0 * p0 + u1 * p1 + u2 * p2, u0 * p1 + u1 * p3 + u2 * p4, u0 * p2 + u1 * p4 + u2 * p5
    a10, a11, a12 = u1 * p0 + u3 * p1 + u4 * p2, 1.0 + u1 * p1 + u3 * p3 + u4 * p4, u1 * p2 + u3 * p4 + u4 * p5
    a20, a21, a22 = u2 * p0 + u4 * p1 + u5 * p2, u2 * p1 + u4 * p3 + u5 * p4, 1.0 + u2 * p2 + u4 * p4 + u5 * p5
    c00, c01, c02 = a11 * a22 - a12 * a21, a02 * a21 - a01 * a22, a01 * a12 - a02 * a11
    c10, c11, c12 = a12 * a20 - a10 * a22, a00 * a22 - a02 * a20, a02 * a10 - a00 * a12
    c20, c21, c22 = a10 * a21 - a11 * a20, a01 * a20 - a00 * a21, a00 * a11 - a01 * a10
    det = a00 * c00 + a01 * c10 + a02 * c20
    x0 = (c00 * r0 + c01 * r1 + c02 * r2) / det
    x1 = (c10 * r0 + c11 * r1 + c12 * r2) / det
    x2 = (c20 * r0 + c21 * r1 + c22 * r2) / det
    y0, y1 = p0 * x0 + p1 * x1 + p2 * x2, p1 * x0 + p3 * x1 + p4 * x2
    quad = r0 * y0 + r1 * y1 + r2 * (p2 * x0 + p4 * x1 + p5 * x2)
    out[0], out[1] = m[0] + y0, m[1] + y1
    out[2] = (p0 * c00 + p1 * c10 + p2 * c20) / det
    out[3] = (p1 * c01 + p3 * c11 + p4 * c21) / det
    square = u0 * m[0] ** 2 + u3 * m[1] ** 2 + u5 * m[2] ** 2
    cross = u1 * m[0] * m[1] + u2 * m[0] * m[2] + u4 * m[1] * m[2]
    base = e[0] * m[0] + e[1] * m[1] + e[2] * m[2] - 0.5 * square - cross
    return float(base + 0.5 * quad - 0.5 * np.log(det))


@numba.njit(cache=True, fastmath=False, error_model="numpy")
def distance_height_grade(dz: Any, dg: Any, p: Any) -> float:
    """Squared distance of two means in units of a covariance, height and grade only."""
    return float((dz * dz * p[3] - 2 * dz * dg * p[1] + dg * dg * p[0]) / (p[0] * p[3] - p[1] * p[1]))


@numba.njit(cache=True, fastmath=False, error_model="numpy")
def distance(dz: Any, dg: Any, da: Any, p: Any) -> float:
    """Squared distance of two means in units of a covariance, all three states."""
    c00, c01, c02 = p[3] * p[5] - p[4] * p[4], p[2] * p[4] - p[1] * p[5], p[1] * p[4] - p[2] * p[3]
    c11, c12, c22 = p[0] * p[5] - p[2] * p[2], p[1] * p[2] - p[0] * p[4], p[0] * p[3] - p[1] * p[1]
    det = p[0] * c00 + p[1] * c01 + p[2] * c02
    cross = dz * dg * c01 + dz * da * c02 + dg * da * c12
    return float((dz * dz * c00 + dg * dg * c11 + da * da * c22 + 2 * cross) / det)


@numba.njit(cache=True, fastmath=False, error_model="numpy")
def mix(m: Any, p: Any, m2: Any, p2: Any, share: Any) -> None:
    """Replace a Gaussian by the moments of (1 - share) of it and `share` of another."""
    dz, dg, da = m2[0] - m[0], m2[1] - m[1], m2[2] - m[2]
    spread = share * (1.0 - share)
    for k in range(3):
        m[k] += share * (m2[k] - m[k])
    for k in range(6):
        p[k] += share * (p2[k] - p[k])
    p[0] += spread * dz * dz
    p[1] += spread * dz * dg
    p[2] += spread * dz * da
    p[3] += spread * dg * dg
    p[4] += spread * dg * da
    p[5] += spread * da * da
