# SPDX-License-Identifier: MIT
"""The compiled stop: pressure builds, brakes grip as hot and as slack as they are, tyres limit, the road ahead pulls.

Each stop: the vehicle goes on at its speed while the driver perceives and reacts, then the application builds up to
first order at every row, reckoned in small fixed time steps; then, the pressure settled, the road is walked cell by cell with
v^2 linear in distance, and each piece counts with the brakes as hot as in its middle.
"""

from __future__ import annotations

import numba
import numpy as np
from numpy.typing import NDArray

from descent.physics.foundation_brake import CAPACITY, LOAD, row_force_n

FloatArray = NDArray[np.float64]
(MASS, MASS_EFF, APPLICATION, REACTION_S, ADHESION, GRIP_SHARE, LOCKED_SHARE, LOCKED_TIME, TECHNIQUE) = range(9)
ANTILOCK, CONTROLLED, STAB = 0.0, 1.0, 2.0
BUILD_STEP_S = 0.025
BUILT = 0.999         # the application counts as settled at this share
FARTHEST_M = 3000.0   # no stop that takes longer counts as one
GRAVITY = 9.80665


@numba.njit(cache=True)
def highest_rolling_kpa(rows: FloatArray, gain: FloatArray, temps_c: FloatArray, par: FloatArray) -> float:
    """Highest application up to the asked one at which no row passes its share of the grip [kPa].

    Pressures are scanned upward and the first crossing is refined. rows (n_rows, 17); gain (n_rows,) [1]; temps_c (n_rows,) [C]; par (9,) as
    `stopping._parameters` packs it.

    Source: key derived; the share of the grip is assumed. Example: `descent.physics.stopping.stop`.
    """
    asked = par[APPLICATION]
    step = asked / 24.0
    low = 0.0
    for number in range(1, 25):
        high = number * step
        fits = True
        for i in range(rows.shape[0]):
            if gain[i] * row_force_n(rows[i], high, temps_c[i]) > par[GRIP_SHARE] * par[ADHESION] * rows[i, LOAD]:
                fits = False
        if not fits:
            for _ in range(30):
                middle = 0.5 * (low + high)
                fits = True
                for i in range(rows.shape[0]):
                    grip = par[GRIP_SHARE] * par[ADHESION] * rows[i, LOAD]
                    if gain[i] * row_force_n(rows[i], middle, temps_c[i]) > grip:
                        fits = False
                if fits:
                    low = middle
                else:
                    high = middle
            return low
        low = high
    return float(asked)


@numba.njit(cache=True)
def built_shares(lag_s: FloatArray) -> FloatArray:
    """Share [1] of the application each row has (n_steps, n_rows), in the middle of each time step, until it is settled.

    lag_s (n_rows,) [s]: time constants of a build of first order (key assumed). Range: lags above 0. Example:
    `descent.physics.stopping.stop`.
    """
    steps = int(np.ceil(-np.log(1.0 - BUILT) * lag_s.max() / BUILD_STEP_S))
    out = np.empty((steps, lag_s.shape[0]))
    for step in range(steps):
        for i in range(lag_s.shape[0]):
            out[step, i] = 1.0 - np.exp(-(step + 0.5) * BUILD_STEP_S / lag_s[i])
    return out


@numba.njit(cache=True)
def _forces(rows: FloatArray, gain: FloatArray, temps_c: FloatArray, pressure_kpa: float, built: FloatArray,
            par: FloatArray, out: FloatArray) -> float:
    """Force of each row at the road -> `out` [N], and their sum: what the brake gives, at most what the tyres hold.

    Antilock keeps a wheel at `GRIP_SHARE` of the grip. Stab braking holds wheels that lock at `LOCKED_SHARE` of it for
    `LOCKED_TIME` of the time; for the rest all brakes are let go.
    """
    total = 0.0
    locks = False
    for i in range(rows.shape[0]):
        force = gain[i] * row_force_n(rows[i], pressure_kpa * built[i], temps_c[i])
        grip = par[ADHESION] * rows[i, LOAD]
        if par[TECHNIQUE] == STAB:
            if force > grip:
                locks = True
                force = par[LOCKED_SHARE] * grip
        else:
            force = min(force, par[GRIP_SHARE] * grip)
        out[i] = force
        total += force
    if locks:
        for i in range(rows.shape[0]):
            out[i] *= par[LOCKED_TIME]
        total *= par[LOCKED_TIME]
    return total


@numba.njit(cache=True)
def stop(rows: FloatArray, gain: FloatArray, built: FloatArray, temps_c: FloatArray, speed_mps: float, node: int,
         step_m: FloatArray, sin_down: FloatArray, par: FloatArray, work: FloatArray, part: FloatArray) -> float:
    """Way [m along the road] of one stop from a node on the cells ahead, or infinity; `temps_c` is overwritten.

    rows (n_rows, 17); gain (n_rows,) [1]; temps_c (n_rows,) [C]; speed_mps [m/s]; cells (n,): step_m [m], sin_down [1];
    par (9,). The last cell's grade goes on past the end. built: from `built_shares`; work (3, n_rows): room to reckon
    in; `part` (3,) [m]: ways of reaction, of the time the application builds, and of the rest.

    Range: to 3 km of braking, infinite beyond. Source: key derived. Example: `descent.physics.stopping.stop`.
    """
    part[:] = 0.0
    if speed_mps <= 0.0:
        return 0.0
    last = step_m.shape[0] - 1
    share, hot, full = work[0], work[1], work[2]
    full[:] = 1.0
    part[0] = speed_mps * par[REACTION_S]
    cell, ahead = _moved(min(node, last), step_m[min(node, last)], part[0], step_m)
    pressure = par[APPLICATION]
    if par[TECHNIQUE] == CONTROLLED:
        pressure = highest_rolling_kpa(rows, gain, temps_c, par)
    v = speed_mps
    for number in range(built.shape[0]):
        total = _forces(rows, gain, temps_c, pressure, built[number], par, share)
        accel = (par[MASS] * GRAVITY * sin_down[cell] - total) / par[MASS_EFF]
        if v + accel * BUILD_STEP_S <= 0.0:
            part[1] += 0.5 * v * v / -accel
            return float(part[0] + part[1])
        dx = v * BUILD_STEP_S + 0.5 * accel * BUILD_STEP_S * BUILD_STEP_S
        for i in range(rows.shape[0]):
            temps_c[i] += share[i] * dx / rows[i, CAPACITY]
        v += accel * BUILD_STEP_S
        part[1] += dx
        cell, ahead = _moved(cell, ahead, dx, step_m)
    u = v * v
    while part[2] < FARTHEST_M:
        pull = par[MASS] * GRAVITY * sin_down[cell]
        slope = 2.0 * (_forces(rows, gain, temps_c, pressure, full, par, share) - pull) / par[MASS_EFF]
        need = u / slope if slope > 0.0 else np.inf
        dx = min(ahead, min(max(need / 4.0, 3.0), 50.0))
        for i in range(rows.shape[0]):
            share[i] = temps_c[i] + 0.5 * share[i] * dx / rows[i, CAPACITY]
        slope = 2.0 * (_forces(rows, gain, share, pressure, full, par, hot) - pull) / par[MASS_EFF]
        ends = slope > 0.0 and u <= slope * dx
        if ends:
            dx = u / slope
        for i in range(rows.shape[0]):
            temps_c[i] += hot[i] * dx / rows[i, CAPACITY]
        if ends:
            part[2] += dx
            return float(part[0] + part[1] + part[2])
        u -= slope * dx
        part[2] += dx
        cell, ahead = _moved(cell, ahead, dx, step_m)
    part[2] = np.inf
    return np.inf


@numba.njit(cache=True)
def _moved(cell: int, ahead: float, dx: float, step_m: FloatArray) -> tuple[int, float]:
    """The cell after going on by dx, and the way left in it (endless in the last)."""
    last = step_m.shape[0] - 1
    if cell == last:
        return cell, np.inf
    ahead -= dx
    while ahead <= 1e-9:
        cell += 1
        if cell == last:
            return cell, np.inf
        ahead += step_m[cell]
    return cell, ahead


@numba.njit(cache=True)
def stops_along(rows: FloatArray, gain: FloatArray, lag_s: FloatArray, temps_c: FloatArray, speed_mps: FloatArray,
                first: int, step_m: FloatArray, sin_down: FloatArray, par: FloatArray, ends_c: FloatArray,
                parts: FloatArray, out: FloatArray) -> None:
    """`stop` from every node, the first of which is node `first` of the cells -> `out` (m,) [m].

    temps_c (m, n_rows) [C]; speed_mps (m,) [m/s]; lag_s (n_rows,) [s]; cells (n,); ends_c (m, n_rows) [C]: temperatures
    at the end; parts (m, 3) [m], the other arguments, range and source (key derived): see `stop`. Example:
    `descent.physics.stopping.distances_from`.
    """
    built = built_shares(lag_s)
    work = np.empty((3, rows.shape[0]))
    for index in range(speed_mps.shape[0]):
        ends_c[index] = temps_c[index]
        out[index] = stop(rows, gain, built, ends_c[index], speed_mps[index], first + index, step_m, sin_down, par, work,
                          parts[index])
