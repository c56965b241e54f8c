# SPDX-License-Identifier: MIT
"""Reads a CSV table of points, one a row, as a line and as places."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from descent.errors import RouteError
from descent.route.csv_tables import Column, CsvTable, read_table
from descent.route.faultbook import FaultBook, one_fault
from descent.route.features import Features, Part, PartOrder, Spot, check_count
from descent.route.files import SourceFile
from descent.route.text import clean_text
from descent.route.timestamps import epoch_s
from descent.units import FOOT_M, KMH_MPS, MPH_MPS

LON = ("lon", "longitude", "long", "lng", "x_lon", "lon_deg")
LAT = ("lat", "latitude", "y_lat", "lat_deg")
ELEVATION = ("elevation", "ele", "altitude", "alt", "z", "elevation_m", "ele_m", "altitude_m", "elevation_ft")
TIME = ("time", "timestamp", "time_s", "time_utc")
PART = ("part", "segment", "track")
SPEED = ("speed", "speed_mps", "speed_kmh", "speed_mph", "ground_speed", "gps_speed")
ENGINE = ("engine_rpm", "rpm", "engine_speed", "engine_speed_rpm")
_SPEED_UNITS = {"": 1.0, "m/s": 1.0, "km/h": KMH_MPS, "kmh": KMH_MPS, "kph": KMH_MPS, "mph": MPH_MPS}
TAGS = ("bridge", "tunnel", "maxspeed", "maxspeed:forward", "maxspeed:backward", "maxspeed:hgv")
_HEIGHT_UNITS = {"": 1.0, "m": 1.0, "metre": 1.0, "metres": 1.0, "ft": FOOT_M, "feet": FOOT_M, "foot": FOOT_M}


def read_point_table(source: SourceFile) -> Features:
    """Points in rows; columns lon and lat [degree], and if there: elevation (unit in the header, else m), time
    (ISO 8601 or seconds), speed (unit in the header, else m/s), engine_rpm [1/min], part, bridge, tunnel, maxspeed, name, kind. A tag holds from its point to the next.

    Faults: coordinate-not-a-number. Raises RouteError: csv-columns-missing, csv-unit-unknown, too-many-points and
    what `csv_tables.read_table` raises.
    """
    table = read_table(source)
    lon, lat = table.column(*LON), table.column(*LAT)
    if lon is None or lat is None:
        names = ", ".join(column.name for column in table.columns)
        raise one_fault(RouteError, source.where, "csv-columns-missing", "there are no columns for the coordinates",
                        "Name them lon and lat (degrees, WGS84)", value=f"columns {names}")
    height = table.column(*ELEVATION)
    factor = _height_factor(height, source.where)
    factors = {"speed_mps": _speed_factor(table.column(*SPEED), source.where), "engine_rpm": 1.0}
    faults = FaultBook(source.where)
    others = [column for column in table.columns if column not in (lon, lat, height)]
    points: list[tuple[float, float, float]] = []
    rest: list[list[str]] = []
    for line, cells in table.rows:
        try:
            point = tuple(table.number(cells[column.index]) if column and column.index < len(cells) else float("nan")
                          for column in (lon, lat, height))
        except ValueError:
            faults.add("coordinate-not-a-number", "a coordinate or height is not a number",
                       "Write plain numbers in decimal degrees", place=f"line {line}", value=",".join(cells)[:60])
            point = (0.0, 0.0, float("nan"))
        points.append((point[0], point[1], point[2] * factor))
        rest.append([cells[column.index].strip() if column.index < len(cells) else "" for column in others])
        if len(points) % 10_000 == 0:
            check_count(len(points), source.where)
    check_count(len(points), source.where)
    return Features(tuple(_parts(table, others, points, rest, factors)), _spots(others, points, rest),
                    order=PartOrder.RECORDED, faults=faults)


def _height_factor(column: Column | None, where: str) -> float:
    if column is None:
        return 1.0
    unit = column.unit.lower() or ("ft" if column.name.endswith("_ft") else "")
    if unit not in _HEIGHT_UNITS:
        raise one_fault(RouteError, where, "csv-unit-unknown", f"the unit of column {column.name} is not known",
                        "Write elevation [m] or elevation [ft]", value=column.unit)
    return _HEIGHT_UNITS[unit]


def _speed_factor(column: Column | None, where: str) -> float:
    """To m/s, by the unit in brackets or at the end of the name."""
    if column is None:
        return 1.0
    unit = column.unit.lower() or next((end for end in ("kmh", "mph") if column.name.endswith(f"_{end}")), "")
    if unit not in _SPEED_UNITS:
        raise one_fault(RouteError, where, "csv-unit-unknown", f"the unit of column {column.name} is not known",
                        "Write speed [m/s], speed [km/h] or speed [mph]", value=column.unit)
    return _SPEED_UNITS[unit]


def _readings(table: CsvTable, index: Mapping[str, int], rest: list[list[str]],
              factors: Mapping[str, float]) -> dict[str, np.ndarray]:
    """Speed and engine speed of every row, NaN where a cell is empty or no number."""
    found: dict[str, np.ndarray] = {}
    for name, names in (("speed_mps", SPEED), ("engine_rpm", ENGINE)):
        at = next((index[word] for word in names if word in index), None)
        if at is None:
            continue
        values = []
        for row in rest:
            try:
                values.append(table.number(row[at]) * factors[name])
            except ValueError:
                values.append(float("nan"))
        if not np.isnan(values).all():
            found[name] = np.array(values, dtype=float)
    return found


def _time_values(column: int | None, rest: list[list[str]]) -> np.ndarray | None:
    if column is None:
        return None
    values = []
    for row in rest:
        try:
            values.append(float(row[column]))
        except ValueError:
            values.append(epoch_s(row[column]))
    time_s = np.array(values, dtype=float)
    return None if np.isnan(time_s).all() else time_s


def _parts(table: CsvTable, others: list[Column], points: list[tuple[float, float, float]],
           rest: list[list[str]], factors: Mapping[str, float]) -> list[Part]:
    """One part per value of the part column and per stretch of equal tags; stretches share their meeting point."""
    index = {column.name: number for number, column in enumerate(others)}
    part_at = next((index[name] for name in PART if name in index), None)
    tags_at = [index[name] for name in TAGS if name in index]
    xyz = np.array(points, dtype=float).reshape(-1, 3)
    time_s = _time_values(next((index[name] for name in TIME if name in index), None), rest)
    names = {row[index["name"]] for row in rest} if "name" in index else set()
    name = clean_text(names.pop()) if len(names) == 1 else ""
    readings = _readings(table, index, rest, factors)
    parts, start = [], 0
    for end in range(1, len(points) + 1):
        new_part = end == len(points) or (part_at is not None and rest[end][part_at] != rest[start][part_at])
        if not new_part and all(rest[end][at] == rest[start][at] for at in tags_at):
            continue
        stop = end if new_part else end + 1
        tags: Mapping[str, str] = {others[at].name: clean_text(rest[start][at]) for at in tags_at if rest[start][at]}
        height = xyz[start:stop, 2]
        parts.append(Part(xyz[start:stop, 0], xyz[start:stop, 1], None if np.isnan(height).all() else height,
                          None if time_s is None else time_s[start:stop], name, tags,
                          f"rows {start + 1} to {stop}",
                          {key: column[start:stop] for key, column in readings.items()}))
        start = end
    return parts


def _spots(others: list[Column], points: list[tuple[float, float, float]],
           rest: list[list[str]]) -> tuple[Spot, ...]:
    names = [column.name for column in others]
    if "name" not in names and "kind" not in names:
        return ()
    spots = []
    for number, (point, row) in enumerate(zip(points, rest, strict=True), 1):
        attributes = {name: clean_text(cell) for name, cell in zip(names, row, strict=True) if cell}
        spots.append(Spot(point[0], point[1], attributes.get("name", ""), attributes, f"row {number}"))
    return tuple(spots)
