# SPDX-License-Identifier: MIT
"""Torque of a retarder by shaft speed and stage: table, hydrodynamic law or electric drive, with what limits each."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from descent.physics.driveline import (
    RPM_RADPS,
    engine_rpm_per_mps,
    overrun_force_n,
    propshaft_force_n,
    propshaft_rpm_per_mps,
)
from descent.physics.regeneration import charge_limit_w
from descent.vehicle.model import Gearbox, Retarder, RetarderKind, RetarderShaft

FloatArray = NDArray[np.float64]

FULL_BATTERY = 1.0
"""State of charge where none is told: a full battery, which takes nothing (key un_grva_full_battery)."""

BREATHING = (RetarderKind.ENGINE_COMPRESSION, RetarderKind.EXHAUST)


def stage_fraction(retarder: Retarder, stage: int) -> float:
    """Fraction of full torque [1] in stage 0 (off) to len(stages). Source: the retarder's table.

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> [stage_fraction(load_vehicle("motorcoach").retarder, stage) for stage in (0, 2, 4)]
    [0.0, 0.5, 1.0]
    """
    return 0.0 if stage == 0 else retarder.stages[stage - 1][1]


def power_limit_w(retarder: Retarder, *, density_ratio: FloatArray | float = 1.0,
                  state_of_charge: float = FULL_BATTERY) -> FloatArray | float:
    """Shaft power the retarder can pass on for long [W], () or (n,) as density_ratio [1].

    Cooling of a hydrodynamic one falls with the density of the air that cools the radiator (assumed; how hot that air
    is, is not counted); an electric one is held to motor power and to what the battery takes. Source of the
    limits: the retarder's table, key un_grva_full_battery.

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> electric = load_vehicle("battery-tractor").retarder
    >>> [power_limit_w(electric, state_of_charge=charge) for charge in (0.5, 1.0)]
    [250000.0, 0.0]
    """
    if retarder.kind is RetarderKind.HYDRODYNAMIC:
        return retarder.continuous_power_w * density_ratio
    if retarder.battery is not None:
        return min(retarder.continuous_power_w, retarder.motor_power_w, charge_limit_w(retarder.battery, state_of_charge))
    return retarder.continuous_power_w


def full_torque_nm(retarder: Retarder, shaft_rpm: FloatArray) -> FloatArray:
    """Torque at full stage (n,) [N m] at shaft speeds (n,) [rpm] before power limits.

    A table is linear between its speeds, zero below the first, and never extrapolated: above the last speed its power
    there is held, so torque falls. Without a table: min(k n^2, M_max) (hydrodynamic, key hydrodynamic_retarder: square law and size seen second hand), or M_max
    (electric). Below cut_out_rpm torque falls in a straight line to nothing at half of it (assumed).

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> full_torque_nm(load_vehicle("transit-bus").retarder, np.array([500.0, 1000.0, 2000.0])).tolist()
    [375.0, 1500.0, 1500.0]
    """
    if retarder.speeds_rpm:
        torque = np.interp(shaft_rpm, retarder.speeds_rpm, retarder.torque_nm)
        torque = torque * np.minimum(1.0, retarder.speeds_rpm[-1] / np.maximum(shaft_rpm, 1e-9))
        return np.where(shaft_rpm < retarder.speeds_rpm[0], 0.0, torque)
    law = retarder.torque_per_rpm2_nm * shaft_rpm**2 if retarder.torque_per_rpm2_nm else np.full_like(shaft_rpm, math.inf)
    torque = np.minimum(law, retarder.most_torque_nm)
    if retarder.cut_out_rpm > 0:
        torque = torque * np.clip(2 * shaft_rpm / retarder.cut_out_rpm - 1, 0.0, 1.0)
    return np.asarray(torque)


def shaft_torque_nm(retarder: Retarder, stage: int, shaft_rpm: FloatArray, *, density_ratio: FloatArray | float = 1.0,
                    state_of_charge: float = FULL_BATTERY) -> FloatArray:
    """Retarding torque at its shaft (n,) [N m] at shaft speeds (n,) [rpm] in a stage, limited by power.

    density_ratio (n,) or one value [1]: air density over sea level. Compression and exhaust brakes work by the air
    they pump and are scaled by it (a cautious default: a turbocharger gives some back). state_of_charge: of the
    battery; where none is told it is full, and an electric retarder gives nothing. Range: from standstill; a table's
    power is held above its last speed. Source: `full_torque_nm`, `power_limit_w`.

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> compression = load_vehicle("tractor-semitrailer-retarder").retarder
    >>> [round(float(shaft_torque_nm(compression, 3, np.array([2100.0]), density_ratio=r)[0])) for r in (1.0, 0.8)]
    [1137, 909]
    """
    if retarder.kind is RetarderKind.NONE or stage == 0:
        return np.zeros_like(shaft_rpm)
    torque = full_torque_nm(retarder, shaft_rpm) * stage_fraction(retarder, stage)
    if retarder.kind in BREATHING:
        torque = torque * density_ratio
    limit = power_limit_w(retarder, density_ratio=density_ratio, state_of_charge=state_of_charge)
    return np.asarray(np.minimum(torque, limit / np.maximum(shaft_rpm * RPM_RADPS, 1e-9)))


def retarder_force_n(retarder: Retarder, gearbox: Gearbox, gear: int, stage: int, speed_mps: FloatArray, *,
                     density_ratio: FloatArray | float = 1.0, state_of_charge: float = FULL_BATTERY) -> FloatArray:
    """Retarding force at the tyres (n,) [N] in a gear and stage at road speeds (n,) [m/s].

    Range and source: `shaft_torque_nm`, `driveline.overrun_force_n`.

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> coach = load_vehicle("motorcoach")
    >>> retarder_force_n(coach.retarder, coach.gearbox, 3, 4, np.array([10.0, 20.0])).round().tolist()
    [13610.0, 10471.0]
    """
    if retarder.shaft is RetarderShaft.ENGINE:
        torque = shaft_torque_nm(retarder, stage, speed_mps * engine_rpm_per_mps(gearbox, gear),
                                 density_ratio=density_ratio, state_of_charge=state_of_charge)
        return overrun_force_n(gearbox, gear, torque)
    torque = shaft_torque_nm(retarder, stage, speed_mps * propshaft_rpm_per_mps(gearbox), density_ratio=density_ratio,
                             state_of_charge=state_of_charge)
    return propshaft_force_n(gearbox, torque)
