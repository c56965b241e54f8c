# SPDX-License-Identifier: MIT
"""compare.json: one row per case, every figure taken from that case's plan document."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import PurePath
from typing import Any

import numpy as np

from descent.plan.model import COOLING_STOPS
from descent.report.phrases import hottest
from descent.report.trip import Trip, read_trip

SCHEMA = "descent-compare/1"
_POINTS = 400          # of a case's drawn lines; the highest of each stretch is kept


@dataclass(frozen=True)
class CaseGiven:
    """What tells a case from the others, as it was asked for, and what its plan document does not say.

    heaviest: no_cool_down_kg and any_stop_kg, each None where nothing holds, with rated_kg; tonne_more: change_s of the
    trip time with a tonne more (empty: it no longer holds).
    """

    unit: str
    route: str
    retarder_out: str
    fault: str = ""
    heaviest: Mapping[str, float | None] | None = None
    tonne_more: Mapping[str, float] | None = None


def compare_document(cases: Sequence[tuple[CaseGiven, Mapping[str, Any] | None]]) -> dict[str, Any]:
    """The document of a comparison from each case and its plan document (None: no plan could be made)."""
    rows = [_row(number, given, document) for number, (given, document) in enumerate(cases, start=1)]
    holding = [row for row in rows if row["feasible"]]
    quickest = min(holding, key=lambda row: float(row["time_s"]))["number"] if holding else None
    units = next((document["conditions"]["units"] for _, document in cases if document), "us")
    return {"schema": SCHEMA, "units": units, "quickest": quickest, "cases": rows,
            "assumptions": _common(cases, "assumptions"), "cautions": _common(cases, "cautions"),
            "sources": _sources(cases)}


def _row(number: int, given: CaseGiven, document: Mapping[str, Any] | None) -> dict[str, Any]:
    asked: dict[str, Any] = {"number": number, "unit": given.unit, "route": given.route,
                             "retarder_out": given.retarder_out == "out"}
    if document is None:
        return asked | {"feasible": False, "verdict_reason": given.fault, "elevation_refused": True}
    conditions, vehicle = document["conditions"], document["vehicle"]
    row = asked | {
        "route": document["route"]["name"] or given.route, "length_m": document["route"]["length_m"],
        "downgrades": len(document["downgrades"]), "vehicle": conditions.get("vehicle") or vehicle["name"],
        "title": vehicle.get("title") or vehicle["name"], "retarder": vehicle.get("retarder"),
        "gross_kg": conditions["gross_kg"], "air_temp_c": conditions["air_temp_c"], "road": conditions["road"],
        "condition": conditions.get("condition"), "feasible": bool(document["feasible"]),
        "elevation_refused": False, "verdict_reason": document["verdict_reason"],
        "warnings": list(document.get("warnings") or ()), "alternatives": list(document.get("alternatives") or ())}
    if given.heaviest is not None:
        row["heaviest"] = dict(given.heaviest)
    if given.tonne_more is not None:
        row["tonne_more"] = dict(given.tonne_more)
    return row | (_figures(read_trip(document)) if document["feasible"] else {})


def _figures(trip: Trip) -> dict[str, Any]:
    """Time, heat, stops and the longest stopping distance on a downgrade of a plan that holds."""
    document, trace = trip.document, trip.document["trace"]
    hot = hottest(trip)
    cooling = [stop for stop in trip.stops if stop["kind"] in COOLING_STOPS]
    risk = document.get("risk") or {}
    stopping = np.array(trace.get("stopping_distance_m") or [np.nan], dtype=np.float64)
    station = np.asarray(trace["station_m"], dtype=np.float64)
    falling = np.any([(station >= row["start_m"]) & (station <= row["end_m"]) for row in document["downgrades"]]
                     or np.ones((1, len(station)), dtype=bool), axis=0)
    stopping = np.where(falling, stopping, np.nan)
    worst = None if np.isnan(stopping).all() else int(np.nanargmax(stopping))
    return {
        "time_s": document["time_s"], "lower_bound_s": document.get("lower_bound_s"),
        "peak_brake_temp_c": None if hot is None else hot[0], "peak_axle": None if hot is None else hot[1],
        "margin_c": document.get("margin_c"), "limit_c": document["limits"]["brake_temp_c"],
        "cool_down_stops": len(cooling), "cool_down_minutes": sum(int(stop["minutes"]) for stop in cooling),
        "stops": [{key: stop[key] for key in ("kind", "station_m", "minutes", "place")} for stop in trip.stops],
        "legs": [{key: leg[key] for key in ("start_m", "gear", "control_speed_mps", "retarder_stage")} for leg in trip.legs],
        "probability_over_limit": risk.get("probability_over_limit"), "upper_95": risk.get("upper_95"),
        "longest_stop_m": None if worst is None else float(stopping[worst]),
        "longest_stop_at_m": None if worst is None else float(trace["station_m"][worst]),
        "drawn": _drawn(trace)}


def _drawn(trace: Mapping[str, Any]) -> dict[str, list[float]]:
    """The hottest brake group along the road, thinned to the highest and lowest of each stretch."""
    station = np.asarray(trace["station_m"], dtype=np.float64)
    temp = np.max([np.asarray(line, dtype=np.float64) for line in trace["brake_temp_c"].values()], axis=0)
    keep: set[int] = {0, len(station) - 1}
    for part in np.array_split(np.arange(len(station)), min(_POINTS // 2, len(station))):
        keep |= {int(part[np.argmax(temp[part])]), int(part[np.argmin(temp[part])])}
    stands = np.flatnonzero(np.diff(station) <= 0)
    keep |= {int(i) for i in stands} | {int(i) + 1 for i in stands}
    order = sorted(keep)
    return {"station_m": [float(station[i]) for i in order], "brake_temp_c": [float(temp[i]) for i in order]}


def _common(cases: Sequence[tuple[CaseGiven, Mapping[str, Any] | None]], key: str) -> list[str]:
    """The sentences every plan carries."""
    lists = [[str(one) for one in document.get(key) or ()] for _, document in cases if document]
    return [one for one in lists[0] if all(one in other for other in lists[1:])] if lists else []


def _sources(cases: Sequence[tuple[CaseGiven, Mapping[str, Any] | None]]) -> list[Any]:
    found: list[Any] = []
    for _, document in cases:
        found += [one for one in (document or {}).get("sources") or () if one not in found]
    return found


def route_name(path: str) -> str:
    """A route's file name without its folder and ending."""
    return PurePath(path.split("#")[0]).stem
