# SPDX-License-Identifier: MIT
"""Speed along the road from fixes full of noise: a Kalman filter with gates, smoothed backward (Rauch-Tung-Striebel)."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

LONGEST_STEP_S = 1.5         # gaps are filled with steps of at most this
STAND_MPS = 0.6
STAND_S = 15.0
STAND_ROAD_M = 25.0
STAND_NOTED_MPS = 0.8
GATE = 4.5                   # standard deviations beyond which a reading is not believed
GIVE_UP = 15                 # so many in a row, and the position is believed after all


@dataclass(frozen=True)
class MotionNoise:
    """What is taken of noise and vehicle. The position of a receiver wanders by position_sd_m [m] over position_time_s [s]
    and jitters by jitter_m [m]; a speed column by speed_sd_mps; acceleration has a standard deviation acceleration_sd_mps2
    and stays alike over acceleration_time_s (Singer 1970, from memory). All assumed."""

    position_sd_m: float = 3.5
    position_time_s: float = 40.0
    jitter_m: float = 0.6
    speed_sd_mps: float = 0.25
    acceleration_sd_mps2: float = 0.45
    acceleration_time_s: float = 2.5


@dataclass(frozen=True)
class Motion:
    """The drive as smoothed, all arrays (n,), at most 1.5 s apart: time_s [s]; station_m [m]; speed_mps [m/s, horizontal,
    never negative] and its standard deviation; acceleration_sd_mps2; seen: a fix was used there; standing; refused (n_fixes,): fixes whose
    position was not believed."""

    time_s: FloatArray
    station_m: FloatArray
    speed_mps: FloatArray
    speed_sd_mps: FloatArray
    acceleration_sd_mps2: FloatArray
    seen: BoolArray
    standing: BoolArray
    refused: BoolArray


def smooth_motion(time_s: FloatArray, station_m: FloatArray, speed_mps: FloatArray, *,
                  noise: MotionNoise = MotionNoise()) -> Motion:
    """Smoothed travel from times (n,), stations (n,) and speeds (n,), NaN where there is none.

    The state is station, speed, acceleration and the slow wander of the receiver. A reading farther than `GATE` standard
    deviations from what was foreseen is refused. A second pass knows where the vehicle stood.
    """
    times, of_fix = _grid(time_s)
    position = np.full(len(times), np.nan)
    position[of_fix] = station_m
    speed = np.full(len(times), np.nan)
    speed[of_fix] = speed_mps
    still = np.zeros(len(times), dtype=bool)
    state, sd, refused, noise = _settled(times, position, speed, still, noise)
    still = _standing(times, state, position, speed)
    if still.any():
        state, sd, refused, _ = _both_ways(times, position, speed, still, noise)
    velocity = np.where(still, 0.0, np.maximum(state[:, 1], 0.0))
    seen = np.zeros(len(times), dtype=bool)
    seen[of_fix] = np.isfinite(station_m) & ~refused[of_fix]
    return Motion(times, state[:, 0], velocity, np.where(still, 0.02, sd[:, 0]), sd[:, 1], seen, still, refused[of_fix])


def _settled(times: FloatArray, position: FloatArray, speed: FloatArray, still: BoolArray,
             noise: MotionNoise) -> tuple[FloatArray, FloatArray, BoolArray, MotionNoise]:
    """Smoothed with the noise this receiver shows: how far positions miss what was foreseen scales what was assumed."""
    noise = replace(noise, speed_sd_mps=_column_sd_mps(speed, noise.speed_sd_mps))
    for _ in range(2):
        state, sd, refused, ratio = _both_ways(times, position, speed, still, noise)
        wander = float(np.clip(np.sqrt(ratio), 0.5, 2.0))
        if abs(np.log(wander)) < 0.08:
            break
        noise = replace(noise, position_sd_m=float(np.clip(noise.position_sd_m * wander, 0.7, 12.0)),
                        jitter_m=float(np.clip(noise.jitter_m * wander, 0.15, 3.0)))
    state, sd, refused, _ = _both_ways(times, position, speed, still, noise)
    return state, sd, refused, noise


def _column_sd_mps(speed: FloatArray, otherwise: float) -> float:
    """Noise of a speed column [m/s] from its third differences, whose variance is 20 times that of white noise; their
    median is not moved by the edges of braking. Never below 0.12 m/s: a receiver's own filter hides some."""
    third = np.abs(np.diff(speed, n=3))
    third = third[np.isfinite(third) & (third > 0.0)]
    if len(third) < 30:
        return otherwise
    return float(np.clip(np.median(third) / 0.6745 / np.sqrt(20.0), 0.12, 1.0))


def _grid(time_s: FloatArray) -> tuple[FloatArray, NDArray[np.int64]]:
    """Times of the fixes with steps filled in where they are far apart, and where each fix stands."""
    pieces, at, count = [], np.empty(len(time_s), dtype=np.int64), 0
    for index in range(len(time_s)):
        at[index] = count
        if index + 1 < len(time_s):
            parts = max(int(np.ceil((time_s[index + 1] - time_s[index]) / LONGEST_STEP_S - 1e-9)), 1)
            piece = np.linspace(time_s[index], time_s[index + 1], parts, endpoint=False)
        else:
            piece = time_s[index:index + 1]
        pieces.append(piece)
        count += len(piece)
    return np.concatenate(pieces), at


def _transition(dt: float, noise: MotionNoise) -> tuple[FloatArray, FloatArray]:
    """F and Q of a step: station, speed, acceleration (Gauss-Markov), wander (Gauss-Markov)."""
    tau, wander = noise.acceleration_time_s, np.exp(-dt / noise.position_time_s)
    left = np.exp(-dt / tau)
    f = np.eye(4)
    f[0, 1], f[0, 2] = dt, tau * tau * (dt / tau - 1.0 + left)
    f[1, 2], f[2, 2], f[3, 3] = tau * (1.0 - left), left, wander
    # process noise of the acceleration, integrated by Simpson's rule (exact enough for steps of 1.5 s)
    q = np.zeros((4, 4))
    density = 2.0 * noise.acceleration_sd_mps2**2 / tau
    for share, weight in ((0.0, 1.0), (0.25, 4.0), (0.5, 2.0), (0.75, 4.0), (1.0, 1.0)):
        rest = dt * share
        gone = np.exp(-rest / tau)
        reach = np.array([tau * tau * (rest / tau - 1.0 + gone), tau * (1.0 - gone), gone, 0.0])
        q += weight * dt / 12.0 * density * np.outer(reach, reach)
    q[3, 3] += noise.position_sd_m**2 * (1.0 - wander * wander)
    return f, q


def _both_ways(times: FloatArray, position: FloatArray, speed: FloatArray, still: BoolArray,
               noise: MotionNoise) -> tuple[FloatArray, FloatArray, BoolArray, float]:
    n = len(times)
    first = int(np.flatnonzero(np.isfinite(position))[0])
    begin = speed[np.isfinite(speed)][:1]
    x = np.array([position[first], float(begin[0]) if len(begin) else 0.0, 0.0, 0.0])
    p = np.diag([25.0, 4.0 if len(begin) else 400.0, 0.2, noise.position_sd_m**2])
    known: dict[float, tuple[FloatArray, FloatArray]] = {}
    before, before_p, after, after_p = (np.zeros((n, 4)), np.zeros((n, 4, 4)), np.zeros((n, 4)), np.zeros((n, 4, 4)))
    steps = np.concatenate([[0.0], np.diff(times)])
    refused = np.zeros(n, dtype=bool)
    in_a_row = 0
    surprise = np.full(n, np.nan)
    for i in range(n):
        dt = round(float(steps[i]), 3)
        if dt not in known:
            known[dt] = _transition(dt, noise)
        f, q = known[dt]
        if i:
            x, p = f @ x, f @ p @ f.T + q
        before[i], before_p[i] = x, p
        if still[i]:
            x, p, _ = _update(x, p, np.array([0.0, 1.0, 0.0, 0.0]), 0.0, 0.03**2, np.inf)
            x, p, _ = _update(x, p, np.array([0.0, 0.0, 1.0, 0.0]), 0.0, 0.03**2, np.inf)
        elif np.isfinite(speed[i]):
            x, p, _ = _update(x, p, np.array([0.0, 1.0, 0.0, 0.0]), float(speed[i]), noise.speed_sd_mps**2, GATE)
        if np.isfinite(position[i]):
            gate = GATE if in_a_row < GIVE_UP else np.inf
            if not np.isfinite(gate):
                p = p + np.diag([0.0, 0.0, 0.0, 60.0**2])
            spread = p[0, 0] + 2.0 * p[0, 3] + p[3, 3] + noise.jitter_m**2
            surprise[i] = (float(position[i]) - x[0] - x[3])**2 / spread
            x, p, taken = _update(x, p, np.array([1.0, 0.0, 0.0, 1.0]), float(position[i]), noise.jitter_m**2, gate)
            refused[i] = not taken
            in_a_row = 0 if taken else in_a_row + 1
        after[i], after_p[i] = x, p
    ratio = float(np.nanmedian(surprise)) / 0.455
    return *_backward(before, before_p, after, after_p, steps, known), refused, ratio      # 0.455: median of chi-square(1)


def _update(x: FloatArray, p: FloatArray, row: FloatArray, value: float, variance: float,
            gate: float) -> tuple[FloatArray, FloatArray, bool]:
    """One reading taken in, in the form that keeps the covariance symmetric; refused beyond the gate."""
    reach = p @ row
    spread = float(row @ reach) + variance
    miss = value - float(row @ x)
    if miss * miss > gate * gate * spread:
        return x, p, False
    gain = reach / spread
    p = p - np.outer(gain, reach)
    return x + gain * miss, 0.5 * (p + p.T), True


def _backward(before: FloatArray, before_p: FloatArray, after: FloatArray, after_p: FloatArray, steps: FloatArray,
              known: dict[float, tuple[FloatArray, FloatArray]]) -> tuple[FloatArray, FloatArray]:
    x, p = after[-1], after_p[-1]
    state, sd = np.zeros_like(after), np.zeros((len(after), 2))
    state[-1], sd[-1] = x, np.sqrt(p.diagonal()[1:3])
    for i in range(len(after) - 2, -1, -1):
        f, _ = known[round(float(steps[i + 1]), 3)]
        gain = np.linalg.solve(before_p[i + 1].T, f @ after_p[i].T).T
        x = after[i] + gain @ (x - before[i + 1])
        p = after_p[i] + gain @ (p - before_p[i + 1]) @ gain.T
        state[i], sd[i] = x, np.sqrt(np.maximum(p.diagonal()[1:3], 1e-8))
    return state, sd


def _standing(times: FloatArray, state: FloatArray, position: FloatArray, noted: FloatArray) -> BoolArray:
    """Where the vehicle stood: for STAND_S or longer hardly any speed, as noted or else as smoothed, and hardly any road.

    A receiver at rest still notes small speeds, never negative ones, so a smoothed speed drifts where one is noted.
    """
    known = np.isfinite(noted)
    slow = np.abs(state[:, 1]) < STAND_MPS
    if known.any():
        at = np.flatnonzero(known)
        padded = np.pad(noted[at], 2, mode="edge")
        middle = np.median(np.lib.stride_tricks.sliding_window_view(padded, 5), axis=1)
        slow = np.interp(times, times[at], middle) < STAND_NOTED_MPS
    still = np.zeros(len(times), dtype=bool)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], slow.astype(int), [0]])))
    for start, end in zip(edges[::2], edges[1::2], strict=True):
        seen = position[start:end][np.isfinite(position[start:end])]
        where = seen if len(seen) >= 2 else state[start:end, 0]
        moved = abs(float(np.median(where[-9:]) - np.median(where[:9])))
        if times[end - 1] - times[start] >= STAND_S and moved < STAND_ROAD_M:
            still[start:end] = True
    return still
