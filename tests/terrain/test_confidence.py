# SPDX-License-Identifier: MIT
"""Confidence spans: they tile the road, name reasons, and a long gap cannot carry a plan."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np

from descent.terrain.confidence import Evidence, confidence_spans
from descent.terrain.road_profile import Structure

N = 500
NO, YES = np.zeros(N, dtype=bool), np.ones(N, dtype=bool)
GOOD = Evidence(YES, NO, YES, np.full(N, 10.0), np.full(N, 0.1), np.full(N, 0.003), ())


def test_good_road_is_one_span_without_reasons() -> None:
    (span,) = confidence_spans(GOOD, spacing_m=10.0)
    assert (span.start_m, span.end_m, span.level, span.reasons) == (0.0, 4990.0, "good", ())


def test_spans_tile_the_road() -> None:
    sd = np.full(N, 0.003)
    sd[100:160] = 0.02
    covered = YES.copy()
    covered[300:380] = False
    spans = confidence_spans(replace(GOOD, covered=covered, grade_sd=sd), spacing_m=10.0)
    assert spans[0].start_m == 0.0 and spans[-1].end_m == 4990.0
    assert all(a.end_m == b.start_m and a.level != b.level for a, b in pairwise(spans))
    assert {span.level for span in spans} == {"good", "poor", "none"}
    assert all(span.reasons for span in spans if span.level != "good")


def level_at(evidence: Evidence, station: float) -> tuple[str, tuple[str, ...]]:
    span = next(span for span in confidence_spans(evidence, spacing_m=10.0) if span.start_m <= station < span.end_m)
    return span.level, span.reasons


def test_gaps_outside_and_voids() -> None:
    covered, outside = YES.copy(), NO.copy()
    covered[:60] = False
    outside[:60] = True
    covered[200:220] = False
    covered[300:400] = False
    evidence = replace(GOOD, covered=covered, outside=outside)
    assert level_at(evidence, 100.0) == ("none", ("outside the elevation model",))
    assert level_at(evidence, 2100.0) == ("poor", ("void in the elevation model",))
    assert level_at(evidence, 3500.0) == ("none", ("void in the elevation model",))


def test_reasons_of_the_ground() -> None:
    coarse = replace(GOOD, cell_m=np.full(N, 90.0), bench=NO)
    assert level_at(coarse, 2000.0) == ("poor", ("cells too coarse to show the road (90 m)",))
    assert "no road bench in the elevation model" in level_at(replace(GOOD, bench=NO), 2000.0)[1]
    bridge = replace(GOOD, structures=(Structure("bridge", 2000.0, 2100.0, "tag"),))
    level, reasons = level_at(bridge, 2050.0)
    assert level == "fair" and reasons == ("bridge (tagged): the grade is interpolated",)
    assert level_at(replace(GOOD, grade_sd=np.full(N, 0.05)), 2000.0)[0] == "none"


def test_heights_that_fit_no_road_cannot_carry_a_plan() -> None:
    left_out = NO.copy()
    left_out[100:140] = True                     # a 400 m gorge under an untagged bridge is no reason
    assert level_at(replace(GOOD, left_out=left_out), 1200.0)[0] == "good"
    left_out[:] = np.arange(N) % 10 < 6          # six heights in ten are off any road
    level, reasons = level_at(replace(GOOD, left_out=left_out), 1200.0)
    assert level == "none" and reasons == ("the heights fit no road: the elevation model or the line is misplaced",)
