# SPDX-License-Identifier: MIT
"""Emergency stops and parked cooling."""

from __future__ import annotations

import numpy as np
import pytest

from descent.physics.brake_heat import cooling_time_s, emergency_rise
from descent.physics.grade_severity import ORIGINAL
from descent.physics.grade_severity import emergency_rise_k as published_rise_k
from descent.units import MPH_MPS, fahrenheit_to_c
from descent.vehicle.catalogue import load_vehicle


@pytest.mark.parametrize("mph", [18, 25, 55])
def test_emergency_rise_on_the_level_is_at_least_the_published_term(mph: float) -> None:
    """Published T_E = 3.11e-7 W V^2 (from memory, high confidence) for the whole truck: our axles' rises, weighted by
    heat capacity, add up to 1.5 / 1.4976 of it on the level and to more downhill."""
    vehicle = load_vehicle("tractor-semitrailer")
    capacity = np.array([row.brake.heat_capacity_jpk * row.brake.count for row in vehicle.rows])
    cold = np.full(3, 60.0)
    level = emergency_rise(vehicle, cold, speed_mps=mph * MPH_MPS, sin_down=0.0, adhesion=0.6)
    steep = emergency_rise(vehicle, cold, speed_mps=mph * MPH_MPS, sin_down=0.07, adhesion=0.6)
    whole = float(np.sum(level * capacity) / capacity.sum())
    published = published_rise_k(ORIGINAL, gross_kg=vehicle.gross_kg, speed_mps=mph * MPH_MPS)
    assert published <= whole == pytest.approx(published * 1.5 / 1.4976, rel=2e-3)
    assert np.all(steep > level)


def test_no_stop_can_be_relied_on_when_gravity_beats_the_brakes() -> None:
    vehicle = load_vehicle("tractor-semitrailer")
    rise = emergency_rise(vehicle, np.full(3, 600.0), speed_mps=10.0, sin_down=0.25, adhesion=0.6)
    assert np.all(np.isinf(rise))


@pytest.mark.parametrize(("to_f", "minutes"), [(300, 32.6), (250, 45.9), (200, 64.2), (150, 93.7)])
def test_parked_cooling_of_the_published_constants(to_f: float, minutes: float) -> None:
    """Check G7: from 500 F in 90 F air, K1 = 1.23 /h at rest (derived; an extrapolation of a moving-truck fit). With
    the cautious fraction it takes that much longer."""
    vehicle = load_vehicle("tractor-semitrailer")
    whole, cautious = (cooling_time_s(vehicle, 1, from_c=fahrenheit_to_c(500), to_c=fahrenheit_to_c(to_f),
                                      air_temp_c=fahrenheit_to_c(90), parked_fraction=share) for share in (1.0, 0.6))
    assert whole / 60 == pytest.approx(minutes, abs=0.1)
    assert cautious == pytest.approx(whole / 0.6)


def test_brakes_do_not_cool_below_the_air() -> None:
    with pytest.raises(ValueError, match="below the air"):
        cooling_time_s(load_vehicle("tractor-semitrailer"), 0, from_c=200, to_c=20, air_temp_c=30, parked_fraction=1)
