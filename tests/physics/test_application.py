# SPDX-License-Identifier: MIT
"""The gauge readings: cold, hot, fading; orders that must hold, and the force they stand for recomputed."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from descent.physics.application import FADING_SHARE, application_kpa, cold_temps_c
from descent.physics.brake_heat import packed_rows
from descent.physics.foundation_brake import forces_at
from descent.vehicle.catalogue import class_names, load_vehicle

MOST = 690.0


@given(st.sampled_from(class_names()), st.floats(2e3, 6e4), st.floats(30, 350))
def test_hot_never_reads_less_than_cold_and_fading_reads_more(name: str, force_n: float, temp_c: float) -> None:
    vehicle = load_vehicle(name)
    force = np.array([force_n])
    hot_c = np.full((1, len(vehicle.rows)), temp_c)
    cold = application_kpa(vehicle, force, cold_temps_c(vehicle, 1), most_kpa=MOST)[0]
    hot = application_kpa(vehicle, force, hot_c, most_kpa=MOST)[0]
    fading = application_kpa(vehicle, force, hot_c, most_kpa=MOST, torque_share=FADING_SHARE)[0]
    assert cold <= hot + 1e-6 and (fading > hot or fading == MOST)


@given(st.floats(2e3, 6e4))
def test_the_reading_gives_the_force(force_n: float) -> None:
    vehicle = load_vehicle("tractor-semitrailer")
    temps = np.full((1, 3), 150.0)
    pressure = application_kpa(vehicle, np.array([force_n]), temps, most_kpa=MOST)[0]
    assert forces_at(packed_rows(vehicle), temps[0], pressure, np.empty(3)) == pytest.approx(force_n, rel=1e-6)


def test_a_force_out_of_reach_reads_the_most() -> None:
    vehicle = load_vehicle("tractor-semitrailer")
    assert application_kpa(vehicle, np.array([1e7]), cold_temps_c(vehicle, 1), most_kpa=MOST)[0] == MOST
