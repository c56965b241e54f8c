# SPDX-License-Identifier: MIT
"""Opening a document: closed forms on made roads, and nothing of a plan where the answer is no."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from descent.report.trip import read_trip


def straight(grade: float, *, length_m: float = 3000.0, **columns: Any) -> dict[str, Any]:
    station = np.arange(0.0, length_m + 5, 10.0)
    size = len(station)
    return {
        "profile": {
            "station_m": station.tolist(),
            "lon": [0.0] * size,
            "lat": [0.0] * size,
            "elevation_m": (1000 + grade * station).tolist(),
            "grade": [grade] * size,
            "grade_sd": [0.0] * size,
            **columns,
        },
        "feasible": True,
    }


def test_a_refusal_has_no_legs_stops_or_trace(refusal: dict[str, Any]) -> None:
    assert refusal["legs"] and refusal["stops"] and refusal["trace"]
    trip = read_trip(refusal)
    assert (trip.legs, trip.stops, trip.trace) == ((), (), None)


def test_grades_of_a_uniform_road() -> None:
    road = read_trip(straight(-0.06)).road
    assert road.mean_grade(105.0, 2222.0) == pytest.approx(-0.06)
    assert road.steepest_down(0.0, 3000.0) == pytest.approx(-0.06)
    assert road.steepest_down(0.0, 100.0) == pytest.approx(-0.06)


def test_steepest_window_finds_the_pitch() -> None:
    """300 m at 9 % inside 4 %: the window that lies on it reads 9 %."""
    document = straight(-0.04)
    station = np.array(document["profile"]["station_m"])
    drop = 0.04 * station + 0.05 * np.clip(station - 1500.0, 0.0, 300.0)
    document["profile"]["elevation_m"] = (1000 - drop).tolist()
    assert read_trip(document).road.steepest_down(0.0, 3000.0) == pytest.approx(-0.09)


def test_where_signs_ask_for_less() -> None:
    limits = [15.0 if 1000 <= s <= 1500 else 9.0 if 1800 <= s <= 2000 else None for s in range(0, 3001, 10)]
    road = read_trip(straight(-0.05, posted_limit_mps=limits)).road
    assert road.sign_spans(0.0, 3000.0, 15.0) == ((1800.0, 2000.0, 9.0),)
    assert road.sign_spans(0.0, 3000.0, 16.0) == ((1000.0, 1500.0, 15.0), (1800.0, 2000.0, 9.0))
    assert road.sign_spans(1900.0, 3000.0, 9.0) == ()


def test_where_curves_ask_for_less_than_signs_and_speed() -> None:
    curves = [12.0 if 500 <= s <= 600 else 14.0 if 900 <= s <= 950 else 40.0 for s in range(0, 3001, 10)]
    signs = [13.0 if s >= 800 else None for s in range(0, 3001, 10)]
    road = read_trip(straight(-0.05, curve_limit_mps=curves, posted_limit_mps=signs)).road
    assert road.curve_spans(0.0, 3000.0, 20.0) == ((500.0, 600.0, 12.0),)
    assert road.curve_spans(0.0, 3000.0, 12.0) == ()


def test_curves_far_apart_are_told_apart() -> None:
    curves = [
        12.0 if 200 <= s <= 300 else 11.0 if 700 <= s <= 750 else 9.0 if 2000 <= s <= 2100 else None
        for s in range(0, 3001, 10)
    ]
    road = read_trip(straight(-0.05, curve_limit_mps=curves)).road
    assert road.curve_spans(0.0, 3000.0, 20.0) == ((200.0, 750.0, 11.0), (2000.0, 2100.0, 9.0))


def test_landmarks(document: dict[str, Any]) -> None:
    trip = read_trip(document)
    place, past_m = trip.landmark_near(8330.0) or ({}, 0.0)
    assert place == {} and past_m == 0.0  # the mileposts, which count on, give a reading instead
    # 215 at 8,130 m and 218 at 12,960 m, closed form
    assert trip.milepost_at(8330.0) == pytest.approx(215.0 + 3.0 * 200.0 / 4830.0)
    assert trip.landmark_near(27300.0) is None


def test_a_lone_milepost_is_a_landmark(document: dict[str, Any]) -> None:
    document["places"] = [p for p in document["places"] if p["name"] == "Milepost 215"]
    trip = read_trip(document)
    place, past_m = trip.landmark_near(8330.0) or ({}, 0.0)
    assert place["name"] == "Milepost 215" and past_m == pytest.approx(200.0)
    assert trip.milepost_at(8330.0) is None


def test_side_of_a_stop(document: dict[str, Any]) -> None:
    trip = read_trip(document)
    assert trip.side_of(trip.stops[0]) == "right"
    assert trip.side_of({"place": "Nowhere", "station_m": 0.0}) is None
    assert trip.side_of({"place": "Nowhere", "station_m": 0.0, "side": "left"}) == "left"


def test_missing_parts(document: dict[str, Any]) -> None:
    for key in ("places", "downgrades", "structures", "trace", "energy", "limits", "legs", "stops"):
        del document[key]
    trip = read_trip(document)
    assert trip.legs == () and trip.trace is None and trip.limit("brake_temp_c") is None
