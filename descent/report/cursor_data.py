# SPDX-License-Identifier: MIT
"""The numbers behind the page's cursor: one row per shown point of the road, in the reader's units."""

from __future__ import annotations

from typing import Any

import numpy as np

from descent.report.leg_words import retarder_words
from descent.report.shown import Shown, marks
from descent.report.thin import thin_rows
from descent.report.trip import FloatArray, Trip

MOST_ROWS = 1500


def cursor_data(trip: Trip, shown: Shown) -> dict[str, Any]:
    """What the page's script reads: columns of equal length, and the words of the readout."""
    trace, road, words = trip.trace, trip.road, shown.words
    station_m = road.station_m if trace is None else trace.station_m
    kept = thin_rows(station_m, most=MOST_ROWS)
    at = station_m[kept]
    unit_m, height_m = shown.units.distance[1], shown.units.height[1]
    data: dict[str, Any] = {
        "station": _rounded(at, 1),
        "distance": _rounded(at / unit_m, 2),
        "lon": _rounded(np.interp(at, road.station_m, road.lon), 5),
        "lat": _rounded(np.interp(at, road.station_m, road.lat), 5),
        "height": _rounded(np.interp(at, road.station_m, road.elevation_m) / height_m, 0),
        "grade": _rounded(100.0 * np.interp(at, road.station_m, road.grade), 1),
        "axles": {},
        **reading(shown),
    }
    if trace is None:
        return data
    if trace.speed_mps is not None:
        data["speed"] = _rounded(trace.speed_mps[kept] / shown.units.speed[1], 0)
    if trace.gear:
        data["gear"] = [trace.gear[i] for i in kept]
    if trip.legs:
        data["control"] = [_control(float(station), trip, shown) for station in at]
    if trace.retarder_stage:
        stages = {
            s: retarder_words(int(s) if s.isdigit() else s, trip, shown) if s else ""
            for s in set(trace.retarder_stage)
        }
        data["retarder"] = [stages[trace.retarder_stage[i]] for i in kept]
    if trace.stopping_distance_m is not None:
        data["stopping"] = _whole(trace.stopping_distance_m[kept] / shown.units.short[1])
    if trace.reservoir_kpa is not None:
        data["air"] = _whole(trace.reservoir_kpa[kept] / shown.units.pressure[1])
    for axle, temps in trace.brake_temp_c.items():
        data["axles"][words.said(axle)] = [int(np.ceil(shown.units.temperature(float(t)) - 1e-6)) for t in temps[kept]]
    return data


def _control(station_m: float, trip: Trip, shown: Shown) -> int:
    """The control speed of the leg at a station; 0 where there is none."""
    held = [leg["control_speed_mps"] for leg in trip.legs if leg["start_m"] <= station_m < leg["end_m"]]
    return int(held[-1] / shown.units.speed[1] + 1e-3) if held else 0


def reading(shown: Shown) -> dict[str, Any]:
    """The words, units and number marks of the readout, the same for every page with a cursor."""
    units, words = shown.units, shown.words
    thousands, decimal = marks(words, units.system)
    return {
        "words": {
            key: words(f"readout.{key}") for key in ("down", "up", "gear", "control", "retarder", "hottest", "stopped", "stopping", "air")
        },
        "units": {
            "distance": units.distance[0],
            "height": units.height[0],
            "speed": units.speed[0],
            "temperature": units.temperature_symbol,
            "short": units.short[0],
            "pressure": units.pressure[0],
        },
        "decimal": decimal,
        "thousands": thousands,
        "percent": words("number.percent", number=""),
    }


def _rounded(values: FloatArray, decimals: int) -> list[float | int]:
    rounded = np.round(values, decimals) + 0.0
    return [int(v) for v in rounded] if decimals == 0 else [float(v) for v in rounded]


def _whole(values: FloatArray) -> list[int | None]:
    return [round(float(v)) if np.isfinite(v) else None for v in values]
