# SPDX-License-Identifier: MIT
"""How hard the service brakes may be used on a wet road: every axle under a share of the grip its load gives it."""

from __future__ import annotations

import math
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from descent.physics.brake_heat import packed_rows
from descent.physics.foundation_brake import COLD_C, LOAD, row_force_n
from descent.plan.actions import most_held_n
from descent.plan.model import Instruction, Task

FloatArray = NDArray[np.float64]
WET_ADHESION = 0.5       # below it a road counts as wet
WET_SHARE = 0.8          # of the grip of each axle that snubs, engine and retarder together may use (assumed)


def grip_kpa(task: Task, held: tuple[Instruction | None, ...]) -> FloatArray:
    """Highest application (n_instructions,) [kPa] with which no axle uses more than `WET_SHARE` of adhesion x its load.

    Engine and retarder take their part on the driven axles first, by load, the most they hold back between half the control
    speed and the whole. Infinite on a dry road. Range: static axle loads; the shift of load while braking is not counted.
    """
    if task.day.adhesion >= WET_ADHESION:
        return np.full(len(held), np.inf)
    vehicle = task.vehicle
    driven_kg = sum(axle.load_kg for axle in vehicle.axles if axle.driven)
    found = []
    for item in held:
        taken = 0.0 if item is None else most_held_n(task, item)
        lowest = math.inf
        for index, row in enumerate(packed_rows(vehicle)):
            axle = vehicle.axle_of(index)
            part = taken * axle.load_kg * vehicle.rows[index].load_share / driven_kg if axle.driven else 0.0
            lowest = min(lowest, _pressure_for(row, WET_SHARE * task.day.adhesion * row[LOAD] - part))
        found.append(lowest)
    return np.array(found)


def _pressure_for(row: FloatArray, force_n: float) -> float:
    """Highest application at which a cold row gives no more than a force [kPa]; up to 1000 kPa."""
    def force(kpa: float) -> float:
        return float(cast(Any, row_force_n)(row, kpa, COLD_C))

    low, high = 0.0, 1000.0
    if force(high) <= force_n:
        return math.inf
    for _ in range(50):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if force(middle) <= force_n else (low, middle)
    return low
