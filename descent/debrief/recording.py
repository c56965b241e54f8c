# SPDX-License-Identifier: MIT
"""Reads a recorded drive: positions with times, and speed and engine speed where the recorder noted them."""

from __future__ import annotations

import os
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from descent.errors import RouteError
from descent.route.faultbook import FaultBook, one_fault
from descent.route.features import Part, check_coordinates
from descent.route.files import find_source
from descent.route.readers import read_features
from descent.route.text import clean_text

FloatArray = NDArray[np.float64]
LEAST_POINTS = 10
LEAST_TIME_S = 30.0
READINGS = ("speed_mps", "engine_rpm")


@dataclass(frozen=True)
class Recording:
    """The fixes of a recording in the order written, all arrays (n,): lon, lat [degree]; clock_s [s] as its clock said;
    elevation_m, speed_mps, engine_rpm: NaN where not noted. notes: what was left out while reading."""

    name: str
    lon: FloatArray
    lat: FloatArray
    clock_s: FloatArray
    elevation_m: FloatArray
    speed_mps: FloatArray
    engine_rpm: FloatArray
    notes: tuple[str, ...] = ()

    @property
    def has_speed(self) -> bool:
        """Most fixes carry a speed."""
        return bool(np.isfinite(self.speed_mps).mean() > 0.5)

    @property
    def has_engine_speed(self) -> bool:
        """Most fixes carry an engine speed."""
        return bool(np.isfinite(self.engine_rpm).mean() > 0.5)


def read_recording(path: str | os.PathLike[str]) -> Recording:
    """The recorded drive in a GPX, FIT, TCX or CSV file, its parts in file order.

    Raises RouteError: recording-no-time (no times, or fewer than half of the points have one), recording-one-time (the
    clock stands still), recording-too-short (under ten timed points or half a minute), and what the readers raise.
    """
    where = find_source(path).where
    features = read_features(path)
    faults = FaultBook(where)
    faults.take(features.faults)
    parts = [part for part in features.parts if len(part.lon)]
    for part in parts:
        check_coordinates(part.lon, part.lat, faults, place=part.place)
    faults.raise_if_any(RouteError)
    columns = np.concatenate([_columns(part) for part in parts], axis=1) if parts else np.empty((6, 0))
    timed = np.isfinite(columns[2])
    _check(columns, timed, where)
    notes = list(features.notes)
    if not timed.all():
        notes.append(f"{int((~timed).sum())} points without a time were left out")
    lon, lat, clock, elevation, speed, rpm = columns[:, timed]
    name = next((part.name for part in parts if part.name), "") or features.name or clean_text(find_source(path).stem)
    return Recording(name, np.unwrap(lon, period=360.0), lat, clock, elevation,
                     np.where(speed >= 0.0, speed, np.nan), np.where(rpm > 0.0, rpm, np.nan), tuple(notes))


def _columns(part: Part) -> FloatArray:
    """lon, lat, time, elevation, speed, engine speed of a part as (6, n)."""
    missing = np.full(len(part.lon), np.nan)
    return np.array([part.lon, part.lat, missing if part.time_s is None else part.time_s,
                     missing if part.elevation_m is None else part.elevation_m,
                     *(part.readings.get(name, missing) for name in READINGS)])


def _check(columns: FloatArray, timed: NDArray[np.bool_], where: str) -> None:
    count, with_time = len(timed), int(timed.sum())
    if count and with_time * 2 < count:
        raise one_fault(RouteError, where, "recording-no-time", "this is no recording of a drive: its points have no times",
                        "Name a recorded track (GPX, FIT, TCX or CSV with a time column), not a drawn route",
                        value=f"{with_time} of {count} points have a time")
    if with_time >= 2 and float(np.ptp(columns[2, timed])) == 0.0:
        raise one_fault(RouteError, where, "recording-one-time", "all points of the recording have the same time",
                        "Export the recording again with the time of each point")
    if with_time < LEAST_POINTS or float(np.ptp(columns[2, timed])) < LEAST_TIME_S:
        raise one_fault(RouteError, where, "recording-too-short", "the recording is too short to say anything of a drive",
                        f"Give one of at least {LEAST_POINTS} points and {LEAST_TIME_S:.0f} seconds",
                        value=f"{with_time} timed points")
