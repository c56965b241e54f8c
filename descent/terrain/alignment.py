# SPDX-License-Identifier: MIT
"""Averages a road's height and grade over many alignments of straight grades and parabolic vertical curves.

A road is straight grades (tangents) joined by curves of constant change of grade. Where the curves begin and end
is unknown; instead of one best guess the result is the average over alignments drawn with the probability that
the samples give them, so a doubtful curve is half a curve and the band says so. Hypotheses are followed forward
with alike ones merged, and whole alignments are drawn backward (backward simulation with the linear states
integrated out; Sarkka, Bunch and Godsill 2012, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from descent.terrain.alignment_filter import decorrelate, forward
from descent.terrain.alignment_paths import draw_and_smooth

FloatArray = NDArray[np.float64]
HYPOTHESES = 24
_TWICE_CURVED_M = 1000.0            # mean length after which a curve goes over into another curve


@dataclass(frozen=True)
class AlignmentModel:
    """What is taken as usual of a road and its elevation model.

    step_m: distance between the possible ends of curves; tangent_m, curve_m: mean lengths; rate_sd_1pm: sd of
    the change of grade per metre in a curve; slow_density: variance per metre of the elevation model's slow
    height error [m^2/m]; noise_length_m: correlation length of its fast error; draws: alignments per set of
    samples.
    """

    step_m: float
    tangent_m: float
    curve_m: float
    rate_sd_1pm: float
    slow_density: float
    noise_length_m: float
    draws: int


@dataclass(frozen=True)
class AlignmentAverage:
    """Mean and standard deviation of height [m] and grade over the alignments, arrays (n,)."""

    z_m: FloatArray
    grade: FloatArray
    z_sd_m: FloatArray
    grade_sd: FloatArray


def average_alignments(height_m: FloatArray, *, spacing_m: float, noise_sd_m: FloatArray,
                       model: AlignmentModel, seed: int = 0) -> AlignmentAverage:
    """The average over alignments for samples at equal spacing.

    height_m: (n,) samples [m], NaN left out; noise_sd_m: (n,) sd of their error. Every k-th sample makes one set
    (k spacing = step); the k sets start one sample apart and their results are averaged. Deterministic for a seed.
    """
    n = len(height_m)
    stride = max(1, min(round(model.step_m / spacing_m), n // 4))
    offset = float(np.nanmean(height_m))
    station = np.arange(n, dtype=float) * spacing_m
    parts = []
    for first in range(stride):
        index = np.arange(first, n, stride)
        if np.isnan(height_m[index]).all():
            continue
        part = _one_set(height_m[index] - offset, noise_sd_m[index], stride * spacing_m, model, seed + first)
        parts.append([_between(station, station[index], column) for column in part.T])
    z, grade, z_var, g_var = np.array(parts).transpose(1, 0, 2)
    return AlignmentAverage(z.mean(axis=0) + offset, grade.mean(axis=0),
                            np.sqrt(z_var.mean(axis=0) + z.var(axis=0)),
                            np.sqrt(g_var.mean(axis=0) + grade.var(axis=0)))


def _between(station: NDArray[np.floating[Any]], known: NDArray[np.floating[Any]],
             values: FloatArray) -> FloatArray:
    """Linear between the known stations and carried on linearly past the first and the last."""
    out = np.interp(station, known, values)
    if len(known) > 1:
        head, tail = station < known[0], station > known[-1]
        out[head] += (station[head] - known[0]) * (values[1] - values[0]) / (known[1] - known[0])
        out[tail] += (station[tail] - known[-1]) * (values[-1] - values[-2]) / (known[-1] - known[-2])
    return np.asarray(out)


def _one_set(y: FloatArray, sd: FloatArray, ds: float, model: AlignmentModel, seed: int) -> FloatArray:
    """(n, 4): mean z, mean g, variance z, variance g of one set of samples."""
    n, width = len(y), HYPOTHESES
    rows = np.zeros((n, 6))
    decorrelate(y, sd, np.full(n, np.exp(-ds / model.noise_length_m)), ds, rows)
    chances = _chances(ds, model)
    slow = max(model.slow_density * ds, 1e-9)
    variance = model.rate_sd_1pm**2
    z0 = float(y[np.flatnonzero(~np.isnan(y))[0]])
    modes = np.zeros((n, width), dtype=np.int8)
    means, covs = np.zeros((n, width, 3)), np.zeros((n, width, 6))
    weights, counts = np.zeros((n, width)), np.zeros(n, dtype=np.int64)
    forward(rows, ds, slow, variance, chances, z0, modes, means, covs, weights, counts)
    sums = np.zeros((n, 6))
    uniform = np.random.default_rng(seed).random((model.draws, n))
    draw_and_smooth(rows, ds, slow, variance, chances, z0, modes, means, covs, weights, counts, uniform, sums)
    sums /= model.draws
    spread = np.maximum(sums[:, 4:6] - sums[:, 0:2] ** 2, 0.0)
    return np.column_stack([sums[:, 0:2], sums[:, 2:4] + spread])


def _chances(ds: float, model: AlignmentModel) -> FloatArray:
    """(mode, event) log probabilities over one step; -inf: cannot happen."""
    leave = min(ds / model.tangent_m, 0.5)
    end, again = min(ds / model.curve_m, 0.5), min(ds / _TWICE_CURVED_M, 0.25)
    return np.array([[np.log1p(-leave), np.log(leave), -np.inf],
                     [np.log1p(-end - again), np.log(again), np.log(end)]])
