# SPDX-License-Identifier: MIT
"""A trip of twelve legs on a closed-form road: 2 km up at 3 %, then 5 km down at 6 %, twelve times over.

As in `make_document` the numbers are no result; the words on the card are as long as those of a real plan.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from report.make_document import make_document, road_line

CLIMB_M, DROP_M = 2000.0, 5000.0
COUNT = 12
MPH = 0.44704


def twelve_legs(*, units: str = "us") -> dict[str, Any]:
    """The document: twelve downgrades, a leg and a place to check the brakes on each, three cool-down stops, three
    ramps."""
    length_m = COUNT * (CLIMB_M + DROP_M)
    document = make_document(units=units, length_m=length_m, name="Twelve Sisters road, southbound")
    profile = document["profile"]
    station = np.array(profile["station_m"])
    within = station % (CLIMB_M + DROP_M)
    profile["grade"] = np.where(within < CLIMB_M, 0.03, -0.06).tolist()
    turns = (station // (CLIMB_M + DROP_M)) * (0.03 * CLIMB_M - 0.06 * DROP_M)
    profile["elevation_m"] = (
        4000.0 + turns + np.minimum(within, CLIMB_M) * 0.03 - np.maximum(within - CLIMB_M, 0.0) * 0.06
    ).tolist()
    lon, lat = road_line(station)
    profile["lon"], profile["lat"] = lon.tolist(), lat.tolist()
    profile["curve_limit_mps"] = [None] * len(station)
    profile["posted_limit_mps"] = [55 * MPH] * len(station)
    leg, stop, ramp = document["legs"][0], document["stops"][1], document["places"][7]
    starts = [k * (CLIMB_M + DROP_M) + CLIMB_M - 150.0 for k in range(COUNT)]
    document["legs"] = [
        {
            **leg,
            "number": k + 1,
            "downgrade": k + 1,
            "start_m": start,
            "end_m": start + DROP_M,
            "gear_by_m": start - 100.0,
            "gear": str(5 + k % 3),
            "lon": float(np.interp(start, station, lon)),
            "lat": float(np.interp(start, station, lat)),
            "why": [],
        }
        for k, start in enumerate(starts)
    ]
    document["downgrades"] = [
        {**document["downgrades"][0], "number": k + 1, "start_m": start + 150.0, "end_m": start + 150.0 + DROP_M,
         "length_m": DROP_M, "drop_m": 0.06 * DROP_M, "mean_grade": -0.06}
        for k, start in enumerate(starts)
    ]
    stop_places = [starts[k] - 300.0 for k in (4, 7, 10)]
    document["stops"] = [
        {**stop, "station_m": at, "place": f"Sister {n} pull-out"} for n, at in enumerate(stop_places, start=1)
    ]
    bays = [
        {**document["places"][8], "name": f"Sister {n} pull-out", "station_m": at, "usable": "cool-down"}
        for n, at in enumerate(stop_places, start=1)
    ]
    document["places"] = [
        *bays,
        *({**ramp, "name": f"Sister {k} escape ramp", "station_m": starts[k] + 4200.0} for k in (2, 6, 9)),
        {**document["places"][0], "name": "North Landing", "station_m": 300.0},
        {**document["places"][0], "name": "South Landing", "station_m": length_m - 400.0},
    ]
    return document
