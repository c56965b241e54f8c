# SPDX-License-Identifier: MIT
"""Cleans a line of points: repeated points, points in the wrong order, single stray points of a recording."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from descent.route.line import WGS84
from descent.route.text import length_text, place_text

FloatArray = NDArray[np.float64]
IndexArray = NDArray[np.int64]
SAME_POINT_M = 0.05
STANDING_M = 3.0
METRES_PER_RADIAN = 6_371_000.0
BACK_STEP_M = 60.0
BACK_TURN_DEG = 150.0
ROUND_TURN_DEG = 178.0
FASTEST_MPS = 70.0


def clean_line(lon: FloatArray, lat: FloatArray, time_s: FloatArray, mended: list[str]) -> IndexArray:
    """Indices of the points to keep, in travel order. lon, lat: (n,) [degree]; time_s: (n,) [s], NaN if unknown.

    What was done goes to `mended`. A recording (all points with a time) loses points that are reached and left
    faster than 70 m/s, and points within 3 m of the one before, so that the wander of a standing receiver adds
    no road. A drawn line loses points within 5 cm of the one before; points that make it run back less than 60 m
    and forth again, turning over 150 degrees twice, are put in order; a single turn-round (out and back) stays.
    """
    kept = np.arange(len(lon))
    kept = _without_strays(lon, lat, time_s, kept, mended)
    if np.isnan(time_s).any():
        kept = _thinned(lon, lat, kept, SAME_POINT_M)
        _say_dropped(len(lon), len(kept), "points that repeat the one before were left out", mended)
        return _thinned(lon, lat, _in_order(lon, lat, kept, mended), SAME_POINT_M)     # order brings repeats together
    count = len(kept)
    kept = _thinned(lon, lat, kept, STANDING_M)
    _say_dropped(count, len(kept), f"points of the recording less than {STANDING_M:.0f} m from the one before "
                 "(standing or creeping) were left out", mended)
    return kept


def _steps(lon: FloatArray, lat: FloatArray, kept: IndexArray) -> tuple[FloatArray, FloatArray]:
    """Azimuth [degree] and length [m] of each step between kept points."""
    azimuth, _, length = WGS84.inv(lon[kept[:-1]], lat[kept[:-1]], lon[kept[1:]], lat[kept[1:]])
    return np.asarray(azimuth, dtype=float), np.asarray(length, dtype=float)


def _say_dropped(before: int, after: int, what: str, mended: list[str]) -> None:
    if after < before:
        mended.append(f"{before - after} {what}")


def _thinned(lon: FloatArray, lat: FloatArray, kept: IndexArray, apart_m: float) -> IndexArray:
    """Without the points within `apart_m` of the last one kept."""
    _, length = _steps(lon, lat, kept)
    if (length > apart_m).all():
        return kept
    east = np.radians(np.unwrap(lon[kept], period=360.0)) * np.cos(np.radians(lat[kept])) * METRES_PER_RADIAN
    north = np.radians(lat[kept]) * METRES_PER_RADIAN
    keep = [0]
    x, y = east[0], north[0]
    for index, (east_m, north_m) in enumerate(zip(east.tolist(), north.tolist(), strict=True)):
        if (east_m - x) ** 2 + (north_m - y) ** 2 > apart_m**2:
            keep.append(index)
            x, y = east_m, north_m
    return kept[keep]


def _without_strays(lon: FloatArray, lat: FloatArray, time_s: FloatArray, kept: IndexArray,
                    mended: list[str]) -> IndexArray:
    if len(kept) < 4 or np.isnan(time_s).any():
        return kept
    _, length = _steps(lon, lat, kept)
    duration = np.diff(time_s)
    fast = length > FASTEST_MPS * np.maximum(duration, 1.0)
    stray = np.zeros(len(kept), dtype=bool)
    stray[1:-1] = fast[:-1] & fast[1:]
    stray[2:-1] &= ~stray[1:-2]
    if not stray.any():
        return kept
    first = int(np.flatnonzero(stray)[0])
    mended.append(f"{int(stray.sum())} stray points of the recording, the first at "
                  f"{place_text(lon[first], lat[first])}, were left out: no vehicle is that fast")
    return kept[~stray]


def _in_order(lon: FloatArray, lat: FloatArray, kept: IndexArray, mended: list[str]) -> IndexArray:
    if len(kept) < 4:
        return kept
    azimuth, length = _steps(lon, lat, kept)
    turn = np.abs((np.diff(azimuth) + 180.0) % 360.0 - 180.0)
    travelled = np.concatenate([[0.0], np.cumsum(length)])
    sharp: list[int] = (np.flatnonzero(turn > BACK_TURN_DEG) + 1).tolist()
    kept = kept.copy()
    single, last, moved = [], -1, 0
    for first, second in pairwise([*sharp, len(kept)]):
        if first <= last:
            continue
        if second < len(kept) and travelled[second] - travelled[first] < BACK_STEP_M:
            kept[first:second + 1] = kept[first:second + 1][::-1].copy()
            last = second
            moved += 1
        elif turn[first - 1] > ROUND_TURN_DEG:
            single.append(first)
    if moved:
        mended.append(f"in {moved} places points were in the wrong order (the line ran back and forth); they were "
                      "put right")
    mended += [f"the line turns round on the spot at {place_text(lon[kept[index]], lat[kept[index]])}, "
               f"{length_text(travelled[index])} from its start: it is taken as driven there and back"
               for index in single[:3]]
    return kept
