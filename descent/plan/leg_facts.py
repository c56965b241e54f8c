# SPDX-License-Identifier: MIT
"""What each leg's instruction means for the engine: its speed, and the speed it holds without the service brakes."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from descent.physics.balance import balance_speed_mps
from descent.physics.driveline import engine_rpm_per_mps
from descent.physics.trace import DescentTrace
from descent.plan.model import LegFacts, LegSpan, Solution, Task

FloatArray = NDArray[np.float64]


def leg_facts(task: Task, leg: LegSpan) -> LegFacts:
    """Engine speed and balance speed of one leg, the latter on its mean grade at its mean altitude."""
    profile, held = task.profile, leg.instruction
    nodes = slice(leg.start, leg.end + 1)
    rise = float(profile.elevation_m[leg.end] - profile.elevation_m[leg.start])
    length = float(profile.station_m[leg.end] - profile.station_m[leg.start])
    balance = balance_speed_mps(task.vehicle, gear=held.gear, stage=held.stage, grade=rise / length,
                                altitude_m=float(profile.elevation_m[nodes].mean()), air_temp_c=task.day.air_temp_c)
    return LegFacts(held.control_mps * engine_rpm_per_mps(task.vehicle.gearbox, held.gear), balance)


def engine_speeds_rpm(task: Task, solution: Solution, trace: DescentTrace) -> FloatArray:
    """Engine speed at every station (n,) [rpm], not below idle; NaN where the gear is the driver's choice."""
    rpm = np.full(len(trace.station_m), np.nan)
    for leg in solution.legs:
        nodes = slice(leg.start, leg.end + 1)
        per_mps = engine_rpm_per_mps(task.vehicle.gearbox, leg.instruction.gear)
        rpm[nodes] = np.maximum(trace.speed_mps[nodes] * per_mps, task.vehicle.engine.idle_rpm)
    return rpm
