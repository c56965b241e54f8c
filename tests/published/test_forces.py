# SPDX-License-Identifier: MIT
"""Engines, retarders, gearing, running resistance and curves against printed check values, at the printed precision.

Trust levels as in the registry of sources. Values marked derived follow from the equation by arithmetic; each names
the equation's source. What was remembered with low confidence is not asserted.
"""

from __future__ import annotations

import numpy as np
import pytest

from descent.physics.curves import least_radius_m, rollover_speed_mps, side_friction
from descent.physics.driveline import engine_rpm_per_mps
from descent.physics.engine_drag import mean_effective_pressure_kpa
from descent.physics.march import Driving
from descent.physics.regeneration import charged
from descent.physics.road_load import air_force_n, density_ratio, grade_force_n, rolling_force_n
from descent.units import (
    FOOT_M,
    GRAVITY_MPS2,
    INCH_M,
    KMH_MPS,
    MILE_M,
    MPH_MPS,
    POUND_FORCE_N,
    POUND_KG,
)
from descent.vehicle.catalogue import load_vehicle
from descent.vehicle.model import Retarder

G_MPH2_PER_FT = GRAVITY_MPS2 * FOOT_M / MPH_MPS**2          # 14.957: the guides print it as 15
G_KMH2_PER_M = GRAVITY_MPS2 / KMH_MPS**2                    # 127.094: printed as 127


@pytest.mark.parametrize(("kw", "litres", "bar"), [(336, 13, 14.77), (223.7, 11, 11.62), (447.4, 15, 17.04)])
def test_retarding_pressure(kw: float, litres: float, bar: float) -> None:
    """E3 (derived; range of powers compression_retarder_range, memory-medium): at 2100 rpm."""
    assert mean_effective_pressure_kpa(kw * 1000, litres / 1000, 2100) / 100 == pytest.approx(bar, abs=0.005)


def test_class_retarders_lie_in_the_published_range() -> None:
    """200-600 hp at 2100 rpm, 12-17 bar (compression_retarder_range, memory-medium): none of ours is above."""
    for name in ("tractor-semitrailer-retarder", "doubles", "dump-truck-lift", "logging-truck", "tank-truck"):
        vehicle = load_vehicle(name)
        watt = _power_at(vehicle.retarder, 2100.0)
        assert 200 <= watt / 745.7 <= 600
        assert mean_effective_pressure_kpa(watt, vehicle.engine.displacement_m3, 2100.0) <= 1700


def _power_at(retarder: Retarder, rpm: float) -> float:
    return float(np.interp(rpm, retarder.speeds_rpm, retarder.torque_nm)) * rpm * np.pi / 30


@pytest.mark.parametrize(("mph", "ratio", "rpm"), [(35, 1.89, 2039.6), (20, 3.58, 2207.7), (60, 1.0, 1850.0)])
def test_engine_speed_in_a_gear(mph: float, ratio: float, rpm: float) -> None:
    """E4 (derived): 500 rev/mi, axle 3.70; r = 0.5123 m."""
    gearbox = load_vehicle("tractor-semitrailer").gearbox
    assert gearbox.wheel_radius_m == pytest.approx(0.5123, abs=5e-5)
    speed = mph * MPH_MPS
    assert speed * engine_rpm_per_mps(gearbox, gearbox.ratios.index(ratio)) == pytest.approx(rpm, abs=0.05)


@pytest.mark.parametrize(("altitude_m", "ratio"), [(1000, .9075), (2000, .8216), (3000, .7421)])
def test_density_ratio(altitude_m: float, ratio: float) -> None:
    """E6: standard atmosphere (standard_atmosphere, memory-high) at its own temperature."""
    assert density_ratio(np.array([float(altitude_m)]), 15 - 0.0065 * altitude_m)[0] == pytest.approx(ratio, abs=5e-5)


def test_running_resistance_implied_by_the_updated_model() -> None:
    """E7: F_drag = 459.35 + 0.132 V^2 lbf at 80,000 lb (wydot_2018_wy1901f, memory-medium) is Crr .00574 and CdA 4.797 m2
    at 1.225 kg/m3, 5.835 at 1.007."""
    rolling = float(rolling_force_n(80_000 * POUND_KG, 0.00574, np.zeros(1))[0]) / POUND_FORCE_N
    assert rolling == pytest.approx(459.35, abs=0.4)           # .00574 is printed to three digits
    for density, area in ((1.225, 4.797), (1.007, 5.835)):
        drag = float(air_force_n(np.array([density]), area, np.array([MPH_MPS]))[0]) / POUND_FORCE_N
        assert drag == pytest.approx(0.132, abs=5e-5)
    vehicle = load_vehicle("tractor-semitrailer")
    assert (vehicle.rolling_coefficient, vehicle.drag_area_m2) == (pytest.approx(0.00574), 4.797)


def test_energy_a_battery_truck_must_take() -> None:
    """40 t, 6 %, 6 km at 50 km/h: 34.13 kWh at the wheels, 284.5 kW (derived, with Crr .006, CdA 6.0 m2, sea level, g 9.81 and
    the small angle there, hence 0.3 %)."""
    grade, speed = np.array([-0.06]), np.array([50 * KMH_MPS])
    force = float((grade_force_n(40e3, grade) - rolling_force_n(40e3, 0.006, grade)
                   - air_force_n(np.array([1.225]), 6.0, speed))[0])
    assert force * 6000 / 3.6e6 == pytest.approx(34.13, rel=3e-3)
    assert force * float(speed[0]) / 1e3 == pytest.approx(284.5, rel=3e-3)
    battery = load_vehicle("battery-tractor").retarder.battery
    assert battery is not None
    assert charged(battery, 0.5, shaft_energy_j=force * 6000) - 0.5 == pytest.approx(0.95 * 34.13 / 420, rel=3e-3)


@pytest.mark.parametrize(("speed", "unit", "friction", "e", "radius", "length", "printed_g", "exact_g"), [
    (45, MPH_MPS, .15, .06, 642.9, FOOT_M, 15, G_MPH2_PER_FT), (60, MPH_MPS, .12, .06, 1333.3, FOOT_M, 15, G_MPH2_PER_FT),
    (80, KMH_MPS, .14, .06, 252.0, 1.0, 127, G_KMH2_PER_M), (60, KMH_MPS, .17, .06, 123.2, 1.0, 127, G_KMH2_PER_M)])
def test_least_radius(speed: float, unit: float, friction: float, e: float, radius: float, length: float, printed_g: float,
                      exact_g: float) -> None:
    """D2: R = V^2 / (15 (e + f)) ft, V^2 / (127 (e + f)) m (aashto_green_book, memory-high). The guide rounds gravity in
    its units; undone here, the printed digits hold."""
    found = least_radius_m(speed * unit, lateral=friction, superelevation=e) / length * exact_g / printed_g
    assert found == pytest.approx(radius, abs=0.05)
    if unit == MPH_MPS:
        assert side_friction(np.array([speed * unit]))[0] == pytest.approx(friction, abs=1e-9)


@pytest.mark.parametrize(("radius_m", "threshold", "unit", "printed", "ratio"), [
    (500 * FOOT_M, .35, MPH_MPS, 55.45, 15 / G_MPH2_PER_FT), (500 * FOOT_M, .30, MPH_MPS, 51.96, 15 / G_MPH2_PER_FT),
    (150, .35, KMH_MPS, 88.38, 127 / G_KMH2_PER_M)])
def test_rollover_speed(radius_m: float, threshold: float, unit: float, printed: float, ratio: float) -> None:
    """D3 (derived; V = sqrt(15 R (e + SRT)), thresholds nchrp_505, memory-medium), e = .06; gravity as printed."""
    found = rollover_speed_mps(radius_m, rollover_threshold_g=threshold, superelevation=.06) / unit * ratio**0.5
    assert found == pytest.approx(printed, abs=0.005)


def test_a_snub_s_mean_deceleration() -> None:
    """B1 (derived from the snub of cdl_manual, seen): 40 to 35 mph in 3 s is 0.0760 g."""
    assert Driving().snub_decel_mps2 / GRAVITY_MPS2 == pytest.approx(0.0760, abs=5e-5)
    assert Driving().snub_drop_mps == pytest.approx(5 * MPH_MPS)


def test_energy_of_a_long_grade_in_the_reference_brakes() -> None:
    """B3 (derived): what brakes and engine take on 6 % for 6 mi at 25 mph, 180.79 MJ = 50.22 kWh, would heat the reference
    truck's brakes by 460 K without cooling or engine (heat capacity fhwa_grade_severity, memory-high)."""
    capacity = sum(row.brake.heat_capacity_jpk * row.brake.count for row in load_vehicle("tractor-semitrailer").rows)
    grade, speed = np.array([-0.06]), np.array([25 * MPH_MPS])
    force = float((grade_force_n(36_287, grade) - rolling_force_n(36_287, 0.006, grade)
                   - air_force_n(np.array([1.225]), 6.0, speed))[0])
    assert force * 6 * MILE_M / 3.6e6 == pytest.approx(50.22, abs=0.005)
    assert force * 6 * MILE_M / capacity == pytest.approx(460, abs=0.5)


def test_stroke_growth_lies_in_the_published_band() -> None:
    """0.06-0.1125 in per 100 F (drum_growth): the upper bound is derived from iron's 6.2e-6 per F, a 16.5 in drum, a shoe
    lever of 0.5, a 0.5 in cam and a 5.5 in arm."""
    bound_in = 6.2e-6 * 100 * 16.5 / 2 / 0.5 / 0.5 * 5.5
    assert bound_in == pytest.approx(0.1125, abs=5e-5)
    for row in load_vehicle("tractor-semitrailer").rows:
        assert 0.06 <= row.brake.stroke_per_k_m * 100 / 1.8 / INCH_M <= bound_in


def test_per_brake_constants_of_the_reference_truck() -> None:
    """Per brake of ten: 39.3 kJ/K and 13.4 + 0.1735 v_kmh W/K (derived from fhwa_grade_severity, memory-high)."""
    brake = load_vehicle("tractor-semitrailer").rows[0].brake
    assert brake.heat_capacity_jpk / 1e3 == pytest.approx(39.3, abs=0.05)
    assert brake.cooling_wpk == pytest.approx(13.4, abs=0.05)
    assert brake.cooling_wpk_per_mps / 3.6 == pytest.approx(0.1735, abs=5e-5)
