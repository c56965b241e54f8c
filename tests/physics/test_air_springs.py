# SPDX-License-Identifier: MIT
"""Spring brakes in the driver's hand and with half the air lost: closed forms, statics by hand, and laws."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from descent.physics.air_springs import (
    FREE_TRAVEL,
    braking_mps2,
    half_lost,
    hold_off_kpa,
    releases_left,
    spring_decel_mps2,
    spring_pressure_kpa,
)
from descent.physics.parking import steepest_hold
from descent.units import GRAVITY_MPS2, PSI_KPA
from descent.vehicle.air_supply import ATMOSPHERE_KPA, Circuit, ParkingControls, SpringControl, air_supply
from descent.vehicle.catalogue import load_vehicle

COACH, SCHOOL, TRUCK = (load_vehicle(name) for name in ("motorcoach", "school-bus", "tractor-semitrailer"))
AIR = air_supply(COACH)
COLD = np.full(3, 25.0)
DRY = 0.6


def at(*levers: float, **changes: float) -> list[float]:
    given_ = {"grade": 0.0, "adhesion": DRY} | changes
    return spring_decel_mps2(COACH, AIR, np.array(levers), COLD, **given_).tolist()


def test_half_way_down_the_band_is_half_the_spring() -> None:
    """Statics: net rod force F - p A is a straight line in p; on at 45 psi, whole at 20 psi (cdl_manual_air_brakes, seen-2)."""
    psi = np.array([60.0, 45.0, 32.5, 20.0, 0.0])
    assert (spring_pressure_kpa(AIR, psi * PSI_KPA) / PSI_KPA).tolist() == pytest.approx([0, 0, 30, 60, 60])


def test_the_lever_by_hand() -> None:
    """In the middle of the band the springs press like 30 psi: sum of gain x (30 psi - crack) over the spring axles, over
    the mass with its turning parts. The lever is there at 1 - 0.9 x 32.5 / 45 of its travel."""
    lever = 1.0 - (1.0 - FREE_TRAVEL) * 32.5 / 45.0
    force = sum(axle.brakes[0].force_n_per_kpa * axle.brake_count * (30 * PSI_KPA - axle.brakes[0].crack_kpa)
                for axle in COACH.axles[1:])
    by_hand = force / (COACH.gross_kg * COACH.rotating_mass_factor)
    assert at(lever)[0] == pytest.approx(by_hand, rel=1e-9) and by_hand > 0.3


def test_fully_applied_it_is_the_parking_hold() -> None:
    """The deceleration on the level is g sin of the steepest grade it holds, over the turning mass (derived)."""
    hold = steepest_hold(COACH, AIR, COLD, adhesion=DRY)
    assert at(1.0)[0] * COACH.rotating_mass_factor == pytest.approx(GRAVITY_MPS2 * math.sin(math.atan(hold)), rel=1e-9)
    on_it = at(1.0, grade=-hold)[0]
    assert on_it == pytest.approx(0.0, abs=1e-9)


def test_an_on_or_off_control_knows_no_between() -> None:
    made = spring_decel_mps2(SCHOOL, air_supply(SCHOOL), np.array([0.0, 0.01, 0.5, 1.0]), np.full(2, 25.0), grade=0.0,
                             adhesion=DRY)
    assert made[0] == 0.0 and made[1] == made[2] == made[3] > 1.0


def test_no_air_to_hold_them_off_and_they_are_on_whatever_the_lever() -> None:
    assert hold_off_kpa(AIR, np.array([0.0]), reservoir_kpa=100.0)[0] == 100.0
    assert at(0.0, reservoir_kpa=15 * PSI_KPA)[0] == pytest.approx(at(1.0)[0])


@given(st.floats(0, 1), st.floats(0, 1), st.floats(0, 900), st.floats(0, 900), st.sampled_from(SpringControl))
def test_more_lever_or_less_air_never_a_weaker_spring(one: float, two: float, low: float, more: float,
                                                      control: SpringControl) -> None:
    air = replace(AIR, spring_control=control)
    levers = np.array(sorted((one, two)))
    first, second = (spring_pressure_kpa(air, hold_off_kpa(air, levers, reservoir_kpa=kpa)) for kpa in (low, low + more))
    assert first[1] >= first[0] and second[1] >= second[0] and np.all(first >= second)


@given(st.floats(350, 900), st.floats(0.002, 0.06), st.floats(0.001, 0.008))
@settings(max_examples=60)
def test_releases_by_the_closed_form(start_kpa: float, reservoir_m3: float, chambers_m3: float) -> None:
    """Each release leaves n / (n + 1) of the absolute pressure: k = ln(p0 / p_on) / ln((n + 1) / n), whole ones (derived)."""
    air = replace(AIR, emergency_m3=reservoir_m3, spring_chambers_m3=(0.5, chambers_m3, 0.0))
    n = reservoir_m3 / chambers_m3
    exact = math.log((start_kpa + ATMOSPHERE_KPA) / (air.spring_on_kpa + ATMOSPHERE_KPA)) / math.log((n + 1) / n)
    if abs(exact - round(exact)) > 1e-6:
        assert releases_left(air, start_kpa=start_kpa) == math.floor(exact)


def test_a_motorcoach_has_a_few_and_a_single_control_none() -> None:
    """A few only: common practice, no source. 16 L on 3.7 L of spring chambers from 100 psi: 3 by the closed form."""
    assert releases_left(AIR, start_kpa=100 * PSI_KPA) == 3
    assert 1 <= releases_left(AIR, start_kpa=AIR.cut_out_kpa) <= 5
    assert releases_left(replace(AIR, parking_controls=ParkingControls.SINGLE), start_kpa=800.0) == 0
    assert releases_left(air_supply(TRUCK), start_kpa=800.0) == 0


@given(st.floats(300, 900), st.floats(0, 60), st.floats(0, 1), st.floats(0, 60))
def test_more_leak_longer_held_or_less_air_never_more_releases(start: float, held: float, leak: float, more: float) -> None:
    base = releases_left(AIR, start_kpa=start, held_s=held, leak_kpaps=leak)
    assert releases_left(AIR, start_kpa=start, held_s=held + more, leak_kpaps=leak) <= base
    assert releases_left(AIR, start_kpa=start + more, held_s=held, leak_kpaps=leak) >= base


def test_a_half_lost_leaves_the_other_s_axles_and_the_springs() -> None:
    left = {lost: half_lost(COACH, AIR, lost, temps_c=COLD, grade=-0.06, adhesion=DRY, start_kpa=AIR.cut_out_kpa)
            for lost in (Circuit.PRIMARY, Circuit.SECONDARY)}
    first, second = left[Circuit.PRIMARY], left[Circuit.SECONDARY]
    assert (first.braked_axles, second.braked_axles) == (("steer",), ("drive", "tag"))
    pull = GRAVITY_MPS2 * math.sin(math.atan(0.06)) / COACH.rotating_mass_factor
    for item in left.values():
        assert item.applications_to_warning is not None and item.applications_to_springs is not None
        assert 0 < item.applications_to_warning < item.applications_to_springs
        assert item.graded and item.releases == releases_left(AIR, start_kpa=AIR.cut_out_kpa)
        assert item.both_mps2 >= max(item.service_mps2, item.spring_mps2)
    # the two halves together brake as the whole does: their forces add up (each axle is on one circuit)
    whole = braking_mps2(COACH, np.full(3, COACH.emergency_pressure_kpa), COLD, grade=0.0, adhesion=DRY)
    assert first.service_mps2 + second.service_mps2 + 2 * pull == pytest.approx(whole, rel=1e-9)
    # springs on the axles whose service air is gone, the pedal on the others: both add up where no axle has both
    assert first.both_mps2 == pytest.approx(first.service_mps2 + first.spring_mps2 + pull, rel=1e-9)


def test_on_or_off_springs_are_said_to_be_no_way_to_ease_to_a_stop() -> None:
    assert not half_lost(SCHOOL, air_supply(SCHOOL), Circuit.PRIMARY, temps_c=np.full(2, 25.0), grade=-0.06,
                         adhesion=DRY).graded
