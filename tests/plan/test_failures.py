# SPDX-License-Identifier: MIT
"""Every row of what could go wrong against a second simulation of that fault, built by hand and written apart."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from failure_answers import Answer, coach_answer, truck_answer, with_rows

from descent.physics.march import Schedule, Setting
from descent.physics.runaway import last_full_stop
from descent.plan.failure_march import WORST
from descent.plan.verify import schedule_of, without_stop
from descent.vehicle.air_supply import Circuit, air_supply
from descent.vehicle.model import Vehicle, loaded


@pytest.fixture(scope="module")
def truck() -> Answer:
    return truck_answer()


@pytest.fixture(scope="module")
def coach() -> Answer:
    return coach_answer()


def as_said(answer: Answer, what: str, vehicle: Vehicle, schedule: Schedule) -> None:
    """The row and the second simulation agree on the degrees and on the verdict."""
    expected, row = answer.over_k(vehicle, schedule), answer.row(what)
    assert row.over_k == pytest.approx(expected, abs=1.5)
    if abs(expected) > 1.5 and row.all_the_way:
        assert row.holds == (expected <= 0.0)


def test_one_gear_too_high(truck: Answer) -> None:
    held = truck.found.solution.legs[0].instruction
    as_said(truck, "gear-high", truck.shop.task.vehicle, with_rows(
        truck, {Setting(held.gear, held.stage): Setting(held.gear + 1, held.stage)}))


def test_retarder_lost(truck: Answer) -> None:
    held = truck.found.solution.legs[0].instruction
    assert held.stage > 0
    as_said(truck, "retarder-lost", truck.shop.task.vehicle, with_rows(
        truck, {Setting(held.gear, held.stage): Setting(held.gear, 0)}))


def test_a_stop_missed(truck: Answer) -> None:
    stop = truck.found.solution.stops[0]
    assert stop.place is not None and truck.row("stop-missed").detail["place"] == stop.place.name
    as_said(truck, "stop-missed", truck.shop.task.vehicle, schedule_of(
        truck.shop.task, truck.shop.cells, truck.tables, without_stop(truck.found.solution, 0)))


def test_ten_per_cent_heavier(truck: Answer) -> None:
    vehicle = truck.shop.task.vehicle
    as_said(truck, "heavier", loaded(vehicle, 1.1 * vehicle.gross_kg), truck.schedule)


@pytest.mark.parametrize("what", ["brake-dead", "brake-slack"])
def test_a_brake_dead_or_slack(truck: Answer, what: str) -> None:
    """The worst axle group is the one that is told."""
    overs = {}
    vehicle = truck.shop.task.vehicle
    for index, axle in enumerate(vehicle.axles):
        brake = axle.brakes[0]
        ill = replace(brake, count=brake.count - 1) if what == "brake-dead" else replace(
            brake, stroke_m=brake.chamber.stroke_limit_m)
        overs[axle.name] = truck.over_k(replace(vehicle, axles=tuple(
            replace(other, brakes=(ill,)) if place == index else other for place, other in enumerate(vehicle.axles))),
            truck.schedule)
    row = truck.row(what)
    assert row.over_k == pytest.approx(max(overs.values()), abs=1.5)
    assert overs[str(row.detail["axle"])] == pytest.approx(max(overs.values()), abs=1.0)


def test_half_of_the_air_lost(truck: Answer) -> None:
    vehicle, row = truck.shop.task.vehicle, truck.row("half-air-lost")
    air = air_supply(vehicle)
    gone = Circuit.PRIMARY if row.detail["axle"] == "drive" else Circuit.SECONDARY
    ill = replace(vehicle, axles=tuple(replace(axle, brakes=tuple(replace(
        brake, force_n_per_kpa=0.0 if air.circuits[index] is gone else brake.force_n_per_kpa) for brake in axle.brakes))
        for index, axle in enumerate(vehicle.axles)))
    assert row.over_k == pytest.approx(truck.over_k(ill, truck.schedule, ill_from=60), abs=1.5)
    assert not row.holds or "springs_m" not in row.detail


def test_a_dead_compressor_lasts_as_long_as_its_air(truck: Answer) -> None:
    """Boyle's law by hand: each snub fills the chambers it strokes; the warning comes no sooner than the largest drop per
    snub allows and no later than the leak alone brings it."""
    row, air = truck.row("compressor-dead"), truck.shop.task.air
    assert air is not None
    trace = truck.found.trace
    start = trace.station_m.searchsorted(600.0)
    until = float(row.detail.get("warning_m", trace.station_m[-1]))
    end = trace.station_m.searchsorted(until)
    elapsed = trace.time_s[end] - trace.time_s[start] - max(trace.dwell_s[start], 0.0)
    fall_kpa = air.cut_in_kpa - air.warning_kpa
    assert air.leak_released_kpaps * elapsed <= fall_kpa * (1.05 if "warning_m" in row.detail else 1.0)
    assert row.holds == ("warning_m" not in row.detail and row.all_the_way)


def test_ice_leaves_no_stop_on_six_per_cent(truck: Answer) -> None:
    """Grip of 0.05 against a grade of 0.06: mechanics allow none once the steep piece is reached."""
    row = truck.row("ice")
    assert not row.holds and not row.all_the_way
    assert row.last_full_stop_m is not None and row.last_full_stop_m <= 850.0


def test_an_automatic_shifts_up(coach: Answer) -> None:
    row = coach.row("upshift")
    assert row.detail["higher_rpm"] < row.detail["rpm"]
    assert row.over_k >= -260.0 and row.over_k == pytest.approx(coach.row("gear-high").over_k, abs=60.0)
    assert ("upshift" in {what for _, what in coach.rows}) and (1, "upshift") not in Answer(
        "tractor-semitrailer", [(800.0, 0.0), (1200.0, -0.05), (500.0, 0.0)]).rows


def test_a_vehicle_that_holds_its_speed_after_the_last_full_stop_is_shown(coach: Answer) -> None:
    """The coach without its retarder: speed held all the way, a full stop impossible long before the foot. The last full
    stop against the physics' own search, which tries every node."""
    row = coach.row("retarder-lost")
    assert not row.holds and not row.all_the_way
    assert row.last_full_stop_m is not None and row.latest_full_stop_m is not None
    assert row.last_full_stop_m < row.latest_full_stop_m
    assert row.still_held_m is not None and row.still_held_m > 1000.0
    assert row.next_place is not None and row.next_place.kind == "escape-ramp" and row.speed_there_mps is not None
    held, task = coach.found.solution.legs[0].instruction, coach.shop.task
    schedule = with_rows(coach, {Setting(held.gear, stage): Setting(held.gear, 0) for stage in range(1, held.stage + 1)})
    case = last_full_stop(coach.shop.cells, task.vehicle, coach.tables, schedule, task.day, task.driving,
                          start_speed_mps=float(schedule.cap_mps[0]), fade_floors=(WORST[0],), slack_shares=(WORST[1],))
    assert 0.0 <= case.earliest_m - row.last_full_stop_m <= 60.0


def test_every_row_says_what_where_and_how_far(truck: Answer, coach: Answer) -> None:
    whats = {what for answer in (truck, coach) for _, what in answer.rows}
    assert whats == {"gear-high", "upshift", "retarder-lost", "stop-missed", "heavier", "brake-dead", "brake-slack", "ice",
                     "compressor-dead", "half-air-lost"}
    for row in (*truck.rows.values(), *coach.rows.values()):
        assert row.latest_full_stop_m is not None or row.last_full_stop_m is None
        assert not row.all_the_way or (row.last_full_stop_m == row.latest_full_stop_m and row.still_held_m is None)
        if row.holds:
            assert row.over_k <= 0.0
        if row.next_place is not None:
            assert row.next_place.station_m > row.from_m and row.speed_there_mps is not None
