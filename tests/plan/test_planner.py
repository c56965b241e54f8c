# SPDX-License-Identifier: MIT
"""The planner keeps every limit, obeys laws, and does not do what its pitfalls invite."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from descent.physics.driveline import engine_rpm_per_mps
from descent.plan.actions import instructions, lowest_gear
from descent.plan.explain import explained
from descent.plan.model import Instruction, LegSpan, PlannedStop, Solution, Task
from descent.plan.planner import Found, Nothing, find, workshop
from descent.plan.sections import SectionKind, groups, halts
from descent.plan.verify import excess_k
from descent.units import MPH_MPS, POUND_KG
from descent.vehicle.catalogue import load_vehicle
from descent.vehicle.model import Vehicle, loaded
from made_roads import made_task, pull_out

HILL = [(1500.0, 0.01), (6000.0, -0.055), (900.0, 0.0), (3500.0, -0.06), (1500.0, 0.0)]
PLACES = (pull_out("Top", 1200.0, kind="brake-check-area"), pull_out("Shelf", 7900.0))


def reference(gross_lb: float = 80_000, name: str = "tractor-semitrailer", **given: object) -> Task:
    return made_task(HILL, load_vehicle(name, gross_kg=gross_lb * POUND_KG), places=PLACES, **given)  # type: ignore[arg-type]


def test_a_found_plan_keeps_every_limit_in_the_full_march() -> None:
    task = reference()
    found = find(workshop(task))
    assert isinstance(found, Found)
    assert float(excess_k(task, found.trace).max()) <= 0
    for leg in found.solution.legs:
        held = leg.instruction
        rpm = held.control_mps * engine_rpm_per_mps(task.vehicle.gearbox, held.gear)
        assert rpm <= task.vehicle.engine.overrun_limit_rpm + 1e-6
        assert held.control_mps >= task.rules.min_speed_mps - 1e-9
        assert found.trace.speed_mps[leg.start:leg.end + 1].max() <= held.control_mps + 1e-6
    assert all(stop.minutes == int(stop.minutes) > 0 for stop in found.solution.stops)


def test_gears_change_only_at_a_stop_or_on_a_real_flat() -> None:
    task = reference()
    found = find(workshop(task))
    assert isinstance(found, Found)
    stops = {stop.node for stop in found.solution.stops}
    flat = task.steep_grade >= task.rules.flat_grade
    for before, after in zip(found.solution.legs, found.solution.legs[1:], strict=False):
        if before.instruction.gear != after.instruction.gear:
            assert after.start in stops or flat[after.start]


def best_of_all(task: Task, spans: list[tuple[int, int]], choices: list[list[Instruction | None]],
                stops: list[tuple[PlannedStop, ...]]) -> float:
    """The least time over every combination, each marched in full; infinite when none holds."""
    shop = workshop(task)
    best = np.inf
    for picked, halts_made in product(product(*choices), stops):
        legs = tuple(LegSpan(a, b, a, 1, item) for (a, b), item in zip(spans, picked, strict=True) if item is not None)
        trace = shop.drive(Solution(legs, halts_made))
        if trace.total_time_s < best and float(excess_k(task, trace).max()) <= 0:
            best = trace.total_time_s
    return float(best)


def straight(vehicle: Vehicle) -> Vehicle:
    """The vehicle without stroke growth: an emergency stop's rise then does not depend on temperature and the section
    maps are exact."""
    return replace(vehicle, axles=tuple(replace(axle, brakes=tuple(
        replace(brake, stroke_per_k_m=0.0) for brake in axle.brakes)) for axle in vehicle.axles))


def spans_of(task: Task) -> list[tuple[int, int]]:
    return [(part.start, part.end) for part in workshop(task).parts if part.kind is not SectionKind.CRUISE]


def test_one_chain_equals_brute_force() -> None:
    """One downgrade without places: every instruction on it and on the run-out, marched in full."""
    for gross in (50_000, 65_000, 72_000, 84_000):
        task = made_task([(1000.0, 0.01), (4000.0, -0.055), (1500.0, 0.0)],
                         straight(load_vehicle("tractor-semitrailer", gross_kg=gross * POUND_KG)))
        choices = list(workshop(task).choices)
        best = best_of_all(task, spans_of(task), [choices, [None, *choices]], [()])
        found = find(workshop(task))
        assert np.isinf(best) == isinstance(found, Nothing)
        if isinstance(found, Found):
            assert best - 1e-6 <= found.trace.total_time_s <= best * 1.01  # a section begins its snubs anew, which moves a peak by 2-4 C


def test_two_legs_and_a_stop_equal_brute_force() -> None:
    """Every pair of slow instructions, whole minutes at the one pull-out, every run-out speed, marched in full."""
    task = replace(reference(84_000), places=PLACES[1:])
    task = replace(task, rules=replace(task.rules, longest_stop_minutes=70), vehicle=straight(task.vehicle))
    shop = workshop(task)
    found = find(shop)
    assert isinstance(found, Found)
    stop = next(stop for stop in found.solution.stops if stop.kind == "cool-down")
    slow = [item for item in shop.choices if item.control_mps < 21 * MPH_MPS]
    stops: list[tuple[PlannedStop, ...]] = [(), *((replace(stop, minutes=m),) for m in range(5, 71, 5))]
    best = best_of_all(task, spans_of(task), [list(slow), list(slow), [None, *shop.choices]], stops)
    assert best - 1e-6 <= found.trace.total_time_s <= best * 1.01  # a section begins its snubs anew, which moves a peak by 2-4 C


def test_stroke_growth_costs_little_and_never_the_limit() -> None:
    """With growing strokes the maps err on the cautious side: found is at most 3 % slower than brute force."""
    task = made_task([(1000.0, 0.01), (4000.0, -0.055), (1500.0, 0.0)],
                     load_vehicle("tractor-semitrailer", gross_kg=84_000 * POUND_KG))
    choices = list(workshop(task).choices)
    best = best_of_all(task, spans_of(task), [choices, [None, *choices]], [()])
    found = find(workshop(task))
    assert isinstance(found, Found)
    assert best - 1e-6 <= found.trace.total_time_s <= best * 1.03


@settings(max_examples=6)
@given(st.floats(45_000, 80_000), st.floats(500, 6000), st.floats(-15, 15))
def test_lighter_and_cooler_never_take_longer(gross_lb: float, less_lb: float, cooler: float) -> None:
    heavy, light = find(workshop(reference(gross_lb))), find(workshop(reference(gross_lb - less_lb)))
    if isinstance(heavy, Found):
        assert isinstance(light, Found)
        # climbing and snub phase differ a little; five minutes of standing are the grain of the instruction
        assert light.trace.total_time_s <= heavy.trace.total_time_s + 300
    cool = find(workshop(reference(gross_lb, start_temp_c=65.6 - abs(cooler))))
    if isinstance(heavy, Found):
        assert isinstance(cool, Found)
        assert cool.trace.total_time_s <= heavy.trace.total_time_s + 300


def test_a_retarder_never_takes_longer() -> None:
    plain, retarded = find(workshop(reference())), find(workshop(reference(name="tractor-semitrailer-retarder")))
    assert isinstance(plain, Found) and isinstance(retarded, Found)
    assert retarded.trace.total_time_s < plain.trace.total_time_s


def test_the_brake_check_comes_before_the_crest_and_the_stop_at_the_place_given() -> None:
    found = find(workshop(reference(84_000)))
    assert isinstance(found, Found)
    kinds = [(stop.kind, stop.place.name if stop.place else "") for stop in found.solution.stops]
    assert kinds == [("brake-check", "Top"), ("cool-down", "Shelf")]


def test_a_steep_place_and_the_wrong_side_are_no_cool_down_places() -> None:
    task = made_task(HILL, load_vehicle("tractor-semitrailer"), places=(
        pull_out("Steep", 4000.0, grade=-0.045), replace(pull_out("Left", 4200.0), side="left"),
        pull_out("Flat", 4400.0, grade=-0.01)))
    assert [halt.place.name for halt in halts(task)] == ["Flat"]


def test_a_real_flat_starts_a_new_chain_and_a_short_one_does_not() -> None:
    vehicle = load_vehicle("tractor-semitrailer")
    split = groups(made_task(HILL, vehicle))
    joined = groups(made_task([(1000.0, 0.0), (3000.0, -0.06), (250.0, 0.0), (3000.0, -0.06), (800.0, 0.0)], vehicle))
    assert len(split) == 2 and len(joined) == 1


def test_nothing_holds_and_what_would() -> None:
    task = made_task([(1000.0, 0.0), (9000.0, -0.07), (800.0, 0.0)], load_vehicle("tractor-semitrailer"))
    plan = explained(task, slippery=False)
    assert not plan.feasible and plan.solution is None
    lighter = next(item for item in plan.alternatives if item.kind == "lighter")
    weight = float(lighter.values["gross_kg"])
    assert isinstance(find(workshop(replace(task, vehicle=loaded(task.vehicle, weight)))), Found)
    assert isinstance(find(workshop(replace(task, vehicle=loaded(task.vehicle, weight + 250)))), Nothing)


def test_ice_is_not_today() -> None:
    plan = explained(reference(50_000), slippery=True)
    assert not plan.feasible and plan.verdict.kind == "slippery"


def test_every_instruction_uses_the_lowest_gear_the_engine_allows() -> None:
    task = reference()
    for item in instructions(task):
        assert item.gear == lowest_gear(task, item.control_mps)
        below = item.gear - 1
        if below >= 0:
            assert item.control_mps * engine_rpm_per_mps(task.vehicle.gearbox, below) > 2100


def test_the_plan_is_made_on_the_steep_side() -> None:
    """A wider grade band never gives a faster plan."""
    sharp = reference()
    blurred = replace(sharp, steep_grade=sharp.steep_grade - np.where(sharp.profile.grade < -0.03, 0.002, 0.0))
    first, second = find(workshop(sharp)), find(workshop(blurred))
    assert isinstance(first, Found) and isinstance(second, Found)
    assert second.trace.total_time_s >= first.trace.total_time_s


