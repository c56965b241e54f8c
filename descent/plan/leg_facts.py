# SPDX-License-Identifier: MIT
"""What each leg's instruction means for the engine: its speed, and the speed it holds without the service brakes."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from descent.physics.application import FADING_SHARE, application_kpa, cold_temps_c
from descent.physics.balance import balance_speed_mps
from descent.physics.driveline import engine_rpm_per_mps
from descent.physics.trace import DescentTrace
from descent.plan.model import GaugeReadings, LegFacts, LegSpan, Solution, Task

FloatArray = NDArray[np.float64]


def leg_facts(task: Task, leg: LegSpan) -> LegFacts:
    """Engine speed, balance speed on the steepest 300 m, and the snub rhythm's raw material of one leg."""
    profile, held = task.profile, leg.instruction
    nodes = slice(leg.start, leg.end + 1)
    window = max(1, min(round(300.0 / profile.spacing_m), leg.end - leg.start))
    height = np.concatenate([[0.0], np.cumsum(task.steep_grade[nodes])])
    steepest = float(np.min(height[window:] - height[:-window]) / window)
    balance = balance_speed_mps(task.vehicle, gear=held.gear, stage=held.stage, grade=steepest,
                                altitude_m=float(profile.elevation_m[nodes].mean()) + task.altitude_offset_m,
                                air_temp_c=task.day.air_temp_c)
    return LegFacts(held.control_mps * engine_rpm_per_mps(task.vehicle.gearbox, held.gear), balance)


def engine_speeds_rpm(task: Task, solution: Solution, trace: DescentTrace) -> FloatArray:
    """Engine speed at every station (n,) [rpm], not below idle; NaN where the gear is the driver's choice."""
    rpm = np.full(len(trace.station_m), np.nan)
    for leg in solution.legs:
        nodes = slice(leg.start, leg.end + 1)
        per_mps = engine_rpm_per_mps(task.vehicle.gearbox, leg.instruction.gear)
        rpm[nodes] = np.maximum(trace.speed_mps[nodes] * per_mps, task.vehicle.engine.idle_rpm)
    return rpm


def turning_rpm(task: Task, solution: Solution, trace: DescentTrace) -> FloatArray:
    """Engine speed that drives the compressor in the cell after every station (n,) [rpm]; where the gear is the driver's
    choice, as usual in cruise."""
    rpm = engine_speeds_rpm(task, solution, trace)
    for leg in solution.legs:
        if not any(other.start == leg.end for other in solution.legs):
            rpm[leg.end] = np.nan                  # the leg ends here: the cell after it is no part of it
    return np.nan_to_num(rpm, nan=task.driving.cruise_rpm)


def gauge_readings(task: Task, trace: DescentTrace) -> GaugeReadings:
    """What the application gauge shows at every station for the brake force used there: cold, and when fading."""
    vehicle, most = task.vehicle, task.driving.max_pressure_kpa
    force = trace.brake_force_n
    return GaugeReadings(
        application_kpa(vehicle, force, cold_temps_c(vehicle, len(force)), most_kpa=most),
        application_kpa(vehicle, force, trace.temp_c, most_kpa=most, torque_share=FADING_SHARE))
