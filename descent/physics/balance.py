# SPDX-License-Identifier: MIT
"""Balance speed: the speed a gear and retarder stage hold on a grade with no service brake."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from descent.physics.driveline import engine_rpm_per_mps, overrun_force_n, speed_at_rpm_mps
from descent.physics.engine_drag import drag_torque_nm
from descent.physics.retarder import FULL_BATTERY, retarder_force_n
from descent.physics.road_load import (
    air_density_kgpm3,
    air_force_n,
    density_ratio,
    grade_force_n,
    rolling_force_n,
)
from descent.vehicle.model import Vehicle

FloatArray = NDArray[np.float64]
STEP_MPS = 0.02


class Balance(Enum):
    """What a gear and stage do on a grade by themselves."""

    HELD = "held"
    RUNS_AWAY = "runs away"
    NEEDS_POWER = "needs power"


@dataclass(frozen=True)
class BalancePoint:
    """What one gear and stage do; speed_mps: the speed they settle at, None where they do not hold.

    lost_mps: above it gravity wins again although the engine may still turn faster (a retarder at its power limit);
    None where they hold up to the engine's limit.
    """

    gear: int
    stage: int
    balance: Balance
    speed_mps: float | None
    lost_mps: float | None


@dataclass(frozen=True)
class BalanceTable:
    """Balance of every gear and stage of a vehicle on one grade.

    points: by gear, then stage (0 = off); idle_mps and governed_mps: lowest and highest speed of each gear.
    """

    vehicle: Vehicle
    grade: float
    altitude_m: float
    air_temp_c: float
    state_of_charge: float
    points: tuple[tuple[BalancePoint, ...], ...]
    idle_mps: tuple[float, ...]
    governed_mps: tuple[float, ...]


def held_back_n(vehicle: Vehicle, *, gear: int, stage: int, speed_mps: FloatArray, altitude_m: float = 0.0,
                air_temp_c: float = 15.0, state_of_charge: float = FULL_BATTERY) -> FloatArray:
    """What engine and retarder hold back at the tyres (n,) [N] at speeds (n,) [m/s], by altitude [m] and air [C].

    Range: speeds at which the engine turns between idle and overrun limit. Source: `engine_drag`, `retarder`,
    `driveline`.

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> held_back_n(load_vehicle("tractor-semitrailer"), gear=5, stage=0, speed_mps=np.array([10.0])).round().tolist()
    [4464.0]
    """
    ratio = density_ratio(np.full_like(speed_mps, altitude_m), air_temp_c)
    rpm = speed_mps * engine_rpm_per_mps(vehicle.gearbox, gear)
    drag_nm = drag_torque_nm(vehicle.engine, rpm, density_ratio=ratio)
    return overrun_force_n(vehicle.gearbox, gear, drag_nm) + retarder_force_n(
        vehicle.retarder, vehicle.gearbox, gear, stage, speed_mps, density_ratio=ratio, state_of_charge=state_of_charge)


def natural_surplus_n(vehicle: Vehicle, *, grade: float, speed_mps: FloatArray, altitude_m: float = 0.0,
                      air_temp_c: float = 15.0) -> FloatArray:
    """What gravity has over rolling and air (n,) [N] at speeds (n,) [m/s]: what engine, retarder and brakes must hold.

    grade [1], negative downhill. Range and source: `road_load`.

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> natural_surplus_n(load_vehicle("tractor-semitrailer"), grade=-0.06, speed_mps=np.array([10.0])).round().tolist()
    [18980.0]
    """
    slope = np.full_like(speed_mps, grade)
    density = air_density_kgpm3(np.full_like(speed_mps, altitude_m), air_temp_c)
    return (grade_force_n(vehicle.gross_kg, slope) - rolling_force_n(vehicle.gross_kg, vehicle.rolling_coefficient, slope)
            - air_force_n(density, vehicle.drag_area_m2, speed_mps))


def balance_point(vehicle: Vehicle, *, gear: int, stage: int, grade: float, altitude_m: float = 0.0,
                  air_temp_c: float = 15.0, state_of_charge: float = FULL_BATTERY) -> BalancePoint:
    """What a gear and stage do by themselves on a grade [1] (negative downhill), altitude [m], air temperature [C].

    The lowest speed at which rolling, air, engine and retarder match gravity, scanned upward from idle in 0.02 m/s
    steps: the sum of resistances need not rise everywhere, and where it falls behind again `lost_mps` says so. Range: idle speed to the engine's overrun limit; beyond it
    no speed counts as held. Source: method name of key fancher_1983_imeche (seen); scan: key derived.

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> truck = load_vehicle("tractor-semitrailer-retarder")
    >>> [balance_point(truck, gear=gear, stage=3, grade=-0.06).balance.value for gear in (5, 9)]
    ['held', 'runs away']
    """
    top = vehicle.engine.overrun_limit_rpm / engine_rpm_per_mps(vehicle.gearbox, gear)
    low = vehicle.engine.idle_rpm / engine_rpm_per_mps(vehicle.gearbox, gear)
    speed = np.arange(low, top + 1e-9, STEP_MPS)
    surplus = natural_surplus_n(vehicle, grade=grade, speed_mps=speed, altitude_m=altitude_m,
                                air_temp_c=air_temp_c) - held_back_n(
        vehicle, gear=gear, stage=stage, speed_mps=speed, altitude_m=altitude_m, air_temp_c=air_temp_c,
        state_of_charge=state_of_charge)
    holds = surplus <= 0
    if not holds.any():
        return BalancePoint(gear, stage, Balance.RUNS_AWAY, None, None)
    first = int(np.argmax(holds))
    beyond = np.flatnonzero(~holds[first:])
    lost = float(speed[first + beyond[0] - 1]) if len(beyond) else None
    if first == 0:
        return BalancePoint(gear, stage, Balance.NEEDS_POWER, None, lost)
    return BalancePoint(gear, stage, Balance.HELD, float(speed[first]), lost)


def balance_speed_mps(vehicle: Vehicle, *, gear: int, stage: int, grade: float, altitude_m: float = 0.0,
                      air_temp_c: float = 15.0, state_of_charge: float = FULL_BATTERY) -> float | None:
    """The speed [m/s] that a gear and stage hold on a grade [1], or None; arguments, range and source of
    `balance_point`.

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> balance_speed_mps(load_vehicle("tractor-semitrailer"), gear=4, stage=0, grade=-0.07) is None
    True
    """
    return balance_point(vehicle, gear=gear, stage=stage, grade=grade, altitude_m=altitude_m, air_temp_c=air_temp_c,
                         state_of_charge=state_of_charge).speed_mps


def balance_table(vehicle: Vehicle, *, grade: float, altitude_m: float = 0.0, air_temp_c: float = 15.0,
                  state_of_charge: float = FULL_BATTERY) -> BalanceTable:
    """Balance of every gear and stage (gears x stages) on one grade [1]; arguments, range and source of
    `balance_point`.

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> table = balance_table(load_vehicle("motorcoach"), grade=-0.06)
    >>> len(table.points), len(table.points[0])
    (6, 5)
    """
    gears = range(len(vehicle.gearbox.ratios))
    points = tuple(tuple(balance_point(vehicle, gear=gear, stage=stage, grade=grade, altitude_m=altitude_m,
                                       air_temp_c=air_temp_c, state_of_charge=state_of_charge)
                         for stage in range(len(vehicle.retarder.stages) + 1)) for gear in gears)
    return BalanceTable(vehicle, grade, altitude_m, air_temp_c, state_of_charge, points,
                        tuple(speed_at_rpm_mps(vehicle.gearbox, gear, vehicle.engine.idle_rpm) for gear in gears),
                        tuple(speed_at_rpm_mps(vehicle.gearbox, gear, vehicle.engine.overrun_limit_rpm) for gear in gears))
