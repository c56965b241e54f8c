# SPDX-License-Identifier: MIT
"""Torque of a retarder by shaft speed and stage, never extrapolated beyond its table."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from descent.physics.driveline import (
    RPM_RADPS,
    engine_rpm_per_mps,
    overrun_force_n,
    propshaft_force_n,
    propshaft_rpm_per_mps,
)
from descent.vehicle.model import Gearbox, Retarder, RetarderKind, RetarderShaft

FloatArray = NDArray[np.float64]


def stage_fraction(retarder: Retarder, stage: int) -> float:
    """Fraction of full torque in stage 0 (off) to len(stages)."""
    return 0.0 if stage == 0 else retarder.stages[stage - 1][1]


def shaft_torque_nm(retarder: Retarder, stage: int, shaft_rpm: FloatArray) -> FloatArray:
    """Retarding torque at its shaft (n,) [N m], linear between the table's speeds, limited by the continuous power.

    Below the first speed of the table it is zero (it drops out); above the last it is held, never extrapolated.
    """
    if retarder.kind is RetarderKind.NONE or stage == 0:
        return np.zeros_like(shaft_rpm)
    torque = np.interp(shaft_rpm, retarder.speeds_rpm, retarder.torque_nm) * stage_fraction(retarder, stage)
    torque = np.where(shaft_rpm < retarder.speeds_rpm[0], 0.0, torque)
    limit = retarder.continuous_power_w / np.maximum(shaft_rpm * RPM_RADPS, 1e-9)
    return np.minimum(torque, limit)


def retarder_force_n(retarder: Retarder, gearbox: Gearbox, gear: int, stage: int, speed_mps: FloatArray) -> FloatArray:
    """Retarding force at the tyres (n,) [N] in a gear and stage at road speeds (n,) [m/s]."""
    if retarder.shaft is RetarderShaft.ENGINE:
        torque = shaft_torque_nm(retarder, stage, speed_mps * engine_rpm_per_mps(gearbox, gear))
        return overrun_force_n(gearbox, gear, torque)
    torque = shaft_torque_nm(retarder, stage, speed_mps * propshaft_rpm_per_mps(gearbox))
    return propshaft_force_n(gearbox, torque)
