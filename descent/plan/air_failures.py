# SPDX-License-Identifier: MIT
"""What is left when the air goes: a dead compressor, and half of a dual system lost."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from descent.physics.air_loss import FAILURE_OF, AirLoss, air_loss
from descent.physics.march import ForceTables
from descent.physics.stopping import Timing, brakes_left
from descent.physics.trace import DescentTrace
from descent.plan.doubt import Failure
from descent.plan.failure_march import (
    Case,
    Window,
    concluded,
    driven,
    follow,
    last_stop,
    next_place,
    technique,
    window,
    within,
)
from descent.plan.faulty import without_axles
from descent.plan.model import Task
from descent.vehicle.air_supply import AirSupply, Circuit

FloatArray = NDArray[np.float64]
TRIALS = 40               # places at which a stop with the air that is left is tried


def air_cases(task: Task, part: Window, planned: Case, trace: DescentTrace, rpm: FloatArray,
              tables: ForceTables) -> list[Failure]:
    """Compressor dead from the start of the window on, and the worse half of the dual system lost there."""
    if task.air is None:
        return []
    part, case = _until_next_stop(part, planned, trace)
    return [_compressor(task, part, case, trace, rpm, task.air), _half_lost(task, part, case, rpm, tables, task.air)]


def _until_next_stop(part: Window, planned: Case, trace: DescentTrace) -> tuple[Window, Case]:
    """The window from leaving the stop it begins with to the next one, where the driver would see the gauges."""
    stops = np.flatnonzero(trace.dwell_s[part.start + 1:part.end] >= 0)
    end = part.end if not len(stops) else part.start + 1 + int(stops[0])
    shorter = window(part.cells, part.number, 0, end - part.start)
    schedule = within(planned.schedule, shorter)
    schedule.dwell_s[0] = -1.0
    return Window(part.number, part.start, end, shorter.cells), replace(
        planned, schedule=schedule, temps_c=trace.leave_temp_c[part.start].copy())


def _cut(trace: DescentTrace, part: Window) -> DescentTrace:
    """A march on a window: time counted from its start."""
    a, b = part.start, part.end
    nodes = slice(a, b + 1)
    dwell = trace.dwell_s[nodes].copy()
    clock = trace.time_s[nodes] - trace.time_s[a] - max(dwell[0], 0.0)
    clock[0], dwell[0], dwell[-1] = 0.0, -1.0, -1.0
    return replace(trace, station_m=trace.station_m[nodes], time_s=clock,
                   speed_mps=trace.speed_mps[nodes], pressure_kpa=trace.pressure_kpa[nodes],
                   brake_force_n=trace.brake_force_n[nodes], temp_c=trace.temp_c[nodes], rise_k=trace.rise_k[nodes],
                   leave_temp_c=trace.leave_temp_c[nodes], dwell_s=dwell, snubs=trace.snubs[a:b],
                   work_j=trace.work_j[a:b], reached=b - a)


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


def _compressor(task: Task, part: Window, planned: Case, trace: DescentTrace, rpm: FloatArray,
                air: AirSupply) -> Failure:
    """The plan driven on with no air made; a full stop is tried with the pressure left in the reservoirs there."""
    cut = _cut(trace, part)
    lost = air_loss(cut, task.vehicle, part.cells, air, engine_rpm=rpm[part.start:part.end + 1],
                    adhesion=task.day.adhesion, compressor_share=0.0)
    case = replace(planned, what="compressor-dead", detail=_signs(lost, air))
    end = len(cut.station_m) - 1 if lost.history.spring_node is None else lost.history.spring_node
    last: int | None = None if lost.history.spring_node is None else max(end - 1, 0)
    for node in np.unique(np.linspace(0, end, TRIALS, dtype=int)):
        pressure = min(task.vehicle.emergency_pressure_kpa, float(lost.history.service_kpa[node]))
        left = brakes_left(task.vehicle, timing=Timing(), technique=technique(task.vehicle),
                           application_kpa=max(pressure, 1.0), air=air)
        gone = last_stop(task, part, replace(case, left=left), _from(cut, int(node)), task.vehicle)
        if gone is not None:
            last = int(node) - 1
            break
    holds = lost.warning_m is None and last is None
    return concluded(task, part, case, cut, holds=holds, over_k=0.0, earliest=last, latest=last, detail={})


def _from(trace: DescentTrace, node: int) -> DescentTrace:
    """The march with nothing but one node to stop from: elsewhere it stands."""
    speed = np.zeros_like(trace.speed_mps)
    speed[node] = trace.speed_mps[node]
    return replace(trace, speed_mps=speed)


def _half_lost(task: Task, part: Window, planned: Case, rpm: FloatArray, tables: ForceTables, air: AirSupply) -> Failure:
    """Primary or secondary lost at the start of the window, whichever leaves less; driven on as planned."""
    rows = []
    for circuit in (Circuit.PRIMARY, Circuit.SECONDARY):
        gone = [index for index, own in enumerate(air.circuits) if own is circuit]
        if not gone or len(gone) == len(air.circuits):
            continue
        vehicle = without_axles(task.vehicle, gone)
        left = brakes_left(task.vehicle, timing=Timing(), technique=technique(task.vehicle),
                           failure=FAILURE_OF[circuit], air=air)
        case = replace(planned, what="half-air-lost", vehicle=vehicle, left=left,
                       detail={"axle": ", ".join(task.vehicle.axles[index].name for index in gone)})
        row = follow(task, part, case, tables)
        lost = air_loss(driven(task, part, case, tables), vehicle, part.cells, air,
                        engine_rpm=rpm[part.start:part.end + 1], adhesion=task.day.adhesion, lost=circuit)
        case = replace(case, detail={**case.detail, **_signs(lost, air)})
        rows.append(_with_springs(task, row, lost, case))
    if not rows:
        return concluded(task, part, replace(planned, what="half-air-lost"), driven(task, part, planned, tables),
                         holds=False, over_k=np.inf, earliest=-1, latest=-1, detail={})
    return min(rows, key=lambda row: (row.holds, -1.0 if row.last_full_stop_m is None else row.last_full_stop_m, -row.over_k))


def _with_springs(task: Task, row: Failure, lost: AirLoss, case: Case) -> Failure:
    """A row whose driver has the brakes in hand only until the springs begin to come on."""
    detail = {**row.detail, **case.detail}
    if lost.springs_m is None:
        return replace(row, detail=detail)
    last, latest = (None if at is None else min(at, lost.springs_m) for at in (row.last_full_stop_m, row.latest_full_stop_m))
    place = next_place(task, row.from_m, last, all_the_way=False, kinds=())
    return replace(row, holds=False, last_full_stop_m=last, latest_full_stop_m=latest, all_the_way=False, detail=detail,
                   next_place=place, speed_there_mps=row.speed_there_mps if place is row.next_place and place else None)
