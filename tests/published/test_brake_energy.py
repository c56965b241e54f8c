# SPDX-License-Identifier: MIT
"""Energies of the regulations' downhill and fade tests, against this package's brake power and emergency rise.

The regulations' figures are derived here by plain mechanics (m g grade v, m v^2 / 2); what they demand is from memory
unless marked seen. A model without drag and engine lets all gravity power reach the brakes, so the conversions of
the severity equations must give the same watts and joules.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from descent.physics.grade_severity import ORIGINAL, brake_power_w, emergency_rise_k, final_temperature_c
from descent.physics.road_load import air_force_n, grade_force_n, rolling_force_n

FREE = replace(ORIGINAL, drag_lbf=(0.0, 0.0, 0.0), engine_hp=0.0)
KMH = 1 / 3.6
CAPACITY_JPK = 206.86 * 1899.10
"""Heat capacity implied by the original constants, BTU/F to J/K (derived: 1 / (K1 K2) of one lumped body)."""


@pytest.mark.parametrize(("mass_kg", "grade", "length_m", "speed_kmh", "power_kw", "energy_mj"), [
    (40e3, 0.06, 6000, 30, 196.20, 141.26),   # R1: un_r13 Type-II, 6 % for 6 km at 30 km/h (memory-high)
    (40e3, 0.07, 6000, 30, 228.90, 164.81),   # R2: un_r13 Type-IIA, 7 % (memory-high)
    (10e3, 0.07, 1700, 40, 76.30, 11.67),     # R6: un_r13 Type-I continuous, trailers (memory-high)
    (36287, 0.06, 9656.064, 40.2336, 205.80e3 / 864.0, 205.80),  # B3: 80,000 lb, 6 % for 6 mi at 25 mph (derived)
])
def test_downhill_energy(mass_kg: float, grade: float, length_m: float, speed_kmh: float, power_kw: float,
                         energy_mj: float) -> None:
    """0.3 % covers g = 9.81 and the small angle, which the printed values mix."""
    power_w = brake_power_w(FREE, gross_kg=mass_kg, grade=-grade, speed_mps=speed_kmh * KMH)
    assert power_w / 1e3 == pytest.approx(power_kw, rel=3e-3)
    assert power_w * length_m / (speed_kmh * KMH) / 1e6 == pytest.approx(energy_mj, rel=3e-3)


@pytest.mark.parametrize(("mass_kg", "from_mps", "to_mps", "energy_j"), [
    (18e3, 60 * KMH, 30 * KMH, 1.8750e6),                           # R4: eec_71_320 Type-I, one application (seen)
    (4535.9237, 50 * 0.44704, 15 * 0.44704, 977.3 * 1055.056),      # F5: fmvss_121 fade snub, 10,000 lb (seen)
])
def test_snub_energy(mass_kg: float, from_mps: float, to_mps: float, energy_j: float) -> None:
    """The emergency rise is 1.498 times kinetic energy over heat capacity (derived), so its difference is a snub."""
    rises_k = [emergency_rise_k(ORIGINAL, gross_kg=mass_kg, speed_mps=speed) for speed in (from_mps, to_mps)]
    assert (rises_k[0] - rises_k[1]) * CAPACITY_JPK / 1.4976 == pytest.approx(energy_j, rel=1e-3)


def test_all_heat_stays_when_there_is_no_time_to_cool() -> None:
    """Over 10 m the rise is the energy over the heat capacity (B3's adiabatic limit), cooling being below 0.2 %."""
    length_m, speed = 10.0, 15.0
    power_w = brake_power_w(FREE, gross_kg=36287, grade=-0.06, speed_mps=speed)
    rise_k = final_temperature_c(FREE, gross_kg=36287, grade=-0.06, length_m=length_m, speed_mps=speed,
                                 start_temp_c=FREE.ambient_temp_c) - FREE.ambient_temp_c
    assert rise_k == pytest.approx(power_w * length_m / speed / CAPACITY_JPK, rel=2e-3)


def test_ledger_of_a_long_grade() -> None:
    """B3 (derived): 36,287 kg, 6 % for 6 mi of slope at 25 mph, Crr .006, CdA 6.0 m2, sea-level air."""
    slope_m, speed, grade = 6 * 1609.344, 25 * 0.44704, np.array([-0.06])
    gravity_n = float(grade_force_n(36287, grade)[0])
    rolling_n = float(rolling_force_n(36287, 0.006, grade)[0])
    air_n = float(air_force_n(np.array([1.225]), 6.0, np.array([speed]))[0])
    held_n = gravity_n - rolling_n - air_n
    assert [force * slope_m / 1e6 for force in (gravity_n, rolling_n, air_n, held_n)] == pytest.approx(
        [205.80, 20.58, 4.43, 180.79], abs=0.005)
    assert held_n * speed / 1e3 == pytest.approx(209.25, abs=0.01)


@pytest.mark.parametrize(("grade", "power_kw", "energy_mj"), [(0.06, 195.85, 141.01)])
def test_type_2_energy_with_the_sine(grade: float, power_kw: float, energy_mj: float) -> None:
    """R1 with sin(atan grade): 40 t, 30 km/h, 6 km (un_r13 Type-II, memory-high); g = 9.81 there, hence 0.1 %."""
    force_n = float(grade_force_n(40e3, np.array([-grade]))[0])
    assert force_n * 30 * KMH / 1e3 == pytest.approx(power_kw, rel=1e-3)
    assert force_n * 6000 / 1e6 == pytest.approx(energy_mj, rel=1e-3)
