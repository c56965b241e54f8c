# SPDX-License-Identifier: MIT
"""Balance speeds: what holds, what runs away, what is lost at a power limit, and the laws between them."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from descent.errors import VehicleError
from descent.physics.balance import (
    STEP_MPS,
    Balance,
    balance_point,
    balance_speed_mps,
    held_back_n,
    natural_surplus_n,
)
from descent.physics.characteristics import characteristics
from descent.vehicle.catalogue import load_vehicle
from descent.vehicle.model import Vehicle, loaded

TRUCK = load_vehicle("tractor-semitrailer-retarder")
COACH = load_vehicle("motorcoach")


def net_n(vehicle: Vehicle, gear: int, stage: int, grade: float, speed: float) -> float:
    at = np.array([speed])
    return float((natural_surplus_n(vehicle, grade=grade, speed_mps=at) - held_back_n(
        vehicle, gear=gear, stage=stage, speed_mps=at))[0])


def test_the_speed_held_is_the_root_of_the_forces() -> None:
    """Against a bracketing root finder, one scan step apart."""
    point = balance_point(TRUCK, gear=6, stage=3, grade=-0.06)
    assert point.balance is Balance.HELD and point.speed_mps is not None
    root = brentq(lambda speed: net_n(TRUCK, 6, 3, -0.06, speed), 9.0, 16.0)
    assert 0 <= point.speed_mps - root <= STEP_MPS


def test_a_vehicle_that_needs_power_and_one_that_runs_away() -> None:
    assert balance_point(TRUCK, gear=5, stage=0, grade=-0.002).balance is Balance.NEEDS_POWER
    assert balance_point(TRUCK, gear=9, stage=3, grade=-0.08).balance is Balance.RUNS_AWAY
    assert balance_speed_mps(TRUCK, gear=9, stage=3, grade=-0.08) is None


def test_a_coolant_limit_loses_the_coach_above_a_speed() -> None:
    """Held at 23 mph and lost where 200 kW over the axle's efficiency, drag and air no longer match gravity."""
    point = balance_point(COACH, gear=4, stage=3, grade=-0.06)
    assert point.balance is Balance.HELD and point.speed_mps is not None and point.lost_mps is not None
    assert point.lost_mps > point.speed_mps
    root = brentq(lambda speed: net_n(COACH, 4, 3, -0.06, speed), 18.0, 30.0)
    assert 0 <= root - point.lost_mps <= STEP_MPS


@settings(max_examples=30)
@given(st.integers(0, 9), st.integers(0, 3), st.floats(0.01, 0.10), st.floats(0.0, 0.03), st.floats(16e3, 36e3),
       st.floats(0, 5e3))
def test_steeper_heavier_or_less_retarder_is_never_held_slower(gear: int, stage: int, grade: float, steeper: float,
                                                               mass_kg: float, more_kg: float) -> None:
    def held(kg: float, down: float, used: int) -> float:
        point = balance_point(loaded(TRUCK, kg), gear=gear, stage=used, grade=-down)
        return {Balance.NEEDS_POWER: -1.0, Balance.RUNS_AWAY: math.inf}.get(point.balance, point.speed_mps or 0.0)

    base = held(mass_kg, grade, stage)
    assert held(mass_kg, grade + steeper, stage) >= base
    assert held(mass_kg + more_kg, grade, stage) >= base
    assert held(mass_kg, grade, max(stage - 1, 0)) >= base


def test_altitude_makes_it_faster() -> None:
    low, high = (balance_speed_mps(TRUCK, gear=5, stage=3, grade=-0.06, altitude_m=h, air_temp_c=5.0) for h in (0.0, 2500.0))
    assert low is not None and high is not None and high > low


def test_a_table_covers_every_gear_and_stage_at_the_weight_asked_for() -> None:
    facts = characteristics(TRUCK)
    table = facts.balance(grade=-0.05, gross_kg=20_000.0, altitude_m=500.0)
    assert [len(line) for line in table.points] == [4] * 10
    assert table.vehicle.gross_kg == 20_000.0
    assert all(low < high for low, high in zip(table.idle_mps, table.governed_mps, strict=True))
    with pytest.raises(VehicleError, match="cannot be this vehicle's"):
        facts.balance(grade=-0.05, gross_kg=5e5)


def test_an_electric_truck_is_balanced_with_the_charge_it_has() -> None:
    facts = characteristics(load_vehicle("battery-tractor"))
    full, half = facts.balance(grade=-0.04), facts.balance(grade=-0.04, state_of_charge=0.5)
    assert {point.balance for line in full.points for point in line} == {Balance.RUNS_AWAY}
    assert half.points[0][4].balance is Balance.HELD
    assert facts.battery_room_j == 0 and facts.drag_power_w == 0
