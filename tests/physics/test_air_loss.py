# SPDX-License-Identifier: MIT
"""A descent with failing air: the warning comes before the springs, and each stop begins where it should."""

from __future__ import annotations

import math
from functools import cache
from typing import Any

import numpy as np
import pytest

from descent.physics.air_loss import AirLoss, air_loss
from descent.physics.air_system import reservoir_along
from descent.physics.driveline import engine_rpm_per_mps
from descent.physics.march import Day, Driving, Schedule, Setting, cells_of, force_tables, march
from descent.physics.stopping import Timing, brakes_left, stopping_distances
from descent.vehicle.air_supply import Circuit, air_supply
from descent.vehicle.catalogue import load_vehicle
from made_roads import straight_profile

TRUCK = load_vehicle("tractor-semitrailer")
DAY = Day(20.0, 65.0, 0.6)
GEAR = 5


@cache
def drive() -> Any:
    """14 km of 5 % in a gear that leaves much to the service brakes."""
    cells = cells_of(straight_profile([(500, 0.0), (14000, -0.05), (500, 0.0)]), TRUCK, DAY)
    driving = Driving()
    tables = force_tables(TRUCK, (Setting(GEAR, 0),), driving)
    n, speed = len(cells.step_m), 11.0
    schedule = Schedule(np.full(n + 1, speed), np.ones(n, dtype=np.int64), np.ones(n, dtype=np.int64), np.full(n + 1, -1.0))
    return march(cells, TRUCK, tables, schedule, DAY, driving, start_speed_mps=speed), cells


def loss(**changes: Any) -> AirLoss:
    trace, cells = drive()
    rpm = trace.speed_mps * engine_rpm_per_mps(TRUCK.gearbox, GEAR)
    return air_loss(trace, TRUCK, cells, air_supply(TRUCK), engine_rpm=rpm, adhesion=0.6, **changes)


def test_a_sound_compressor_keeps_up() -> None:
    sound = loss()
    assert sound.warning_m is None and sound.warned_stop_m is None and sound.springs_m is None
    assert sound.snubs_to_warning is None and sound.history.least_kpa > air_supply(TRUCK).warning_kpa


def test_a_dead_one_does_not() -> None:
    dead = loss(compressor_share=0.0)
    assert dead.snubs_to_warning is not None and dead.warning_m is not None and dead.warned_stop_m is not None
    assert dead.springs_m is not None and dead.springs_stop_m is not None
    assert dead.warning_m < dead.warned_stop_m < dead.springs_m < dead.springs_stop_m
    assert not math.isinf(dead.springs_stop_m)


def test_weaker_is_never_later() -> None:
    least = [loss(compressor_share=share).history.least_kpa for share in (1.0, 0.5, 0.25, 0.0)]
    assert least == sorted(least, reverse=True)


def test_a_lost_circuit_brings_its_own_brakes_to_nothing() -> None:
    whole, half = loss(compressor_share=0.0), loss(compressor_share=0.0, lost=Circuit.PRIMARY)
    assert half.history.tank_kpa[1:, Circuit.PRIMARY.value].max() == 0.0
    assert half.warning_m is not None and whole.warning_m is not None and half.warned_stop_m is not None
    assert whole.warned_stop_m is not None
    assert half.warned_stop_m - half.warning_m > whole.warned_stop_m - whole.warning_m


def test_reservoirs_and_stops_have_a_value_at_every_node() -> None:
    trace, cells = drive()
    history = reservoir_along(trace, TRUCK, air_supply(TRUCK), engine_rpm=np.full(len(trace.station_m), 1500.0))
    ways = stopping_distances(trace, TRUCK, cells, adhesion=0.6, left=brakes_left(TRUCK, timing=Timing()))
    assert history.tank_kpa.shape == (len(trace.station_m), 4) and history.service_kpa.shape == ways.shape
    assert history.snubs_before(len(trace.station_m) - 1) == int(trace.snubs[:, 0].sum()) > 20
    moving = trace.speed_mps > 1
    assert np.all(ways[moving] > trace.speed_mps[moving] * Timing().perception_s)


@pytest.mark.parametrize("cut", [0.0, 1.0])
def test_history_starts_full_or_at_cut_in(cut: float) -> None:
    trace, _ = drive()
    air = air_supply(TRUCK)
    start = air.cut_in_kpa + cut * (air.cut_out_kpa - air.cut_in_kpa)
    history = reservoir_along(trace, TRUCK, air, engine_rpm=np.full(len(trace.station_m), 1500.0), start_kpa=start)
    assert history.service_kpa[0] == pytest.approx(start)
