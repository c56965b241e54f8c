# SPDX-License-Identifier: MIT
"""Brake energy and temperature with their band: the balance once with the best values, and again with drawn ones."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from descent.debrief import braking as brakes
from descent.debrief.forces import Holding, Scales, holding_of, left_for_brakes_n
from descent.debrief.model import Band, Drive, Heat, Planned
from descent.physics.brake_heat import packed_rows, rises_along
from descent.physics.heat_history import temperatures_through
from descent.plan.model import Task

FloatArray = NDArray[np.float64]
NOISE_TIME_S = 2.0           # errors of a smoothed speed are alike over this (seen in simulation)
NEIGHBOUR_SHARE = 0.2        # chance of each neighbouring gear where the gear is only assumed


@dataclass(frozen=True)
class Doubts:
    """Standard deviations of what is not known exactly, as shares (assumed; mass: a scale ticket's)."""

    mass: float = 0.01
    rolling: float = 0.10
    air: float = 0.10
    engine: float = 0.10
    retarder: float = 0.08


def heat_of(planned: Planned, drive: Drive, *, draws: int, seed: int, doubts: Doubts = Doubts()) -> Heat:
    """Energy and temperatures of the brakes, and their band over `draws` draws of mass, grade, rolling, air, engine drag,
    retarder, speed noise, how faint an application may be, and, where the gear is not known, the gear beside the planned."""
    task, motion = planned.task, drive.motion
    holdings = _holdings(task, drive)
    windows = brakes.windows_of(motion)
    mass = task.vehicle.gross_kg * task.vehicle.rotating_mass_factor
    left = left_for_brakes_n(task, drive.between, holdings[0], Scales())
    central = brakes.braking_of(left, drive.between.speed_mps, motion, mass, windows)
    temps = _temperatures(task, drive, central.force_n)
    rng = np.random.default_rng(seed)
    works, heats, margins, taken = [], [], [], []
    for _ in range(draws):
        scales = _drawn(rng, planned, drive, doubts)
        pick = int(rng.choice(3, p=(1 - 2 * NEIGHBOUR_SHARE, NEIGHBOUR_SHARE, NEIGHBOUR_SHARE)))
        force = left_for_brakes_n(task, drive.between, holdings[pick], scales)
        one = brakes.braking_of(force, drive.between.speed_mps, motion, mass, windows, _noise_n(rng, drive, mass),
                                begin=float(rng.uniform(0.6, 1.1)) * brakes.BEGIN)
        work = one.force_n * drive.between.speed_mps * drive.between.seconds
        warmed = _temperatures(task, drive, one.force_n)
        works.append(work)
        taken.append(pick == 0 or drive.gear_known)
        heats.append(warmed)
        margins.append(_margin_k(task, drive, warmed)[0])
    work = central.force_n * drive.between.speed_mps * drive.between.seconds
    margin, emergency = _margin_k(task, drive, temps)
    low, high = _bounds(np.array(heats), temps)
    peaks, energies = np.array([item.max(axis=0) for item in heats]), np.array(works).sum(axis=1)
    in_gear, rows = np.array(taken), range(temps.shape[1])
    return Heat(central, temps, low, high, band(float(work.sum()), energies), work, np.array(works),
                tuple(band(float(temps[:, row].max()), peaks[:, row]) for row in rows),
                band(margin, np.array(margins)), emergency, band(float(work.sum()), energies[in_gear]),
                tuple(band(float(temps[:, row].max()), peaks[in_gear, row]) for row in rows),
                band(margin, np.array(margins)[in_gear]), left)


def band(value: float, drawn: FloatArray) -> Band:
    """A value with the 5th and 95th percentile of its draws (n,), which always hold it between them."""
    low, high = np.percentile(drawn, (5.0, 95.0)) if len(drawn) else (value, value)
    return Band(value, min(float(low), value), max(float(high), value))


def _bounds(drawn: FloatArray, central: FloatArray) -> tuple[FloatArray, FloatArray]:
    low, high = np.percentile(drawn, (5.0, 95.0), axis=0)
    return np.minimum(low, central), np.maximum(high, central)


def _holdings(task: Task, drive: Drive) -> tuple[Holding, Holding, Holding]:
    """Engine and retarder in the gear taken, one lower and one higher; three times the same where the gear is known.

    A neighbour counts only where the engine could turn so fast; elsewhere the gear taken stands.
    """
    best = holding_of(task, drive.between, drive.gear, drive.stage)
    if drive.gear_known:
        return best, best, best
    found = [best]
    top = len(task.vehicle.gearbox.ratios) - 1
    turns = 30.0 / np.pi * np.array(task.vehicle.gearbox.ratios) * task.vehicle.gearbox.final_ratio \
        / task.vehicle.gearbox.wheel_radius_m
    for step in (-1, 1):
        beside = np.clip(drive.gear + step, 0, top)
        rpm = drive.between.speed_mps * turns[beside]
        fits = (drive.gear >= 0) & (rpm <= task.vehicle.engine.overrun_limit_rpm * 1.02)
        found.append(holding_of(task, drive.between, np.where(fits, beside, drive.gear), drive.stage))
    return found[0], found[1], found[2]


def _drawn(rng: np.random.Generator, planned: Planned, drive: Drive, doubts: Doubts) -> Scales:
    profile = planned.task.profile
    spacing = profile.spacing_m
    keep = np.exp(-spacing / profile.grade_correlation_m)
    kick = rng.standard_normal(len(profile.station_m))
    alike = np.empty(len(kick))
    alike[0] = kick[0]
    for index in range(1, len(kick)):
        alike[index] = keep * alike[index - 1] + np.sqrt(1.0 - keep * keep) * kick[index]
    error = alike * profile.grade_sd + rng.standard_normal() * profile.common_grade_sd
    one = rng.standard_normal(5)
    return Scales(1.0 + doubts.mass * one[0], max(1.0 + doubts.rolling * one[1], 0.3), max(1.0 + doubts.air * one[2], 0.3),
                  max(1.0 + doubts.engine * one[3], 0.3), max(1.0 + doubts.retarder * one[4], 0.3),
                  np.interp(drive.between.station_m, profile.station_m, error))


def _noise_n(rng: np.random.Generator, drive: Drive, mass_kg: float) -> FloatArray:
    """A force that the error of the smoothed speed feigns over each interval (n,) [N]."""
    seconds = drive.between.seconds
    keep = np.exp(-seconds / NOISE_TIME_S)
    kick = rng.standard_normal(len(seconds) + 1)
    error = np.empty(len(kick))
    error[0] = kick[0]
    for index in range(len(seconds)):
        error[index + 1] = keep[index] * error[index] + np.sqrt(1.0 - keep[index] ** 2) * kick[index + 1]
    return np.asarray(-mass_kg * np.diff(error * drive.motion.speed_sd_mps) / seconds)


def _temperatures(task: Task, drive: Drive, force_n: FloatArray) -> FloatArray:
    return temperatures_through(
        task.vehicle, drive.between.seconds, drive.between.speed_mps, force_n, cool=drive.between.cool,
        air_temp_c=task.day.air_temp_c, start_temps_c=np.full(len(task.vehicle.rows), task.day.start_temp_c),
        parked_fraction=task.driving.parked_cooling_fraction, most_kpa=task.driving.max_pressure_kpa)


def _margin_k(task: Task, drive: Drive, temps_c: FloatArray) -> tuple[float, FloatArray]:
    """Least distance to the limit with one emergency stop added [K], and the hottest such temperature (n + 1,) [C]."""
    vehicle, rise = task.vehicle, np.empty_like(temps_c)
    cast(Any, rises_along)(packed_rows(vehicle), temps_c, drive.motion.speed_mps, drive.between.sin_down,
                           vehicle.gross_kg, vehicle.emergency_pressure_kpa, task.day.adhesion, rise)
    limit = np.array([row.brake.temp_limit_c for row in vehicle.rows])
    return float(np.min(limit - temps_c - rise)), np.max(temps_c + rise, axis=1)

