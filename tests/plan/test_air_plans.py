# SPDX-License-Identifier: MIT
"""Plans whose air runs low: the best way on which it lasts, its bound, the stop to build air, and that more air never hurts."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from descent.physics.air_system import packed_air, reservoir_along
from descent.plan import air_label_kernel as kernel
from descent.plan.air_bound_kernel import GAIN, MOST, NEED, SETS
from descent.plan.air_check import counted_on, least_reservoirs, low_air_node, reservoirs
from descent.plan.air_logs import AirLogs
from descent.plan.air_search import AirSearch, BoundSearch
from descent.plan.air_stops import BUILD_AIR, air_need
from descent.plan.explain import explained
from descent.plan.leg_facts import turning_rpm
from descent.plan.model import Task
from descent.plan.planner import Cause, Found, Nothing, find, workshop
from descent.plan.proof import best_way
from descent.plan.search import Way
from descent.plan.verify import solution_of
from descent.units import POUND_KG
from descent.vehicle.air_supply import AirSupply, air_supply
from descent.vehicle.catalogue import load_vehicle
from made_roads import made_task, pull_out
from plan.brute_force import enumerated, short_of_air, small_case

LONG_HILL = [(1500.0, 0.01), (6000.0, -0.055), (400.0, 0.0), (5000.0, -0.055), (1500.0, 0.0)]


def weak_task(*, compressor: float = 0.15, tanks: float = 0.6, leak: float = 0.0, places: bool = True,
              name: str = "tractor-semitrailer", gross_lb: float = 46_000) -> Task:
    """A long hill for a loaded vehicle whose air supply is a share of the least the standard asks for."""
    vehicle = load_vehicle(name, gross_kg=min(gross_lb * POUND_KG, load_vehicle(name).rated_gross_kg))
    air = air_supply(vehicle)
    less = replace(air, compressor_m3ps=air.compressor_m3ps * compressor, tanks_m3=tuple(tanks * one for one in air.tanks_m3),
                   leak_released_kpaps=leak * air.leak_released_kpaps, leak_applied_kpaps=leak * air.leak_applied_kpaps)
    spots = (pull_out("Shelf", 7700.0),) if places else ()
    return replace(made_task(LONG_HILL, vehicle, places=spots), air=less)


def time_of(task: Task) -> float:
    found = find(workshop(task))
    return found.trace.total_time_s if isinstance(found, Found) else np.inf




# of 250 seeds the first few for which the air binds and nothing lasts, and all for which a slower way or a stop does
@pytest.mark.parametrize("seed", [3, 13, 17, 23, 4, 97, 122, 127, 135, 155, 175, 196, 219, 245])
def test_the_plan_whose_air_lasts_equals_brute_force(seed: int) -> None:
    """Every way down marched in full and its reservoirs followed, by code that knows nothing of the search."""
    shop = short_of_air(small_case(seed, most_ways=150), seed)
    free = best_way(shop, np.zeros(len(shop.task.vehicle.rows)))
    assert free is not None and low_air_node(shop.task, free.solution, free.trace) is not None
    every, found = enumerated(shop), find(shop)
    assert isinstance(found, Nothing) == np.isinf(every.best_s)
    if isinstance(found, Found):
        assert found.trace.total_time_s == pytest.approx(every.best_s, abs=1e-6)
        assert found.lower_bound_s <= every.best_s + 1e-6
        assert found.trace.total_time_s > free.trace.total_time_s
        assert found.proven and low_air_node(shop.task, found.solution, found.trace) is None


def test_plentiful_air_changes_nothing() -> None:
    for name in ("tractor-semitrailer", "motorcoach", "dump-truck"):
        task = weak_task(name=name, compressor=3.0, tanks=2.0, leak=0.0)
        with_air, without = find(workshop(task)), find(workshop(replace(task, air=None)))
        assert isinstance(with_air, Found) and isinstance(without, Found)
        assert with_air.solution == without.solution and with_air.lower_bound_s == without.lower_bound_s


@settings(max_examples=8)
@given(st.floats(0.1, 0.4), st.floats(0.4, 0.9), st.floats(0.0, 0.3), st.floats(0.05, 0.6))
def test_a_stronger_compressor_or_a_smaller_leak_never_takes_longer(compressor: float, tanks: float, leak: float,
                                                                    more: float) -> None:
    """Exactly so by what is counted on (no governor's luck), as far as both plans are proven."""
    before = find(workshop(weak_task(compressor=compressor, tanks=tanks, leak=leak)))
    if not isinstance(before, Found):
        return
    for better in (weak_task(compressor=compressor + more, tanks=tanks, leak=leak),
                   weak_task(compressor=compressor, tanks=tanks, leak=leak * (1.0 - more))):
        after = find(workshop(better))
        assert isinstance(after, Found)
        assert after.lower_bound_s <= before.trace.total_time_s + 1e-6
        if after.proven:
            assert after.trace.total_time_s <= before.trace.total_time_s + 1e-6


@settings(max_examples=6)
@given(st.floats(0.35, 0.8), st.floats(1.05, 2.0))
def test_larger_reservoirs_never_take_longer_where_nothing_leaks(tanks: float, larger: float) -> None:
    """With a leak told in pressure a larger reservoir loses more air, so the law holds without one and without a compressor
    (which fills a small reservoir sooner)."""
    small, large = (time_of(weak_task(compressor=0.0, tanks=one, leak=0.0)) for one in (tanks, tanks * larger))
    assert large <= small + 1e-6


def test_a_stop_to_build_air_mends_a_plan_and_says_why() -> None:
    task = weak_task()
    shop = workshop(task)
    found = find(shop)
    nowhere = find(workshop(replace(task, places=())))
    assert isinstance(found, Found)
    stops = [stop for stop in found.solution.stops if stop.kind == BUILD_AIR]
    assert len(stops) == 1 and stops[0].minutes % task.rules.stop_step_minutes == 0
    assert stops[0].place is not None and stops[0].place.name == "Shelf"
    assert isinstance(nowhere, Nothing) or nowhere.trace.total_time_s > found.trace.total_time_s
    need = air_need(shop, found.solution, found.trace, found.solution.stops.index(stops[0]))
    assert need is not None and need.leave_kpa > need.arrive_kpa and need.low_m > 7700.0
    plan = explained(replace(task, chance=None), slippery=False)
    kinds = {reason.kind for reasons in plan.leg_reasons for reason in reasons}
    assert kinds & {"stop-air", "stop-air-longer"} and "stop-gear" not in kinds


def test_no_air_at_all_is_said() -> None:
    found = find(workshop(weak_task(compressor=0.0, tanks=0.1, leak=1.0, places=False)))
    assert isinstance(found, Nothing) and found.cause is Cause.LOW_AIR


def test_what_is_counted_on_is_never_more_than_the_reservoirs_hold() -> None:
    """Whatever the governor's pressures: started anywhere between them, the true reservoirs hold at least as much."""
    task = weak_task(compressor=0.6, tanks=1.0)
    found = find(workshop(task))
    assert isinstance(found, Found) and task.air is not None
    least = least_reservoirs(task, found.solution, found.trace)
    true = reservoirs(task, found.solution, found.trace)
    assert least is not None and true is not None
    assert np.all(true.tank_kpa >= least.tank_kpa - 1e-6)
    rpm = turning_rpm(task, found.solution, found.trace)
    for start in np.linspace(task.air.cut_in_kpa, task.air.cut_out_kpa, 5):
        for cut_out in (task.air.cut_in_kpa + 30.0, task.air.cut_out_kpa):
            air = replace(task.air, cut_out_kpa=cut_out)
            along = reservoir_along(found.trace, task.vehicle, air, engine_rpm=rpm, start_kpa=float(min(start, cut_out)))
            assert np.all(along.tank_kpa >= least.tank_kpa - 1e-6)


@pytest.mark.parametrize("name", ["tractor-semitrailer", "dump-truck", "motorcoach"])
def test_labels_carry_the_air_of_the_march_and_bounds_are_never_below_it(name: str) -> None:
    """The exact search ends with the very reservoirs of `reservoir_along`; what the sets hold bounds them at every section."""
    task = weak_task(name=name, compressor=0.5, tanks=0.9)
    shop = workshop(task)
    assert task.air is not None
    free = shop.search(np.zeros(len(task.vehicle.rows)))
    free.best(slack_c=4.0, most_labels=10**6)
    free.bound_rest()
    logs = AirLogs(shop, shop.maker, task.air)
    bound = BoundSearch(free, logs)
    way = AirSearch(bound).best(slack_c=-1e-9, most_labels=10**6)
    assert isinstance(way, Way)
    quick = bound.best(slack_c=4.0, most_labels=10**6)
    assert isinstance(quick, Way) and quick.time_s <= way.time_s + 1e-6
    solution = solution_of(task, shop.chains, shop.parts, way.choices)
    trace = shop.drive(solution)
    assert trace.total_time_s == pytest.approx(way.time_s, abs=1e-6)
    assert low_air_node(task, solution, trace) is None


@settings(max_examples=15)
@given(st.integers(0, 10_000))
def test_a_section_never_leaves_more_than_its_bound(seed: int) -> None:
    """Any map, any temperatures, any air at its start, followed cell by cell against the few numbers that bound it."""
    rng = np.random.default_rng(seed)
    task = weak_task(compressor=float(rng.uniform(0.0, 1.0)), tanks=float(rng.uniform(0.4, 1.5)), leak=float(rng.uniform(0, 1)),
                     name=str(rng.choice(["tractor-semitrailer", "dump-truck", "motorcoach"])))
    assert _one_map(task, rng) > 0


def _one_map(task: Task, rng: np.random.Generator) -> int:
    shop = workshop(task)
    air: AirSupply | None = task.air
    assert air is not None
    free = shop.search(np.zeros(len(task.vehicle.rows)))
    free.best(slack_c=4.0, most_labels=10**6)
    logs, packed = AirLogs(shop, shop.maker, air), packed_air(task.vehicle, counted_on(air))
    checked = 0
    for stage in free._stages:
        driven = np.flatnonzero(stage.maps.ok)
        number = int(rng.choice(driven))
        log, share = logs.logs_of(stage, np.array([number]))
        temps = rng.uniform(free._grid[0], 150.0, (20, len(task.vehicle.rows)))
        tanks = rng.uniform(air.warning_kpa, air.cut_in_kpa, (20, 1)) * (packed.tanks_m3 > 0)
        out, lasts = np.zeros((20, kernel.COLUMNS)), np.zeros(20, dtype=np.int64)
        kernel.breathe(log, share, np.zeros(20, dtype=np.int64), temps, np.hstack([tanks, np.zeros((20, 1))]),
                       logs.rows, packed.chambers, packed.tanks_m3, packed.parameters, air.warning_kpa, out, lasts)
        made = logs.bounds_of(stage)[number]
        for k in np.flatnonzero(lasts):
            for s, members in enumerate(SETS):
                holds, left = (float((members * packed.tanks_m3) @ one) for one in (tanks[k], out[k, :4]))
                gain, most, need = (float(made[s, which, 0] + made[s, which, 1:] @ temps[k]) for which in (GAIN, MOST, NEED))
                assert holds >= need - 1e-6
                assert left <= min(holds + gain, most) + 1e-6
                checked += 1
    return checked
