# SPDX-License-Identifier: MIT
"""Rolling by axle and surface, wind and density: laws and closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from descent.physics.road_load import (
    RollingSurface,
    air_force_n,
    axle_rolling_force_n,
    density_ratio,
    head_wind_mps,
    rolling_factors,
    rolling_force_n,
)
from descent.vehicle.catalogue import class_names, load_vehicle

SEA = np.array([1.225])


@pytest.mark.parametrize("name", class_names())
def test_rolling_of_the_axles_adds_up_to_the_vehicle(name: str) -> None:
    vehicle, grade = load_vehicle(name), np.array([-0.07, 0.0, 0.03])
    whole = rolling_force_n(vehicle.gross_kg, vehicle.rolling_coefficient, grade)
    assert axle_rolling_force_n(vehicle, grade).sum(axis=0) == pytest.approx(whole)


def test_surfaces_rank_and_pavement_is_the_default() -> None:
    found = [float(rolling_force_n(1e4, 0.006, np.zeros(1), surface=surface)[0]) for surface in RollingSurface]
    assert found == sorted(found) and found[0] == float(rolling_force_n(1e4, 0.006, np.zeros(1))[0])
    assert set(rolling_factors()) == set(RollingSurface)


@given(st.floats(0.1, 40), st.floats(-25, 25))
def test_wind_is_what_the_air_sees(speed: float, wind: float) -> None:
    """Galilean: drag depends on the air speed alone, and pushes when the wind is faster."""
    force = float(air_force_n(SEA, 5.0, np.array([speed]), head_wind_mps=wind)[0])
    still = float(air_force_n(SEA, 5.0, np.array([abs(speed + wind)]))[0])
    assert force == pytest.approx(np.sign(speed + wind) * still, abs=1e-9)


@given(st.floats(0, 20), st.floats(0, 360), st.floats(0, 360))
def test_a_wind_turns_around_with_the_road(speed: float, blows: float, heading: float) -> None:
    there, back = head_wind_mps(speed, blows, np.array([heading, heading + 180.0]))
    assert there == pytest.approx(-back, abs=1e-9) and abs(there) <= speed + 1e-12


@given(st.floats(-400, 5000), st.floats(0, 1000), st.floats(-40, 50))
def test_density_falls_with_height_and_is_never_counted_above_sea_level(altitude: float, more: float, temp: float) -> None:
    low, high = density_ratio(np.array([altitude, altitude + more]), temp)
    assert high <= low <= 1.0
