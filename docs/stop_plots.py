# SPDX-License-Identifier: MIT
"""Draws the plots of the pages on air, stopping and runaway with the package's own functions: `python docs/stop_plots.py`."""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
from chart import Chart, FloatArray, Line, chart_svg

from descent.physics.air_loss import air_loss
from descent.physics.air_springs import spring_decel_mps2
from descent.physics.driveline import engine_rpm_per_mps
from descent.physics.march import Cells, Day, Driving, Schedule, Setting, cells_of, force_tables, march
from descent.physics.parking import hold_while_cooling
from descent.physics.runaway import BED_RESISTANCE, last_full_stop, ramp_length_m, runaway_from
from descent.physics.stopping import StopFailure, Technique, Timing, brakes_left, stop
from descent.physics.trace import DescentTrace
from descent.terrain.road_profile import RoadProfile
from descent.units import FOOT_M, MPH_MPS, PSI_KPA
from descent.vehicle.air_supply import air_supply
from descent.vehicle.catalogue import load_vehicle
from descent.vehicle.model import Vehicle, loaded

IMAGES = Path(__file__).parent / "images"
TRUCK = load_vehicle("tractor-semitrailer")
DAY = Day(20.0, 65.0, 0.6)
MILE = 1609.344


def road(grade: float, length_m: float) -> RoadProfile:
    """A flat, a downgrade, a flat."""
    slope = np.concatenate([np.zeros(50), np.full(int(length_m / 10), grade), np.zeros(51)])
    station = np.arange(len(slope)) * 10.0
    rise = np.concatenate([[0.0], np.cumsum((slope[1:] + slope[:-1]) * 5.0)])
    flat = np.zeros(len(slope))
    return RoadProfile(station, flat, flat, 1500.0 + rise, flat, slope, flat, flat, "closed form")


@cache
def descent(grade: float, length_m: float, gear: int, mph: float) -> tuple[DescentTrace, Cells]:
    cells = cells_of(road(grade, length_m), TRUCK, DAY)
    driving, n, speed = Driving(), len(cells.step_m), mph * MPH_MPS
    schedule = Schedule(np.full(n + 1, speed), np.ones(n, dtype=np.int64), np.ones(n, dtype=np.int64), np.full(n + 1, -1.0))
    return march(cells, TRUCK, force_tables(TRUCK, (Setting(gear, 0),), driving), schedule, DAY, driving,
                 start_speed_mps=speed), cells


def air_on_a_descent() -> Chart:
    trace, cells = descent(-0.05, 14000.0, 5, 25.0)
    rpm = trace.speed_mps * engine_rpm_per_mps(TRUCK.gearbox, 5)
    miles = trace.station_m / MILE

    def line(name: str, share: float) -> Line:
        history = air_loss(trace, TRUCK, cells, air_supply(TRUCK), engine_rpm=rpm, adhesion=0.6, compressor_share=share,
                           start_kpa=125 * PSI_KPA).history
        low = np.flatnonzero(history.service_kpa < 20 * PSI_KPA)              # the springs are on: the drive is over
        end = int(low[0]) + 1 if len(low) else len(miles)
        return Line(name, miles[:end], history.service_kpa[:end] / PSI_KPA)

    return Chart("Gauge reading down 5 % at 25 mph, snubbing", "distance, mi", "lower of the two gauges, psi", (
        line("compressor sound", 1.0), line("at a fifth", 0.2), line("dead", 0.0),
        Line("warning", miles, np.full_like(miles, 60.0)),
        Line("springs begin", miles, np.full_like(miles, 45.0))))


def _stops(grade: float = 0.0, temp_c: float = 25.0, failure: StopFailure = StopFailure.NONE, slack_m: float = 0.0,
           technique: Technique = Technique.ANTILOCK, adhesion: float = 0.6, vehicle: Vehicle = TRUCK) -> FloatArray:
    vehicle = replace(vehicle, axles=tuple(replace(axle, brakes=tuple(
        replace(item, stroke_m=item.stroke_m + slack_m) for item in axle.brakes)) for axle in vehicle.axles))
    left = brakes_left(vehicle, timing=Timing(), failure=failure, technique=technique)
    found = [stop(vehicle, speed_mps=mph * MPH_MPS, grade=grade, temps_c=np.full(3, temp_c), adhesion=adhesion,
                  left=left).total_m / FOOT_M for mph in MPH]
    return np.array([way for way in found if math.isfinite(way) and way < 1500.0])


def _line(name: str, ways: FloatArray) -> Line:
    """A line that ends where no stop, or none within 1500 ft, is possible."""
    return Line(name, MPH[:len(ways)], ways)


MPH = np.linspace(5.0, 65.0, 61)


def stopping_distance() -> Chart:
    return Chart("Whole stopping distance, 80,000 lb, dry road", "speed, mph", "distance, ft", (
        _line("level, cold", _stops()), _line("6 % down, cold", _stops(-0.06)),
        _line("6 % down, 250 C", _stops(-0.06, 250.0)),
        _line("250 C, 1/4 in slack", _stops(-0.06, 250.0, slack_m=0.00635)), _line("6 % down, 300 C", _stops(-0.06, 300.0))),
        1500.0)


def stopping_failures() -> Chart:
    return Chart("Whole stopping distance with part of the brakes, 6 % down, cold", "speed, mph", "distance, ft", (
        _line("all brakes", _stops(-0.06)), _line("steer circuit lost", _stops(-0.06, failure=StopFailure.SECONDARY_LOST)),
        _line("drive circuit lost", _stops(-0.06, failure=StopFailure.PRIMARY_LOST)),
        _line("springs only", _stops(-0.06, failure=StopFailure.SPRINGS_ONLY))))


def stopping_techniques() -> Chart:
    return Chart("Empty truck on a wet level road, whole stopping distance", "speed, mph", "distance, ft", tuple(
        _line(item.name.lower(), _stops(technique=item, adhesion=0.4, vehicle=loaded(TRUCK, TRUCK.tare_kg))) for item in Technique))


def parking_hold() -> Chart:
    minutes = np.linspace(0.0, 90.0, 91)
    lines = [Line(f"from {temp} C", minutes, 100 * hold_while_cooling(
        TRUCK, air_supply(TRUCK), np.full(3, float(temp)), 60 * minutes, adhesion=0.6, air_temp_c=20.0, parked_fraction=0.6))
        for temp in (250, 400, 500)]
    return Chart("Steepest grade the spring brakes hold while they cool", "time parked, min", "grade, percent",
                 (*lines, Line("rule, cold", minutes, np.full_like(minutes, 20.0))))


def spring_lever() -> Chart:
    travel, coach, school = np.linspace(0.0, 1.0, 101), load_vehicle("motorcoach"), load_vehicle("school-bus")

    def line(name: str, vehicle: Vehicle, temp_c: float, adhesion: float) -> Line:
        made = spring_decel_mps2(vehicle, air_supply(vehicle), travel, np.full(len(vehicle.rows), temp_c), grade=0.0,
                                 adhesion=adhesion)
        return Line(name, 100 * travel, made)

    return Chart("Spring brakes by the lever, loaded, level road", "travel of the lever, percent", "deceleration, m/s2", (
        line("motorcoach, dry, cold", coach, 25.0, 0.6), line("at 400 C", coach, 400.0, 0.6), line("on snow", coach, 25.0, 0.2),
        line("school bus, on or off", school, 25.0, 0.6)))


def runaway_speed() -> Chart:
    lines = []
    for percent in (4, 6, 8):
        cells = cells_of(road(-percent / 100, 8000.0), TRUCK, DAY)
        runaway = runaway_from(cells, TRUCK, node=50, speed_mps=20 * MPH_MPS)
        lines.append(Line(f"{percent} %", (runaway.station_m - runaway.station_m[0])[:400] / MILE,
                          runaway.speed_mps[:400] / MPH_MPS))
    return Chart("No brakes, in neutral, from 20 mph", "distance, mi", "speed, mph", tuple(lines))


def ramp_length() -> Chart:
    percent = np.linspace(-2.0, 15.0, 69)
    return Chart("Escape ramp for 80 mph", "grade of the ramp, percent uphill", "length, ft", tuple(
        Line(bed, percent, np.array([ramp_length_m(80 * MPH_MPS, bed=bed, grade=value / 100) / FOOT_M for value in percent]))
        for bed in ("pea gravel", "sand", "loose gravel") if bed in BED_RESISTANCE), 3500.0)


def last_stop() -> Chart:
    """Last full stop by control speed, as a band over fade floor and slack."""
    cells = cells_of(road(-0.06, 12000.0), TRUCK, DAY)
    driving, n = Driving(), len(cells.step_m)
    tables = force_tables(TRUCK, (Setting(9, 0),), driving)
    speeds, worst, best = np.arange(15.0, 56.0, 2.5), [], []
    for mph in speeds:
        schedule = Schedule(np.full(n + 1, mph * MPH_MPS), np.ones(n, dtype=np.int64), np.ones(n, dtype=np.int64),
                            np.full(n + 1, -1.0))
        found = last_full_stop(cells, TRUCK, tables, schedule, DAY, driving, start_speed_mps=mph * MPH_MPS)
        worst.append((found.earliest_m - 500.0) / MILE)
        best.append((found.latest_m - 500.0) / MILE)
    return Chart("6 % held on the brakes in top gear: where a stop was last possible", "speed held, mph", "distance down, mi", (
        Line("fade 0.5, adjusted", speeds, np.array(best)), Line("fade 0.2, at limit", speeds, np.array(worst))), 8.0)


CHARTS: Mapping[str, Callable[[], Chart]] = {item.__name__.replace("_", "-"): item for item in (
    air_on_a_descent, stopping_distance, stopping_failures, stopping_techniques, parking_hold, spring_lever, runaway_speed, ramp_length,
    last_stop)}


def figures() -> dict[str, str]:
    """Every figure by file name."""
    return {f"{name}.svg": chart_svg(draw()) for name, draw in CHARTS.items()}


if __name__ == "__main__":
    IMAGES.mkdir(exist_ok=True)
    for file, svg in figures().items():
        (IMAGES / file).write_text(svg, encoding="utf-8")
