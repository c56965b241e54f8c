# SPDX-License-Identifier: MIT
"""Road load, engine drag, retarder, curves and balance speed against published and derived check values."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from descent.physics.balance import balance_speed_mps
from descent.physics.curves import curve_limit_mps
from descent.physics.driveline import engine_rpm_per_mps
from descent.physics.engine_drag import drag_power_w, drag_torque_nm, motored_pressure_kpa
from descent.physics.retarder import retarder_force_n, shaft_torque_nm
from descent.physics.road_load import air_density_kgpm3, air_force_n, grade_force_n, rolling_force_n
from descent.units import FOOT_M, GRAVITY_MPS2, HORSEPOWER_W, KMH_MPS, MPH_MPS, POUND_KG
from descent.vehicle.catalogue import load_vehicle
from descent.vehicle.model import Engine


def engine(litres: float, stroke_m: float) -> Engine:
    return Engine(litres / 1000, stroke_m, 3e5, 650, 1100, 2100, 75.0)


@pytest.mark.parametrize(("litres", "stroke_m", "rpm", "kw", "hp", "nm"), [
    (14.0, 0.1524, 2100, 54.22, 72.72, 246.6), (13.0, 0.158, 2000, 46.67, 62.58, 222.8),
    (13.0, 0.158, 1500, 27.94, None, None), (13.0, 0.158, 2100, 51.13, None, None)])
def test_motored_engine(litres: float, stroke_m: float, rpm: float, kw: float, hp: float | None,
                        nm: float | None) -> None:
    """Checks E1, E2: motored friction formula of Heywood 1988 ch. 13 (from memory, high confidence), derived."""
    speed = np.array([rpm], dtype=float)
    made = engine(litres, stroke_m)
    assert drag_power_w(made, speed)[0] / 1000 == pytest.approx(kw, abs=0.006)
    if hp is not None and nm is not None:
        assert drag_power_w(made, speed)[0] / HORSEPOWER_W == pytest.approx(hp, abs=0.006)
        assert drag_torque_nm(made, speed)[0] == pytest.approx(nm, abs=0.06)


def test_motored_pressure_of_the_reference_engine() -> None:
    """Check E1: mean piston speed 10.668 m/s gives 221.32 kPa (derived)."""
    assert motored_pressure_kpa(engine(14.0, 0.1524), np.array([2100.0]))[0] == pytest.approx(221.32, abs=0.01)


@pytest.mark.parametrize(("altitude_m", "ratio"), [(1000, .9075), (2000, .8216), (3000, .7421)])
def test_air_density_of_the_standard_atmosphere(altitude_m: float, ratio: float) -> None:
    """Check E6: density ratio of the standard atmosphere at its own temperature, 15 C less 6.5 C per km (from
    memory, exact by definition)."""
    density = air_density_kgpm3(np.array([float(altitude_m)]), 15.0 - 0.0065 * altitude_m)[0]
    assert density / 1.225 == pytest.approx(ratio, abs=1e-4)


def test_type_two_downhill_power() -> None:
    """Check R1: 40 t, 6 %, 30 km/h: 195.85 kW with sin(atan grade) (UN R13 Type-II energy, from memory; +-0.3 %)."""
    power_w = grade_force_n(40_000, np.array([-0.06]))[0] * 30 * KMH_MPS
    assert power_w == pytest.approx(195_850, rel=0.003)


def test_work_of_a_descent() -> None:
    """Check B3 (derived): 36,287 kg, 6 % for 6 mi at 25 mph, Crr .006, CdA 6.0, rho 1.225: gravity 205.80 MJ,
    rolling 20.58 MJ, air 4.43 MJ."""
    grade, slope_m = np.array([-0.06]), 6 * 5280 * FOOT_M
    speed = np.array([25 * MPH_MPS])
    assert grade_force_n(36_287, grade)[0] * slope_m / 1e6 == pytest.approx(205.80, rel=2e-4)
    assert rolling_force_n(36_287, 0.006, grade)[0] * slope_m / 1e6 == pytest.approx(20.58, rel=1e-3)
    assert air_force_n(np.array([1.225]), 6.0, speed)[0] * slope_m / 1e6 == pytest.approx(4.43, abs=0.006)


@pytest.mark.parametrize(("speed_mps", "radius_m", "superelevation"), [
    (45 * MPH_MPS, 642.9 * FOOT_M, .06), (60 * MPH_MPS, 1333.3 * FOOT_M, .06)])
def test_curve_speed_of_the_design_guide(speed_mps: float, radius_m: float, superelevation: float) -> None:
    """Check D2: minimum radius 642.9 ft at 45 mph, 1333.3 ft at 60 mph with e = .06 (AASHTO, from memory, high
    confidence). Rollover put out of the way; our answer is on a 0.25 mph grid, at or below."""
    limit = curve_limit_mps(np.array([1 / radius_m]), rollover_threshold_g=9.0, superelevation=superelevation)[0]
    assert speed_mps - 0.26 * MPH_MPS <= limit <= speed_mps + 0.01 * MPH_MPS


@pytest.mark.parametrize(("radius_ft", "threshold", "mph"), [(500, .35, 55.45), (500, .30, 51.96)])
def test_rollover_speed(radius_ft: float, threshold: float, mph: float) -> None:
    """Check D3: R 500 ft, e .06: 55.45 mph at 0.35 g, 51.96 at 0.30 (derived). Side friction never allows as much,
    so the whole limit stays below."""
    limit = curve_limit_mps(np.array([1 / (radius_ft * FOOT_M)]), rollover_threshold_g=threshold,
                            superelevation=.06, rollover_share=1.0)[0]
    assert limit < mph * MPH_MPS


def test_a_share_of_the_rollover_threshold_binds_in_hairpins() -> None:
    """R 25 m: v^2 = 0.6 x 0.35 x g R, closed form, on a 0.25 mph grid."""
    limit = curve_limit_mps(np.array([1 / 25.0]), rollover_threshold_g=0.35)[0]
    exact = (0.6 * 0.35 * GRAVITY_MPS2 * 25.0) ** 0.5
    assert exact - 0.25 * MPH_MPS <= limit <= exact


@given(st.floats(1e-4, 0.05), st.floats(1e-4, 0.05))
def test_a_tighter_curve_is_never_faster(a: float, b: float) -> None:
    low, high = curve_limit_mps(np.array([min(a, b), max(a, b)]), rollover_threshold_g=0.35)
    assert high <= low


def test_retarder_is_never_extrapolated_and_drops_out_below_its_table() -> None:
    vehicle = load_vehicle("tractor-semitrailer-retarder")
    rpm = np.array([500.0, 899.0, 2100.0, 2600.0])
    torque = shaft_torque_nm(vehicle.retarder, 3, rpm)
    assert torque[0] == torque[1] == 0
    assert torque[2] * 2100 * np.pi / 30 == pytest.approx(250_000, rel=1e-6)
    assert torque[3] <= torque[2]


def test_a_coolant_limit_caps_the_hydrodynamic_retarder() -> None:
    vehicle = load_vehicle("motorcoach")
    speed = np.linspace(5, 30, 200)
    power = retarder_force_n(vehicle.retarder, vehicle.gearbox, 3, 4, speed) * speed
    assert power.max() <= vehicle.retarder.continuous_power_w / vehicle.gearbox.final_efficiency + 1


@given(st.integers(0, 8), st.floats(2.0, 30.0))
def test_a_lower_gear_never_holds_back_less(gear: int, speed_mps: float) -> None:
    """Below the overrun limit in the lower gear, at equal road speed (a law of the design)."""
    from descent.physics.driveline import overrun_force_n
    vehicle = load_vehicle("tractor-semitrailer-retarder")
    forces = []
    for chosen in (gear, gear + 1):
        rpm = speed_mps * engine_rpm_per_mps(vehicle.gearbox, chosen)
        if rpm > vehicle.engine.overrun_limit_rpm:
            return
        drag = overrun_force_n(vehicle.gearbox, chosen, drag_torque_nm(vehicle.engine, np.array([rpm])))
        forces.append(drag[0] + retarder_force_n(vehicle.retarder, vehicle.gearbox, chosen, 3,
                                                 np.array([speed_mps]))[0])
    assert forces[0] >= forces[1]


def test_balance_speed_balances() -> None:
    """At the balance speed the forces cancel (recomputed here by hand)."""
    vehicle = load_vehicle("tractor-semitrailer-retarder")
    speed = balance_speed_mps(vehicle, gear=5, stage=3, grade=-0.06, altitude_m=0.0, air_temp_c=15.0)
    assert speed is not None
    rpm = speed * engine_rpm_per_mps(vehicle.gearbox, 5)
    loss = vehicle.gearbox.efficiencies[5] * vehicle.gearbox.final_efficiency
    ratio = vehicle.gearbox.ratios[5] * vehicle.gearbox.final_ratio / vehicle.gearbox.wheel_radius_m
    tfmep = 75 + 48 * rpm / 1000 + 0.4 * (2 * 0.1524 * rpm / 60) ** 2
    drag_n = tfmep * 1000 * 0.014 / (4 * np.pi) * ratio / loss
    table = np.interp(rpm, vehicle.retarder.speeds_rpm, vehicle.retarder.torque_nm) * ratio / loss
    slope = np.arctan(0.06)
    pull = 80_000 * POUND_KG * GRAVITY_MPS2 * (np.sin(slope) - 0.00574 * np.cos(slope))
    assert pull - 0.5 * 1.225 * 4.797 * speed**2 - drag_n - table == pytest.approx(0, abs=0.01 * pull)


def test_no_balance_where_gravity_wins() -> None:
    assert balance_speed_mps(load_vehicle("tractor-semitrailer"), gear=4, stage=0, grade=-0.07) is None
