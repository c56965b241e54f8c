# SPDX-License-Identifier: MIT
"""Reservoirs, compressor and consumption: published minima, isothermal closed forms, and laws."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, cast

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from descent.physics import air_kernel as kernel
from descent.physics.air_system import (
    _chamber_table,
    _history,
    _Log,
    _parameters,
    application_drop_kpa,
    build_up_s,
    equalised_kpa,
    snubs_until,
)
from descent.physics.brake_heat import packed_rows
from descent.units import GALLON_M3, INCH_M, PSI_KPA
from descent.vehicle.air_supply import (
    ATMOSPHERE_KPA,
    AirSupply,
    Body,
    Circuit,
    Protection,
    WarningRule,
    air_supply,
    body_of,
    least_compressor_m3ps,
    least_reservoirs_m3,
)
from descent.vehicle.catalogue import load_vehicle
from descent.vehicle.model import Vehicle

IN3 = INCH_M**3
CFM_M3PS = 0.3048**3 / 60
TRUCK = load_vehicle("tractor-semitrailer")
AIR = air_supply(TRUCK)
WARM = np.full(len(TRUCK.rows), 120.0)


def with_stroke(vehicle: Vehicle, stroke_m: float) -> Vehicle:
    return replace(vehicle, axles=tuple(
        replace(axle, brakes=tuple(replace(brake, stroke_m=stroke_m) for brake in axle.brakes)) for axle in vehicle.axles))


def repeated(vehicle: Vehicle, air: AirSupply, *, pressure_kpa: float, count: int, interval_s: float = 20.0,
             rpm: float = 1800.0, temp_c: float = 120.0, start_kpa: float | None = None,
             lost: Circuit | None = None) -> Any:
    """Equal snubs one after another."""
    n = len(vehicle.rows)
    log = _Log(np.arange(count + 1.0), np.arange(count + 1.0) * interval_s, np.full(count + 1, -1.0),
               np.full(count + 1, pressure_kpa), np.column_stack([np.ones(count), np.full(count, 3.0)]),
               np.full((count + 1, n), temp_c), np.full(count + 1, rpm))
    return _history(log, vehicle, air, air.cut_out_kpa if start_kpa is None else start_kpa, lost)


def test_least_reservoirs() -> None:
    """F3: 2 x type 20 + 4 x type 30 = 464 in3: 12 x is 5568 in3 = 24.10 gal (fmvss_121 S5.1.2.1, seen; chamber volumes
    from memory, high); trailer 4 x type 30 = 356 in3: 8 x is 2848 in3 = 12.33 gal (S5.2.1.1, from memory, high)."""
    own, towed = least_reservoirs_m3(TRUCK)
    assert (own / IN3, towed / IN3) == (pytest.approx(5568), pytest.approx(2848))
    assert own / GALLON_M3 == pytest.approx(24.10, abs=0.01)
    assert towed / GALLON_M3 == pytest.approx(12.33, abs=0.01)
    assert sum(AIR.tanks_m3[:3]) == pytest.approx(own)


def test_least_compressor() -> None:
    """F4: 85 to 100 psi in 25 s (fmvss_121 S5.1.1, seen) with those tanks: 7.89 cfm; 1.6 x the volume may take 40 s."""
    own, _ = least_reservoirs_m3(TRUCK)
    assert least_compressor_m3ps(own) / CFM_M3PS == pytest.approx(7.89, abs=0.01)
    times = [build_up_s(replace(AIR, tanks_m3=tuple(factor * tank for tank in AIR.tanks_m3)),  # type: ignore[arg-type]
                        from_kpa=85 * PSI_KPA, to_kpa=100 * PSI_KPA, engine_rpm=AIR.compressor_rpm) for factor in (1, 1.6)]
    assert times == [pytest.approx(25.0), pytest.approx(40.0)]


def test_one_snub_takes_what_the_closed_form_says() -> None:
    """A3 (derived): 464 in3 of chambers at 60 % of travel on 5568 in3: 10, 20, 30 psi take 1.235, 1.735, 2.235 psi."""
    drops = [application_drop_kpa(0.6 * 464 * IN3, psi * PSI_KPA, 5568 * IN3) / PSI_KPA for psi in (10, 20, 30)]
    assert drops == pytest.approx([1.235, 1.735, 2.235], abs=0.001)


@pytest.mark.parametrize(("volumes", "start_psi", "times", "end_psi"), [
    (12, 100, 1, 91.18), (12, 120, 1, 109.64), (8, 100, 1, 87.26), (12, 100, 8, 45.76)])
def test_full_applications_equalise(volumes: float, start_psi: float, times: int, end_psi: float) -> None:
    """A2 (derived, isothermal, absolute pressures): by the closed form, and by the time-stepped kernel's own exchange."""
    closed = start_psi * PSI_KPA
    for _ in range(times):
        closed = equalised_kpa(closed, volumes)
    assert closed / PSI_KPA == pytest.approx(end_psi, abs=0.01)
    row = packed_rows(TRUCK)[1].copy()
    chambers = np.array([[0.0, 1.0, 1.0, 1.0]])               # no swept volume: 1 m3 of clearance, primary circuit
    pressure = np.full(4, start_psi * PSI_KPA)
    volume = np.array([1e-9, volumes, 1.0, 0.0])
    lost = np.zeros(4, dtype=np.int64)
    for _ in range(times):
        cast(Any, kernel.apply_brakes)(pressure, volume, row[None, :], chambers, np.array([25.0]), lost, 0.0, pressure[1])
    assert pressure[1] / PSI_KPA == pytest.approx(end_psi, abs=0.01)


def test_air_is_neither_made_nor_lost_between_reservoirs() -> None:
    pressure, volume = np.array([900.0, 500.0, 800.0, 300.0]), np.array(AIR.tanks_m3)
    before = float(pressure @ volume)
    cast(Any, kernel.equalise)(pressure, volume, np.zeros(4, dtype=np.int64), _parameters(AIR))
    assert float(pressure @ volume) == pytest.approx(before, rel=1e-12)
    assert pressure[0] <= min(pressure[1:3]) + 1e-6            # the supply feeds, it is not fed
    assert pressure[3] >= max(300.0, min(pressure[1:3]) - 1e-6)


def test_what_a_snub_takes_is_what_its_chambers_hold() -> None:
    """One application of the kernel against the sum over the chambers by hand: A s + clearance at the stroke of the
    pressure (25 C, no growth)."""
    psi = 20 * PSI_KPA
    gone = 0.0
    for row in TRUCK.rows:
        brake = row.brake
        stroke = brake.stroke_m + brake.stroke_per_kpa_m * (psi - 85 * PSI_KPA)
        clearance = brake.chamber.volume_m3 - brake.chamber.area_m2 * brake.chamber.full_stroke_m
        gone += brake.count * (brake.chamber.area_m2 * stroke + clearance) * (psi + ATMOSPHERE_KPA)
    pressure, volume = np.full(4, 800.0), np.array(AIR.tanks_m3)
    before = float(pressure @ volume)
    cast(Any, kernel.apply_brakes)(pressure, volume, packed_rows(TRUCK), _chamber_table(TRUCK, AIR), np.full(3, 25.0),
                                   np.zeros(4, dtype=np.int64), 0.0, psi)
    assert before - float(pressure @ volume) == pytest.approx(gone, rel=1e-9)


def test_the_time_stepped_compressor_meets_the_build_up_time() -> None:
    """No leak, no trailer, no braking: 85 to 100 psi in 25 s, within one step of a second."""
    tight = replace(AIR, leak_released_kpaps=0.0, leak_applied_kpaps=0.0, tanks_m3=(*AIR.tanks_m3[:3], 0.0),
                    cut_in_kpa=110 * PSI_KPA)
    log = _Log(np.arange(61.0), np.arange(61.0), np.full(61, -1.0), np.zeros(61), np.zeros((60, 2)),
               np.full((61, 3), 25.0), np.full(61, tight.compressor_rpm))
    history = _history(log, TRUCK, tight, 85 * PSI_KPA, None)
    at = np.interp(100 * PSI_KPA, history.tank_kpa[:, 0], np.arange(61.0))
    assert at == pytest.approx(25.0, abs=1.0)


def test_the_governor_works_between_cut_in_and_cut_out() -> None:
    history = repeated(TRUCK, AIR, pressure_kpa=20 * PSI_KPA, count=400)
    supply = history.tank_kpa[:, 0]
    assert history.loadings >= 2
    assert supply.max() <= AIR.cut_out_kpa + 1e-9
    assert supply.min() > AIR.warning_kpa
    assert history.warning_node is None and history.short_node is None


def test_a_dead_compressor_brings_the_warning_and_then_the_springs() -> None:
    dead = snubs_until(TRUCK, replace(AIR, compressor_m3ps=0.0), application_kpa=20 * PSI_KPA, temps_c=WARM, braking_s=3,
                       interval_s=15, engine_rpm=1800)
    assert dead.to_cut_in is not None and dead.to_warning is not None and dead.to_spring is not None
    assert 0 < dead.to_cut_in < dead.to_warning < dead.to_spring
    assert dead.seconds_to(dead.to_warning) == 15 * dead.to_warning
    sound = snubs_until(TRUCK, AIR, application_kpa=20 * PSI_KPA, temps_c=WARM, braking_s=3, interval_s=15,
                        engine_rpm=1800)
    assert sound.to_warning is None and sound.seconds_to(sound.to_warning) is None


def test_a_lost_half_leaves_the_other_what_it_holds() -> None:
    """Check valves: the hole empties the supply, so nothing is refilled; with protection valves it is."""
    kept = repeated(TRUCK, AIR, pressure_kpa=15 * PSI_KPA, count=60, lost=Circuit.PRIMARY)
    assert kept.tank_kpa[1:, 0].max() == 0.0 and kept.tank_kpa[:, 1].max() == 0.0
    assert kept.service_kpa[0] == pytest.approx(AIR.cut_out_kpa)
    filled = repeated(TRUCK, replace(AIR, protection=Protection.PROTECTION_VALVES), pressure_kpa=15 * PSI_KPA, count=60,
                      lost=Circuit.PRIMARY)
    assert filled.least_kpa > kept.least_kpa


def test_a_torn_off_trailer_line_stops_at_the_protection_valve() -> None:
    """The tractor keeps what its protection valve holds back, 20 to 45 psi (cdl_manual_air_brakes, seen-2)."""
    torn = repeated(TRUCK, replace(AIR, compressor_m3ps=0.0, leak_released_kpaps=0.0, leak_applied_kpaps=0.0),
                    pressure_kpa=0.0, count=2, lost=Circuit.TRAILER)
    assert torn.service_kpa[-1] == pytest.approx(45 * PSI_KPA)


@given(st.floats(0, 0.5), st.floats(0, 0.5), st.floats(5, 60))
@settings(max_examples=25)
def test_more_leak_never_more_pressure(leak: float, more: float, psi: float) -> None:
    tight = replace(AIR, leak_released_kpaps=leak, leak_applied_kpaps=leak, compressor_m3ps=0.0)
    leaky = replace(AIR, leak_released_kpaps=leak + more, leak_applied_kpaps=leak + more, compressor_m3ps=0.0)
    first, second = (repeated(TRUCK, air, pressure_kpa=psi * PSI_KPA, count=40) for air in (tight, leaky))
    assert np.all(second.service_kpa <= first.service_kpa + 1e-6)


@given(st.floats(0.8, 2.0), st.floats(0, 0.5), st.floats(5, 80), st.floats(20, 300), st.floats(0, 200))
@settings(max_examples=25)
def test_longer_stroke_more_pressure_or_heat_never_take_less_air(stroke_in: float, longer_in: float, psi: float,
                                                                temp_c: float, hotter_k: float) -> None:
    dead = replace(AIR, compressor_m3ps=0.0)
    base = repeated(with_stroke(TRUCK, stroke_in * INCH_M), dead, pressure_kpa=psi * PSI_KPA, count=6, temp_c=temp_c)
    for other in (repeated(with_stroke(TRUCK, (stroke_in + longer_in) * INCH_M), dead, pressure_kpa=psi * PSI_KPA, count=6,
                           temp_c=temp_c),
                  repeated(with_stroke(TRUCK, stroke_in * INCH_M), dead, pressure_kpa=psi * PSI_KPA, count=6,
                           temp_c=temp_c + hotter_k)):
        assert np.all(other.service_kpa <= base.service_kpa + 1e-6)


def test_editions_of_the_warning_are_named_and_none_is_silent() -> None:
    """60 psi (fmvss_121_tables, memory-high), 55 psi or half of cut-out, whichever is less (cfr_393_51, memory-medium),
    80 psi on large buses (practice)."""
    at = {rule: rule.pressure_kpa(100 * PSI_KPA) / PSI_KPA for rule in WarningRule}
    assert at == {WarningRule.BEFORE_60: pytest.approx(60), WarningRule.BEFORE_55: pytest.approx(55),
                  WarningRule.HALF_OF_CUT_OUT: pytest.approx(50), WarningRule.LARGE_BUS: pytest.approx(80)}
    assert WarningRule.HALF_OF_CUT_OUT.pressure_kpa(125 * PSI_KPA) == pytest.approx(55 * PSI_KPA)
    assert any("editions" in text for text in AIR.assumptions)
    coach = load_vehicle("motorcoach")
    assert body_of(coach) is Body.BUS and air_supply(coach).warning_kpa == pytest.approx(80 * PSI_KPA)
    assert air_supply(coach).cut_in_kpa == pytest.approx(85 * PSI_KPA)       # fmvss_121, seen
