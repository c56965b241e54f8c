# SPDX-License-Identifier: MIT
"""A simulated drive, recorded with a receiver's noise, is found again: brake energy, temperature, and a band that covers.

The truth is driven by other drivers than the plan's (softer snubs, other approach), once by the independent reference
driver (time domain, formulas written apart from the compiled march).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from debrief.made_drives import (
    Fixes,
    Truth,
    debrief_of,
    driven,
    driven_otherwise,
    planned,
    recorded,
    tables_for,
    with_engine_speed,
)
from descent.physics.march import cells_of
from descent.plan.verify import schedule_of
from physics.reference_driver import ReferenceDriver

FLEET = [("tractor-semitrailer-retarder", 36287.0), ("motorcoach", 18000.0), ("straight-truck", 11000.0)]
SHORT = ((1200.0, -0.005), (2600.0, -0.065), (900.0, -0.01))


@pytest.mark.parametrize("seed", [3, 4, 5])
@pytest.mark.parametrize(("name", "gross_kg"), FLEET)
def test_energy_within_five_percent_and_peak_within_ten_degrees(name: str, gross_kg: float, seed: int) -> None:
    plan = planned(name, gross_kg)
    truth = driven(plan)
    found = debrief_of(plan, with_engine_speed(plan, truth, recorded(plan, truth, seed)), engine=True, draws=30)
    assert found.heat.energy_j.value == pytest.approx(truth.brakes_j, rel=0.05)
    for row, peak in enumerate(found.heat.peaks_c):
        assert peak.value == pytest.approx(truth.peak_c[row], abs=10.0)
        assert peak.low <= truth.peak_c[row] <= peak.high
    assert found.heat.energy_j.low <= truth.brakes_j <= found.heat.energy_j.high


@pytest.mark.parametrize("noise", [{"position_sd_m": 4.0, "wander_s": 30.0, "speed_sd_mps": 0.3},
                                   {"position_sd_m": 2.0, "wander_s": 60.0, "speed_sd_mps": 0.1}])
def test_other_receivers(noise: dict[str, float]) -> None:
    plan = planned(*FLEET[0])
    truth = driven(plan)
    found = debrief_of(plan, recorded(plan, truth, 8, **noise), draws=20)
    assert found.heat.energy_j.value == pytest.approx(truth.brakes_j, rel=0.05)
    assert found.heat.peaks_c[found.hottest].value == pytest.approx(truth.peak_c.max(), abs=10.0)


def test_against_the_reference_driver() -> None:
    """The truth from solve_ivp; its brake energy is heat stored plus heat lost, by the trapezoid rule over the nodes."""
    plan = planned("tractor-semitrailer", 36287.0, pieces=SHORT)
    assert plan.solution is not None
    task = plan.task
    driving = replace(task.driving, snub_drop_mps=2.0, snub_decel_mps2=0.7)
    cells, tables = cells_of(task.profile, task.vehicle, task.day), tables_for(plan)
    schedule = schedule_of(task, cells, tables, plan.solution)
    times, speeds, temps = ReferenceDriver(cells, task.vehicle, tables.settings, schedule, task.day, driving,
                                           density_ratio=task.density_ratio, tolerance=1e-6).drive()
    lost, stored = 0.0, 0.0
    for i, row in enumerate(task.vehicle.rows):
        b = row.brake
        seconds = np.diff(times) - np.maximum(schedule.dwell_s[:-1], 0.0)
        v = 0.5 * (speeds[1:] + speeds[:-1])
        over = 0.5 * (temps[1:, i] + temps[:-1, i]) - task.day.air_temp_c
        cool = (b.cooling_wpk + b.cooling_wpk_per_mps * v) * cells.cool * b.count
        lost += float((cool * over * np.maximum(seconds, 0.0)).sum())
        stored += b.heat_capacity_jpk * b.count * float(temps[-1, i] - temps[0, i])
        for node in np.flatnonzero(schedule.dwell_s > 0.0):
            rest = task.driving.parked_cooling_fraction * cells.cool[node] * b.cooling_wpk / b.heat_capacity_jpk
            gone = 1.0 - np.exp(-rest * schedule.dwell_s[node])
            lost += b.heat_capacity_jpk * b.count * float(temps[node, i] - task.day.air_temp_c) * gone
    stands = schedule.dwell_s > 0.0
    index = np.repeat(np.arange(len(times)), 1 + stands)
    leaving = np.concatenate([[False], index[1:] == index[:-1]])
    truth = Truth(times[index] + np.where(leaving, schedule.dwell_s[index], 0.0), task.profile.station_m[index],
                  np.where(leaving, 0.0, speeds[index]), stored + lost, temps.max(axis=0), temps[-1], plan.trace)
    found = debrief_of(plan, recorded(plan, truth, 2), draws=20)
    assert found.heat.energy_j.value == pytest.approx(stored + lost, rel=0.05)
    assert found.heat.peaks_c[found.hottest].value == pytest.approx(temps.max(), abs=10.0)


def test_band_covers_a_world_that_differs_from_what_is_known() -> None:
    """Weight, grade, engine, retarder, rolling and air each off by about their stated doubt: a 90 % band should hold most
    of 12 such worlds. With 0.9 each, eight or fewer of 12 happen once in 40 runs of other seeds (binomial)."""
    plan = planned(*FLEET[0])
    energy = heat = 0
    for seed in range(12):
        truth = driven_otherwise(plan, seed)
        found = debrief_of(plan, with_engine_speed(plan, truth, recorded(plan, truth, seed)), engine=True, draws=40)
        energy += found.heat.energy_j.low <= truth.brakes_j <= found.heat.energy_j.high
        peak = found.heat.peaks_c[found.hottest]
        heat += peak.low <= truth.peak_c[found.hottest] <= peak.high
    assert energy >= 9 and heat >= 9


def test_an_unknown_gear_widens_the_band() -> None:
    plan = planned(*FLEET[0])
    truth = driven(plan)
    fixes = with_engine_speed(plan, truth, recorded(plan, truth, 1))
    known, assumed = (debrief_of(plan, fixes, engine=engine, draws=30).heat.energy_j for engine in (True, False))
    assert assumed.high - assumed.low > 1.5 * (known.high - known.low)


def disturbed(fixes: Fixes) -> Fixes:
    """A tunnel of 40 s, a position jump of 80 m for 7 s, the clock an hour ahead and later ten minutes back, a pause cut
    out of a stop, and one single fix far away."""
    keep = np.ones(len(fixes.time_s), dtype=bool)
    keep[560:600] = False
    standing = np.flatnonzero(fixes.speed_mps < 0.6)
    keep[standing[60:200]] = False
    lat, time = fixes.lat.copy(), fixes.time_s.copy()
    lat[650:657] += 80.0 / 111195.0
    lat[700] += 0.2
    time[720:] += 3600.0
    time[800:] -= 4200.0
    return Fixes(fixes.lon[keep], lat[keep], time[keep], fixes.speed_mps[keep], fixes.rpm[keep])


def test_jumps_pauses_tunnels_and_clocks() -> None:
    plan = planned(*FLEET[0])
    truth = driven(plan)
    found = debrief_of(plan, disturbed(recorded(plan, truth, 6)), draws=20)
    assert found.heat.energy_j.value == pytest.approx(truth.brakes_j, rel=0.05)
    assert found.heat.peaks_c[found.hottest].value == pytest.approx(truth.peak_c.max(), abs=10.0)
    assert found.seconds == pytest.approx(truth.time_s[-1], abs=5.0)
    happened = [(item.kind, item.seconds) for item, _ in found.drive.happenings]
    assert [round(seconds) for kind, seconds in happened if kind == "clock-jump"] == [3600, -4200]
    assert [kind for kind, _ in happened].count("gap") == 1
    assert [kind for kind, _ in happened].count("pause") == 1
    assert "gps-jump" in {kind for kind, _ in happened}


def test_the_same_recording_gives_the_same_answer() -> None:
    plan = planned(*FLEET[2])
    fixes = recorded(plan, driven(plan), 1)
    one, other = (debrief_of(plan, fixes, draws=10) for _ in range(2))
    assert one.heat.energy_j == other.heat.energy_j and np.array_equal(one.heat.high_c, other.heat.high_c)


@pytest.mark.parametrize(("name", "gross_kg"), FLEET)
def test_from_positions_alone_the_band_still_covers(name: str, gross_kg: float) -> None:
    plan = planned(name, gross_kg)
    truth = driven(plan)
    for seed in (1, 2):
        found = debrief_of(plan, recorded(plan, truth, seed), speed=False, draws=40)
        assert found.heat.energy_j.low <= truth.brakes_j <= found.heat.energy_j.high
        assert all(leg.applications is None for leg in found.legs)
