# SPDX-License-Identifier: MIT
"""Where a drive leaves its plan is found, with what it cost; where it keeps to it, that is said."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from debrief.made_drives import at_times, debrief_of, driven, planned, recorded, with_engine_speed
from descent.debrief.model import Debrief
from descent.physics.driveline import engine_rpm_per_mps
from descent.plan.model import DescentPlan, PlannedStop

NAME = ("tractor-semitrailer-retarder", 36287.0)


def kinds(found: Debrief) -> list[str]:
    return [item.kind for item in found.departures]


def test_a_plan_that_is_kept_has_no_departure() -> None:
    plan = planned(*NAME)
    truth = driven(plan)
    found = debrief_of(plan, with_engine_speed(plan, truth, recorded(plan, truth, 1)), engine=True, draws=8)
    assert kinds(found) == []
    assert {kind for kind, _ in found.well} >= {"stop-kept", "control-kept", "gear-kept"}
    assert all(leg.share_over < 0.02 and leg.gears == (plan.solution.legs[leg.number - 1].instruction.gear,)
               for leg in found.legs[:2])
    assert found.seconds == pytest.approx(truth.time_s[-1], abs=2.0)


def test_too_fast_is_found_on_its_leg_with_its_cost() -> None:
    """The costs of the stretches are differences against the plan's own march: checked against the truth's times."""
    plan = planned(*NAME)
    truth = driven(plan, faster_mps=2.5)
    found = debrief_of(plan, recorded(plan, truth, 2), draws=8)
    assert set(kinds(found)) == {"over-control"}
    first = found.departures[0]
    assert first.values["top_mps"] == pytest.approx(plan.solution.legs[0].instruction.control_mps + 2.5, abs=0.6)
    trace = found.planned.trace
    begin, end = (float(np.interp(at, truth.station_m, truth.time_s)) for at in (first.start_m, first.end_m))
    there = [float(np.interp(at, trace.station_m, trace.time_s + np.maximum(trace.dwell_s, 0))) for at in
             (first.start_m, first.end_m)]
    assert first.cost_s == pytest.approx(end - begin - (there[1] - there[0]), abs=3.0)
    assert first.cost_s < 0.0
    assert "control-kept" not in {kind for kind, _ in found.well}


def without_stops(plan: DescentPlan) -> DescentPlan:
    return replace(plan, solution=replace(plan.solution, stops=()))


def test_a_missed_stop_and_one_cut_short() -> None:
    plan = planned(*NAME)
    truth = driven(without_stops(plan))
    found = debrief_of(plan, recorded(plan, truth, 3), draws=8)
    stop = found.stops[0]
    assert stop.outcome == "missed" and stop.place == "Upper Larch check area" and stop.real_minutes == 0.0
    assert kinds(found)[0] == "stop-missed"
    rest_s = 60.0 * plan.solution.stops[0].minutes
    assert -rest_s - 30.0 < found.departures[0].cost_s <= -rest_s       # the stop, and slowing and starting beside it
    short = replace(plan, solution=replace(plan.solution, stops=tuple(
        replace(item, minutes=2) for item in plan.solution.stops)))
    found = debrief_of(plan, recorded(plan, driven(short), 3), draws=8)
    assert found.stops[0].outcome == "short" and found.stops[0].real_minutes == pytest.approx(2.0, abs=0.3)


def test_a_stop_nobody_planned() -> None:
    plan = planned(*NAME)
    extra = PlannedStop("cool-down", 700, 4, None, 0.0)
    truth = driven(replace(plan, solution=replace(plan.solution, stops=(*plan.solution.stops, extra))))
    found = debrief_of(plan, recorded(plan, truth, 4), draws=8)
    (item,) = [stop for stop in found.stops if stop.outcome == "unplanned"]
    assert item.station_m == pytest.approx(7000.0, abs=30.0) and item.real_minutes == pytest.approx(4.0, abs=0.3)
    assert item.place == "Middle Flat pull-out" and item.leave_c < item.arrive_c


def test_another_gear_and_out_of_gear() -> None:
    plan = planned(*NAME)
    truth = driven(plan)
    fixes = with_engine_speed(plan, truth, recorded(plan, truth, 5))
    station, speed = at_times(truth, fixes.time_s)
    gear = plan.solution.legs[0].instruction.gear
    rpm = fixes.rpm.copy()
    other = (station > 2500) & (station < 4000)
    rpm[other] = speed[other] * engine_rpm_per_mps(plan.task.vehicle.gearbox, gear + 1)
    rpm[(station > 8000) & (station < 9000)] = plan.task.vehicle.engine.idle_rpm
    found = debrief_of(plan, replace(fixes, rpm=rpm), engine=True, draws=8)
    assert kinds(found) == ["gear", "out-of-gear"]
    assert found.departures[0].start_m == pytest.approx(2500, abs=120) and found.departures[1].end_m == pytest.approx(9000, abs=150)
    names = plan.task.vehicle.gearbox.names
    assert found.departures[0].values == {"gear": names[gear + 1], "planned": names[gear]}
    held = debrief_of(plan, fixes, engine=True, draws=8)
    assert found.heat.energy_j.value > held.heat.energy_j.value          # less engine, more brakes


def test_part_of_the_road_is_enough() -> None:
    plan = planned(*NAME)
    truth = driven(plan)
    fixes = recorded(plan, truth, 6)
    half = slice(0, int(0.6 * len(fixes.time_s)))
    found = debrief_of(plan, replace(fixes, lon=fixes.lon[half], lat=fixes.lat[half], time_s=fixes.time_s[half],
                                     speed_mps=fixes.speed_mps[half], rpm=fixes.rpm[half]), draws=8)
    assert found.end_m < 9000.0 and found.planned_seconds < 1000.0
    assert kinds(found) == []
