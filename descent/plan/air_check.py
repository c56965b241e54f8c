# SPDX-License-Identifier: MIT
"""Whether the air lasts: what the reservoirs hold at least along a way down stays above the low-air warning."""

from __future__ import annotations

from dataclasses import replace

from descent.physics.air_system import ReservoirHistory, reservoir_along
from descent.physics.trace import DescentTrace
from descent.plan.leg_facts import turning_rpm
from descent.plan.model import Solution, Task
from descent.vehicle.air_supply import AirSupply


def counted_on(air: AirSupply) -> AirSupply:
    """The air a plan may count on: none above cut-in. Between cut-in and cut-out the governor may have unloaded the
    compressor anywhere, and where it stands at a crest nobody knows; so no reservoir is taken to hold more than cut-in,
    and the compressor works whenever one holds less (derived: the least a working governor leaves). In this every step
    keeps the order: more air is never worse."""
    return replace(air, cut_out_kpa=air.cut_in_kpa, safety_valve_kpa=air.cut_in_kpa)


def reservoirs(task: Task, solution: Solution, trace: DescentTrace) -> ReservoirHistory | None:
    """Reservoirs along a way down with the governor as it is; None where the air is not looked at."""
    if task.air is None:
        return None
    return reservoir_along(trace, task.vehicle, task.air, engine_rpm=turning_rpm(task, solution, trace))


def least_reservoirs(task: Task, solution: Solution, trace: DescentTrace) -> ReservoirHistory | None:
    """The air that may be counted on along a way down; None where the air is not looked at."""
    if task.air is None:
        return None
    return reservoir_along(trace, task.vehicle, counted_on(task.air), engine_rpm=turning_rpm(task, solution, trace))


def low_air_node(task: Task, solution: Solution, trace: DescentTrace) -> int | None:
    """The first node at which the lower service reservoir may be under the warning; None: never, or the air is not looked
    at."""
    along = least_reservoirs(task, solution, trace)
    return None if along is None else along.warning_node
