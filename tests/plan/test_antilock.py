# SPDX-License-Identifier: MIT
"""Whether antilock is fitted changes how far a stop takes along the plan."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from descent.physics.march import Day
from descent.plan.explain import explained
from descent.vehicle.catalogue import load_vehicle
from descent.vehicle.model import loaded
from made_roads import made_task


def test_without_antilock_an_empty_truck_on_a_wet_road_stops_no_shorter_and_somewhere_longer() -> None:
    truck = load_vehicle("straight-truck")
    task = made_task([(800.0, 0.0), (1500.0, -0.04), (800.0, 0.0)], loaded(truck, truck.tare_kg))
    task = replace(task, day=Day(15.0, 65.0, 0.4))
    without = replace(task, vehicle=replace(task.vehicle, air=replace(task.vehicle.air, antilock=False)))
    first, second = (explained(item, slippery=False).stopping_m for item in (task, without))
    assert first is not None and second is not None
    assert np.all(second >= first - 1e-9) and float((second - first).max()) > 1.0
