# SPDX-License-Identifier: MIT
"""Simulated drives on a winding road, recorded as a receiver would: what a debrief must find again is known here."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from descent.debrief.clock import right_clock
from descent.debrief.debrief import debriefed
from descent.debrief.drive import driven_on
from descent.debrief.model import Debrief
from descent.debrief.planned import planned_of
from descent.debrief.recording import Recording
from descent.downgrades.find import sustained_downgrades
from descent.physics.driveline import engine_rpm_per_mps
from descent.physics.march import Cells, Day, Driving, ForceTables, Setting, cells_of, force_tables, march
from descent.physics.trace import DescentTrace
from descent.plan.explain import explained
from descent.plan.limits import steep_side
from descent.plan.model import DescentPlan, Rules, Task
from descent.plan.verify import schedule_of
from descent.route.line import WGS84, Route
from descent.route.places import Place
from descent.terrain.road_profile import RoadProfile
from descent.units import MPH_MPS
from descent.vehicle.catalogue import load_vehicle
from made_roads import straight_profile

PIECES = [(1500.0, -0.005), (5200.0, -0.062), (600.0, -0.004), (4200.0, -0.07), (2500.0, -0.01)]


def winding_profile(pieces: list[tuple[float, float]], *, grade_sd: float = 0.002) -> RoadProfile:
    """A made road laid along a winding line with curves of some 250 m radius."""
    made = straight_profile(pieces, grade_sd=grade_sd)
    heading = 70.0 + 55.0 * np.sin(2 * np.pi * made.station_m / 1500.0)
    lon, lat = [-117.0], [44.0]
    for index in range(len(heading) - 1):
        east, north, _ = WGS84.fwd(lon[-1], lat[-1], 0.5 * (heading[index] + heading[index + 1]), made.spacing_m)
        lon.append(east)
        lat.append(north)
    return replace(made, lon=np.array(lon), lat=np.array(lat), elevation_sd_m=np.full(len(heading), 1.0))


def places_on(profile: RoadProfile) -> tuple[Place, ...]:
    at = [("Upper Larch check area", "brake-check-area", 1000.0), ("Middle Flat pull-out", "pull-out", 7000.0)]
    return tuple(Place(name, kind, float(profile.lon[int(s // 10)]), float(profile.lat[int(s // 10)]), s, 5.0, "right", 0.0,
                       80.0, {}) for name, kind, s in at if s < profile.length_m)


@cache
def planned(name: str, gross_kg: float, *, pieces: tuple[tuple[float, float], ...] = tuple(PIECES)) -> DescentPlan:
    """A plan for a catalogue vehicle on the winding road."""
    profile = winding_profile(list(pieces))
    downgrades = sustained_downgrades(profile)
    n = len(profile.station_m)
    vehicle = load_vehicle(name, gross_kg=gross_kg)
    task = Task(profile, downgrades, places_on(profile), vehicle, Day(20.0, 65.6, 0.6), Driving(),
                Rules(15 * MPH_MPS, 5 * MPH_MPS, MPH_MPS), np.full(n, 55 * MPH_MPS), np.ones(n, dtype=bool),
                np.full(n, 45.0), steep_side(profile, downgrades))
    return explained(task, slippery=False)


@dataclass(frozen=True)
class Truth:
    """What really happened: time, station, speed at the nodes (a stop repeats its node), brake energy and peaks."""

    time_s: np.ndarray
    station_m: np.ndarray
    speed_mps: np.ndarray
    brakes_j: float
    peak_c: np.ndarray
    end_c: np.ndarray
    trace: DescentTrace


def another_driver(plan: DescentPlan) -> Driving:
    """Someone who snubs a little softer and shorter than the plan's driver, and gains speed otherwise."""
    return replace(plan.task.driving, snub_drop_mps=1.9, snub_decel_mps2=0.62, approach_mps2=0.4, rise_mps2=0.24,
                   release_mps2=0.08)


def tables_for(plan: DescentPlan, *, density_ratio: float | None = None) -> ForceTables:
    assert plan.solution is not None
    settings = tuple(dict.fromkeys(Setting(leg.instruction.gear, leg.instruction.stage) for leg in plan.solution.legs))
    return force_tables(plan.task.vehicle, settings, plan.task.driving,
                        density_ratio=plan.task.density_ratio if density_ratio is None else density_ratio)


def driven(plan: DescentPlan, *, driving: Driving | None = None, grade: np.ndarray | None = None,
           faster_mps: float = 0.0) -> Truth:
    """The plan driven on the true grade; faster_mps: added to every control speed."""
    assert plan.solution is not None
    task, driving = plan.task, driving or another_driver(plan)
    cells: Cells = cells_of(task.profile, task.vehicle, task.day, grade=grade)
    solution = replace(plan.solution, legs=tuple(
        replace(leg, instruction=replace(leg.instruction, control_mps=leg.instruction.control_mps + faster_mps))
        for leg in plan.solution.legs))
    tables = tables_for(plan)
    schedule = schedule_of(replace(task, driving=driving), cells, tables, solution)
    trace = march(cells, task.vehicle, tables, schedule, task.day, driving, start_speed_mps=float(schedule.cap_mps[0]))
    repeated = trace.dwell_s > 0
    index = np.repeat(np.arange(len(trace.station_m)), 1 + repeated)
    leaving = np.concatenate([[False], index[1:] == index[:-1]])
    return Truth(trace.time_s[index] + np.where(leaving, trace.dwell_s[index], 0.0), trace.station_m[index],
                 trace.speed_mps[index], trace.energy_j["brakes_j"], trace.temp_c.max(axis=0), trace.temp_c[-1], trace)


@dataclass(frozen=True)
class Fixes:
    lon: np.ndarray
    lat: np.ndarray
    time_s: np.ndarray
    speed_mps: np.ndarray
    rpm: np.ndarray


def at_times(truth: Truth, times: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Station and speed at times: constant acceleration between nodes."""
    i = np.clip(np.searchsorted(truth.time_s, times, side="right") - 1, 0, len(truth.time_s) - 2)
    dt = truth.time_s[i + 1] - truth.time_s[i]
    share = np.where(dt > 0, (times - truth.time_s[i]) / np.where(dt > 0, dt, 1.0), 0.0)
    v0, v1 = truth.speed_mps[i], truth.speed_mps[i + 1]
    speed = v0 + share * (v1 - v0)
    station = truth.station_m[i] + np.where(truth.station_m[i + 1] > truth.station_m[i],
                                            share * dt * 0.5 * (v0 + speed), 0.0)
    return np.minimum(station, truth.station_m[-1]), speed


def recorded(plan: DescentPlan, truth: Truth, seed: int, *, position_sd_m: float = 3.0, wander_s: float = 45.0,
             speed_sd_mps: float = 0.2) -> Fixes:
    """Fixes at 1 Hz: positions off by a slow wander (east and north apart) and a little jitter, speeds by white noise."""
    rng = np.random.default_rng(seed)
    times = np.arange(0.0, truth.time_s[-1], 1.0)
    station, speed = at_times(truth, times)
    profile = plan.task.profile
    lon, lat = np.interp(station, profile.station_m, profile.lon), np.interp(station, profile.station_m, profile.lat)
    keep, off = np.exp(-1.0 / wander_s), np.zeros((len(times), 2))
    off[0] = rng.normal(0, position_sd_m, 2)
    for k in range(1, len(times)):
        off[k] = keep * off[k - 1] + rng.normal(0, position_sd_m * np.sqrt(1 - keep * keep), 2)
    off += rng.normal(0, 0.3, off.shape)
    return Fixes(lon + off[:, 0] / (111195.0 * np.cos(np.radians(lat))), lat + off[:, 1] / 111195.0, times,
                 np.maximum(speed + rng.normal(0, speed_sd_mps, len(times)), 0.0), np.full(len(times), np.nan))


def csv_of(fixes: Fixes, *, speed: bool = True, engine: bool = False) -> str:
    """The fixes as a CSV file with times in seconds."""
    heads = ["time_s", "lon", "lat", *(["speed [km/h]"] if speed else []), *(["engine_rpm"] if engine else [])]
    lines = [",".join(heads)]
    for k in range(len(fixes.time_s)):
        cells = [f"{fixes.time_s[k]:.1f}", f"{fixes.lon[k]:.7f}", f"{fixes.lat[k]:.7f}"]
        cells += [f"{3.6 * fixes.speed_mps[k]:.2f}"] if speed else []
        cells += ["" if np.isnan(fixes.rpm[k]) else f"{fixes.rpm[k]:.0f}"] if engine else []
        lines.append(",".join(cells))
    return "\n".join(lines) + "\n"


def correlated(rng: np.random.Generator, n: int, spacing_m: float, length_m: float) -> np.ndarray:
    """Unit errors along a road, alike over a length (Gauss-Markov)."""
    keep, out = np.exp(-spacing_m / length_m), rng.standard_normal(n)
    for k in range(1, n):
        out[k] = keep * out[k - 1] + np.sqrt(1 - keep * keep) * out[k]
    return out


def driven_otherwise(plan: DescentPlan, seed: int) -> Truth:
    """The plan driven by another driver in a world that differs from what is known: weight, grade, rolling, air, engine,
    retarder, each by about its stated doubt."""
    rng = np.random.default_rng(1000 + seed)
    one, vehicle = rng.standard_normal(5), plan.task.vehicle
    profile = plan.task.profile
    grade = profile.grade + profile.grade_sd * correlated(rng, len(profile.grade), profile.spacing_m,
                                                              profile.grade_correlation_m)
    engine = replace(vehicle.engine, displacement_m3=vehicle.engine.displacement_m3 * (1 + 0.1 * one[0]))
    stages = tuple((name, share * (1 + 0.08 * one[1])) for name, share in vehicle.retarder.stages)
    world = replace(vehicle, gross_kg=vehicle.gross_kg * (1 + 0.01 * one[2]), engine=engine,
                    retarder=replace(vehicle.retarder, stages=stages,
                                     continuous_power_w=vehicle.retarder.continuous_power_w * (1 + 0.08 * one[1])),
                    drag_area_m2=vehicle.drag_area_m2 * (1 + 0.1 * one[3]),
                    axles=tuple(replace(axle, load_kg=axle.load_kg * (1 + 0.01 * one[2]),
                                        rolling_coefficient=axle.rolling_coefficient * (1 + 0.1 * one[4]))
                                for axle in vehicle.axles))
    return driven(replace(plan, task=replace(plan.task, vehicle=world)), grade=grade)


def with_engine_speed(plan: DescentPlan, truth: Truth, fixes: Fixes) -> Fixes:
    """The fixes with the engine speed of the gear the plan orders; none outside of legs, where it is the driver's choice."""
    assert plan.solution is not None
    station, speed = at_times(truth, fixes.time_s)
    gears = np.full(len(station), -1)
    for leg in plan.solution.legs:
        here = (station >= plan.task.profile.station_m[leg.start]) & (station < plan.task.profile.station_m[leg.end])
        gears[here] = leg.instruction.gear
    turns = np.array([engine_rpm_per_mps(plan.task.vehicle.gearbox, int(g)) if g >= 0 else np.nan for g in gears])
    rpm = np.maximum(speed * turns, plan.task.vehicle.engine.idle_rpm)
    return replace(fixes, rpm=np.round(rpm / 10.0) * 10.0)


def recording_of(fixes: Fixes, *, speed: bool = True, engine: bool = False) -> Recording:
    missing = np.full(len(fixes.lon), np.nan)
    return Recording("made drive", fixes.lon, fixes.lat, fixes.time_s, missing, fixes.speed_mps if speed else missing,
                     fixes.rpm if engine else missing)


def debrief_of(plan: DescentPlan, fixes: Fixes, *, speed: bool = True, engine: bool = False, draws: int = 60,
               seed: int = 1) -> Debrief:
    """The debrief of fixes against the plan they were made from."""
    profile = plan.task.profile
    planned_there = planned_of(plan.task, plan.solution)
    route = Route("Larch Pass", profile.lon, profile.lat, profile.station_m)
    drive = driven_on(right_clock(recording_of(fixes, speed=speed, engine=engine), "made.csv"), planned_there, route, "made.csv")
    return debriefed(planned_there, drive, seed=seed, draws=draws)
