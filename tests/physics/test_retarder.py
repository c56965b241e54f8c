# SPDX-License-Identifier: MIT
"""Retarders of every kind: their laws, their limits, altitude, and a battery that fills."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from descent.physics.driveline import engine_rpm_per_mps, overrun_force_n, propshaft_rpm_per_mps
from descent.physics.engine_drag import drag_power_w, drag_torque_nm, motored_pressure_kpa
from descent.physics.regeneration import charge_limit_w, charged, room_j
from descent.physics.retarder import retarder_force_n, shaft_torque_nm
from descent.vehicle.catalogue import class_names, load_vehicle
from descent.vehicle.model import Battery, RetarderKind, Vehicle

RETARDED = [name for name in class_names() if load_vehicle(name).retarder.kind is not RetarderKind.NONE]
RPM = np.linspace(1.0, 5000.0, 500)


def battery_of(name: str = "battery-tractor") -> Battery:
    battery = load_vehicle(name).retarder.battery
    assert battery is not None
    return battery


@pytest.mark.parametrize("name", RETARDED)
def test_a_higher_stage_never_holds_less_and_off_holds_nothing(name: str) -> None:
    retarder = load_vehicle(name).retarder
    torques = [shaft_torque_nm(retarder, stage, RPM, state_of_charge=0.5) for stage in range(len(retarder.stages) + 1)]
    assert not torques[0].any() and torques[-1].max() > 0
    assert all((high >= low).all() for low, high in pairwise(torques))


@pytest.mark.parametrize("name", RETARDED)
def test_no_retarder_exceeds_its_continuous_power(name: str) -> None:
    retarder = load_vehicle(name).retarder
    power = shaft_torque_nm(retarder, len(retarder.stages), RPM, state_of_charge=0.5) * RPM * np.pi / 30
    assert power.max() <= retarder.continuous_power_w * (1 + 1e-12)


@pytest.mark.parametrize("name", RETARDED)
@settings(max_examples=20)
@given(st.floats(0.5, 1.0), st.floats(0.5, 1.0))
def test_thinner_air_never_helps(name: str, a: float, b: float) -> None:
    retarder = load_vehicle(name).retarder
    thin, thick = (shaft_torque_nm(retarder, len(retarder.stages), RPM, density_ratio=ratio, state_of_charge=0.5)
                   for ratio in sorted((a, b)))
    assert (thin <= thick + 1e-9).all()


@pytest.mark.parametrize("name", ["tractor-semitrailer-retarder", "school-bus"])
def test_what_breathes_is_scaled_whole_by_density(name: str) -> None:
    """Altitude rule: the pumping work of compression and exhaust brakes with density (a cautious default, memory-medium)."""
    retarder, rpm = load_vehicle(name).retarder, np.array([1000.0, 1500.0, 2000.0])
    whole, thin = (shaft_torque_nm(retarder, 1, rpm, density_ratio=ratio) for ratio in (1.0, 0.8))
    assert thin == pytest.approx(0.8 * whole)


def test_beyond_the_table_power_is_held_not_extrapolated() -> None:
    retarder = load_vehicle("tractor-semitrailer-retarder").retarder
    rpm = np.array([2100.0, 2400.0, 3000.0])
    for stage in (1, 2, 3):
        power = shaft_torque_nm(retarder, stage, rpm) * rpm
        assert power == pytest.approx(np.full(3, power[0]))


def test_hydrodynamic_law() -> None:
    """M = min(k n^2, M_max, P_cool / omega), by hand for the transit bus: 0.0015 Nm/rpm2, 1500 Nm, 150 kW."""
    retarder, rpm = load_vehicle("transit-bus").retarder, np.array([200.0, 800.0, 1000.0, 2500.0])
    by_hand = np.minimum(np.minimum(0.0015 * rpm**2, 1500.0), 150e3 / (rpm * 2 * np.pi / 60))
    assert shaft_torque_nm(retarder, 3, rpm) == pytest.approx(by_hand)
    assert shaft_torque_nm(retarder, 3, rpm, density_ratio=0.7)[-1] == pytest.approx(0.7 * by_hand[-1])


def test_a_hydrodynamic_retarder_does_not_care_for_the_gear() -> None:
    bus, speed = load_vehicle("transit-bus"), np.linspace(2.0, 25.0, 50)
    forces = [retarder_force_n(bus.retarder, bus.gearbox, gear, 3, speed) for gear in range(6)]
    assert all((force == forces[0]).all() for force in forces)
    assert speed[-1] * propshaft_rpm_per_mps(bus.gearbox) > 1000


def test_a_full_battery_takes_none_and_untold_is_full() -> None:
    """No regeneration is counted with a full battery (un_grva_full_battery, seen); tests call 95 % full."""
    truck, speed = load_vehicle("battery-tractor"), np.linspace(1.0, 30.0, 60)

    def force(charge: float) -> np.ndarray:
        return retarder_force_n(truck.retarder, truck.gearbox, 1, 4, speed, state_of_charge=charge)

    assert not force(0.95).any() and not force(1.0).any()
    assert not retarder_force_n(truck.retarder, truck.gearbox, 1, 4, speed).any()
    assert force(0.5).max() > 10_000


def test_regeneration_is_limited_by_torque_then_by_the_weakest_power() -> None:
    retarder = load_vehicle("battery-tractor").retarder
    assert shaft_torque_nm(retarder, 4, np.array([1000.0]), state_of_charge=0.5)[0] == pytest.approx(1800.0)
    fast = np.array([3000.0])
    radps = 3000 * np.pi / 30
    assert shaft_torque_nm(retarder, 4, fast, state_of_charge=0.5)[0] * radps == pytest.approx(250e3)
    big = replace(retarder, battery=replace(battery_of(), charge_power_w=1e6))
    assert shaft_torque_nm(big, 4, fast, state_of_charge=0.5)[0] * radps == pytest.approx(300e3)
    weak = replace(big, motor_power_w=100e3)
    assert shaft_torque_nm(weak, 4, fast, state_of_charge=0.5)[0] * radps == pytest.approx(100e3)


@given(st.floats(0, 1), st.floats(0, 1))
def test_a_fuller_battery_never_takes_more(a: float, b: float) -> None:
    low, high = sorted((a, b))
    assert charge_limit_w(battery_of(), high) <= charge_limit_w(battery_of(), low)


@given(st.floats(0, 1), st.floats(0, 1e10), st.floats(0, 1e10))
def test_charging_adds_up_and_stops_at_full(charge: float, first: float, second: float) -> None:
    battery = battery_of()
    once = charged(battery, charge, shaft_energy_j=first + second)
    twice = charged(battery, charged(battery, charge, shaft_energy_j=first), shaft_energy_j=second)
    assert once == pytest.approx(twice, abs=1e-12)
    assert charge <= once <= max(charge, battery.full_at)
    assert charged(battery, charge, shaft_energy_j=room_j(battery, charge)) == pytest.approx(max(charge, battery.full_at))


def test_engine_drag_at_altitude_loses_the_pumped_share_only() -> None:
    """At 2100 rpm the reference engine's 221.32 kPa hold 0.4 x 10.668^2 = 45.52 kPa of pumping (derived, heywood_1988)."""
    engine, rpm = load_vehicle("tractor-semitrailer").engine, np.array([2100.0])
    whole, thin = (float(motored_pressure_kpa(engine, rpm, density_ratio=ratio)[0]) for ratio in (1.0, 0.75))
    assert whole - thin == pytest.approx(0.25 * 45.52, abs=0.005)
    assert float(drag_power_w(engine, rpm, density_ratio=np.array([0.75]))[0]) < float(drag_power_w(engine, rpm)[0])


@pytest.mark.parametrize("name", class_names())
@settings(max_examples=40)
@given(st.integers(0, 17), st.floats(0.5, 35.0), st.floats(0.6, 1.0))
def test_a_lower_gear_never_holds_back_less(name: str, gear: int, speed_mps: float, ratio: float) -> None:
    """At equal road speed below the overrun limit, in every class, stage and air."""
    vehicle = load_vehicle(name)
    gear = min(gear, len(vehicle.gearbox.ratios) - 2)
    assume(speed_mps * engine_rpm_per_mps(vehicle.gearbox, gear) <= vehicle.engine.overrun_limit_rpm)
    for stage in range(len(vehicle.retarder.stages) + 1):
        low, high = (held(vehicle, chosen, stage, speed_mps, ratio) for chosen in (gear, gear + 1))
        assert low >= high * (1 - 1e-12)


def held(vehicle: Vehicle, gear: int, stage: int, speed_mps: float, ratio: float) -> float:
    speed = np.array([speed_mps])
    drag = drag_torque_nm(vehicle.engine, speed * engine_rpm_per_mps(vehicle.gearbox, gear), density_ratio=ratio)
    return float((overrun_force_n(vehicle.gearbox, gear, drag) + retarder_force_n(
        vehicle.retarder, vehicle.gearbox, gear, stage, speed, density_ratio=ratio, state_of_charge=0.5))[0])
