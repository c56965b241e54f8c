# SPDX-License-Identifier: MIT
"""What is left when the air goes: a dead compressor, and half of a dual system lost."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from descent.physics.air_loss import FAILURE_OF, AirLoss, air_loss, way_of_stop
from descent.physics.air_system import full_application_kpa
from descent.physics.march import ForceTables
from descent.physics.runaway import with_fade_and_slack
from descent.physics.stopping import StopFailure, Timing, brakes_left
from descent.physics.trace import DescentTrace
from descent.plan.doubt import Failure
from descent.plan.failure_march import (
    BEST,
    TRIED_M,
    WORST,
    Case,
    Window,
    concluded,
    driven,
    excess,
    rhythm,
    technique,
    window,
    within,
)
from descent.plan.faulty import without_axles
from descent.plan.model import Task
from descent.vehicle.air_supply import AirSupply, Circuit
from descent.vehicle.model import Vehicle

FloatArray = NDArray[np.float64]


def air_cases(task: Task, part: Window, planned: Case, trace: DescentTrace, rpm: FloatArray,
              tables: ForceTables) -> list[Failure]:
    """Compressor dead from the start of the window on, and the worse half of the dual system lost there."""
    if task.air is None:
        return []
    part, case = _until_next_stop(part, planned, trace)
    return [_compressor(task, part, case, rpm, tables, task.air), _half_lost(task, part, case, rpm, tables, task.air)]


def _until_next_stop(part: Window, planned: Case, trace: DescentTrace) -> tuple[Window, Case]:
    """The window from leaving the stop it begins with to the next one, where the driver would see the gauges."""
    stops = np.flatnonzero(trace.dwell_s[part.start + 1:part.end] >= 0)
    end = part.end if not len(stops) else part.start + 1 + int(stops[0])
    shorter = window(part.cells, part.number, 0, end - part.start)
    schedule = within(planned.schedule, shorter)
    schedule.dwell_s[0] = -1.0
    return Window(part.number, part.start, end, shorter.cells), replace(
        planned, schedule=schedule, temps_c=trace.leave_temp_c[part.start].copy())


@dataclass(frozen=True)
class _Way:
    """One way down with failing air: its march, what becomes of the air, and the last node of a full stop (None: to the
    foot one is possible)."""

    trace: DescentTrace
    lost: AirLoss
    last: int | None


def _way(task: Task, part: Window, case: Case, rpm: FloatArray, tables: ForceTables, air: AirSupply, *, vehicle: Vehicle,
         circuit: Circuit | None) -> _Way:
    """Driven on as planned: a dead compressor (no circuit named), or one circuit lost. vehicle: with all its brakes, whose
    chambers take air and whose springs press; those of a lost circuit's axles do not brake."""
    gone = [index for index, own in enumerate(air.circuits) if own is circuit]
    trace = driven(task, part, case, tables, vehicle=without_axles(vehicle, gone))
    lost = air_loss(trace, vehicle, part.cells, air, engine_rpm=rpm[part.start:part.end + 1], adhesion=task.day.adhesion,
                    compressor_share=0.0 if circuit is None else 1.0, lost=circuit)
    return _Way(trace, lost, _last_stop(part, case, trace, lost, vehicle, air, circuit))


def _last_stop(part: Window, case: Case, trace: DescentTrace, lost: AirLoss, vehicle: Vehicle, air: AirSupply,
               circuit: Circuit | None) -> int | None:
    """As `failure_march.last_stop`, each stop with the pressure that chambers and reservoirs run level at there, and none
    once the springs begin."""
    step = max(1, round(TRIED_M / float(part.cells.station_m[1] - part.cells.station_m[0])))
    springs, timing = lost.history.spring_node, Timing()
    end = trace.reached if springs is None else springs - 1
    failure = StopFailure.NONE if circuit is None else FAILURE_OF[circuit]
    for node in np.unique(np.append(np.arange(0, end + 1, step), max(end, 0))):
        kpa = full_application_kpa(lost.history.tank_kpa[node], vehicle, air, asked_kpa=vehicle.emergency_pressure_kpa,
                                   temps_c=trace.leave_temp_c[node], lost=circuit)
        left = brakes_left(vehicle, timing=timing, technique=technique(vehicle), application_kpa=max(kpa, 1.0),
                           failure=failure, air=air)
        if not np.isfinite(way_of_stop(trace, vehicle, part.cells, int(node), case.day.adhesion,
                                       timing.perception_s + timing.reaction_s, left)):
            return max(int(node) - step, -1)
    return None if springs is None else max(end, -1)


def _signs(lost: AirLoss, air: AirSupply) -> dict[str, float | str]:
    """Where the warning comes and where springs begin, for the words."""
    detail: dict[str, float | str] = {"warning_kpa": air.warning_kpa, "cut_in_kpa": air.cut_in_kpa}
    if lost.warning_m is not None:
        detail["warning_m"] = lost.warning_m
    if lost.springs_m is not None:
        detail["springs_m"] = lost.springs_m
        if lost.springs_stop_m is not None and np.isfinite(lost.springs_stop_m):
            detail["springs_stop_m"] = lost.springs_stop_m
    return detail


def _ways(task: Task, part: Window, case: Case, rpm: FloatArray, tables: ForceTables, air: AirSupply,
          circuit: Circuit | None) -> tuple[_Way, _Way, _Way]:
    """With the brakes as they are, and the best and the worst of what nobody knows: slack brakes take more air too."""
    vehicles = (task.vehicle, *(with_fade_and_slack(task.vehicle, fade_floor=floor, slack_share=slack)
                                for floor, slack in (BEST, WORST)))
    plain, best, worst = (_way(task, part, case, rpm, tables, air, vehicle=vehicle, circuit=circuit) for vehicle in vehicles)
    return plain, best, worst


def _compressor(task: Task, part: Window, planned: Case, rpm: FloatArray, tables: ForceTables, air: AirSupply) -> Failure:
    """The plan driven on with no air made; a full stop is tried with the pressure left in the reservoirs there."""
    plain, best, worst = _ways(task, part, planned, rpm, tables, air, None)
    case = replace(planned, what="compressor-dead", detail=_signs(plain.lost, air))
    return concluded(task, part, case, worst.trace, holds=plain.lost.warning_m is None and plain.last is None, over_k=0.0,
                     earliest=worst.last, latest=best.last, detail={})


def _half_lost(task: Task, part: Window, planned: Case, rpm: FloatArray, tables: ForceTables, air: AirSupply) -> Failure:
    """Primary or secondary lost at the start of the window, whichever leaves less; driven on as planned."""
    rows = []
    for circuit in (Circuit.PRIMARY, Circuit.SECONDARY):
        gone = [index for index, own in enumerate(air.circuits) if own is circuit]
        if not gone or len(gone) == len(air.circuits):
            continue
        plain, best, worst = _ways(task, part, planned, rpm, tables, air, circuit)
        over = excess(plain.trace, task.vehicle)
        names = ", ".join(task.vehicle.axles[index].name for index in gone)
        case = replace(planned, what="half-air-lost", detail={"axle": names, **_signs(plain.lost, air)})
        rows.append(concluded(task, part, case, worst.trace, over_k=over, earliest=worst.last, latest=best.last,
                              holds=over <= 0.0 and plain.last is None and plain.trace.complete, detail=rhythm(plain.trace)))
    if not rows:
        return concluded(task, part, replace(planned, what="half-air-lost"), driven(task, part, planned, tables),
                         holds=False, over_k=np.inf, earliest=-1, latest=-1, detail={})
    return min(rows, key=lambda row: (row.holds, -1.0 if row.last_full_stop_m is None else row.last_full_stop_m, -row.over_k))
