# SPDX-License-Identifier: MIT
"""What permission to go slower would change: exactly what planning with it gives, and only where it saves time."""

from __future__ import annotations

from dataclasses import replace

import pytest

from descent.plan.planner import Found, find, workshop
from descent.plan.what_if import effects_of_changes
from descent.units import MPH_MPS
from descent.vehicle.catalogue import load_vehicle
from made_roads import made_task, pull_out

HILL = [(1500.0, 0.0), (4000.0, -0.06), (300.0, -0.01), (5000.0, -0.065), (1500.0, 0.0)]
PLACES = (pull_out("Check", 1200.0, kind="brake-check-area"), pull_out("Bench", 5700.0, grade=-0.01))


def test_going_slower_is_offered_with_what_it_saves() -> None:
    task = made_task(HILL, load_vehicle("tractor-semitrailer", gross_kg=34000.0), places=PLACES)
    found = find(workshop(task))
    slow = find(workshop(replace(task, rules=replace(task.rules, min_speed_mps=10 * MPH_MPS))))
    assert isinstance(found, Found) and isinstance(slow, Found)
    saved = slow.trace.total_time_s - found.trace.total_time_s
    offered = [item for item in effects_of_changes(task, found.trace.total_time_s) if item.kind == "slower"]
    assert saved < -60.0
    assert [item.values["change_s"] for item in offered] == pytest.approx([saved])


def test_going_slower_is_not_offered_where_it_saves_nothing() -> None:
    task = made_task(HILL, load_vehicle("tractor-semitrailer", gross_kg=18000.0), places=PLACES)
    found = find(workshop(task))
    assert isinstance(found, Found)
    assert [item for item in effects_of_changes(task, found.trace.total_time_s) if item.kind == "slower"] == []
