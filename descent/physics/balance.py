# SPDX-License-Identifier: MIT
"""Balance speed: the speed a gear and retarder stage hold on a grade with no service brake."""

from __future__ import annotations

import numpy as np

from descent.physics.driveline import engine_rpm_per_mps, overrun_force_n
from descent.physics.engine_drag import drag_torque_nm
from descent.physics.retarder import retarder_force_n
from descent.physics.road_load import air_density_kgpm3, air_force_n, grade_force_n, rolling_force_n
from descent.vehicle.model import Vehicle


def balance_speed_mps(vehicle: Vehicle, *, gear: int, stage: int, grade: float, altitude_m: float = 0.0,
                      air_temp_c: float = 15.0) -> float | None:
    """The lowest speed [m/s] at which rolling, air, engine and retarder match gravity, or None.

    None when no speed up to the engine's overrun limit holds (gravity wins, the service brakes are needed) or when
    the vehicle needs power at every speed. Scanned upward in 0.02 m/s steps and the first crossing taken: the sum of
    resistances need not rise everywhere (method name: Fancher and Winkler 1983, key fancher_1983_imeche).
    """
    top = vehicle.engine.overrun_limit_rpm / engine_rpm_per_mps(vehicle.gearbox, gear)
    low = vehicle.engine.idle_rpm / engine_rpm_per_mps(vehicle.gearbox, gear)
    speed = np.arange(low, top + 1e-9, 0.02)
    rpm = speed * engine_rpm_per_mps(vehicle.gearbox, gear)
    slope = np.full_like(speed, grade)
    density = air_density_kgpm3(np.full_like(speed, altitude_m), air_temp_c)
    surplus = (grade_force_n(vehicle.gross_kg, slope)
               - rolling_force_n(vehicle.gross_kg, vehicle.rolling_coefficient, slope)
               - air_force_n(density, vehicle.drag_area_m2, speed)
               - overrun_force_n(vehicle.gearbox, gear, drag_torque_nm(vehicle.engine, rpm))
               - retarder_force_n(vehicle.retarder, vehicle.gearbox, gear, stage, speed))
    if surplus[0] <= 0:
        return None
    crossed = np.flatnonzero(surplus <= 0)
    return float(speed[crossed[0]]) if len(crossed) else None
