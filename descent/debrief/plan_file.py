# SPDX-License-Identifier: MIT
"""Reads a plan.json back: the road, the conditions it was made for, its legs and stops."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from descent.debrief.places import place_of
from descent.errors import RequestError
from descent.physics.march import Braking
from descent.plan.model import Instruction, LegSpan, PlannedStop, Solution
from descent.route.faultbook import one_fault
from descent.route.files import MEGABYTE, find_source, read_text
from descent.route.line import Route
from descent.route.places import Place
from descent.terrain.road_profile import RoadProfile
from descent.vehicle.model import Vehicle

FloatArray = NDArray[np.float64]
SCHEMA = "descent-plan/1"
LIMIT_BYTES = 200 * MEGABYTE
REMEDY = "Give the plan.json that `descent plan` wrote, unchanged"


@dataclass(frozen=True)
class PlanFile:
    """A plan as its file tells it. posted_mps, curve_mps (n,): NaN where the file has none."""

    where: str
    conditions: Mapping[str, Any]
    route: Route
    profile: RoadProfile
    posted_mps: FloatArray
    curve_mps: FloatArray
    places: tuple[Place, ...]
    feasible: bool
    legs: tuple[Mapping[str, Any], ...]
    stops: tuple[Mapping[str, Any], ...]


def read_plan_file(path: str | os.PathLike[str]) -> PlanFile:
    """The plan in a plan.json. Raises RequestError plan-file when it is none, RouteError when it cannot be read."""
    source = find_source(path)
    try:
        document = json.loads(read_text(source, LIMIT_BYTES))
    except (ValueError, RecursionError) as error:
        raise one_fault(RequestError, source.where, "plan-file", "this is not JSON", REMEDY, value=error) from None
    schema = document.get("schema") if isinstance(document, dict) else None
    if schema != SCHEMA:
        raise one_fault(RequestError, source.where, "plan-file", "this is no plan", REMEDY, value=schema or "no schema")
    try:
        return _plan(document, source.where)
    except (KeyError, TypeError, ValueError, IndexError, AttributeError) as error:
        raise one_fault(RequestError, source.where, "plan-file", "the plan is damaged", REMEDY,
                        value=f"{type(error).__name__}: {error}") from None


def _positive(value: Any, otherwise: float) -> float:
    return float(value) if isinstance(value, int | float) and value > 0.0 else otherwise


def _column(values: Any, size: int | None = None) -> FloatArray:
    if values is None and size is not None:
        return np.full(size, np.nan)
    column = np.array([np.nan if value is None else float(value) for value in values], dtype=float)
    if size is not None and len(column) != size:
        raise ValueError("columns of unequal length")
    return column


def _plan(document: Mapping[str, Any], where: str) -> PlanFile:
    columns = document["profile"]
    station = _column(columns["station_m"])
    n = len(station)
    if n < 3 or not (np.diff(station) > 0).all():
        raise ValueError("stations do not rise")
    lon, lat, elevation, elevation_sd, grade, grade_sd = (
        _column(columns[name], n) for name in ("lon", "lat", "elevation_m", "elevation_sd_m", "grade", "grade_sd"))
    if not all(np.isfinite(column).all() for column in (lon, lat, elevation, grade)):
        raise ValueError("the profile has holes")
    profile = RoadProfile(station, lon, lat, elevation, np.nan_to_num(elevation_sd), grade, np.nan_to_num(grade_sd),
                          np.zeros(n), str(columns.get("source") or "plan.json"),
                          grade_correlation_m=_positive(columns.get("grade_correlation_m"), 100.0),
                          common_grade_sd=_positive(columns.get("common_grade_sd"), 0.0))
    route = Route(str(document["route"].get("name") or ""), lon, lat, station)
    feasible = bool(document.get("feasible"))
    places = tuple(place_of(row) for row in document.get("places") or () if isinstance(row, Mapping))
    return PlanFile(where, document["conditions"], route, profile, _column(columns.get("posted_limit_mps"), n),
                    _column(columns.get("curve_limit_mps"), n), places, feasible,
                    tuple(document.get("legs") or ()) if feasible else (),
                    tuple(document.get("stops") or ()) if feasible else ())


def solution_in(plan: PlanFile, vehicle: Vehicle) -> Solution | None:
    """Legs and stops of the file for a vehicle; None where the plan does not hold.

    Raises RequestError plan-file when a leg's gear or retarder stage is none of the vehicle's.
    """
    if not plan.feasible:
        return None
    try:
        return Solution(tuple(_leg(row, plan, vehicle) for row in plan.legs),
                        tuple(sorted((_stop(row, plan) for row in plan.stops), key=lambda stop: stop.node)))
    except (KeyError, TypeError, ValueError) as error:
        raise one_fault(RequestError, plan.where, "plan-file", "the plan's legs or stops do not fit this vehicle",
                        f"{REMEDY}, and the vehicle it was made for", value=f"{type(error).__name__}: {error}") from None


def _leg(row: Mapping[str, Any], plan: PlanFile, vehicle: Vehicle) -> LegSpan:
    at, names = plan.profile.index_at, vehicle.gearbox.names
    stage = int(row.get("retarder_stage") or 0)
    if not 0 <= stage <= len(vehicle.retarder.stages):
        raise ValueError(f"no retarder stage {stage}")
    gear = names.index(str(row["gear"]))
    start, end = float(row["start_m"]), float(row["end_m"])
    control = float(row["control_speed_mps"])
    if not (0.0 < control < 100.0 and start < end):
        raise ValueError("a leg without a length or a control speed")
    return LegSpan(at(start), at(end), at(float(row.get("gear_by_m") or start)), int(row.get("downgrade") or 0),
                   Instruction(gear, control, stage), Braking.SNUB)


def _stop(row: Mapping[str, Any], plan: PlanFile) -> PlannedStop:
    node = plan.profile.index_at(float(row["station_m"]))
    name = row.get("place")
    place = place_of({**row, "name": name, "kind": "pull-out", "offset_m": 0.0}) if name else None
    return PlannedStop(str(row["kind"]), node, round(float(row["minutes"])), place, float(row.get("local_grade") or 0.0))
