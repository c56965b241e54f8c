# SPDX-License-Identifier: MIT
"""An invented pass as a plan document: 33 km, two downgrades, three legs, a brake check and a cool-down stop.

Nothing here is a result: the numbers only have the size and shape of one, so that pages can be drawn and
checked.
"""

from __future__ import annotations

import base64
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

GROSS_KG = 36287.0
AIR_C = 24.0
MPH = 0.44704
AXLES = ("steer", "drive", "trailer")
# (end station m, grade): a climb, the crest, two downgrades with an easier stretch between them, the valley
GRADES = (
    (5200.0, 0.041),
    (6000.0, 0.0),
    (10400.0, -0.061),
    (12900.0, -0.072),
    (14600.0, -0.055),
    (18400.0, -0.008),
    (19300.0, 0.012),
    (23800.0, -0.052),
    (26400.0, -0.066),
    (28200.0, -0.043),
    (33000.0, -0.006),
)
# (start m, end m, gear, control mph, balance mph, retarder stage, snub to mph)
LEGS = (
    (5600.0, 14900.0, 6, 30, 27, 2, 25),
    (15200.0, 19100.0, 9, 45, 40, 1, 40),
    (19100.0, 28700.0, 7, 35, 31, 2, 30),
)


@dataclass(frozen=True)
class FakeHillshade:
    """A picture and its corners, as the page wants it."""

    data_uri: str
    south: float
    west: float
    north: float
    east: float


def stations(*, length_m: float = 33000.0) -> FloatArray:
    """Stations every 10 m."""
    return np.arange(0.0, length_m + 5.0, 10.0)


def road_grade(station_m: FloatArray) -> FloatArray:
    """Grades of the invented road, corners rounded over 240 m."""
    period = GRADES[-1][0]
    folded = np.mod(station_m, period + 1e-9)
    ends = np.array([end for end, _ in GRADES])
    grades = np.array([grade for _, grade in GRADES])
    raw = grades[np.minimum(np.searchsorted(ends, folded, side="left"), len(grades) - 1)]
    window = np.ones(25) / 25
    return np.convolve(np.pad(raw, 12, mode="edge"), window, mode="valid")


def road_line(station_m: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Longitude and latitude of a winding road heading east and a little south."""
    heading = (
        0.10
        + 0.55 * np.sin(station_m / 2100.0)
        + 0.55 * np.sin(station_m / 830.0 + 1.0)
        + 0.9 * np.sin(station_m / 260.0) * (np.abs(station_m - 12500.0) < 2500.0)
    )
    step = np.diff(station_m, prepend=station_m[0])
    east, north = np.cumsum(step * np.cos(heading)), np.cumsum(-step * np.sin(heading))
    lat = 41.20 + north / 111_200.0
    return -107.60 + east / (111_200.0 * np.cos(np.radians(41.2))), lat


def _profile(length_m: float) -> dict[str, Any]:
    station = stations(length_m=length_m)
    grade = road_grade(station)
    lon, lat = road_line(station)
    elevation = 1840.0 + np.concatenate([[0.0], np.cumsum(0.5 * (grade[1:] + grade[:-1]) * 10.0)])
    sd = 0.0035 + 0.004 * (np.abs(station - 13000.0) < 700.0)
    curve = np.where(np.abs(station - 12500.0) < 1800.0, 40 * MPH, np.nan)
    curve[(station > 24400.0) & (station < 25200.0)] = 45 * MPH
    posted = np.where(station < 5500.0, 55 * MPH, np.where(station < 28500.0, 50 * MPH, 55 * MPH))
    return {
        "station_m": station.tolist(),
        "lon": lon.tolist(),
        "lat": lat.tolist(),
        "elevation_m": elevation.tolist(),
        "elevation_sd_m": np.full(len(station), 1.1).tolist(),
        "grade": grade.tolist(),
        "grade_sd": sd.tolist(),
        "curve_limit_mps": [None if np.isnan(v) else float(v) for v in curve],
        "posted_limit_mps": posted.tolist(),
        "source": "1/3 arc-second elevation tiles (invented)",
        "confidence": [
            {"start_m": 0.0, "end_m": 12300.0, "level": "good", "reasons": []},
            {
                "start_m": 12300.0,
                "end_m": 13700.0,
                "level": "fair",
                "reasons": ["steep cross slope: the line may lie a few metres off the road"],
            },
            {"start_m": 13700.0, "end_m": float(station[-1]), "level": "good", "reasons": []},
        ],
    }


def _leg_at(station_m: float) -> tuple[float, float, int, int, int, int, int] | None:
    return next((leg for leg in LEGS if leg[0] <= station_m < leg[1]), None)


@dataclass
class _Log:
    """Columns of the trace while it is being driven."""

    rows: list[tuple[float, ...]]
    temps: list[tuple[float, ...]]


def _drive(profile: dict[str, Any]) -> tuple[_Log, dict[str, float]]:
    """A toy drive: steady speeds, heat into three axles, one stop to cool. Good enough to look at."""
    share = np.array([0.8, 1.05, 1.2])
    temp = np.full(3, 65.0)
    energy = dict.fromkeys(
        ("gravity", "drive", "rolling", "air", "engine", "retarder", "brakes", "kinetic"), 0.0
    )
    log, clock, saw = _Log([], []), 0.0, 0.0
    for index, station in enumerate(profile["station_m"]):
        grade, leg = profile["grade"][index], _leg_at(station)
        speed = 45 * MPH if leg is None else leg[3] * MPH
        if station < 5200.0:
            speed = 32 * MPH
        down = -GROSS_KG * 9.81 * grade * 10.0
        rolling, air = GROSS_KG * 9.81 * 0.006 * 10.0, 3.4 * speed**2 * 10.0
        rest = down - rolling - air
        engine = min(max(rest, 0.0), 62_000.0)
        retarder = min(max(rest - engine, 0.0), 0.0 if leg is None else 26_000.0 * leg[5])
        brakes = max(rest - engine - retarder, 0.0)
        drive = max(-rest, 0.0)
        for name, value in (
            ("gravity", down),
            ("drive", drive),
            ("rolling", rolling),
            ("air", air),
            ("engine", engine),
            ("retarder", retarder),
            ("brakes", brakes),
        ):
            energy[name] += value
        seconds = 10.0 / speed
        temp = temp + brakes * share / 3.0 / 205_000.0 - (temp - AIR_C) * 0.00030 * seconds
        clock += seconds
        saw = (saw + seconds) % 38.0
        snub = leg is not None and brakes > 0
        shown = speed - (5 * MPH * (saw / 3.0 if saw < 3.0 else 1 - (saw - 3.0) / 35.0) if snub else 0.0)
        push = (165.0 + 0.25 * (float(temp.max()) - 65.0)) if snub and saw < 3.0 else 0.0
        reservoir = 828.0 - (70.0 * (saw / 38.0) if snub else 0.0)
        gear = 10 if leg is None else leg[2]
        log.rows.append(
            (
                station,
                clock,
                shown,
                gear,
                0 if leg is None else leg[5],
                1900.0 if leg else 1450.0,
                push,
                205.0 + 0.5 * (float(temp.max()) - 65.0),
                reservoir,
                1.6 * speed + speed**2 / (2 * (3.0 + 9.81 * grade)),
            )
        )
        log.temps.append(tuple(float(t) for t in temp))
        if station == 15200.0:
            clock += 1200.0
            temp = AIR_C + (temp - AIR_C) * np.exp(-1200.0 * 0.00042)
            log.rows.append((station, clock, 0.0, gear, 0, 600.0, 0.0, log.rows[-1][7], 828.0, 0.0))
            log.temps.append(tuple(float(t) for t in temp))
    return log, energy


def _trace(log: _Log) -> dict[str, Any]:
    columns = [list(column) for column in zip(*log.rows, strict=True)]
    heat = {axle: [row[i] for row in log.temps] for i, axle in enumerate(AXLES)}
    hottest = [max(row) for row in log.temps]
    return {
        "station_m": columns[0],
        "time_s": columns[1],
        "speed_mps": columns[2],
        "gear": [int(g) for g in columns[3]],
        "retarder_stage": [int(s) for s in columns[4]],
        "engine_speed_rpm": columns[5],
        "brake_temp_c": heat,
        "emergency_temp_c": [t + 26.0 + 0.12 * v**2 for t, v in zip(hottest, columns[2], strict=True)],
        "application_kpa": columns[6],
        "fade_kpa": columns[7],
        "reservoir_kpa": columns[8],
        "stopping_distance_m": columns[9],
    }


def _legs(profile: dict[str, Any], log: _Log) -> list[dict[str, Any]]:
    station = np.array([row[0] for row in log.rows])
    rows = []
    for number, (start, end, gear, control, balance, stage, low) in enumerate(LEGS, start=1):
        inside = (station >= start) & (station <= end)
        temps = np.array(log.temps)[inside]
        index = int(start // 10)
        rows.append(
            {
                "number": number,
                "downgrade": {1: 1, 2: None, 3: 2}[number],
                "start_m": start,
                "end_m": end,
                "lon": profile["lon"][index],
                "lat": profile["lat"][index],
                "gear": gear,
                # after the stop at its start, leg 2 is moved off in a low gear
                "gear_by_m": start - 150.0 if number != 2 else start + 400.0,
                "engine_speed_rpm": 1900.0 - 60 * number,
                "control_speed_mps": control * MPH,
                "balance_speed_mps": balance * MPH,
                "retarder_stage": stage,
                "snubs": None
                if number == 2
                else {
                    "count": 18 - 2 * number,
                    "from_mps": control * MPH,
                    "to_mps": low * MPH,
                    "duration_s": 3.1,
                    "interval_s": 38.0,
                    **({"interval_low_s": 31.4, "interval_high_s": 46.2} if number == 1 else {}),
                },
                "application_pressure_kpa": 165.0 + 8 * number,
                "fade_pressure_kpa": 228.0 + 9 * number,
                "peak_brake_temp_c": float(temps.max()),
                "peak_axle": "trailer",
                "emergency_rise_c": 41.0,
                "brake_energy_j": 3.1e7,
                "retarder_energy_j": 8.8e7,
                "time_s": (end - start) / (control * MPH),
                "why": [
                    "one gear higher passes the temperature limit at 13.9 km",
                    "the curve at 12.5 km allows 40 mph; the brakes allow less",
                ]
                if number == 1
                else [],
            }
        )
    return rows


def _places(profile: dict[str, Any]) -> list[dict[str, Any]]:
    rows = []
    for name, kind, station, side, offset, grade in (
        ("Lark Hollow", "town", 600.0, "left", 120.0, 0.02),
        ("Milepost 212", "milepost", 3300.0, "right", 5.0, 0.04),
        ("Gray Fir brake check area", "brake-check-area", 5300.0, "right", 18.0, 0.004),
        ("Gray Fir Summit", "landmark", 5600.0, None, 10.0, 0.0),
        ("Milepost 215", "milepost", 8130.0, "right", 5.0, -0.061),
        ("Upper Bend pull-out", "pull-out", 9900.0, "left", 14.0, -0.058),
        ("Milepost 218", "milepost", 12960.0, "right", 5.0, -0.07),
        ("Stone Gully escape ramp", "escape-ramp", 13300.0, "right", 25.0, -0.055),
        ("Quiet Meadow pull-out", "pull-out", 15200.0, "right", 16.0, -0.008),
        ("Twin Alder", "town", 17200.0, "left", 200.0, -0.008),
        ("Milepost 223", "milepost", 21000.0, "right", 5.0, -0.05),
        ("Steep Corner pull-out", "pull-out", 22900.0, "right", 12.0, -0.051),
        ("Red Bank escape ramp", "escape-ramp", 25600.0, "right", 22.0, -0.066),
        ("Low Ford rest area", "rest-area", 29600.0, "right", 30.0, 0.0002),
        ("Low Ford", "town", 31200.0, "right", 90.0, -0.006),
    ):
        index = int(station // 10)
        known = {
            "Gray Fir brake check area": {"room_m": 120.0, "surface": "paved", "usable": "cool-down"},
            "Upper Bend pull-out": {"room_m": 60.0, "surface": "gravel", "usable": "other side"},
            "Quiet Meadow pull-out": {"room_m": 90.0, "surface": "paved", "usable": "cool-down"},
            "Steep Corner pull-out": {"room_m": 40.0, "usable": "too steep", "note": "loose stone"},
            "Low Ford rest area": {"room_m": 150.0, "surface": "paved", "usable": "cool-down"},
        }
        rows.append(
            {
                **known.get(name, {}),
                "name": name,
                "kind": kind,
                "station_m": station,
                "offset_m": offset,
                "side": side,
                "lon": profile["lon"][index],
                "lat": profile["lat"][index],
                "local_grade": grade,
            }
        )
    return rows


def _stops(profile: dict[str, Any], log: _Log) -> list[dict[str, Any]]:
    at = [i for i, row in enumerate(log.rows) if row[0] == 15200.0]
    hot, cool = max(log.temps[at[0]]), max(log.temps[at[-1]])
    return [
        {
            "kind": "brake-check",
            "station_m": 5300.0,
            "lon": profile["lon"][530],
            "lat": profile["lat"][530],
            "place": "Gray Fir brake check area",
            "minutes": 10.0,
            "arrive_temp_c": 66.0,
            "leave_temp_c": 62.0,
            "local_grade": 0.004,
        },
        {
            "kind": "cool-down",
            "station_m": 15200.0,
            "lon": profile["lon"][1520],
            "lat": profile["lat"][1520],
            "place": "Quiet Meadow pull-out",
            "room_m": 90.0,
            "surface": "paved",
            "minutes": 20.0,
            "arrive_temp_c": hot + 9.0,
            "leave_temp_c": cool,
            "local_grade": -0.008,
        },
    ]


def _downgrades() -> list[dict[str, Any]]:
    rows = []
    for number, start, end, mean, km, pitch, sign in (
        (1, 5890.0, 14720.0, -0.0625, -0.071, -0.0722, True),
        (2, 19240.0, 28310.0, -0.0543, -0.0655, -0.0661, True),
    ):
        rows.append(
            {
                "number": number,
                "start_m": start,
                "end_m": end,
                "length_m": end - start,
                "drop_m": -mean * (end - start),
                "mean_grade": mean,
                "mean_grade_sd": 0.0012,
                "steepest_1km": km,
                "steepest_300m": pitch,
                "hill_sign": sign,
                "boundary_uncertain": number == 2,
            }
        )
    return rows


def make_document(
    *, units: str = "us", length_m: float = 33000.0, name: str = "Gray Fir Pass, eastbound"
) -> dict[str, Any]:
    """The whole plan document."""
    profile = _profile(length_m)
    log, energy = _drive(profile)
    total = energy["rolling"] + energy["air"] + energy["engine"] + energy["retarder"] + energy["brakes"]
    return {
        "schema": "descent-plan/1",
        "conditions": {
            "gross_kg": GROSS_KG,
            "air_temp_c": AIR_C,
            "road": "dry",
            "min_speed_mps": 15 * MPH,
            "accepted_risk": 0.05,
            "seed": 7,
            "units": units,
        },
        "route": {"name": name, "length_m": length_m, "reversed": False},
        "profile": profile,
        "structures": [
            {"kind": "bridge", "start_m": 11150.0, "end_m": 11420.0, "from": "tag"},
            {"kind": "tunnel", "start_m": 21700.0, "end_m": 22350.0, "from": "tag"},
            {"kind": "bridge", "start_m": 29100.0, "end_m": 29190.0, "from": "found"},
        ],
        "places": _places(profile),
        "downgrades": _downgrades(),
        "vehicle": {
            "name": "tractor-semitrailer-retarder",
            "gross_kg": GROSS_KG,
            "axles": [
                {"name": "steer", "load_kg": 5443.0, "brake_kind": "s-cam drum", "brake_count": 2},
                {"name": "drive", "load_kg": 15422.0, "brake_kind": "s-cam drum", "brake_count": 4},
                {"name": "trailer", "load_kg": 15422.0, "brake_kind": "s-cam drum", "brake_count": 4},
            ],
            "gears": list(range(1, 11)),
            "retarder_stages": [0, 1, 2, 3],
        },
        "feasible": True,
        "verdict_reason": "Every limit is met with the retarder working, and a full stop survives its loss.",
        "legs": _legs(profile, log),
        "stops": _stops(profile, log),
        "trace": _trace(log),
        "energy": {
            "gravity_j": energy["gravity"],
            "drive_j": total - energy["gravity"],
            "rolling_j": energy["rolling"],
            "air_j": energy["air"],
            "engine_j": energy["engine"],
            "retarder_j": energy["retarder"],
            "brakes_j": energy["brakes"],
            "kinetic_change_j": 0.0,
        },
        "time_s": log.rows[-1][1] + 600.0,
        "lower_bound_s": log.rows[-1][1] + 420.0,
        "proven": False,
        "limits": {
            "brake_temp_c": 260.0,
            "fade_onset_c": 315.0,
            "engine_speed_rpm": 2100.0,
            "reservoir_kpa": 414.0,
            "min_speed_mps": 15 * MPH,
        },
        "severity": [
            {"downgrade": 1, "original_mps": 22 * MPH, "updated_mps": 26 * MPH},
            {"downgrade": 2, "original_mps": 30 * MPH, "updated_mps": None},
        ],
        "risk": {
            "draws": 1000,
            "seed": 7,
            "accepted": 0.05,
            "probability_over_limit": 0.021,
            "upper_95": 0.032,
            "temperature_percentiles_c": {"50": 203.0, "90": 226.0, "95": 236.0, "99": 252.0},
        },
        "failures": [
            {
                "what": "retarder stops working",
                "downgrade": 1,
                "holds": True,
                "first_sign": "speed climbs past 30 mph between snubs",
                "do_this": "Stop with one firm application, at once.",
                "last_full_stop_m": 14200.0,
                "next_place": "Upper Bend pull-out",
                "speed_there_mps": 0.0,
            },
            {
                "what": "one half of the air system lost",
                "downgrade": 2,
                "holds": True,
                "first_sign": "low-air warning",
                "do_this": "Stop while there is air to stop with.",
                "last_full_stop_m": 27800.0,
                "next_place": "Red Bank escape ramp",
                "speed_there_mps": 6.0,
            },
        ],
        "alternatives": [
            {"change": "4,400 lb less weight", "effect": "no cool-down stop; 16 minutes sooner"},
            {
                "change": "one gear lower on the first downgrade",
                "effect": "hottest brake 18 degrees cooler; 3 minutes later",
            },
        ],
        "assumptions": [
            "Minimum road speed 15 mph.",
            "Parked cooling is taken as a cautious share of a moving-truck fit (assumed).",
            "Brake heat limits are published for the whole truck; per axle they are assumed.",
        ],
        "cautions": ["Wind was not given: still air is assumed."],
        "sources": [
            "Grade-severity rating method: published whole-truck brake temperature model, SI form.",
            "1/3 arc-second elevation tiles (invented).",
        ],
    }


def make_infeasible(*, units: str = "us") -> dict[str, Any]:
    """The same road with an answer of no: a best try is left in, which a page must not show as a plan."""
    document = make_document(units=units)
    document["feasible"] = False
    document["verdict_reason"] = (
        "On downgrade 1 the trailer brakes pass 260 °C in every gear at 15 mph or more."
    )
    document["alternatives"] = [
        {"change": "6,600 lb less weight", "effect": "holds in gear 5 at 25 mph"},
        {"change": "a working retarder", "effect": "holds in gear 6 at 30 mph with one stop"},
    ]
    return document


def make_hillshade(document: dict[str, Any], *, size: int = 420) -> FakeHillshade:
    """A plausible shaded picture around the road, WebP in a data address, in web-mercator rows."""
    import warnings

    from rasterio.errors import NotGeoreferencedWarning
    from rasterio.io import MemoryFile

    lon, lat = np.array(document["profile"]["lon"]), np.array(document["profile"]["lat"])
    pad = 0.18 * max(np.ptp(lon), np.ptp(lat))
    south, north, west, east = lat.min() - pad, lat.max() + pad, lon.min() - pad, lon.max() + pad
    y, x = np.mgrid[0:size, 0:size] / size
    rng = np.random.default_rng(5)
    ground = np.zeros((size, size))
    for octave in range(1, 7):
        k = 2.2 * 1.75**octave
        for angle in rng.uniform(0, 2 * np.pi, 3):
            wave = np.sin(k * (x * np.cos(angle) + y * np.sin(angle)) + rng.uniform(0, 6.28) + 1.5 * ground)
            ground += (1 - np.abs(wave)) / 1.9**octave
    gy, gx = np.gradient(ground * size * 0.16)
    light = (-0.6 * gx - 0.6 * gy + 0.75) / np.sqrt(gx**2 + gy**2 + 1)
    grey = (140 + 112 * np.clip((light + 0.2) / 1.25, 0, 1)).astype(np.uint8)
    with MemoryFile() as memory, warnings.catch_warnings():
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        with memory.open(driver="WEBP", width=size, height=size, count=3, dtype="uint8", QUALITY=70) as out:
            out.write(np.stack([grey] * 3))
        data = memory.read()
    return FakeHillshade(
        "data:image/webp;base64," + base64.b64encode(bytes(data)).decode(), south, west, north, east
    )
