# SPDX-License-Identifier: MIT
"""The planner equals brute force, its bound is never above any feasible plan, and its maps are the march itself."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from descent.physics.brake_heat import emergency_rise
from descent.plan.loose_maps import LooseMaker
from descent.plan.model import Task
from descent.plan.planner import Found, Nothing, find, workshop
from descent.plan.proof import keeps_limits
from descent.plan.search import Way
from descent.plan.verify import excess_k, solution_of
from descent.units import MPH_MPS, POUND_KG
from descent.vehicle.catalogue import load_vehicle
from descent.vehicle.model import Vehicle
from made_roads import made_task, pull_out
from plan.brute_force import enumerated, small_case

TWO_HILLS = [(1200.0, 0.01), (5000.0, -0.06), (800.0, 0.0), (3500.0, -0.055), (1500.0, 0.0)]


def loaded(gross_lb: float, name: str = "tractor-semitrailer", **given_: object) -> Task:
    return made_task(TWO_HILLS, load_vehicle(name, gross_kg=gross_lb * POUND_KG),
                     places=(pull_out("Shelf", 6900.0),), **given_)  # type: ignore[arg-type]


def slack(vehicle: Vehicle) -> Vehicle:
    """Push rods far past their limit, so that in ordinary braking shares move with temperature (no such vehicle may go)."""
    return replace(vehicle, axles=tuple(replace(axle, brakes=tuple(
        replace(brake, stroke_m=brake.chamber.stroke_limit_m + 0.0115) for brake in axle.brakes))
        for axle in vehicle.axles))


@pytest.mark.parametrize("seed", range(24))
def test_the_plan_equals_brute_force(seed: int) -> None:
    """Every way down marched in full, by code written apart; `make validation` does some hundreds more."""
    shop = small_case(seed, most_ways=150)
    every, found = enumerated(shop), find(shop)
    assert isinstance(found, Nothing) == np.isinf(every.best_s)
    if isinstance(found, Found):
        assert found.trace.total_time_s == pytest.approx(every.best_s, abs=1e-6)
        assert found.lower_bound_s <= every.best_s + 1e-6
        assert found.proven


@settings(max_examples=15)
@given(st.floats(40_000, 84_000), st.floats(50, 150), st.sampled_from([45.0, 55.0, 65.0]))
def test_the_search_takes_the_time_of_the_march(gross_lb: float, start_c: float, posted_mph: float) -> None:
    """Section maps, state handed on at each boundary, add up to the full march: 1e-6 s, 1e-6 K."""
    task = loaded(gross_lb, start_temp_c=start_c, posted_mps=posted_mph * MPH_MPS)
    shop = workshop(task)
    way = shop.search(np.zeros(len(task.vehicle.rows))).best(slack_c=1e-12, most_labels=10**6)
    if isinstance(way, Way):
        solution = solution_of(task, shop.chains, shop.parts, way.choices)
        trace = shop.drive(solution)
        assert trace.total_time_s == pytest.approx(way.time_s, abs=1e-6)
        assert float(excess_k(task, trace).max()) <= 1e-6


def test_a_reserve_lowers_the_limit_and_bound_and_plan_go_with_it() -> None:
    shop = workshop(loaded(70_000))
    plain = find(shop)
    kept = find(shop, reserve_k=np.full(len(shop.task.vehicle.rows), 25.0))
    assert isinstance(plain, Found) and isinstance(kept, Found)
    assert float(excess_k(shop.task, kept.trace).max()) <= -25.0
    assert kept.lower_bound_s > plain.lower_bound_s and kept.proven and plain.proven


def test_slack_brakes_get_an_honest_bound() -> None:
    """Where shares move with temperature the bound stays below the plan, and a proof is claimed only at gap nil."""
    held = 0
    for gross in (64_000, 70_000, 76_000):
        task = replace(loaded(gross), vehicle=slack(load_vehicle("tractor-semitrailer", gross_kg=gross * POUND_KG)))
        shop = workshop(task)
        found = find(shop)
        if isinstance(found, Found):
            held += 1
            assert found.lower_bound_s <= found.trace.total_time_s
            assert found.proven == (found.trace.total_time_s - found.lower_bound_s <= 1e-6)
            assert keeps_limits(shop, found.solution, found.trace, np.zeros(len(task.vehicle.rows)))
    assert held >= 2


def test_the_bound_of_slack_brakes_is_below_every_plan_that_holds() -> None:
    vehicle = slack(load_vehicle("tractor-semitrailer", gross_kg=72_000 * POUND_KG))
    shop = workshop(made_task([(800.0, 0.0), (4000.0, -0.06), (900.0, 0.0)], vehicle, start_temp_c=90.0))
    shop = replace(shop, choices=shop.choices[:8])
    every, found = enumerated(shop), find(shop)
    search = shop.search(np.zeros(len(vehicle.rows)))
    search.best(slack_c=1.0, most_labels=10**6)
    assert search.peak_kpa > shop.maker.straight_to_kpa()        # the case is one of moving shares
    assert isinstance(found, Found)
    assert found.lower_bound_s <= every.best_s + 1e-6 <= found.trace.total_time_s + 2e-6


def test_loose_maps_are_never_hotter_than_the_march() -> None:
    vehicle = slack(load_vehicle("tractor-semitrailer", gross_kg=72_000 * POUND_KG))
    shop = workshop(made_task([(800.0, 0.0), (4000.0, -0.06), (900.0, 0.0)], vehicle, start_temp_c=90.0))
    loose = LooseMaker(shop.maker)
    way = shop.search(np.zeros(len(vehicle.rows)), loose).best(slack_c=1e-12, most_labels=10**6)
    assert isinstance(way, Way) and loose.one_history
    trace = shop.drive(solution_of(shop.task, shop.chains, shop.parts, way.choices))
    assert trace.total_time_s == pytest.approx(way.time_s, abs=1e-6)


@settings(max_examples=60)
@given(st.sampled_from(["tractor-semitrailer", "motorcoach", "dump-truck", "doubles"]), st.floats(3.0, 27.0),
       st.floats(-0.05, 0.09), st.integers(0, 1000))
def test_cooler_is_never_worse_for_an_emergency_stop(name: str, speed_mps: float, sin_down: float, seed: int) -> None:
    """T + rise(T) grows with the temperature of every row: on this rests the dropping of later, hotter labels."""
    vehicle = load_vehicle(name)
    rng = np.random.default_rng(seed)
    hot = rng.uniform(30.0, 260.0, len(vehicle.rows))
    cool = hot - rng.uniform(0.0, 1.0, len(hot)) * np.minimum(hot - 25.0, 60.0)
    after = [temps + emergency_rise(vehicle, temps, speed_mps=speed_mps, sin_down=sin_down, adhesion=0.6)
             for temps in (cool, hot)]
    assert np.all(after[0] <= after[1] + 1e-9)


@pytest.mark.parametrize("gross", [52_000.0, 66_000.0, 80_000.0])
def test_more_instructions_never_take_longer(gross: float) -> None:
    shop = workshop(loaded(gross))
    times = []
    for some in (shop.choices[::3], shop.choices[::3] + shop.choices[1::3], shop.choices):
        found = find(replace(shop, choices=tuple(sorted(some, key=lambda item: item.control_mps))))
        times.append(found.trace.total_time_s if isinstance(found, Found) else np.inf)
    assert times[0] >= times[1] - 1e-6 >= times[2] - 2e-6


@settings(max_examples=12)
@given(st.floats(45_000, 80_000), st.floats(0.0, 60.0))
def test_a_cooler_start_never_takes_longer(gross_lb: float, cooler: float) -> None:
    """Exactly so: the same ways down are open, and each leaves its brakes cooler."""
    hot, cool = (find(workshop(loaded(gross_lb, start_temp_c=temp))) for temp in (110.0, 110.0 - cooler))
    if isinstance(hot, Found):
        assert isinstance(cool, Found)
        assert cool.trace.total_time_s <= hot.trace.total_time_s + 1e-6


def test_feasible_speeds_that_are_no_interval() -> None:
    """7 % for 8 km with a retarder: a fast island above forbidden speeds is not taken; the first crossing from below
    counts. The plan is the fastest speed below the first that fails."""
    vehicle = load_vehicle("tractor-semitrailer-retarder")
    task = made_task([(800.0, 0.0), (8000.0, -0.07), (1500.0, 0.0)], vehicle, posted_mps=65 * MPH_MPS)
    shop = workshop(task)
    found = find(shop)
    assert isinstance(found, Found) and found.proven
    every = enumerated(replace(shop, choices=shop.choices[::2]))
    some = find(replace(shop, choices=shop.choices[::2]))
    assert isinstance(some, Found) and some.trace.total_time_s == pytest.approx(every.best_s, abs=1e-6)
