# SPDX-License-Identifier: MIT
"""The instructions a driver can be given on a chain of downgrades: a gear, a control speed, a retarder stage."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from descent.physics.driveline import engine_rpm_per_mps, overrun_force_n, speed_at_rpm_mps
from descent.physics.engine_drag import drag_torque_nm
from descent.physics.retarder import retarder_force_n
from descent.plan.model import Instruction, Task
from descent.units import GRAVITY_MPS2

FloatArray = NDArray[np.float64]


def control_speeds_mps(task: Task) -> tuple[float, ...]:
    """Speeds a driver can read: whole steps, and each gear's governed speed rounded down to a whole unit."""
    rules, vehicle = task.rules, task.vehicle
    top = float(np.max(task.posted_mps))
    steps = [k * rules.speed_step_mps for k in range(1, 1 + math.floor(top / rules.speed_step_mps + 1e-9))]
    governed = []
    for gear in range(len(vehicle.gearbox.ratios)):
        speed = speed_at_rpm_mps(vehicle.gearbox, gear, vehicle.engine.overrun_limit_rpm)
        governed.append(math.floor(speed / rules.speed_unit_mps + 1e-9) * rules.speed_unit_mps)
    both = sorted({round(speed, 9) for speed in (*steps, *governed)
                   if rules.min_speed_mps - 1e-6 <= speed <= top + 1e-6})
    return tuple(both)


def lowest_gear(task: Task, speed_mps: float) -> int | None:
    """The lowest gear that keeps the engine under its overrun limit at `speed_mps`, or None.

    At one road speed a lower gear never holds back less, so no other gear need be looked at.
    """
    engine, gearbox = task.vehicle.engine, task.vehicle.gearbox
    for gear in range(len(gearbox.ratios)):
        rpm = speed_mps * engine_rpm_per_mps(gearbox, gear)
        if rpm <= engine.overrun_limit_rpm + 1e-6:
            return gear if rpm >= engine.idle_rpm else None
    return None


def _held_n(task: Task, instruction: Instruction, speed_mps: FloatArray, *, density_ratio: float) -> FloatArray:
    """What engine and retarder hold back at road speeds (n,) [N]; the engine not below idle."""
    vehicle = task.vehicle
    rpm = np.maximum(speed_mps * engine_rpm_per_mps(vehicle.gearbox, instruction.gear), vehicle.engine.idle_rpm)
    drag = drag_torque_nm(vehicle.engine, rpm, density_ratio=density_ratio)
    return overrun_force_n(vehicle.gearbox, instruction.gear, drag) + retarder_force_n(
        vehicle.retarder, vehicle.gearbox, instruction.gear, instruction.stage, speed_mps, density_ratio=density_ratio)


def most_held_n(task: Task, instruction: Instruction) -> float:
    """The most engine and retarder hold back at the control speed and every lower speed down to half of it (snubs,
    curves); at sea level, where they hold back most [N]."""
    speed = np.linspace(0.5, 1.0, 26) * instruction.control_mps
    return float(_held_n(task, instruction, speed, density_ratio=1.0).max())


def grip_allows(task: Task, instruction: Instruction) -> bool:
    """Engine and retarder together stay under the share of grip the driven axles may spend on them."""
    driven = sum(axle.load_kg for axle in task.vehicle.axles if axle.driven) * GRAVITY_MPS2
    return most_held_n(task, instruction) <= task.rules.grip_share * task.day.adhesion * driven


def holding_force_n(task: Task, instruction: Instruction) -> float:
    """What engine and retarder hold back at the control speed, in the air of the highest place of the road [N]."""
    speed = np.array([instruction.control_mps])
    return float(_held_n(task, instruction, speed, density_ratio=task.density_ratio)[0])


def instructions(task: Task) -> tuple[Instruction, ...]:
    """All instructions worth trying, by rising speed, each with the highest retarder stage that grip allows."""
    found = []
    for speed in control_speeds_mps(task):
        gear = lowest_gear(task, speed)
        if gear is None:
            continue
        for stage in range(len(task.vehicle.retarder.stages), -1, -1):
            candidate = Instruction(gear, speed, stage)
            if grip_allows(task, candidate):
                found.append(candidate)
                break
    return tuple(found)


def governed_choices(task: Task) -> tuple[Instruction, ...]:
    """Of all instructions the fastest in each gear, by rising speed."""
    return tuple({item.gear: item for item in instructions(task)}.values())


def fitting(task: Task, choices: tuple[Instruction, ...], start: int, end: int) -> tuple[Instruction, ...]:
    """The instructions that fit a stretch of road (nodes): no faster than what is posted where it begins and than its
    curves anywhere allow, in a gear that still turns the engine above lugging speed at its slowest place. The slowest
    one when none fits."""
    caps = np.minimum(task.posted_mps, task.curve_mps)[start:end + 1]
    lugging = task.vehicle.engine.lugging_rpm

    def fits(item: Instruction) -> bool:
        slowest = min(item.control_mps, float(caps.min()))
        return (item.control_mps <= min(float(caps.max()), float(task.posted_mps[start])) + 1e-6
                and slowest * engine_rpm_per_mps(task.vehicle.gearbox, item.gear) >= lugging)

    return tuple(item for item in choices if fits(item)) or choices[:1]
