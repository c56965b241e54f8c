# SPDX-License-Identifier: MIT
"""Bridges and tunnels found in heights alone, taken from tags, and not invented on steep open road."""

from __future__ import annotations

import numpy as np
import pytest

from descent.route.line import TaggedSpan
from descent.terrain.structures import detection_thresholds_m, mark_structures, runs

STATION = np.arange(0.0, 8000.0, 10.0)
ROAD = 1500 - 0.05 * STATION
NOISE = 0.5 * np.sin(STATION / 37)


def bump(centre: float, length: float, height: float) -> np.ndarray:
    u = (STATION - centre) / (length / 2)
    return height * np.clip(1 - u**2, 0, 1)


def test_a_bridge_and_a_tunnel_are_found() -> None:
    ground = ROAD + NOISE - bump(2000, 140, 30) + bump(5000, 300, 40)
    found = mark_structures(ground, (), spacing_m=10.0, cell_m=10.0, whole_metres=False)
    assert [item.kind for item in found.structures] == ["bridge", "tunnel"]
    bridge, tunnel = found.structures
    assert bridge.found_from == "found" and abs((bridge.start_m + bridge.end_m) / 2 - 2000) < 30
    assert abs((tunnel.start_m + tunnel.end_m) / 2 - 5000) < 40
    wrong = np.abs(ground - ROAD - NOISE) > 4.0
    assert found.masked[wrong].all()                    # nothing far from the road is left in the fit
    assert found.masked.mean() < 0.09


def test_tags_mask_with_a_margin_and_ragged_ends_are_caught() -> None:
    ground = ROAD + NOISE - bump(2000, 200, 40)
    spans = (TaggedSpan("bridge", 1950.0, 2010.0), TaggedSpan("maxspeed", 0.0, 8000.0, 20.0))
    found = mark_structures(ground, spans, spacing_m=10.0, cell_m=10.0, whole_metres=False)
    assert [(item.kind, item.found_from) for item in found.structures] == [("bridge", "tag")]
    assert found.masked[(STATION > 1915) & (STATION < 2085)].all()      # the tag ends 90 m short of the far bank
    assert not found.masked[(STATION < 1800) | (STATION > 2200)].any()


@pytest.mark.parametrize("grade", [0.06, 0.12, 0.16])
def test_steep_open_road_is_no_structure(grade: float) -> None:
    ground = 2000 - 60 * (1 - np.exp(-STATION / 500)) - np.where(STATION > 3000, grade * (STATION - 3000), 0.0)
    found = mark_structures(ground, (), spacing_m=10.0, cell_m=10.0, whole_metres=False)
    assert found.structures == () and not found.masked.any()
    assert found.limit_grade >= grade - 1e-9 or grade <= 0.10


def test_coarser_models_need_larger_departures() -> None:
    levels = [detection_thresholds_m(cell, whole_metres=True)[0] for cell in (10.0, 30.0, 90.0)]
    assert levels == sorted(levels) and len(set(levels)) == 3


def test_runs() -> None:
    assert runs(np.array([True, True, False, True])) == [(0, 2), (3, 4)]
    assert runs(np.zeros(3, dtype=bool)) == []
