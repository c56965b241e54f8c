# SPDX-License-Identifier: MIT
"""What a vehicle's engine and gears can do, as numbers a driver knows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from descent.physics.driveline import speed_at_rpm_mps
from descent.physics.engine_drag import drag_power_w
from descent.vehicle.model import Vehicle


@dataclass(frozen=True)
class Characteristics:
    """Governed speed of each gear [m/s] and the motored engine's drag power at its overrun limit [W]."""

    governed_mps: tuple[float, ...]
    drag_power_w: float


def characteristics(vehicle: Vehicle) -> Characteristics:
    """Governed speeds and engine drag of a vehicle."""
    limit = vehicle.engine.overrun_limit_rpm
    return Characteristics(
        tuple(speed_at_rpm_mps(vehicle.gearbox, gear, limit) for gear in range(len(vehicle.gearbox.ratios))),
        float(drag_power_w(vehicle.engine, np.array([limit]))[0]))
