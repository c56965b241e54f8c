# SPDX-License-Identifier: MIT
"""The plan as the document of plan.json: the contract's names, SI, the unit in the name."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import PurePath
from typing import Any

import numpy as np

from descent.downgrades.model import Downgrade
from descent.physics.trace import DescentTrace
from descent.plan.model import DescentPlan, LegSpan, PlannedStop, Task
from descent.report.doubt_blocks import doubt_blocks
from descent.report.sentences import Sentences
from descent.request import PlanRequest
from descent.route.line import Route
from descent.sources import cite
from descent.terrain.road_profile import RoadProfile

SCHEMA = "descent-plan/1"
ALWAYS_USED = ("fhwa_grade_severity", "wydot_2018_wy1901f", "standard_atmosphere", "karney_2013", "mutcd",
               "aashto_green_book", "cdl_manual", "clopper_pearson_1934", "practice", "assumed")
Rows = list[dict[str, Any]]


def plan_document(plan: DescentPlan, request: PlanRequest, route: Route, sentences: Sentences) -> dict[str, Any]:
    """plan.json of a plan, unrounded (`plan_json.stable_document` rounds). What was not computed is left out."""
    task = plan.task
    advice = sentences.advice(plan.warnings)
    document: dict[str, Any] = {
        "schema": SCHEMA, "conditions": _conditions(request),
        "route": {"name": route.name, "length_m": task.profile.length_m, "reversed": route.reversed,
                  "mended": list(route.mended)},
        "profile": {**profile_columns(task.profile), "curve_limit_mps": task.curve_mps,
                    "posted_limit_mps": np.where(task.posted_known, task.posted_mps, np.nan)},
        "structures": structures_block(task.profile), "places": _places(plan),
        "downgrades": downgrades_block(task.downgrades), "vehicle": _vehicle(task),
        "feasible": plan.feasible, "verdict_reason": sentences.reason(plan.verdict, "verdict")}
    if plan.solution is not None and plan.trace is not None:
        document |= {"legs": _legs(plan, plan.trace, sentences),
                     "stops": [_stop(task, plan.trace, stop) for stop in plan.solution.stops],
                     "trace": _trace(plan, plan.trace), "energy": dict(plan.trace.energy_j),
                     "time_s": plan.trace.total_time_s,
                     "margin_c": plan.margin_k, **_best(plan)}
    return document | doubt_blocks(plan, sentences) | {
        "limits": {"brake_temp_c": min(row.brake.temp_limit_c for row in task.vehicle.rows),
                   "fade_onset_c": min(row.brake.fade_onset_c for row in task.vehicle.rows),
                   "engine_speed_rpm": task.vehicle.engine.overrun_limit_rpm,
                   "min_speed_mps": task.rules.min_speed_mps, "park_grade": task.rules.park_grade, **_air_limits(task)},
        "severity": [{"downgrade": item.downgrade, "original_mps": item.original_mps, "updated_mps": item.updated_mps}
                     for item in plan.second_opinions],
        "warnings": [sentences.reason(item, "warning") for item in plan.warnings if item.kind != "advice"],
        "advice": advice,
        "alternatives": [sentences.alternative(item) for item in plan.alternatives],
        "assumptions": sentences.assumptions(plan, request.surface.value), "cautions": sentences.cautions(advice),
        "sources": cite(_source_keys(task))}


def _best(plan: DescentPlan) -> dict[str, Any]:
    """The proof that belongs to the plan shown, with the reserve it keeps, and what one gear and one speed cost."""
    found: dict[str, Any] = {"lower_bound_s": plan.lower_bound_s, "proven": plan.proven}
    if plan.price is not None:
        found["price_of_simplicity"] = {"free_s": plan.price.free_s, "simple_s": plan.price.simple_s,
                                        "share": plan.price.share}
    return found


def _air_limits(task: Task) -> dict[str, float]:
    """Low-air warning and governor pressures."""
    if task.air is None:
        return {}
    return {"reservoir_kpa": task.air.warning_kpa, "reservoir_cut_in_kpa": task.air.cut_in_kpa,
            "reservoir_cut_out_kpa": task.air.cut_out_kpa}


def _source_keys(task: Task) -> list[str]:
    used = {*ALWAYS_USED, *task.vehicle.source_keys, *task.profile.source_keys,
            *(task.air.source_keys if task.air is not None else ())}
    return sorted(used - {"user"})


def _conditions(request: PlanRequest) -> dict[str, Any]:
    return {"route": PurePath(request.road.route).name, "heights": request.road.heights.value,
            "dem": [PurePath(path).name for path in request.road.dem],
            "places": PurePath(request.places).name if request.places else None,
            "vehicle": PurePath(request.vehicle).name, "gross_kg": request.gross_kg,
            "air_temp_c": request.air_temp_c, "start_temp_c": request.start_temp_c,
            "road": request.surface.value, "condition": PurePath(request.condition).name if request.condition else None, "min_speed_mps": request.min_speed_mps,
            "accepted_risk": request.accepted_risk, "seed": request.seed, "weight_from": request.weight_from.value,
            "units": request.system.value}


def profile_columns(profile: RoadProfile) -> dict[str, Any]:
    """The columns of a road profile and what is known of their worth."""
    return {"station_m": profile.station_m, "lon": profile.lon, "lat": profile.lat,
            "elevation_m": profile.elevation_m, "elevation_sd_m": profile.elevation_sd_m, "grade": profile.grade,
            "grade_sd": profile.grade_sd, "grade_correlation_m": profile.grade_correlation_m,
            "common_grade_sd": profile.common_grade_sd, "source": profile.source, "notes": list(profile.notes),
            "confidence": [{"start_m": span.start_m, "end_m": span.end_m, "level": span.level,
                            "reasons": list(span.reasons)} for span in profile.confidence]}


def structures_block(profile: RoadProfile) -> Rows:
    """The `structures` of plan.json."""
    return [{"kind": item.kind, "start_m": item.start_m, "end_m": item.end_m, "from": item.found_from}
            for item in profile.structures]


def downgrades_block(downgrades: Sequence[Downgrade]) -> Rows:
    """The `downgrades` of plan.json."""
    return [{"number": item.number, "start_m": item.start_m, "end_m": item.end_m,
             "length_m": item.length_m, "drop_m": item.drop_m,
             "mean_grade": item.mean_grade, "mean_grade_sd": item.mean_grade_sd,
             "steepest_1km": None if item.steepest_1km is None else item.steepest_1km,
             "steepest_300m": None if item.steepest_300m is None else item.steepest_300m,
             "hill_sign": item.hill_sign, "boundary_uncertain": item.boundary_uncertain} for item in downgrades]


def _places(plan: DescentPlan) -> Rows:
    task, found = plan.task, []
    for place, usable in zip(task.places, plan.usable, strict=True):
        row: dict[str, Any] = {
            "name": place.name, "kind": place.kind, "station_m": place.station_m,
            "offset_m": place.offset_m, "side": place.side, "lon": place.lon,
            "lat": place.lat, "local_grade": task.local_grade(place), "usable": usable}
        if place.room_m is not None:
            row["room_m"] = place.room_m
        known = ("surface", "bed", "value", "length_m", "note", "grade_percent")
        row |= {key: place.attributes[key] for key in known if place.attributes.get(key) is not None}
        found.append(row)
    return found


def _vehicle(task: Task) -> dict[str, Any]:
    vehicle = task.vehicle
    return {"name": vehicle.name, "title": vehicle.title, "gross_kg": vehicle.gross_kg,
            "axles": [{"name": axle.name, "load_kg": axle.load_kg, "brake_kind": axle.brake_kind.value,
                       "brake_count": axle.brake_count} for axle in vehicle.axles],
            "gearbox": vehicle.gearbox.kind, "gears": list(vehicle.gearbox.names),
            "retarder": vehicle.retarder.kind.value,
            "retarder_stages": [name for name, _ in vehicle.retarder.stages]}


def _legs(plan: DescentPlan, trace: DescentTrace, sentences: Sentences) -> Rows:
    assert plan.solution is not None
    return [_leg(plan, number, leg, trace, sentences) for number, leg in enumerate(plan.solution.legs)]


def _leg(plan: DescentPlan, number: int, leg: LegSpan, trace: DescentTrace, sentences: Sentences) -> dict[str, Any]:
    task, held = plan.task, leg.instruction
    nodes = slice(leg.start, leg.end + 1)
    hot = trace.temp_c[nodes]
    node, row = np.unravel_index(int(np.argmax(hot)), hot.shape)
    with_stop = hot + trace.rise_k[nodes]
    worst_node, worst_row = np.unravel_index(int(np.argmax(with_stop)), with_stop.shape)
    used = leg.start + 1 + np.flatnonzero(trace.pressure_kpa[leg.start + 1:leg.end + 1] > 0)
    assert plan.gauge is not None
    time_s = float(trace.time_s[leg.end] - trace.time_s[leg.start] - max(trace.dwell_s[leg.start], 0.0))
    profile, facts = task.profile, plan.leg_facts[number]
    return {
        "number": number + 1, "downgrade": leg.downgrade, "start_m": float(profile.station_m[leg.start]),
        "end_m": float(profile.station_m[leg.end]), "lon": float(profile.lon[leg.start]),
        "lat": float(profile.lat[leg.start]), "gear": task.vehicle.gearbox.names[held.gear],
        "gear_by_m": float(profile.station_m[leg.gear_by]),
        "engine_speed_rpm": facts.engine_rpm,
        "control_speed_mps": held.control_mps,
        "balance_speed_mps": facts.balance_mps, "retarder_stage": held.stage,
        "snubs": _snubs(task, leg, trace),
        "application_pressure_kpa": float(np.median(trace.pressure_kpa[used])) if len(used) else None,
        "application_cold_kpa": float(np.median(plan.gauge.cold_kpa[used])) if len(used) else None,
        "fade_pressure_kpa": float(np.median(plan.gauge.fade_kpa[used])) if len(used) else None,
        "peak_brake_temp_c": float(hot[node, row]), "peak_axle": task.vehicle.axle_of(int(row)).name,
        "emergency_rise_c": float(trace.rise_k[leg.start + worst_node, worst_row]),
        **_leg_energy(task, leg, trace), "time_s": time_s,
        "why": [sentences.reason(reason, "reason") for reason in plan.leg_reasons[number]]}


def _snubs(task: Task, leg: LegSpan, trace: DescentTrace) -> dict[str, Any] | None:
    """The snubs of a leg: how many, from and to which speed, how long, and the median of the times between them with
    their 10th and 90th percentile (None below five snubs: then there is no rhythm)."""
    begun, seconds = trace.snubs[leg.start:leg.end].sum(axis=0)
    if begun < 1:
        return None
    starts = trace.snub_starts_s[(trace.snub_starts_s >= trace.time_s[leg.start])
                                 & (trace.snub_starts_s < trace.time_s[leg.end])]
    low, middle, high = np.percentile(np.diff(starts), (10, 50, 90)) if begun >= 5 else (None, None, None)
    control = leg.instruction.control_mps
    return {"count": int(begun), "from_mps": control,
            "to_mps": max(control - task.driving.snub_drop_mps, task.driving.snub_floor * control),
            "duration_s": float(seconds / begun), "interval_s": middle, "interval_low_s": low, "interval_high_s": high}


def _leg_energy(task: Task, leg: LegSpan, trace: DescentTrace) -> dict[str, Any]:
    work = trace.work_j[leg.start:leg.end].sum(axis=0)
    return {"brake_energy_j": round(float(work[0])), "engine_energy_j": round(float(work[1])),
            "retarder_energy_j": round(float(work[2]))}


def _stop(task: Task, trace: DescentTrace, stop: PlannedStop) -> dict[str, Any]:
    profile = task.profile
    return {"kind": stop.kind, "station_m": float(profile.station_m[stop.node]),
            "lon": float(profile.lon[stop.node]), "lat": float(profile.lat[stop.node]),
            "place": stop.place.name if stop.place else None, "side": stop.place.side if stop.place else None,
            "room_m": stop.place.room_m if stop.place else None,
            "surface": stop.place.attributes.get("surface") if stop.place else None,
            "minutes": stop.minutes, "arrive_temp_c": float(trace.temp_c[stop.node].max()),
            "leave_temp_c": float(trace.leave_temp_c[stop.node].max()),
            "local_grade": stop.local_grade}


def _trace(plan: DescentPlan, trace: DescentTrace) -> dict[str, Any]:
    """Columns at the stations; a stop repeats its station: on arrival and on leaving."""
    assert plan.solution is not None and plan.engine_rpm is not None and plan.gauge is not None
    task = plan.task
    repeated = trace.dwell_s > 0
    index = np.repeat(np.arange(len(trace.station_m)), 1 + repeated)
    leaving = np.zeros(len(index), dtype=bool)
    leaving[1:] = index[1:] == index[:-1]
    temp = np.where(leaving[:, None], trace.leave_temp_c[index], trace.temp_c[index])
    gear: list[str | None] = [None] * len(trace.station_m)
    stage: list[int | None] = [None] * len(trace.station_m)
    for leg in plan.solution.legs:
        for node in range(leg.start, leg.end + 1):
            gear[node] = task.vehicle.gearbox.names[leg.instruction.gear]
            stage[node] = leg.instruction.stage
    return {
        "station_m": trace.station_m[index],
        "time_s": trace.time_s[index] + np.where(leaving, trace.dwell_s[index], 0.0),
        "speed_mps": trace.speed_mps[index], "gear": [gear[i] for i in index],
        "retarder_stage": [stage[i] for i in index], "engine_speed_rpm": plan.engine_rpm[index],
        "brake_temp_c": {axle.name: temp[:, [i for i, row in enumerate(task.vehicle.rows) if row.axle == index]].max(axis=1)
                         for index, axle in enumerate(task.vehicle.axles)},
        "emergency_temp_c": (temp + trace.rise_k[index]).max(axis=1),
        "application_kpa": trace.pressure_kpa[index], "application_cold_kpa": plan.gauge.cold_kpa[index],
        "fade_kpa": plan.gauge.fade_kpa[index],
        **({} if plan.reservoirs is None else {"reservoir_kpa": plan.reservoirs.service_kpa[index]}),
        **({} if plan.stopping_m is None else {"stopping_distance_m": plan.stopping_m[index]})}
