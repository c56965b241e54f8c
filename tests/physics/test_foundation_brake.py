# SPDX-License-Identifier: MIT
"""Chamber force, stroke, fade and how the brakes share a demand; a slack brake sheds its share by itself."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.optimize import brentq

from descent.physics.brake_heat import packed_rows
from descent.physics.foundation_brake import (
    fade,
    forces_at,
    pressing_kpa,
    pressure_for_force_kpa,
    push_rod_stroke_m,
    row_force_n,
    stroke_efficiency,
    valve_pressure_kpa,
)
from descent.units import INCH_M, POUND_FORCE_N, PSI_KPA
from descent.vehicle.brakes import chambers
from descent.vehicle.catalogue import load_vehicle
from descent.vehicle.model import Vehicle

MOST_KPA = 690.0


def with_strokes(vehicle: Vehicle, axle: str, strokes_in: list[float]) -> Vehicle:
    """A vehicle whose brakes on one axle group have these strokes, each its own row."""
    axles = []
    for group in vehicle.axles:
        if group.name == axle:
            group = replace(group, brakes=tuple(replace(group.brakes[0], count=1, stroke_m=stroke * INCH_M)
                                                for stroke in strokes_in))
        axles.append(group)
    return replace(vehicle, axles=tuple(axles))


def shared(vehicle: Vehicle, force_n: float, temps_c: float = 100.0) -> tuple[float, np.ndarray]:
    rows = packed_rows(vehicle)
    out = np.empty(len(rows))
    pressure = pressure_for_force_kpa(rows, np.full(len(rows), temps_c), force_n, MOST_KPA, out)
    return pressure, out


def test_fade_is_whole_when_cold_and_bottoms_out() -> None:
    assert [fade(t, 300.0, 500.0, 0.35) for t in (20.0, 300.0, 400.0, 500.0, 900.0)] == pytest.approx(
        [1, 1, 0.675, 0.35, 0.35])


def test_chamber_force_of_a_type_30() -> None:
    """Type 30 at 100 psi: 3000 lbf; 30 in2 x 5.5 in slack = 165 (area x length), common practice, derived."""
    assert chambers()["30"].area_m2 * 100 * PSI_KPA * 1000 / POUND_FORCE_N == pytest.approx(3000, rel=1e-9)


@pytest.mark.parametrize(("name", "limit_in"), [("9", 1.375), ("12", 1.375), ("16", 1.75), ("20", 1.75), ("24", 1.75),
                                                ("30", 2.0), ("36", 2.25), ("16L", 2.0), ("20L", 2.0), ("24L", 2.0),
                                                ("24LS", 2.5), ("30LS", 2.5)])
def test_readjustment_limits(name: str, limit_in: float) -> None:
    """US inspection rule 393.47(e), seen second hand in a maintenance table, from memory high for the rule."""
    assert chambers()[name].stroke_limit_m / INCH_M == pytest.approx(limit_in)


def test_a_type_30_in_adjustment_spends_its_stroke_as_published() -> None:
    """Stroke budget of a type 30 (seen second hand): 0.66 in free and 1.15 in of power are 1.81 in at 85 psi."""
    brake = next(row.brake for row in load_vehicle("tractor-semitrailer").rows if row.brake.chamber.name == "30")
    full = 85 * PSI_KPA
    free = brake.stroke_m - brake.stroke_per_kpa_m * full
    assert brake.stroke_m / INCH_M == pytest.approx(1.81, abs=0.001)
    assert free / INCH_M == pytest.approx(0.66, abs=0.005)


def test_heat_takes_a_brake_out_of_adjustment() -> None:
    """Check B2 (derived): 1.81 in cold, +300 F of drum at the upper bound of 0.1125 in per 100 F: +0.34 in, 2.15 in,
    past the 2.0 in limit."""
    growth = 0.1125 * INCH_M / (100 / 1.8)
    give = 1.15 * INCH_M / (85 * PSI_KPA)
    stroke = push_rod_stroke_m(0.66 * INCH_M, give, growth, 85 * PSI_KPA, 25 + 300 / 1.8)
    assert stroke / INCH_M == pytest.approx(2.15, abs=0.005)
    assert stroke_efficiency(stroke, 2.0 * INCH_M, 2.5 * INCH_M) < 1


@given(st.floats(0, 1000), st.floats(0.2, 1.0), st.floats(100, 500))
def test_a_limiting_valve_never_gives_more_than_is_applied(pressure: float, share: float, opens: float) -> None:
    behind = valve_pressure_kpa(pressure, share, opens)
    assert 0 <= behind <= pressure + 1e-9
    assert valve_pressure_kpa(pressure + 10, share, opens) >= behind


@given(st.lists(st.tuples(st.floats(1, 2000), st.floats(0, 100)), min_size=1, max_size=6), st.floats(10, 1e5))
def test_pressure_solves_the_sharing_equation(pairs: list[tuple[float, float]], force_n: float) -> None:
    """Straight brakes, against a bracketing root finder on the same equation."""
    rows = np.tile(packed_rows(load_vehicle("tractor-semitrailer"))[1], (len(pairs), 1))
    rows[:, 0], rows[:, 1] = np.array(pairs).T
    rows[:, 12] = 1e9                                                # stroke limits out of the way
    temps, out = np.full(len(rows), 50.0), np.empty(len(rows))

    def missing(pressure: float) -> float:
        return float(np.sum(rows[:, 0] * np.maximum(pressure - rows[:, 1], 0)) - force_n)

    found = pressure_for_force_kpa(rows, temps, force_n, 1e7, out)
    assert found == pytest.approx(brentq(missing, 0, 1e7, xtol=1e-9, rtol=1e-14), rel=1e-6)
    assert out.sum() == pytest.approx(force_n, rel=1e-9)


@given(st.floats(1.7, 2.6), st.floats(50, 400), st.floats(1000, 200_000))
def test_forces_are_those_at_the_pressure_found(stroke_in: float, temp_c: float, force_n: float) -> None:
    """On slack and hot brakes too: the shares are the forces at the pressure, and add up to the demand if it can be
    met; if not, no pressure on a fine scan gives more."""
    rows = packed_rows(with_strokes(load_vehicle("tractor-semitrailer"), "drive", [1.8, 1.8, 1.8, stroke_in]))
    temps, out, again = np.full(len(rows), temp_c), np.empty(len(rows)), np.empty(len(rows))
    pressure = pressure_for_force_kpa(rows, temps, force_n, MOST_KPA, out)
    assert forces_at(rows, temps, pressure, again) == pytest.approx(out.sum())
    if out.sum() < force_n * (1 - 1e-6):
        scan = max(forces_at(rows, temps, p, again) for p in np.linspace(0, MOST_KPA, 400))
        assert out.sum() >= 0.98 * scan


@given(st.floats(2.0, 2.5), st.floats(0.01, 0.3))
def test_a_brake_losing_adjustment_sheds_its_share(stroke_in: float, more_in: float) -> None:
    """Nothing is scripted: the slack brake gives less, every other one more, and the total is the demand."""
    first = shared(with_strokes(load_vehicle("tractor-semitrailer"), "drive", [1.81, 1.81, 1.81, stroke_in]), 90_000, 250)
    second = shared(with_strokes(load_vehicle("tractor-semitrailer"), "drive", [1.81, 1.81, 1.81, stroke_in + more_in]),
                    90_000, 250)
    assume(first[1].sum() > 89_999 and second[1].sum() > 89_999)
    slack = 4                                                        # steer, three good drive brakes, the slack one
    assert second[1][slack] <= first[1][slack] + 1e-6
    others = [0, 1, 2, 3, 5]
    assert np.all(second[1][others] >= first[1][others] - 1e-6)
    assert second[0] >= first[0] - 1e-9
    assert second[1].sum() == pytest.approx(first[1].sum(), rel=1e-6)


@given(st.floats(1.8, 2.6), st.floats(25, 500), st.floats(50, 600), st.floats(1, 200))
def test_more_pressure_never_gives_less_force(stroke_in: float, temp_c: float, pressure: float, more: float) -> None:
    """Past the limit too: the brake gives with the force on it, so a longer stroke meets a smaller force."""
    row = packed_rows(with_strokes(load_vehicle("tractor-semitrailer"), "drive", [stroke_in]))[1]
    assert row_force_n(row, pressure + more, temp_c) >= row_force_n(row, pressure, temp_c) - 1e-9


@given(st.floats(1.9, 2.4), st.floats(25, 500), st.floats(100, 690))
def test_stroke_and_force_agree(stroke_in: float, temp_c: float, pressure: float) -> None:
    """The pressing part found is a fixed point of p' = p eff(free + growth + give p')."""
    row = packed_rows(with_strokes(load_vehicle("tractor-semitrailer"), "drive", [stroke_in]))[1]
    pressing = pressing_kpa(row, pressure, temp_c)
    stroke = push_rod_stroke_m(row[9], row[10], row[11], pressing, temp_c)
    assert pressing == pytest.approx(pressure * stroke_efficiency(stroke, row[12], row[13]), rel=1e-9, abs=1e-9)


def test_a_bottomed_brake_gives_nothing() -> None:
    row = packed_rows(with_strokes(load_vehicle("tractor-semitrailer"), "drive", [3.7]))[1]
    assert row_force_n(row, 85 * PSI_KPA, 25.0) == 0.0                # even before it presses the stroke is used up


def test_a_front_limiting_valve_moves_work_to_the_rear() -> None:
    plain = load_vehicle("tractor-semitrailer")
    steer = replace(plain.axles[0], brakes=(replace(plain.axles[0].brakes[0], valve_share=0.5),))
    limited = replace(plain, axles=(steer, *plain.axles[1:]))
    assert shared(limited, 60_000)[1][0] < shared(plain, 60_000)[1][0]
    assert shared(limited, 60_000)[1][1] > shared(plain, 60_000)[1][1]
