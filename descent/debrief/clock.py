# SPDX-License-Identifier: MIT
"""Puts a recording's clock right: one time that only runs forward, jumps of the clock taken out and told."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from descent.debrief.recording import Recording
from descent.errors import RouteError
from descent.route.faultbook import one_fault
from descent.route.line import WGS84

FloatArray = NDArray[np.float64]
CLOSEST_S = 0.45             # fixes nearer in time than this add nothing
HARD_MPS2 = 3.0              # harder than a loaded vehicle brakes or gains speed (assumed)
POSITION_M = 25.0            # two fixes may be wrong by this against each other
MOVING_MPS = 3.0
JUMP_S = 3.0                 # shorter leaps are gaps, not jumps of the clock


@dataclass(frozen=True)
class Happening:
    """Something that befell the recording. kind: "clock-jump", "gap", "pause", "gps-jump", "off-road"; time_s since the
    first fix; seconds: how long it lasted, or by how much the clock jumped (negative: backward)."""

    kind: str
    time_s: float
    seconds: float


@dataclass(frozen=True)
class Timed:
    """A recording whose clock_s starts at 0 and only rises, and what was done to it."""

    recording: Recording
    happenings: tuple[Happening, ...]


def right_clock(recording: Recording, where: str) -> Timed:
    """The recording with one rising time. Raises RouteError recording-too-short when next to nothing is left.

    A step back is taken as a jump of the clock: the drive goes on after the usual interval. A leap forward is one when no
    vehicle could have come to so little road in so much time: from the speed before it to that after it, slowing and
    gaining by at most 3 m/s2 in between. Any other leap is a gap, in which the vehicle may have stood.
    """
    usual = _usual_interval(recording.clock_s)
    steps = np.diff(recording.clock_s)
    apart = _apart_m(recording)
    speed = _speed_beside(recording, steps, apart)
    happenings: list[Happening] = []
    mended = steps.copy()
    for index in np.flatnonzero((steps < 0.0) | (steps > max(JUMP_S, 2.5 * usual))):
        step = float(steps[index])
        before, after = speed[index]
        if step < -usual or (step > 0.0 and float(apart[index]) + POSITION_M < _least_road_m(before, after, step)):
            mended[index] = max(usual, float(apart[index]) / max(0.5 * (before + after), 1.0))
            if mended[index] > 60.0:
                mended[index] = usual
            happenings.append(Happening("clock-jump", float(mended[:index].sum()), step - float(mended[index])))
        elif step < 0.0:
            mended[index] = 0.0
    time = np.concatenate([[0.0], np.cumsum(np.maximum(mended, 0.0))])
    kept = _spread(time)
    if len(kept) < 10:
        raise one_fault(RouteError, where, "recording-too-short", "the recording is too short to say anything of a drive",
                        "Give one of at least 10 points and 30 seconds", value=f"{len(kept)} points at different times")
    return Timed(_only(replace(recording, clock_s=time), kept), tuple(happenings))


def _only(recording: Recording, kept: NDArray[np.int64]) -> Recording:
    return replace(recording, lon=recording.lon[kept], lat=recording.lat[kept], clock_s=recording.clock_s[kept],
                   elevation_m=recording.elevation_m[kept], speed_mps=recording.speed_mps[kept],
                   engine_rpm=recording.engine_rpm[kept])


def _usual_interval(clock_s: FloatArray) -> float:
    steps = np.diff(clock_s)
    return float(np.median(steps[steps > 0.0])) if (steps > 0.0).any() else 1.0


def _apart_m(recording: Recording) -> FloatArray:
    _, _, apart = WGS84.inv(recording.lon[:-1], recording.lat[:-1], recording.lon[1:], recording.lat[1:])
    return np.asarray(apart, dtype=float)


def _speed_beside(recording: Recording, steps: FloatArray, apart: FloatArray) -> list[tuple[float, float]]:
    """Speed just before and just after each step [m/s]: noted, else the median of the nearest steps."""
    with np.errstate(divide="ignore", invalid="ignore"):
        of_step = np.where((steps > 0.0) & (steps <= 10.0), apart / steps, np.nan)
    noted = recording.speed_mps

    def near(values: FloatArray) -> float:
        good = values[np.isfinite(values)]
        return float(np.median(good)) if len(good) else 0.0

    found = []
    for index in range(len(steps)):
        before = noted[index] if np.isfinite(noted[index]) else near(of_step[max(index - 4, 0):index])
        after = noted[index + 1] if np.isfinite(noted[index + 1]) else near(of_step[index + 1:index + 5])
        found.append((float(before), float(after)))
    return found


def _least_road_m(before_mps: float, after_mps: float, seconds: float) -> float:
    """The least road [m] in which a vehicle passes `seconds` between two speeds, changing them by HARD_MPS2 at most."""
    if min(before_mps, after_mps) < MOVING_MPS:
        return 0.0
    to_rest = (before_mps + after_mps) / HARD_MPS2
    if seconds >= to_rest:
        return (before_mps**2 + after_mps**2) / (2.0 * HARD_MPS2)
    lowest = max(0.5 * (before_mps + after_mps - HARD_MPS2 * seconds), 0.0)
    return (before_mps**2 + after_mps**2 - 2.0 * lowest**2) / (2.0 * HARD_MPS2)


def _spread(time_s: FloatArray) -> NDArray[np.int64]:
    """Indices of fixes at least CLOSEST_S apart."""
    kept, last = [0], float(time_s[0])
    for index, now in enumerate(time_s.tolist()):
        if now - last >= CLOSEST_S:
            kept.append(index)
            last = now
    return np.array(kept)
