# SPDX-License-Identifier: MIT
"""The debrief as the document of debrief.json: SI, the unit in the name; every figure taken from the debrief itself."""

from __future__ import annotations

from pathlib import PurePath
from typing import Any

import numpy as np
from numpy.typing import NDArray

from descent.debrief.model import Band, Debrief, Departure, LegDriven, StopDriven
from descent.plan.model import Task
from descent.request import PlanRequest
from descent.sources import cite

SCHEMA = "descent-debrief/1"
ALWAYS_USED = ("fhwa_grade_severity", "standard_atmosphere", "karney_2013", "heywood_1988", "assumed")
OUT_OF_GEAR = "out of gear"
FloatArray = NDArray[np.float64]
Document = dict[str, Any]


def debrief_document(debrief: Debrief, request: PlanRequest, *, recording: str, plan: str | None, seed: int) -> Document:
    """debrief.json, unrounded (`plan_json.stable_document` rounds)."""
    task, drive, heat = debrief.planned.task, debrief.drive, debrief.heat
    return {
        "schema": SCHEMA,
        "conditions": {
            "recording": PurePath(recording).name, "plan": PurePath(plan).name if plan else None,
            "vehicle": PurePath(request.vehicle).name, "gross_kg": task.vehicle.gross_kg,
            "air_temp_c": task.day.air_temp_c, "start_temp_c": task.day.start_temp_c, "road": request.surface.value,
            "units": request.system.value, "seed": seed, "draws": len(heat.work_draws_j)},
        "vehicle": {"name": task.vehicle.name, "title": task.vehicle.title, "gross_kg": task.vehicle.gross_kg,
                    "axles": [{"name": axle.name, "load_kg": axle.load_kg, "brake_kind": axle.brake_kind.value,
                               "brake_count": axle.brake_count} for axle in task.vehicle.axles]},
        "route": {"name": drive.route.name, "length_m": task.profile.length_m, "start_m": debrief.start_m,
                  "end_m": debrief.end_m},
        "profile": {"station_m": task.profile.station_m, "lon": task.profile.lon, "lat": task.profile.lat,
                    "elevation_m": task.profile.elevation_m, "grade": task.profile.grade,
                    "grade_sd": task.profile.grade_sd, "source": task.profile.source},
        "recording": _recording(debrief), "has_plan": debrief.planned.trace is not None,
        "time_s": debrief.seconds, "planned_time_s": debrief.planned_seconds,
        "energy": {"brakes_j": _band(heat.energy_j), "brakes_in_gear_j": _band(heat.energy_in_gear_j),
                   "planned_brakes_j": _planned_energy(debrief)},
        "axles": _axles(debrief), "hottest_axle": task.vehicle.axle_of(debrief.hottest).name,
        "margin_c": _band(heat.margin_k), "margin_in_gear_c": _band(heat.margin_in_gear_k), "limits": {"brake_temp_c": min(
            row.brake.temp_limit_c for row in task.vehicle.rows)},
        "legs": [_leg(debrief, leg) for leg in debrief.legs], "stops": [_stop(stop) for stop in debrief.stops],
        "departures": [_departure(item) for item in debrief.departures],
        "well": [{"kind": kind, **values} for kind, values in debrief.well],
        "series": _series(debrief), "planned": _planned(debrief), "sources": cite(_source_keys(task))}


def _band(band: Band) -> dict[str, float]:
    return {"value": band.value, "low": band.low, "high": band.high}


def _source_keys(task: Task) -> list[str]:
    return sorted({*ALWAYS_USED, *task.vehicle.source_keys, *task.profile.source_keys} - {"user"})


def _recording(debrief: Debrief) -> Document:
    drive = debrief.drive
    return {"points": drive.points, "points_used": drive.used, "has_speed": drive.has_speed,
            "has_engine_speed": drive.gear_known, "notes": list(drive.notes),
            "events": [{"kind": item.kind, "time_s": item.time_s, "seconds": item.seconds, "station_m": station}
                       for item, station in drive.happenings]}


def _planned_energy(debrief: Debrief) -> float | None:
    trace, profile = debrief.planned.trace, debrief.planned.task.profile
    if trace is None:
        return None
    return float(trace.work_j[profile.index_at(debrief.start_m):profile.index_at(debrief.end_m), 0].sum())


def _of_axle(task: Task, values: FloatArray, axle: int) -> FloatArray:
    """The hottest row of an axle group, (n, n_rows) -> (n,)."""
    return np.asarray(values[:, [i for i, row in enumerate(task.vehicle.rows) if row.axle == axle]].max(axis=1))


def _axles(debrief: Debrief) -> list[Document]:
    task, heat, found = debrief.planned.task, debrief.heat, []
    for number, axle in enumerate(task.vehicle.axles):
        rows = [i for i, row in enumerate(task.vehicle.rows) if row.axle == number]
        row = max(rows, key=lambda i: heat.peaks_c[i].value)
        at = int(np.argmax(heat.temp_c[:, row]))
        trace = debrief.planned.trace
        found.append({"name": axle.name, "peak_c": _band(heat.peaks_c[row]),
                      "peak_in_gear_c": _band(heat.peaks_in_gear_c[row]),
                      "peak_station_m": float(debrief.drive.motion.station_m[at]),
                      "planned_peak_c": None if trace is None else float(trace.temp_c[:, row].max())})
    return found


def _leg(debrief: Debrief, leg: LegDriven) -> Document:
    names = debrief.planned.task.vehicle.gearbox.names
    held = debrief.planned.solution.legs[leg.number - 1].instruction
    return {"number": leg.number, "start_m": leg.start_m, "end_m": leg.end_m, "planned_gear": names[held.gear],
            "gears": [names[gear] if gear >= 0 else OUT_OF_GEAR for gear in leg.gears], "retarder_stage": held.stage,
            "control_speed_mps": held.control_mps, "top_speed_mps": leg.top_mps, "share_over_control": leg.share_over,
            "time_s": leg.moving_s, "planned_time_s": leg.planned_s, "applications": leg.applications,
            "brake_energy_j": _band(leg.energy_j), "planned_brake_energy_j": leg.planned_energy_j,
            "peak_c": _band(leg.peak_c), "planned_peak_c": leg.planned_peak_c}


def _stop(stop: StopDriven) -> Document:
    return {"kind": stop.kind, "station_m": stop.station_m, "place": stop.place, "planned_minutes": stop.planned_minutes,
            "real_minutes": stop.real_minutes, "outcome": stop.outcome, "arrive_temp_c": stop.arrive_c,
            "leave_temp_c": stop.leave_c}


def _departure(item: Departure) -> Document:
    named = {"top_mps": "top_speed_mps", "control_mps": "control_speed_mps", "planned": "planned", "real": "real"}
    return {"kind": item.kind, "start_m": item.start_m, "end_m": item.end_m, "cost_s": item.cost_s, "cost_c": item.cost_k,
            **{named.get(key, key): value for key, value in item.values.items()}}


def _series(debrief: Debrief) -> Document:
    """Columns at the samples of the drive; what belongs to the time between two stands at the first."""
    drive, heat, task = debrief.drive, debrief.heat, debrief.planned.task
    names, motion = task.vehicle.gearbox.names, drive.motion
    gear = [names[g] if g >= 0 else OUT_OF_GEAR if g < -1 else None for g in drive.gear.tolist()]
    control = np.full(len(drive.gear), np.nan)
    stations = task.profile.station_m
    for leg in debrief.planned.solution.legs:
        here = (drive.between.station_m >= stations[leg.start]) & (drive.between.station_m < stations[leg.end])
        control[here] = leg.instruction.control_mps
    power = heat.work_j / drive.between.seconds
    columns: Document = {
        "time_s": motion.time_s, "station_m": motion.station_m, "speed_mps": motion.speed_mps,
        "speed_sd_mps": motion.speed_sd_mps, "control_speed_mps": np.append(control, control[-1:]),
        "gear": [*gear, *gear[-1:]], "retarder_stage": [*drive.stage.tolist(), *drive.stage.tolist()[-1:]],
        "engine_speed_rpm": drive.engine_rpm, "standing": [bool(flag) for flag in motion.standing],
        "seen": [bool(flag) for flag in motion.seen], "brake_power_w": np.append(power, 0.0)}
    for key, temps in (("brake_temp_c", heat.temp_c), ("brake_temp_low_c", heat.low_c), ("brake_temp_high_c", heat.high_c)):
        columns[key] = {axle.name: _of_axle(task, temps, number) for number, axle in enumerate(task.vehicle.axles)}
    return {**columns, "emergency_temp_c": heat.emergency_c}


def _planned(debrief: Debrief) -> Document | None:
    """The plan driven as written on the same road; a stop repeats its station."""
    trace, task = debrief.planned.trace, debrief.planned.task
    if trace is None:
        return None
    index = np.repeat(np.arange(len(trace.station_m)), 1 + (trace.dwell_s > 0))
    leaving = np.concatenate([[False], index[1:] == index[:-1]])
    temps = np.where(leaving[:, None], trace.leave_temp_c[index], trace.temp_c[index])
    return {"station_m": trace.station_m[index],
            "time_s": trace.time_s[index] + np.where(leaving, trace.dwell_s[index], 0.0),
            "speed_mps": trace.speed_mps[index],
            "brake_temp_c": {axle.name: _of_axle(task, temps, number) for number, axle in enumerate(task.vehicle.axles)}}
