# SPDX-License-Identifier: MIT
"""The power balance of a drive: what gravity pulled, what held back, and the force that is left for the service brakes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from descent.debrief.gears import CRUISE, NEUTRAL, IntArray
from descent.physics.march import TABLE_STEP_MPS, Cells, Setting, force_tables
from descent.plan.model import Task
from descent.units import GRAVITY_MPS2
from descent.vehicle.model import RetarderShaft

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Intervals:
    """The drive between its n + 1 samples, arrays (n,): seconds, station_m (middle), speed_mps (along the slope, mean),
    acceleration_mps2 (from the speeds at the ends, so that its work is the change of kinetic energy), sin_down, cos_road
    [1], k_air [N/(m/s)2], cool [1]."""

    seconds: FloatArray
    station_m: FloatArray
    speed_mps: FloatArray
    acceleration_mps2: FloatArray
    sin_down: FloatArray
    cos_road: FloatArray
    k_air: FloatArray
    cool: FloatArray


@dataclass(frozen=True)
class Holding:
    """What engine and retarder can hold back over each interval (n,) [N]."""

    engine_n: FloatArray
    retarder_n: FloatArray


@dataclass(frozen=True)
class Scales:
    """Factors on what is not known exactly, and an error of grade at each interval (n,) or 0 [1]."""

    mass: float = 1.0
    rolling: float = 1.0
    air: float = 1.0
    engine: float = 1.0
    retarder: float = 1.0
    grade_error: FloatArray | float = 0.0


def intervals_of(cells: Cells, time_s: FloatArray, station_m: FloatArray, speed_mps: FloatArray) -> Intervals:
    """The intervals of a drive (n + 1 samples; speed_mps horizontal) on a road cut into cells on its best-known grade."""
    middle = 0.5 * (station_m[1:] + station_m[:-1])
    at = np.clip(np.searchsorted(cells.station_m, middle, side="right") - 1, 0, len(cells.step_m) - 1)
    cos_road = cells.cos_road[at]
    seconds = np.diff(time_s)
    acceleration = np.diff(speed_mps) / seconds / cos_road
    return Intervals(seconds, middle, 0.5 * (speed_mps[1:] + speed_mps[:-1]) / cos_road, acceleration, cells.sin_down[at],
                     cos_road, cells.k_air[at], cells.cool[at])


def holding_of(task: Task, between: Intervals, gear: IntArray, stage: IntArray) -> Holding:
    """What engine and retarder can hold back in the gears and stages (n,) driven, by the same tables as the plan.

    Out of gear the engine holds nothing, and a retarder on the engine nothing either.
    """
    pairs = sorted({(int(g), int(s)) for g, s in zip(gear, stage, strict=True)})
    settings = tuple(dict.fromkeys(Setting(max(g, 0), s) for g, s in pairs if g != CRUISE))
    tables = force_tables(task.vehicle, settings, task.driving, density_ratio=task.density_ratio)
    engine, retarder = np.zeros(len(gear)), np.zeros(len(gear))
    steps = between.speed_mps / TABLE_STEP_MPS
    grid = np.arange(tables.engine_n.shape[1])
    for g, s in pairs:
        here = (gear == g) & (stage == s)
        row = tables.row(Setting(-1, 0)) if g == CRUISE else tables.row(Setting(max(g, 0), s))
        if g != NEUTRAL:
            engine[here] = np.interp(steps[here], grid, tables.engine_n[row])
        if g != NEUTRAL or task.vehicle.retarder.shaft is RetarderShaft.PROPSHAFT:
            retarder[here] = np.interp(steps[here], grid, tables.retarder_n[row])
    return Holding(engine, retarder)


def left_for_brakes_n(task: Task, between: Intervals, holding: Holding, scales: Scales) -> FloatArray:
    """The force (n,) [N] that gravity and loss of speed leave after rolling, air, engine and retarder.

    m g sin - rolling - air - engine - retarder - m' a, with what turns in m' (key derived). Positive: the service brakes;
    negative: the engine pulled, or the retarder was eased. Full of noise: it is not to be clamped sample by sample.
    """
    vehicle = task.vehicle
    mass = vehicle.gross_kg * scales.mass
    weight = mass * GRAVITY_MPS2
    pull = weight * (between.sin_down - scales.grade_error * between.cos_road**3)
    rolling = weight * vehicle.rolling_coefficient * between.cos_road * scales.rolling
    return np.asarray(pull - rolling - scales.air * between.k_air * between.speed_mps**2 - scales.engine * holding.engine_n
                      - scales.retarder * holding.retarder_n
                      - mass * vehicle.rotating_mass_factor * between.acceleration_mps2)
