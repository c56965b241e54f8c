# SPDX-License-Identifier: MIT
"""Laws a plan must keep on any road, and cases in which an earlier version gave a wrong or no answer."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from descent.physics.driveline import engine_rpm_per_mps
from descent.plan.actions import grip_allows
from descent.plan.explain import explained
from descent.plan.limits import posted_limits, steep_side
from descent.plan.model import Instruction
from descent.plan.planner import Cause, Found, Nothing, find, workshop
from descent.plan.sections import groups, usable
from descent.plan.verify import excess_k
from descent.units import MPH_MPS, POUND_KG
from descent.vehicle.catalogue import load_vehicle
from made_roads import made_task, pull_out

NAMES = ("tractor-semitrailer", "tractor-semitrailer-retarder", "motorcoach", "dump-truck", "straight-truck")
PIECES = st.lists(st.tuples(st.sampled_from([400.0, 1200.0, 3000.0]), st.floats(-0.08, 0.04)), min_size=2, max_size=6)


@settings(max_examples=40)
@given(PIECES, st.sampled_from(NAMES), st.floats(0.6, 1.0), st.lists(st.floats(0.05, 0.95), max_size=3))
def test_every_plan_keeps_every_limit(pieces: list[tuple[float, float]], name: str, load: float,
                                      where: list[float]) -> None:
    """Random roads, vehicles, loads and places: temperature plus one emergency stop, engine speed, signs, and gears
    changed only at a stop or where the road is really flat."""
    full = load_vehicle(name)
    length = sum(piece[0] for piece in pieces)
    places = tuple(sorted((pull_out(f"P{i}", round(share * length, -1)) for i, share in enumerate(where)),
                          key=lambda place: place.station_m))
    task = made_task(pieces, load_vehicle(name, gross_kg=full.tare_kg + load * (full.gross_kg - full.tare_kg)),
                     places=places)
    shop = workshop(task)
    found = find(shop)
    if isinstance(found, Nothing):
        return
    assert found.trace.complete
    assert float(excess_k(task, found.trace).max()) <= 0
    assert np.all(found.trace.speed_mps <= task.posted_mps + 1e-6)
    stops = {stop.node for stop in found.solution.stops}
    for before, after in zip(found.solution.legs, found.solution.legs[1:], strict=False):
        assert before.end <= after.start
        if before.instruction.gear != after.instruction.gear and after.start not in stops:
            assert task.steep_grade[max(after.start - 1, 0):after.start + 1].max() >= task.rules.flat_grade
    for leg in found.solution.legs:
        speeds = found.trace.speed_mps[leg.start:leg.end + 1]
        rpm = speeds.max() * engine_rpm_per_mps(task.vehicle.gearbox, leg.instruction.gear)
        assert rpm <= task.vehicle.engine.overrun_limit_rpm + 1e-6


@pytest.mark.parametrize("grade", [-0.004, -0.006, -0.007, -0.008, -0.012])
def test_a_stop_on_a_mild_fall_neither_creeps_nor_breaks(grade: float) -> None:
    """Moving off where gravity hardly wins once gave NaN or minutes at walking pace; power is used as a driver would."""
    task = made_task([(1500.0, grade), (4500.0, -0.06), (1000.0, 0.0)],
                     load_vehicle("tractor-semitrailer", gross_kg=60_000 * POUND_KG),
                     places=(pull_out("Check", 1000.0, kind="brake-check-area"),))
    found = find(workshop(task))
    assert isinstance(found, Found)
    stop = found.solution.stops[0]
    moving = found.trace.time_s[stop.node + 30] - found.trace.time_s[stop.node] - 60 * stop.minutes
    assert 0 < moving < 120


def test_a_coach_held_by_its_retarder_is_not_refused() -> None:
    """A propeller-shaft retarder fades at low shaft speed: that first gear would overheat is no reason against third."""
    task = made_task([(1000.0, 0.0), (10_000.0, -0.08), (800.0, 0.0)], load_vehicle("motorcoach"))
    found = find(workshop(task))
    assert isinstance(found, Found)
    assert float(excess_k(task, found.trace).max()) <= 0
    assert found.trace.energy_j["retarder_j"] > 3 * found.trace.energy_j["brakes_j"]


def test_where_no_stop_can_be_relied_on_the_answer_says_so() -> None:
    vehicle = load_vehicle("tractor-semitrailer", gross_kg=220_000 * POUND_KG)
    found = find(workshop(made_task([(500.0, 0.0), (3000.0, -0.28), (500.0, 0.0)], vehicle)))
    assert isinstance(found, Nothing) and found.cause is Cause.NO_STOP


def test_a_climb_too_steep_is_called_that() -> None:
    task = made_task([(400.0, 0.29), (3000.0, -0.05), (500.0, 0.0)], load_vehicle("tractor-semitrailer", gross_kg=80_000))
    found = find(workshop(task))
    assert isinstance(found, Nothing) and found.cause is Cause.STALLED


@pytest.mark.parametrize("before_crest_m", [50.0, 150.0, 400.0, 1200.0, 3000.0])
def test_the_brakes_are_checked_wherever_the_area_lies_before_the_crest(before_crest_m: float) -> None:
    task = made_task([(5000.0, 0.01), (4000.0, -0.055), (800.0, 0.0)], load_vehicle("tractor-semitrailer"),
                     places=(pull_out("Area", 5000.0 - before_crest_m, kind="brake-check-area"),))
    plan = explained(task, slippery=False)
    assert plan.solution is not None
    assert [stop.kind for stop in plan.solution.stops][:1] == ["brake-check"]
    assert not any(item.kind == "no-brake-check" for item in plan.warnings)


def test_a_second_crest_is_checked_too_and_a_missing_area_is_said() -> None:
    road = [(2000.0, 0.01), (3000.0, -0.05), (6000.0, 0.01), (3000.0, -0.05), (800.0, 0.0)]
    vehicle = load_vehicle("tractor-semitrailer", gross_kg=60_000 * POUND_KG)
    both = explained(made_task(road, vehicle, places=(pull_out("A", 1900.0, kind="brake-check-area"),
                                                      pull_out("B", 10_000.0, kind="brake-check-area"))), slippery=False)
    none = explained(made_task(road, vehicle), slippery=False)
    assert both.solution is not None
    assert [stop.kind for stop in both.solution.stops] == ["brake-check", "brake-check"]
    assert [item.values["downgrade"] for item in none.warnings if item.kind == "no-brake-check"] == [1.0, 2.0]


def test_the_instruction_is_kept_until_a_real_flat() -> None:
    """6 % then 2.5 % for 7 km: no gear change while rolling on the gentler fall."""
    task = made_task([(1000.0, 0.0), (3000.0, -0.06), (7000.0, -0.025), (1500.0, 0.0)],
                     load_vehicle("tractor-semitrailer"))
    found = find(workshop(task))
    assert isinstance(found, Found)
    for before, after in zip(found.solution.legs, found.solution.legs[1:], strict=False):
        if before.instruction.gear != after.instruction.gear:
            assert task.steep_grade[after.start] >= task.rules.flat_grade


def test_a_long_gentle_fall_gets_an_instruction() -> None:
    """40 km at 2.9 % is no sustained downgrade, but not cruise either."""
    task = made_task([(500.0, 0.0), (40_000.0, -0.029), (500.0, 0.0)], load_vehicle("tractor-semitrailer"))
    assert not task.downgrades
    found = find(workshop(task))
    assert isinstance(found, Found)
    assert found.solution.legs and float(excess_k(task, found.trace).max()) <= 0


def test_a_pull_out_far_before_the_crest_does_not_slow_the_road_between() -> None:
    road = [(1000.0, 0.0), (4000.0, -0.05), (14_000.0, 0.0), (4000.0, -0.05), (800.0, 0.0)]
    vehicle = load_vehicle("tractor-semitrailer", gross_kg=60_000 * POUND_KG)
    plain = find(workshop(made_task(road, vehicle)))
    placed = find(workshop(made_task(road, vehicle, places=(pull_out("Early", 6500.0),))))
    assert isinstance(plain, Found) and isinstance(placed, Found)
    assert placed.trace.total_time_s <= plain.trace.total_time_s + 60


def test_grip_is_checked_below_the_control_speed_too() -> None:
    """A propeller-shaft retarder can hold back more at a lower speed than at the control speed."""
    task = made_task([(1000.0, 0.0), (3000.0, -0.05), (500.0, 0.0)],
                     load_vehicle("motorcoach", gross_kg=37_500 * POUND_KG))
    wet = replace(task, day=replace(task.day, adhesion=0.4))
    assert not grip_allows(wet, Instruction(3, 40 * MPH_MPS, 4))


def test_what_a_place_is_good_for() -> None:
    task = made_task([(5000.0, -0.02)], load_vehicle("tractor-semitrailer"))
    cases = {"cool-down": pull_out("a", 1000.0), "too steep": pull_out("b", 1000.0, grade=-0.05),
             "other side": replace(pull_out("c", 1000.0), side="left"),
             "too short": replace(pull_out("d", 1000.0), room_m=12.0), None: pull_out("e", 1000.0, kind="town")}
    assert {usable(task, place) for place in cases.values()} == set(cases)
    assert all(usable(task, place) == answer for answer, place in cases.items())


def test_posted_limits_from_signs_and_their_lengths() -> None:
    task = made_task([(5000.0, 0.0)], load_vehicle("tractor-semitrailer"))
    sign = replace(pull_out("s", 1000.0, kind="truck-speed-limit"), attributes={"value": "20 mph", "length_m": "500"})
    other = replace(sign, name="t", station_m=3000.0, attributes={"value": "30 mph"})
    wrong_side = replace(sign, name="u", station_m=2000.0, side="left", attributes={"value": "5 mph"})
    limit, known = posted_limits(task.profile, (), (sign, wrong_side, other), 55 * MPH_MPS)
    at = lambda station: limit[task.profile.index_at(station)] / MPH_MPS
    assert [round(at(x)) for x in (900, 1000, 1490, 1510, 2100, 3000, 4990)] == [55, 20, 20, 55, 55, 30, 30]
    assert known.sum() == pytest.approx(250, abs=2)


def test_the_steep_side_is_steeper_by_the_band_of_the_mean() -> None:
    task = made_task([(1000.0, 0.0), (3000.0, -0.05), (500.0, 0.0)], load_vehicle("tractor-semitrailer"))
    item = replace(task.downgrades[0], mean_grade_sd=0.002)
    steep = steep_side(task.profile, (item,))
    inside = slice(task.profile.index_at(item.start_m), task.profile.index_at(item.end_m) + 1)
    assert steep[inside] == pytest.approx(task.profile.grade[inside] - 1.645 * 0.002)
    assert np.array_equal(np.delete(steep, np.r_[inside]), np.delete(task.profile.grade, np.r_[inside]))


def test_chains_start_on_the_flat_between_them() -> None:
    task = made_task([(1000.0, 0.0), (3000.0, -0.06), (600.0, 0.0), (2500.0, -0.022), (3000.0, -0.06), (900.0, 0.0)],
                     load_vehicle("tractor-semitrailer"))
    for chain in groups(task)[1:]:
        assert task.steep_grade[chain.start] >= task.rules.flat_grade
