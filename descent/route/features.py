# SPDX-License-Identifier: MIT
"""What every reader hands on: the lines and points of a file with their attributes, in WGS84 degrees."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from descent.errors import RouteError
from descent.route.faultbook import FaultBook, one_fault

FloatArray = NDArray[np.float64]
MAX_POINTS = 1_000_000
MAX_PARTS = 5_000
MAX_LATITUDE = 85.0


class PartOrder(Enum):
    """What the order of parts in a file means: the order of a recording, or nothing."""

    RECORDED = "recorded"
    UNORDERED = "unordered"


@dataclass(frozen=True)
class Part:
    """One line of a file. All arrays (n,): lon, lat [degree]; elevation_m and time_s hold NaN where missing.

    time_s: [s since 1970-01-01 UTC]; attributes: tag name to text; place: where in the file, for messages;
    readings: what a recorder noted at each point beside these, by name ("speed_mps", "engine_rpm"), NaN where missing.
    """

    lon: FloatArray
    lat: FloatArray
    elevation_m: FloatArray | None = None
    time_s: FloatArray | None = None
    name: str = ""
    attributes: Mapping[str, str] = field(default_factory=dict)
    place: str = ""
    readings: Mapping[str, FloatArray] = field(default_factory=dict)


@dataclass(frozen=True)
class Spot:
    """One point of a file, before it is snapped to a route; attributes: tag name to text."""

    lon: float
    lat: float
    name: str = ""
    attributes: Mapping[str, str] = field(default_factory=dict)
    place: str = ""


@dataclass(frozen=True)
class Features:
    """All a file holds: lines, points, the name of the whole, what was noticed while reading.

    faults: what is wrong in the file, to be raised with whatever else is found; other_shapes: what else it holds.
    """

    parts: tuple[Part, ...] = ()
    spots: tuple[Spot, ...] = ()
    name: str = ""
    order: PartOrder = PartOrder.UNORDERED
    notes: tuple[str, ...] = ()
    other_shapes: tuple[str, ...] = ()
    faults: FaultBook | None = None


def check_count(points: int, where: str) -> None:
    """Refuse more points than are read. Raises RouteError: too-many-points."""
    if points > MAX_POINTS:
        raise one_fault(RouteError, where, "too-many-points",
                        f"the file holds more than the {MAX_POINTS:,} points that are read",
                        "Cut out the road that is driven, or thin the points to one per 5 m")


def check_coordinates(lon: FloatArray, lat: FloatArray, faults: FaultBook, *, place: str = "",
                      first_number: int = 1) -> None:
    """Write down coordinates that are not numbers, off the globe or at a pole. lon, lat: (n,) [degree]."""
    finite = np.isfinite(lon) & np.isfinite(lat)
    with np.errstate(invalid="ignore"):
        checks = (
            (~finite, "coordinate-not-finite", "is not a finite number",
             "Remove or correct the point"),
            (finite & (np.abs(lat) > 90.0), "latitude-out-of-range", "has a latitude outside -90 to 90 degrees",
             "Coordinates are longitude then latitude in degrees: check their order and that they are not metres"),
            (finite & (np.abs(lat) <= 90.0) & (np.abs(lon) > 180.0), "longitude-out-of-range",
             "has a longitude outside -180 to 180 degrees",
             "Coordinates are longitude then latitude in degrees: check their order and that they are not metres"),
            (finite & (np.abs(lat) <= 90.0) & (np.abs(lat) > MAX_LATITUDE), "too-near-pole",
             f"lies beyond {MAX_LATITUDE:.0f} degrees of latitude, where no road is",
             "Check the coordinates and their order"),
        )
    for wrong, code, what, remedy in checks:
        numbers = np.flatnonzero(wrong)
        if numbers.size:
            first = int(numbers[0])
            others = f", and {numbers.size - 1} more like it" if numbers.size > 1 else ""
            spot = f"point {first + first_number}"
            faults.add(code, f"the point {what}{others}", remedy, place=f"{place}, {spot}" if place else spot,
                       value=f"lon {lon[first]:g}, lat {lat[first]:g}")
