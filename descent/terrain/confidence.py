# SPDX-License-Identifier: MIT
"""How far to trust each stretch of a profile, and why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, maximum_filter1d

from descent.terrain.noise_class import FINE_CELL_M
from descent.terrain.road_profile import ConfidenceSpan, Structure
from descent.terrain.structures import runs

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
LEVELS = ("good", "fair", "poor", "none")

LONGEST_GAP_M = 300.0           # a longer stretch without heights cannot be bridged
LONG_STRUCTURE_M = 600.0
FAIR_GRADE_SD, POOR_GRADE_SD, USELESS_GRADE_SD = 0.006, 0.015, 0.035
MEDIUM_CELL_M = 45.0
STEEP_SIDE = 0.4
# Measured: at most 0.17 of a road was left out with the elevation model in place, at least 0.50 when it was shifted
# by 300 m.
MOST_LEFT_OUT, _LEFT_OUT_SPAN_M = 0.35, 1500.0
_SPREAD_M = 100.0               # a level holds this far around the stretch it comes from


@dataclass(frozen=True)
class Evidence:
    """What the confidence is judged by, arrays (n,): covered (a height was read), outside (beyond every file),
    bench, cell_m, cross_slope, grade_sd; structures; left_out: heights that fit no road and no tag explains."""

    covered: BoolArray
    outside: BoolArray
    bench: BoolArray
    cell_m: FloatArray
    cross_slope: FloatArray
    grade_sd: FloatArray
    structures: tuple[Structure, ...]
    left_out: BoolArray | None = None


def confidence_spans(evidence: Evidence, *, spacing_m: float) -> tuple[ConfidenceSpan, ...]:
    """Spans that cover the whole road, each with its level and its reasons."""
    n = len(evidence.grade_sd)
    findings = _findings(evidence, spacing_m)
    width = 2 * round(_SPREAD_M / spacing_m / 2) + 1
    level = np.zeros(n, dtype=np.int64)
    for grade, where, _ in findings:
        level = np.maximum(level, maximum_filter1d(np.where(where, grade, 0), width, mode="nearest"))
    edges = [0, *(int(k) + 1 for k in np.flatnonzero(np.diff(level))), n]
    spans = []
    for a, b in pairwise(edges):
        reach = slice(max(0, a - width // 2), min(n, b + width // 2))
        here = [(grade, text) for grade, where, text in findings
                if where[reach if grade == level[a] else slice(a, b)].any() and grade <= level[a]]
        reasons = [text for _, text in sorted(here, key=lambda item: -item[0])]     # the worst first
        end = min(b, n - 1) * spacing_m
        spans.append(ConfidenceSpan(a * spacing_m, end, LEVELS[level[a]], tuple(dict.fromkeys(reasons))))
    return tuple(span for span in spans if span.end_m > span.start_m)


def _findings(evidence: Evidence, spacing_m: float) -> list[tuple[int, BoolArray, str]]:
    """(level, stations, reason) of everything that speaks against trust."""
    cell, sd = evidence.cell_m, evidence.grade_sd
    fine = cell <= FINE_CELL_M
    steep = np.abs(evidence.cross_slope) > STEEP_SIDE
    useless = _long_runs(sd > USELESS_GRADE_SD, spacing_m)
    found = [*_gaps(evidence, spacing_m), *_structures(evidence.structures, len(sd), spacing_m)]
    found += [
        (3, _misfit(evidence, spacing_m), "the heights fit no road: the elevation model or the line is misplaced"),
        (3, useless, "the grade is not known well enough to plan with"),
        (2, (sd > POOR_GRADE_SD) & ~useless, "wide band of the grade"),
        (1, (sd > FAIR_GRADE_SD) & (sd <= POOR_GRADE_SD), "moderate band of the grade"),
        (2, cell > MEDIUM_CELL_M, f"cells too coarse to show the road ({_largest(cell):.0f} m)"),
        (1, (cell > FINE_CELL_M) & (cell <= MEDIUM_CELL_M), "cells wider than the road"),
        (1, fine & ~evidence.bench & evidence.covered, "no road bench in the elevation model"),
        (2, steep & ~fine, "steep side slope on coarse cells: the line may read the hillside"),
        (1, steep & fine & ~evidence.bench, "steep side slope without a visible road bench"),
    ]
    return found


def _misfit(evidence: Evidence, spacing_m: float) -> BoolArray:
    """Where around a station most of the heights were left out as no road's."""
    if evidence.left_out is None:
        return np.zeros(len(evidence.grade_sd), dtype=bool)
    share = gaussian_filter1d(evidence.left_out.astype(float), _LEFT_OUT_SPAN_M / spacing_m, mode="reflect")
    return np.asarray(share > MOST_LEFT_OUT)


def _long_runs(flags: BoolArray, spacing_m: float) -> BoolArray:
    """Only the runs longer than a gap that can be bridged."""
    kept = np.zeros(len(flags), dtype=bool)
    for a, b in runs(flags):
        kept[a:b] = (b - a) * spacing_m > LONGEST_GAP_M
    return kept


def _largest(cell: FloatArray) -> float:
    return float(np.nanmax(cell)) if not np.isnan(cell).all() else float("nan")


def _gaps(evidence: Evidence, spacing_m: float) -> list[tuple[int, BoolArray, str]]:
    found = []
    for a, b in runs(~evidence.covered):
        where = np.zeros(len(evidence.covered), dtype=bool)
        where[a:b] = True
        long = (b - a) * spacing_m > LONGEST_GAP_M
        text = "outside the elevation model" if evidence.outside[a:b].any() else "void in the elevation model"
        found.append((3 if long else 2, where, text))
    return found


def _structures(structures: Sequence[Structure], n: int, spacing_m: float) -> list[tuple[int, BoolArray, str]]:
    station = np.arange(n) * spacing_m
    found = []
    for item in structures:
        where = (station >= item.start_m) & (station <= item.end_m)
        level = 2 if item.end_m - item.start_m > LONG_STRUCTURE_M else 1
        known = "tagged" if item.found_from == "tag" else "found in the elevation model"
        found.append((level, where, f"{item.kind} ({known}): the grade is interpolated"))
    return found
