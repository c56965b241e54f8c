# SPDX-License-Identifier: MIT
"""Limits beside temperature: sight over crests, grip of every axle on a wet road, air; and the price of simplicity."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from descent.physics.brake_heat import packed_rows
from descent.physics.foundation_brake import COLD_C, LOAD, row_force_n
from descent.plan.air_check import low_air_node
from descent.plan.grip import WET_SHARE, grip_kpa
from descent.plan.planner import Cause, Found, Nothing, find, workshop
from descent.plan.sections import SectionKind
from descent.plan.sight import crest_sight_m, sight_limit_mps, speed_to_stop_mps
from descent.plan.simplicity import PIECE_M, free_sections, price_of_simplicity
from descent.units import MPH_MPS, POUND_KG
from descent.vehicle.air_supply import air_supply
from descent.vehicle.catalogue import load_vehicle
from made_roads import made_task, pull_out

HILL = [(1500.0, 0.01), (6000.0, -0.055), (1500.0, 0.0)]


def seen_over_a_crest(change: float, length_m: float) -> float:
    """Longest line of sight over a parabola from 2.33 m to 0.60 m, by trying eye places: no formula of the guide."""
    station = np.arange(-3000.0, 3000.0, 2.0)
    inside = np.clip(station + length_m / 2, 0.0, length_m)
    road = -change * (inside**2 / (2 * length_m) + np.maximum(station - length_m / 2, 0.0))
    best = np.inf
    for eye in range(0, len(station) // 2 + 200, 10):
        slope = (road[eye + 1:] - road[eye] - 2.33) / (station[eye + 1:] - station[eye])
        highest = np.maximum.accumulate(slope)
        line = road[eye] + 2.33 + highest * (station[eye + 1:] - station[eye])
        hidden = np.flatnonzero(line > road[eye + 1:] + 0.60 + 1e-9)
        if len(hidden):
            best = min(best, station[eye + 1 + hidden[0]] - station[eye])
    return float(best)


@pytest.mark.parametrize(("change", "length_m"), [(0.08, 400.0), (0.05, 200.0), (0.06, 100.0)])
def test_sight_over_a_crest_is_that_of_the_line_of_sight(change: float, length_m: float) -> None:
    assert float(crest_sight_m(np.array([change]), length_m)[0]) == pytest.approx(seen_over_a_crest(change, length_m), rel=0.02)


def test_stopping_speeds_are_those_of_the_design_guide() -> None:
    """Stopping sight distance 130 m at 80 km/h and 185 m at 100 km/h on the level (rounded design values; from memory)."""
    speeds = speed_to_stop_mps(np.array([130.0, 185.0]), np.zeros(2)) * 3.6
    assert speeds == pytest.approx([80.0, 100.0], abs=1.0)


def test_sight_lowers_a_sharp_crest_only() -> None:
    grade = np.concatenate([np.full(100, 0.05), np.linspace(0.05, -0.06, 11), np.full(100, -0.06)])
    limit = sight_limit_mps(grade, 10.0)
    assert limit[105] < 55 * MPH_MPS < limit[20]
    assert np.all(sight_limit_mps(np.full(200, -0.06), 10.0) > 40.0)


def test_on_a_wet_road_no_axle_passes_its_share_of_grip() -> None:
    """Every snub of the plan, row by row, at the pressure the march used."""
    for name, gross_lb in (("tractor-semitrailer", 34_000), ("tractor-semitrailer", 60_000), ("motorcoach", 45_000)):
        task = made_task(HILL, load_vehicle(name, gross_kg=gross_lb * POUND_KG))
        task = replace(task, day=replace(task.day, adhesion=0.3))
        found = find(workshop(task))
        assert isinstance(found, Found)
        pressure = max((float(found.trace.pressure_kpa[leg.start + 1:leg.end + 1].max()) for leg in found.solution.legs),
                       default=0.0)
        for row in packed_rows(task.vehicle):
            assert row_force_n(row, pressure, COLD_C) <= WET_SHARE * 0.3 * row[LOAD] + 1.0


def test_grip_binds_on_a_wet_road_and_not_on_a_dry_one() -> None:
    task = made_task(HILL, load_vehicle("tractor-semitrailer", gross_kg=34_000 * POUND_KG))
    shop = workshop(task)
    assert np.isinf(grip_kpa(task, (None, *shop.choices))).all()
    wet = replace(task, day=replace(task.day, adhesion=0.3))
    assert np.isfinite(grip_kpa(wet, (None, *shop.choices))).all()


def test_a_plan_that_runs_out_of_air_is_not_given() -> None:
    """A dead compressor and small leaks: many snubs empty the reservoirs; with a working one the same plan stands."""
    vehicle = load_vehicle("tractor-semitrailer", gross_kg=76_000 * POUND_KG)
    task = replace(made_task([(1500.0, 0.01), (9000.0, -0.05), (1500.0, 0.0)], vehicle), air=air_supply(vehicle))
    whole = find(workshop(task))
    assert isinstance(whole, Found) and low_air_node(task, whole.solution, whole.trace) is None
    assert task.air is not None
    weak = replace(task, air=replace(task.air, compressor_m3ps=0.0))
    found = find(workshop(weak))
    if isinstance(found, Found):
        assert low_air_node(weak, found.solution, found.trace) is None
        assert found.trace.total_time_s >= whole.trace.total_time_s
    else:
        assert isinstance(found, Nothing) and found.cause is Cause.LOW_AIR and 0.0 < found.station_m < 12_000.0


def test_simplicity_has_a_price_and_a_short_downgrade_none() -> None:
    """8 % then 4 %: one speed for both costs; a downgrade that holds at the limit of the road costs nothing."""
    vehicle = load_vehicle("tractor-semitrailer", gross_kg=70_000 * POUND_KG)
    shop = workshop(made_task([(1000.0, 0.0), (2400.0, -0.075), (4800.0, -0.035), (1200.0, 0.0)], vehicle,
                              places=(pull_out("Shelf", 4000.0),)))
    found = find(shop)
    assert isinstance(found, Found)
    price = price_of_simplicity(shop, found.trace.total_time_s)
    assert price is not None and price.free_s < price.simple_s and price.share > 0.02
    easy = workshop(made_task([(1000.0, 0.0), (700.0, -0.04), (1200.0, 0.0)], load_vehicle("tractor-semitrailer",
                                                                                          gross_kg=40_000 * POUND_KG)))
    found = find(easy)
    assert isinstance(found, Found)
    cheap = price_of_simplicity(easy, found.trace.total_time_s)
    assert cheap is not None and 0.0 <= cheap.share < 0.02


def test_free_sections_cover_the_road() -> None:
    shop = workshop(made_task(HILL, load_vehicle("tractor-semitrailer"), places=(pull_out("Shelf", 4000.0),)))
    cut = free_sections(shop)
    assert cut[0].start == 0 and cut[-1].end == len(shop.cells.step_m)
    assert all(before.end == after.start for before, after in pairwise(cut))
    assert all((part.end - part.start) * 10.0 < 1.6 * PIECE_M for part in cut if part.kind is not SectionKind.CRUISE)
