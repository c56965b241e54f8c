# SPDX-License-Identifier: MIT
"""Time of the plan and its proven bound against a nonlinear programme with an endless gearbox, solved by a public solver."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from benchmarks.nlp_bound import relaxed_time
from benchmarks.random_roads import random_task
from descent.plan.planner import Found, find, workshop


@pytest.mark.parametrize("seed", [0, 1, 2, 4])
def test_no_plan_is_faster_than_free_speed_with_an_endless_gearbox(seed: int) -> None:
    """The programme leaves out gears, snubs, stops and grade of an emergency stop, so its time is a bound from below (its
    solver is local: indicative). It is itself no faster than the road's own speed limits allow, to its 100 m cells."""
    shop = workshop(random_task(seed, length_m=12_000.0))
    found, solved = find(shop), relaxed_time(shop)
    assert isinstance(found, Found)
    assert solved is not None
    caps = np.sqrt(shop.maker.layout.caps_u[0])
    unhindered_s = float(np.sum(shop.cells.step_m / np.maximum(caps[1:], caps[:-1])))
    assert 0.98 * unhindered_s < solved[0] <= found.trace.total_time_s
    assert solved[0] <= found.lower_bound_s * 1.001
