# SPDX-License-Identifier: MIT
"""The pieces of a debrief one by one: clock, matching, motion, gears, braking; and heat through time."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest

from debrief.made_drives import PIECES, winding_profile
from descent.debrief.braking import braking_of, windows_of
from descent.debrief.clock import right_clock
from descent.debrief.gears import CRUISE, NEUTRAL, gears_by_engine_speed
from descent.debrief.matching import match_to_road
from descent.debrief.motion import Motion, smooth_motion
from descent.debrief.recording import Recording
from descent.errors import RouteError
from descent.physics.brake_heat import packed_rows
from descent.physics.driveline import engine_rpm_per_mps
from descent.physics.foundation_brake import CAPACITY, COOL_REST
from descent.physics.heat_history import temperatures_through
from descent.vehicle.catalogue import load_vehicle


def straight_drive(speed_mps: np.ndarray, clock_s: np.ndarray) -> Recording:
    """Due east along the equator."""
    travelled = np.concatenate([[0.0], np.cumsum(0.5 * (speed_mps[1:] + speed_mps[:-1]))])
    missing = np.full(len(speed_mps), np.nan)
    return Recording("east", travelled / 111319.49, np.zeros(len(speed_mps)), clock_s, missing, speed_mps, missing)


def test_a_clock_that_runs_well_is_left_alone() -> None:
    clock = np.arange(0.0, 100.0)
    timed = right_clock(straight_drive(np.full(100, 20.0), clock + 1e9), "x")
    assert timed.happenings == () and np.allclose(timed.recording.clock_s, clock)


@pytest.mark.parametrize("jump", [7200.0, 45.0, -30.0, -7200.0])
def test_a_jump_of_the_clock_is_taken_out(jump: float) -> None:
    clock = np.arange(0.0, 100.0)
    clock[50:] += jump
    timed = right_clock(straight_drive(np.full(100, 20.0), clock), "x")
    (found,) = timed.happenings
    assert found.kind == "clock-jump" and found.seconds == pytest.approx(jump, abs=0.5)
    assert np.allclose(np.diff(timed.recording.clock_s), 1.0, atol=0.3)


def test_a_pause_at_rest_and_a_tunnel_are_no_jumps_of_the_clock() -> None:
    speed = np.concatenate([np.linspace(20, 0, 40), np.linspace(0, 20, 40)])
    clock = np.arange(80.0)
    clock[40:] += 600.0
    assert right_clock(straight_drive(speed, clock), "x").happenings == ()
    whole = straight_drive(np.full(200, 20.0), np.arange(200.0))
    keep = np.concatenate([np.arange(80), np.arange(150, 200)])
    cut = Recording("tunnel", whole.lon[keep], whole.lat[keep], whole.clock_s[keep], whole.elevation_m[keep],
                    whole.speed_mps[keep], whole.engine_rpm[keep])
    timed = right_clock(cut, "x")
    assert timed.happenings == () and timed.recording.clock_s[-1] == 199.0


def test_times_that_repeat_add_nothing() -> None:
    clock = np.repeat(np.arange(50.0), 2)
    timed = right_clock(straight_drive(np.full(100, 10.0), clock), "x")
    assert (np.diff(timed.recording.clock_s) > 0.4).all()
    with pytest.raises(RouteError, match="too short"):
        right_clock(straight_drive(np.full(40, 10.0), np.repeat([0.0, 40.0], 20)), "x")


def test_stations_are_found_on_a_winding_road_and_off_it_there_is_none() -> None:
    profile = winding_profile(PIECES)
    at = np.arange(200.0, 8000.0, 18.0)
    lon, lat = np.interp(at, profile.station_m, profile.lon), np.interp(at, profile.station_m, profile.lat)
    road = {"road_lon": profile.lon, "road_lat": profile.lat, "road_station_m": profile.station_m}
    found = match_to_road(lon, lat + 5.0 / 111195.0, np.arange(len(at)), **road)
    assert np.abs(found.station_m - at).max() < 6.0
    away = match_to_road(lon, lat + 0.1, np.arange(len(at)), **road)
    assert np.isnan(away.station_m).all()


def test_the_other_leg_of_a_hairpin_is_not_taken() -> None:
    """Two legs 24 m apart: one fix lies nearer the other leg, but the drive goes on along its own."""
    out = np.column_stack([np.linspace(0, 600, 61), np.zeros(61)])
    turn = np.column_stack([600 + 12 * np.sin(np.linspace(0.3, 2.8, 5)), 12 - 12 * np.cos(np.linspace(0.3, 2.8, 5))])
    back = np.column_stack([np.linspace(600, 0, 61), np.full(61, 24.0)])
    xy = np.concatenate([out, turn, back]) / 111195.0
    station = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(xy * 111195.0, axis=0).T))])
    fixes = np.array([[x, 16.0 if x == 300 else 1.0] for x in range(0, 500, 15)]) / 111195.0
    found = match_to_road(fixes[:, 0], fixes[:, 1], np.arange(len(fixes)), road_lon=xy[:, 0], road_lat=xy[:, 1],
                          road_station_m=station)
    assert np.abs(found.station_m - fixes[:, 0] * 111195.0).max() < 15.0


def test_smoothing_is_nearer_the_truth_than_the_column_and_says_how_near() -> None:
    rng = np.random.default_rng(1)
    time = np.arange(0.0, 900.0)
    speed = 15.0 + 3.0 * np.sin(time / 15.0)
    station = np.concatenate([[0.0], np.cumsum(0.5 * (speed[1:] + speed[:-1]))])
    motion = smooth_motion(time, station + rng.normal(0, 0.5, 900), speed + rng.normal(0, 0.25, 900))
    error = motion.speed_mps - speed
    assert np.std(error) < 0.16
    assert 0.8 < np.mean(np.abs(error) < 1.645 * motion.speed_sd_mps) <= 1.0
    assert not motion.standing.any()


def test_gears_by_engine_speed() -> None:
    truck = load_vehicle("tractor-semitrailer")
    time = np.arange(60.0)
    speed = np.full(60, 12.0)
    rpm = np.concatenate([np.full(20, 12.0 * engine_rpm_per_mps(truck.gearbox, 5)), np.full(3, 900.0 + 77),
                          np.full(17, 12.0 * engine_rpm_per_mps(truck.gearbox, 4) * 1.03),
                          np.full(20, truck.engine.idle_rpm)])
    gear = gears_by_engine_speed(truck, time, speed, rpm)
    assert set(gear[:20]) == {5} and set(gear[24:38]) == {4} and set(gear[-14:]) == {NEUTRAL}
    assert set(gears_by_engine_speed(truck, time, speed, np.full(60, np.nan))) == {CRUISE}


def motion_of(n: int, speed: float, *, speed_sd: float = 0.12, acceleration_sd: float = 0.1) -> Motion:
    time = np.arange(n + 1.0)
    return Motion(time, time * speed, np.full(n + 1, speed), np.full(n + 1, speed_sd), np.full(n + 1, acceleration_sd),
                  np.ones(n + 1, dtype=bool), np.zeros(n + 1, dtype=bool), np.zeros(n + 1, dtype=bool))


def speed_noise_force(rng: np.random.Generator, n: int, mass: float, sd: float) -> np.ndarray:
    """The force that independent errors of speed, smoothed over three samples, feign."""
    error = np.convolve(rng.normal(0, sd * math.sqrt(3), n + 3), np.full(3, 1 / 3), "valid")[:n + 1]
    return -mass * np.diff(error)


def test_noise_is_not_counted_as_braking() -> None:
    """An hour of coasting with nothing but noise: rectified sample by sample it would be mass x sd x speed / s."""
    rng = np.random.default_rng(5)
    mass, speed, n = 36000.0, 15.0, 3600
    force = speed_noise_force(rng, n, mass, 0.12)
    motion = motion_of(n, speed)
    found = braking_of(force, np.full(n, speed), motion, mass, windows_of(motion))
    rectified = float(np.maximum(force, 0.0).sum()) * speed
    assert found.force_n.min() >= 0.0
    assert float(found.force_n.sum()) * speed < 0.03 * rectified


def test_light_steady_braking_under_the_noise_is_found_in_full() -> None:
    rng = np.random.default_rng(6)
    mass, speed, n, drag = 36000.0, 15.0, 1200, 3000.0
    force = speed_noise_force(rng, n, mass, 0.12)
    force[300:900] += drag
    motion = motion_of(n, speed)
    found = braking_of(force, np.full(n, speed), motion, mass, windows_of(motion))
    assert float(found.force_n.sum()) == pytest.approx(600 * drag, rel=0.08)


def test_applications_are_told_apart_and_their_work_is_kept() -> None:
    rng = np.random.default_rng(7)
    mass, speed, n = 36000.0, 15.0, 1200
    force = speed_noise_force(rng, n, mass, 0.12)
    for start in range(50, 1150, 50):
        force[start:start + 3] += 35e3
    motion = motion_of(n, speed)
    found = braking_of(force, np.full(n, speed), motion, mass, windows_of(motion))
    assert sum(not light for _, _, light in found.applications) == 22
    assert float(found.force_n.sum()) == pytest.approx(22 * 3 * 35e3, rel=0.04)


def test_a_gap_is_one_window() -> None:
    motion = motion_of(100, 15.0)
    seen = motion.seen.copy()
    seen[31:60] = False
    windows = windows_of(replace(motion, seen=seen))
    assert (30, 60) in windows and windows[0][0] == 0 and windows[-1][1] == 100
    assert all(a[1] == b[0] for a, b in itertools.pairwise(windows))


def test_heat_through_time_cools_by_the_closed_form() -> None:
    """Newton cooling at rest, the cautious fraction counted: T = air + (T0 - air) exp(-f h t / C)."""
    truck = load_vehicle("tractor-semitrailer")
    rows = packed_rows(truck)
    n = 600
    temps = temperatures_through(truck, np.ones(n), np.zeros(n), np.zeros(n), cool=np.full(n, 0.9), air_temp_c=20.0,
                                 start_temps_c=np.full(3, 220.0), parked_fraction=0.6, most_kpa=690.0)
    expected = 20.0 + 200.0 * np.exp(-0.6 * 0.9 * rows[:, COOL_REST] / rows[:, CAPACITY] * n)
    assert np.allclose(temps[-1], expected)


def test_a_long_stop_is_one_stop_though_the_receiver_notes_small_speeds() -> None:
    """Seventy minutes at rest: noted speeds are noise without a sign, positions wander by metres."""
    rng = np.random.default_rng(3)
    speed = np.concatenate([np.full(100, 15.0), np.linspace(15, 0, 30), np.zeros(4200), np.linspace(0, 15, 30), np.full(100, 15.0)])
    station = np.concatenate([[0.0], np.cumsum(0.5 * (speed[1:] + speed[:-1]))])
    wander = np.zeros(len(speed))
    for k in range(1, len(speed)):
        wander[k] = 0.978 * wander[k - 1] + rng.normal(0, 3.0 * math.sqrt(1 - 0.978**2))
    motion = smooth_motion(np.arange(float(len(speed))), station + wander, np.abs(speed + rng.normal(0, 0.25, len(speed))))
    edges = np.flatnonzero(np.diff(np.concatenate([[0], motion.standing.astype(int), [0]])))
    assert len(edges) == 2 and edges[1] - edges[0] == pytest.approx(4200, abs=6)
