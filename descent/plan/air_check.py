# SPDX-License-Identifier: MIT
"""Whether the air lasts: the reservoirs along a way down stay above the low-air warning."""

from __future__ import annotations

import numpy as np

from descent.physics.air_system import reservoir_along
from descent.physics.trace import DescentTrace
from descent.plan.leg_facts import engine_speeds_rpm
from descent.plan.model import Solution, Task


def low_air_node(task: Task, solution: Solution, trace: DescentTrace) -> int | None:
    """The first node at which the lower service reservoir is under the warning; None: never, or the air is not looked at."""
    if task.air is None:
        return None
    turning = np.nan_to_num(engine_speeds_rpm(task, solution, trace), nan=task.driving.cruise_rpm)
    return reservoir_along(trace, task.vehicle, task.air, engine_rpm=turning).warning_node
