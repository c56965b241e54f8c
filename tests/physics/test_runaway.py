# SPDX-License-Identifier: MIT
"""Runaway speeds, curves, escape ramps and the last full stop, against published examples and independent ones."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from descent.physics.march import Cells, Day, Driving, Schedule, Setting, cells_of, force_tables
from descent.physics.runaway import (
    BED_RESISTANCE,
    LastFullStop,
    last_full_stop,
    overturning_mps,
    ramp_length_m,
    runaway_from,
    speed_after_ramp_mps,
    terminal_speed_mps,
    with_fade_and_slack,
)
from descent.units import FOOT_M, GRAVITY_MPS2, KMH_MPS, MILE_M, MPH_MPS
from descent.vehicle.catalogue import load_vehicle
from made_roads import straight_profile

TRUCK = load_vehicle("tractor-semitrailer")
EXACT_FPS = 2 * GRAVITY_MPS2 * FOOT_M / MPH_MPS**2          # 29.91, printed as 30
EXACT_KMH = 2 * GRAVITY_MPS2 / KMH_MPS**2                   # 254.2, printed as 254


def even(grade: float, length_m: float, *, k_air: float, n: int = 200) -> Cells:
    cos = 1 / math.sqrt(1 + grade * grade)
    return Cells(np.linspace(0, length_m * cos, n + 1), np.full(n, length_m / n), np.full(n, -grade * cos), np.full(n, cos),
                 np.full(n, k_air), np.ones(n), np.zeros(n))


def lorry(rolling: float) -> object:
    return replace(TRUCK, axles=tuple(replace(axle, rolling_coefficient=rolling) for axle in TRUCK.axles),
                   gross_kg=sum(axle.load_kg for axle in TRUCK.axles))


@pytest.mark.parametrize(("start_mph", "rolling", "k_air", "end_mph", "error"), [
    (20, 0.006, 0.5 * 1.225 * 6.0, 86.92, 0.2), (40, 0.006, 0.5 * 1.225 * 6.0, 91.76, 0.2), (20, 0.0, 0.0, 99.38, 0.1)])
def test_a_mile_of_six_percent(start_mph: float, rolling: float, k_air: float, end_mph: float, error: float) -> None:
    """D7 (derived): 36,287 kg, 6 % for a mile, Crr .006, CdA 6.0 m2, rho 1.225, no engine; and without friction (316.8 ft
    of drop)."""
    vehicle = lorry(rolling)
    slope = MILE_M if k_air else 316.8 * FOOT_M / (0.06 / math.sqrt(1.0036))
    end = runaway_from(even(-0.06, slope, k_air=k_air), vehicle, node=0, speed_mps=start_mph * MPH_MPS)  # type: ignore[arg-type]
    assert end.speed_mps[-1] / MPH_MPS == pytest.approx(end_mph, abs=error)


def test_drag_never_saves_a_runaway() -> None:
    """D8 (derived): terminal speed in neutral on 6 %: 72.25 m/s (161.6 mph)."""
    vehicle = replace(lorry(0.006), drag_area_m2=6.0)           # type: ignore[type-var]
    assert terminal_speed_mps(vehicle, grade=-0.06, density_kgpm3=1.225) == pytest.approx(72.25, abs=0.1)  # type: ignore[arg-type]
    assert terminal_speed_mps(TRUCK, grade=-0.001, density_kgpm3=1.2) == 0.0


@given(st.floats(0, 40), st.floats(-0.12, 0.08), st.floats(0, 8), st.floats(100, 5000))
def test_against_an_independent_integration(start: float, grade: float, drag_m2: float, length_m: float) -> None:
    k_air = 0.6 * drag_m2
    found = runaway_from(even(grade, length_m, k_air=k_air), TRUCK, node=0, speed_mps=start)
    cos = 1 / math.sqrt(1 + grade**2)

    def slope(_: float, u: np.ndarray) -> np.ndarray:
        return 2 * (GRAVITY_MPS2 * (-grade * cos - TRUCK.rolling_coefficient * cos) - k_air * u / TRUCK.gross_kg)

    u = solve_ivp(slope, (0, length_m), [start**2], rtol=1e-8, atol=1e-8).y[0, -1]
    assert found.speed_mps[-1] == pytest.approx(math.sqrt(max(u, 0.0)), abs=1e-3)
    if u <= -1e-6:
        assert found.reached < 200 and found.speed_mps[-1] == 0.0


@pytest.mark.parametrize(("mph", "bed", "grade", "feet"), [
    (80, "pea gravel", 0.0, 853.3), (90, "pea gravel", 0.0, 1080.0), (80, "loose gravel", 0.10, 1066.7),
    (80, "pea gravel", -0.02, 927.5)])
def test_ramp_lengths_in_feet(mph: float, bed: str, grade: float, feet: float) -> None:
    """D4 (aashto_green_book form and bed values, memory-high): V^2 / 30 (R + G); 30 is 29.91 rounded."""
    assert ramp_length_m(mph * MPH_MPS, bed=bed, grade=grade) / FOOT_M == pytest.approx(feet * 30 / EXACT_FPS, rel=1e-3)
    assert ramp_length_m(mph * MPH_MPS, bed=bed, grade=grade) >= feet * FOOT_M * 0.9999       # never the short side


@pytest.mark.parametrize(("kmh", "grade", "metres"), [(130, 0.05, 221.8), (140, 0.0, 308.7)])
def test_ramp_lengths_in_metres(kmh: float, grade: float, metres: float) -> None:
    """D4 in SI: V^2 / 254 (R + G); 254 is 254.2 rounded, here to the long side by 0.07 %."""
    assert ramp_length_m(kmh * KMH_MPS, bed=0.25, grade=grade) == pytest.approx(metres * 254 / EXACT_KMH, rel=1e-3)


def test_a_bed_in_pieces_is_the_same_bed() -> None:
    length = ramp_length_m(30.0, bed="pea gravel", grade=0.03)
    pieces = [(length / 4, 0.25, 0.03)] * 3
    left = speed_after_ramp_mps(30.0, pieces)
    assert left == pytest.approx(15.0)                          # a quarter of the length holds a quarter of v^2
    assert speed_after_ramp_mps(left, [(length / 4 * 1.001, 0.25, 0.03)]) == 0.0
    assert math.isinf(ramp_length_m(30.0, bed="concrete", grade=-0.05))
    assert list(BED_RESISTANCE.values()) == sorted(BED_RESISTANCE.values())


def test_overturning_in_a_curve() -> None:
    """D3 (derived from V^2 / 15 R = e + SRT, thresholds memory-medium): R 500 ft, e .06: 55.45 mph at .35, 51.96 at .30;
    R 150 m: 88.38 km/h. 15 and 127 are rounded constants: within 0.2 %."""
    feet = np.array([1 / (500 * FOOT_M)])
    for threshold, mph in ((0.35, 55.45), (0.30, 51.96)):
        assert overturning_mps(feet, threshold, superelevation=0.06)[0] / MPH_MPS == pytest.approx(mph, rel=2e-3)
    assert overturning_mps(np.array([1 / 150]), 0.35, superelevation=0.06)[0] / KMH_MPS == pytest.approx(88.38, rel=2e-3)
    assert np.isinf(overturning_mps(np.zeros(1), 0.35)[0])


def test_the_curve_that_overturns_is_named() -> None:
    cells = even(-0.06, 3000.0, k_air=3.0)
    curvature = np.zeros(201)
    curvature[150:160] = 1 / 150.0
    runaway = runaway_from(cells, TRUCK, node=20, speed_mps=15.0, curvature_1pm=curvature,
                           curve_limit_mps=np.where(curvature > 0, 12.0, 45.0))
    assert runaway.overturn_node is not None and 150 <= runaway.overturn_node < 160
    assert runaway.curve_node is not None and runaway.curve_node <= runaway.overturn_node
    assert runaway.speed_at_mps(cells.station_m[20]) == 15.0 and math.isnan(runaway.speed_at_mps(0.0))
    assert runaway.top_mps == pytest.approx(runaway.speed_mps.max())
    slow = runaway_from(cells, replace(TRUCK, rollover_threshold_g=5.0), node=20, speed_mps=15.0, curvature_1pm=curvature)
    assert slow.overturn_node is None and slow.curve_node is None


@cache
def failing(gear: int, *, length_m: float = 12000.0, grade: float = -0.06, speed: float = 11.0) -> LastFullStop:
    """A retarder-less descent held by the service brakes alone in a high gear."""
    profile = straight_profile([(1000, 0.0), (length_m, grade), (500, 0.0)])
    day, driving = Day(20.0, 65.0, 0.6), Driving()
    cells = cells_of(profile, TRUCK, day)
    tables = force_tables(TRUCK, (Setting(gear, 0),), driving)
    n = len(cells.step_m)
    schedule = Schedule(np.full(n + 1, speed), np.ones(n, dtype=np.int64), np.ones(n, dtype=np.int64), np.full(n + 1, -1.0))
    return last_full_stop(cells, TRUCK, tables, schedule, day, driving, start_speed_mps=speed)


def test_the_last_stop_is_a_range_and_hinges_on_fade_and_slack() -> None:
    result = failing(9, grade=-0.09)
    assert not result.bottom_reached and 1000 < result.earliest_m < result.latest_m
    of = {(case.fade_floor, case.slack_share): case.node for case in result.cases}
    assert all(of[floor, 1.0] <= of[floor, 0.0] for floor in (0.2, 0.35, 0.5))
    assert of[0.2, 0.0] <= of[0.35, 0.0] <= of[0.5, 0.0]


def test_bottom_reached_is_said() -> None:
    short = failing(9, length_m=1000.0)
    assert short.bottom_reached and short.some_bottom and short.earliest_m == short.latest_m == 2500.0
    mixed = failing(6, grade=-0.08)
    assert mixed.some_bottom and not mixed.bottom_reached


def test_slack_moves_strokes_to_their_limit_and_not_past() -> None:
    slack = with_fade_and_slack(TRUCK, fade_floor=0.2, slack_share=1.0)
    for row in slack.rows:
        assert row.brake.stroke_m == pytest.approx(row.brake.chamber.stroke_limit_m) and row.brake.fade_floor == 0.2
    assert with_fade_and_slack(TRUCK, fade_floor=0.35, slack_share=0.0).rows[0].brake.stroke_m == TRUCK.rows[0].brake.stroke_m
