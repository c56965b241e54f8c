# SPDX-License-Identifier: MIT
"""The short cut for brakes in their usual state gives what the general solution gives, for any brakes in any state."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from descent.physics.brake_heat import alike_rows, emergency_rise_k, packed_rows
from descent.physics.foundation_brake import (
    CAPACITY,
    COOL_REST,
    FREE_STROKE,
    GAIN,
    LOAD,
    STROKE_LIMIT,
    VALVE_OPEN,
    VALVE_SHARE,
    forces_at,
    pressure_for_force_kpa,
)
from descent.physics.quick_brakes import COLUMNS, quick_pressure_kpa, quick_rise_k, quick_table
from descent.vehicle.catalogue import class_names, load_vehicle

MOST_KPA, EMERGENCY_KPA = 690.0, 550.0


@st.composite
def brakes(draw: st.DrawFn) -> tuple[np.ndarray, np.ndarray]:
    """Rows of a vehicle of the catalogue, out of adjustment, with a limiting valve or not, at any temperatures [C]."""
    rows = packed_rows(load_vehicle(draw(st.sampled_from(class_names()))))
    for row in rows:
        row[FREE_STROKE] += draw(st.floats(0.0, 0.9)) * (row[STROKE_LIMIT] - row[FREE_STROKE])
        if draw(st.booleans()):
            row[VALVE_SHARE], row[VALVE_OPEN] = draw(st.floats(0.4, 0.9)), draw(st.floats(150.0, 500.0))
    temps = np.array([draw(st.floats(-20.0, 560.0)) for _ in rows])
    return rows, temps


@given(brakes(), st.floats(0.0, 3e5))
@settings(deadline=None)
def test_pressure_and_shares_are_those_of_the_general_solution(state: tuple[np.ndarray, np.ndarray],
                                                               force_n: float) -> None:
    rows, temps = state
    table, quick_n, slow_n = np.empty((len(rows) + 1, COLUMNS)), np.empty(len(rows)), np.empty(len(rows))
    quick_table(rows, MOST_KPA, EMERGENCY_KPA, 0.6, table)
    quick = quick_pressure_kpa(rows, table, temps, force_n, MOST_KPA, quick_n)
    slow = pressure_for_force_kpa(rows, temps, force_n, MOST_KPA, slow_n)
    assert quick == pytest.approx(slow, rel=1e-9, abs=1e-9)
    assert quick_n == pytest.approx(slow_n, rel=1e-9, abs=1e-6)


@given(brakes(), st.floats(0.1, 30.0), st.floats(-0.1, 0.15), st.floats(0.1, 0.8))
@settings(deadline=None)
def test_an_emergency_stop_heats_as_in_the_general_solution(state: tuple[np.ndarray, np.ndarray], speed_mps: float,
                                                            sin_down: float, adhesion: float) -> None:
    rows, temps = state
    table, quick_k, slow_k = np.empty((len(rows) + 1, COLUMNS)), np.empty(len(rows)), np.empty(len(rows))
    quick_table(rows, MOST_KPA, EMERGENCY_KPA, adhesion, table)
    mass_kg = rows[:, LOAD].sum() / 9.80665
    quick_rise_k(rows, table, temps, speed_mps, mass_kg, sin_down, EMERGENCY_KPA, quick_k)
    emergency_rise_k(rows, temps, speed_mps, mass_kg, sin_down, EMERGENCY_KPA, adhesion, slow_k)
    assert np.array_equal(np.isinf(quick_k), np.isinf(slow_k))
    if np.isfinite(slow_k).all():
        assert quick_k == pytest.approx(slow_k, rel=1e-8, abs=1e-9)


@pytest.mark.parametrize("name", class_names())
def test_rows_taken_together_brake_and_heat_as_apart(name: str) -> None:
    """Force at one pressure, capacity, cooling and load of the groups add up to those of the rows, and each row of a group
    warms alike: force over capacity is the same in all of them."""
    rows = packed_rows(load_vehicle(name))
    group, table = alike_rows(rows, emergency_kpa=EMERGENCY_KPA, adhesion=0.6)
    apart, together = np.empty(len(rows)), np.empty(len(table))
    temps = np.linspace(60.0, 380.0, len(table))
    total = forces_at(rows, temps[group], 300.0, apart)
    assert forces_at(table, temps, 300.0, together) == pytest.approx(total, rel=1e-12)
    assert apart / rows[:, CAPACITY] == pytest.approx((together / table[:, CAPACITY])[group], rel=1e-9)
    for column in (GAIN, CAPACITY, COOL_REST, LOAD):
        assert table[:, column].sum() == pytest.approx(rows[:, column].sum(), rel=1e-12)


def test_brakes_out_of_adjustment_are_no_longer_alike() -> None:
    rows = packed_rows(load_vehicle("tractor-semitrailer"))
    assert len(alike_rows(rows, emergency_kpa=EMERGENCY_KPA, adhesion=0.6)[1]) == 2
    rows[1, FREE_STROKE] += 1e-4
    assert len(alike_rows(rows, emergency_kpa=EMERGENCY_KPA, adhesion=0.6)[1]) == 3
