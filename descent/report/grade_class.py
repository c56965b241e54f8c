# SPDX-License-Identifier: MIT
"""Classes of steepness for drawing: colour, line width and words, dark is steep, and the runs of one class.

The breaks: 3 % is where a sustained downgrade starts here; 5, 7 and 9 % are steps of the length-and-grade
rule for hill signs (5 % over 3,000 ft ... 9 % over 500 ft; US Manual on Uniform Traffic Control Devices,
section 2C, figures from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from descent.report.shown import Shown
from descent.report.trip import FloatArray

BREAKS = (0.03, 0.05, 0.07, 0.09)
COLOURS = ("#fbba1f", "#e75e2e", "#a32c61", "#520e6d", "#050417")
WIDTHS_PX = (4.0, 5.0, 6.0, 7.0, 8.0)


@dataclass(frozen=True)
class GradeRun:
    """A stretch of road in one class: sample indices, both ends included."""

    grade_class: int
    first: int
    last: int


def class_labels(shown: Shown) -> tuple[str, ...]:
    """The words of each class: "under 3%", "3-5%", ... "9% and over"."""
    words, edges = shown.words, [shown.number(100 * b) for b in BREAKS]
    middle = [words("grade.between", low=low, high=high) for low, high in pairwise(edges)]
    return (words("grade.under", limit=edges[0]), *middle, words("grade.over", low=edges[-1]))


def grade_runs(
    station_m: FloatArray, grade: FloatArray, *, shortest_m: float = 120.0
) -> tuple[GradeRun, ...]:
    """Cut the road into runs of one downgrade class; a gentler sliver inside steep road takes the gentler
    neighbour's class, never a gentler one than its own."""
    down = np.maximum(-np.nan_to_num(grade), 0.0)
    label = np.digitize(down, BREAKS)
    for _ in range(len(BREAKS)):
        edges = np.flatnonzero(np.diff(label)) + 1
        starts, ends = np.append(0, edges), np.append(edges, len(label))
        for start, end in zip(starts[1:-1], ends[1:-1], strict=True):
            around = min(label[start - 1], label[end])
            length_m = station_m[end] - station_m[start]
            if length_m < shortest_m and around > label[start]:
                label[start:end] = around
    edges = np.flatnonzero(np.diff(label)) + 1
    starts, ends = np.append(0, edges), np.append(edges, len(label))
    return tuple(
        GradeRun(int(label[s]), int(s), int(min(e, len(label) - 1)))
        for s, e in zip(starts, ends, strict=True)
    )
