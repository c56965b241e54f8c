# SPDX-License-Identifier: MIT
"""Which gear it must have been: by engine speed over road speed where there is a column, else as planned."""

from __future__ import annotations

import itertools

import numpy as np
from numpy.typing import NDArray

from descent.physics.driveline import engine_rpm_per_mps
from descent.vehicle.model import Vehicle

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
CRUISE, NEUTRAL = -1, -2     # the driver's choice; out of gear
LEAST_MPS = 1.5
TOLERANCE = 0.06             # of the ratio: wear and load of a tyre, and noise (assumed)
IDLE_SHARE = 1.15
HELD_S = 3.0
OPEN_S = 8.0


def gears_by_engine_speed(vehicle: Vehicle, time_s: FloatArray, speed_mps: FloatArray, engine_rpm: FloatArray) -> IntArray:
    """Gear index at each time (n,), `NEUTRAL` where the engine idles out of gear, `CRUISE` where it cannot be told.

    speed_mps (n,) [m/s], engine_rpm (n,) [rpm], NaN where not noted. The nearest ratio within `TOLERANCE` counts, and
    only where it holds for `HELD_S`: while the clutch is open between gears the last one stands, for `OPEN_S` at most.
    """
    turns = np.array([engine_rpm_per_mps(vehicle.gearbox, gear) for gear in range(len(vehicle.gearbox.ratios))])
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = np.where(speed_mps > LEAST_MPS, engine_rpm / speed_mps, np.nan)
        off = np.abs(np.log(ratio[:, None] / turns[None, :]))
        nearest = np.argmin(np.where(np.isfinite(off), off, np.inf), axis=1)
        close = off[np.arange(len(ratio)), nearest] < TOLERANCE
        lowest = speed_mps * turns[nearest]
        idling = (speed_mps > 4.0) & (engine_rpm < IDLE_SHARE * vehicle.engine.idle_rpm) & ~(close & (lowest > 0))
    gear = np.where(close, nearest, np.where(idling, NEUTRAL, CRUISE))
    return _held(gear, time_s)


def _held(gear: IntArray, time_s: FloatArray) -> IntArray:
    """Only runs of HELD_S or longer; what lies between takes the last one, unless it lasts longer than OPEN_S."""
    edges = np.concatenate([[0], np.flatnonzero(np.diff(gear)) + 1, [len(gear)]])
    out = gear.copy()
    last, since = CRUISE, 0
    for start, end in itertools.pairwise(edges):
        if gear[start] != CRUISE and time_s[min(end, len(gear) - 1)] - time_s[start] >= HELD_S:
            last, since = int(gear[start]), end
        else:
            lasting = time_s[min(end, len(gear) - 1)] - time_s[min(since, len(gear) - 1)]
            out[start:end] = last if lasting <= OPEN_S else CRUISE
    return out
