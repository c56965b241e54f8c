# SPDX-License-Identifier: MIT
"""The most weight that holds: against a scan of every step, and in the order physics asks for."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from descent.compare.heaviest import heaviest, without_cool_down
from descent.plan.planner import Found, find, workshop
from descent.vehicle.catalogue import load_vehicle
from descent.vehicle.model import loaded, without_retarder
from made_roads import made_task, pull_out

HILL = [(1500.0, 0.0), (4000.0, -0.06), (300.0, -0.01), (5000.0, -0.065), (1500.0, 0.0)]
STEP_KG = 2000.0
PLACES = (pull_out("Check", 1200.0, kind="brake-check-area"), pull_out("Bench", 5700.0, grade=-0.01))


def holds(task: object, gross_kg: float) -> bool:
    return isinstance(find(workshop(replace(task, vehicle=loaded(task.vehicle, gross_kg)))), Found)  # type: ignore[type-var,attr-defined]


def test_it_is_the_last_step_of_a_scan_that_holds() -> None:
    task = made_task(HILL, load_vehicle("tractor-semitrailer", gross_kg=36287.0), places=PLACES)
    found = heaviest(task, step_kg=STEP_KG)
    steps = [STEP_KG * k for k in range(int(np.ceil(task.vehicle.tare_kg / STEP_KG)),
                                        int(task.vehicle.rated_gross_kg // STEP_KG) + 1)]
    for asked, answer in ((without_cool_down(task), found.no_cool_down_kg), (task, found.any_stop_kg)):
        scanned = [weight for weight in steps if holds(asked, weight)]
        if holds(asked, task.vehicle.rated_gross_kg):
            assert answer == task.vehicle.rated_gross_kg
        else:
            assert answer == (max(scanned) if scanned else None)
    assert found.no_cool_down_kg is not None and found.any_stop_kg is not None
    assert found.no_cool_down_kg < found.any_stop_kg


def test_a_plan_at_the_weight_without_cooling_has_no_cool_down_stop() -> None:
    task = made_task(HILL, load_vehicle("tractor-semitrailer", gross_kg=36287.0), places=PLACES)
    weight = heaviest(task, step_kg=STEP_KG).no_cool_down_kg
    assert weight is not None
    way = find(workshop(without_cool_down(replace(task, vehicle=loaded(task.vehicle, weight)))))
    assert isinstance(way, Found)
    assert all(stop.kind != "cool-down" for stop in way.solution.stops)


def test_a_retarder_never_lowers_the_weight() -> None:
    vehicle = load_vehicle("tractor-semitrailer-retarder", gross_kg=36287.0)
    with_it = heaviest(made_task(HILL, vehicle, places=PLACES), step_kg=STEP_KG)
    without = heaviest(made_task(HILL, without_retarder(vehicle), places=PLACES), step_kg=STEP_KG)
    assert (with_it.no_cool_down_kg or 0.0) >= (without.no_cool_down_kg or 0.0)
    assert (with_it.any_stop_kg or 0.0) >= (without.any_stop_kg or 0.0)


def test_nothing_holds_on_a_wall() -> None:
    task = made_task([(1000.0, 0.0), (9000.0, -0.16), (500.0, 0.0)], load_vehicle("tractor-semitrailer", gross_kg=36287.0))
    assert heaviest(task, step_kg=STEP_KG).any_stop_kg is None or heaviest(
        task, step_kg=STEP_KG).any_stop_kg < 20000.0  # type: ignore[operator]
    assert heaviest(task, step_kg=STEP_KG) == pytest.approx(heaviest(task, step_kg=STEP_KG))
