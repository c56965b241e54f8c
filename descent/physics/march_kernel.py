# SPDX-License-Identifier: MIT
"""The compiled march down the road: speed, snubs, brake heat and energy, cell by cell, event by event.

The state is u = v^2, whose slope du/ds = 2 F / m is nearly constant, so a cell is one step. Snub on and off and the
arrival at the control speed are located inside the cell. Every force is summed with the weights that move u, so
each energy is integrated by itself and they close to rounding.

The driver: at the cap (control speed, sign, curve) the engine, then the retarder, hold what they can, else power is
added; what they cannot hold is snubbed from the cap to a lower speed, or braked steadily where the cap falls. Below
the cap speed comes back by itself, at no less than a least rate, for which first the retarder, then the engine is
eased, then power added.
"""

from __future__ import annotations

import numba
import numpy as np
from numpy.typing import NDArray

from descent.physics.brake_heat import emergency_rise_k
from descent.physics.foundation_brake import CAPACITY, COOL_REST, COOL_SPEED, pressure_for_force_kpa

FloatArray = NDArray[np.float64]
GRAVITY, DRIVE, ROLLING, AIR, ENGINE, RETARDER, BRAKE_WORK, STORED, COOLED = range(9)
(MASS, MASS_EFF, ROLL_COEFF, DRIVE_POWER, DRIVE_FORCE, RISE_ACCEL, RELEASE_ACCEL, SNUB_DECEL, SNUB_DROP, SNUB_FLOOR,
 MAX_PRESSURE, EMERGENCY_PRESSURE, ADHESION, PARKED_FRACTION) = range(14)
FALLING_CAP = -0.3   # [m/s2 as du/ds] a cap falling faster than this is followed, not snubbed
RISING_CAP = 0.3     # and one rising faster is followed too
LARGEST_CHANGE = 0.3  # of u (or of 1 m2/s2) in one step below the cap: engine drag is steep at a crawl


@numba.njit(cache=True)
def _look(table: FloatArray, row: int, speed: float, inv_step: float) -> float:
    x = speed * inv_step
    i = int(x)
    last = table.shape[1] - 2
    if i > last:
        return float(table[row, last + 1])
    f = x - i
    return float(table[row, i] * (1.0 - f) + table[row, i + 1] * f)


@numba.njit(cache=True)
def _passive(u: float, k: float, engine: FloatArray, ret: FloatArray, row: int, inv_step: float,
             part: FloatArray) -> float:
    """Air, engine and retarder force at u -> `part` (3,); returns their sum."""
    v = np.sqrt(max(u, 0.0))
    part[0] = k * u
    part[1] = _look(engine, row, v, inv_step)
    part[2] = _look(ret, row, v, inv_step)
    return float(part[0] + part[1] + part[2])


@numba.njit(cache=True)
def _coast(u: float, dx: float, pull: float, k: float, engine: FloatArray, ret: FloatArray, row: int,
           inv_step: float, mass_eff: float, part: FloatArray) -> float:
    """One Runge-Kutta 4 step of du/ds = 2 F(u) / m; `part` gets the mean air, engine and retarder force."""
    c = 2.0 / mass_eff
    slope = 0.0
    total = 0.0
    part[:] = 0.0
    for stage in range(4):
        us = u
        if stage == 1 or stage == 2:
            us = u + 0.5 * dx * slope
        elif stage == 3:
            us = u + dx * slope
        us = max(us, 0.0)
        v = np.sqrt(us)
        air = k * us
        drag = _look(engine, row, v, inv_step)
        held = _look(ret, row, v, inv_step)
        slope = c * (pull - (air + drag + held))
        w = 1.0 / 6.0 if stage == 0 or stage == 3 else 1.0 / 3.0
        total += w * slope
        part[0] += w * air
        part[1] += w * drag
        part[2] += w * held
    return u + dx * total


@numba.njit(cache=True)
def _most_drive(v: float, scal: FloatArray) -> float:
    """Greatest tractive force at a speed: power, or grip of the driven axles."""
    return float(min(scal[DRIVE_FORCE], scal[DRIVE_POWER] / max(v, 0.5)))


@numba.njit(cache=True)
def _hold(u: float, u1: float, dx: float, pull: float, k: float, engine: FloatArray, ret: FloatArray, row: int,
          inv_step: float, scal: FloatArray, part: FloatArray) -> tuple[float, float, float]:
    """Follow a cap from u to u1 over dx. Returns (speed squared reached, brake force, drive force)."""
    mass_eff = scal[MASS_EFF]
    um = 0.5 * (u + u1)
    need = 0.5 * mass_eff * (u1 - u) / dx
    surplus = pull - _passive(um, k, engine, ret, row, inv_step, part) - need
    if surplus > 0.0:
        return u1, surplus, 0.0
    spare = pull - part[0] - need
    if spare >= 0.0:
        part[1] = min(part[1], spare)
        part[2] = spare - part[1]
        return u1, 0.0, 0.0
    part[1] = 0.0
    part[2] = 0.0
    most = _most_drive(np.sqrt(um), scal)
    if most < -spare:
        u1 = max(u + 2.0 * (pull - k * u + most) / mass_eff * dx, 0.0)
        part[0] = k * 0.5 * (u + u1)
        return u1, 0.0, 0.5 * mass_eff * (u1 - u) / dx - pull + part[0]
    return u1, 0.0, -spare


@numba.njit(cache=True)
def _regain(u: float, dx: float, least: float, pull: float, k: float, engine: FloatArray, ret: FloatArray, row: int,
            inv_step: float, scal: FloatArray, part: FloatArray) -> tuple[float, float]:
    """Speed comes back below the cap over dx: by itself, or at the rate `least`. Returns (u reached, drive force)."""
    mass_eff = scal[MASS_EFF]
    if pull - _passive(u, k, engine, ret, row, inv_step, part) > mass_eff * least:
        return max(_coast(u, dx, pull, k, engine, ret, row, inv_step, mass_eff, part), 0.0), 0.0
    um = u
    net = 0.0
    for _ in range(3):
        net = min(mass_eff * least, pull - k * um + _most_drive(np.sqrt(max(um, 0.0)), scal))
        um = max(u + net / mass_eff * dx, 0.0)
    u1 = max(u + 2.0 * net / mass_eff * dx, 0.0)
    net = 0.5 * mass_eff * (u1 - u) / dx
    _passive(0.5 * (u + u1), k, engine, ret, row, inv_step, part)
    spare = pull - part[0] - net
    part[1] = max(min(part[1], spare), 0.0)
    part[2] = max(spare - part[1], 0.0)
    return u1, max(-spare, 0.0)


@numba.njit(cache=True)
def _heat(temps: FloatArray, rows: FloatArray, share: FloatArray, dx: float, dt: float, cool: float, air_temp: float,
          decay: FloatArray, energy: FloatArray) -> None:
    """Heat each row by its force `share` over `dx` and cool it over `dt`, exactly for constant power; `decay` gathers
    rate x time, so that exp(-decay) is what is left of a difference in temperature."""
    v = dx / dt
    for i in range(rows.shape[0]):
        conductance = (rows[i, COOL_REST] + rows[i, COOL_SPEED] * v) * cool
        rate = conductance / rows[i, CAPACITY]
        decay[i] += rate * dt
        settle = air_temp + share[i] * v / conductance
        gone = -np.expm1(-rate * dt)
        start = temps[i]
        temps[i] = start + (settle - start) * gone
        energy[STORED] += rows[i, CAPACITY] * (temps[i] - start)
        energy[COOLED] += conductance * ((settle - air_temp) * dt + (start - settle) * gone / rate)


@numba.njit(cache=True)
def stand(temps: FloatArray, rows: FloatArray, seconds: float, cool: float, air_temp: float, decay: FloatArray,
           energy: FloatArray) -> None:
    """Cool all rows, temps (n_rows,) [C], over `seconds` [s] of standing; `decay` (n_rows,) [1] gathers rate x time.

    rows (n_rows, 17); cool [1] already holds the cautious parked fraction; air_temp [C]; energy (9,) [J]. Range: still
    air. Source: key derived (Newton cooling). Arguments, range and source of the whole: `march`.

    >>> temps, decay, energy = np.array([200.0]), np.zeros(1), np.zeros(9)
    >>> row = np.ones((1, 17))
    >>> stand(temps, row, 0.0, 1.0, 20.0, decay, energy)
    >>> float(temps[0])
    200.0
    """
    for i in range(rows.shape[0]):
        gone = rows[i, COOL_REST] * cool / rows[i, CAPACITY] * seconds
        decay[i] += gone
        left = np.exp(-gone)
        before = temps[i]
        temps[i] = air_temp + (before - air_temp) * left
        energy[STORED] += rows[i, CAPACITY] * (temps[i] - before)
        energy[COOLED] += rows[i, CAPACITY] * (before - air_temp) * (1.0 - left)


@numba.njit(cache=True, inline="always")
def cross(cell: FloatArray, row: int, snubbed: int, engine: FloatArray, ret: FloatArray, inv_step: float,
          rows: FloatArray, scal: FloatArray, state: FloatArray, temps: FloatArray, decay: FloatArray,
          spare: FloatArray, log: FloatArray, energy: FloatArray) -> bool:
    """Cross one cell; False when the vehicle stalls in it.

    cell (8,): step [m], sin_down, cos_road [1], k_air [N/(m/s)2], cool [1], air temperature [C], cap squared at its two ends
    [m2/s2]; state (4,): speed squared [m2/s2], braking, rising [1], clock [s], carried on; temps, decay (n_rows,): carried
    on; spare (3 + n_rows,): scratch; log (7,): snubs begun, seconds in them, highest pressure [kPa] and force [N], work
    [J] of brakes, engine, retarder, added to; energy (9,) [J], added to. The rest as in `march`. Source: key derived.
    Example: `descent.physics.march.march`.
    """
    part = spare[:3]
    share = spare[3:]
    weight = scal[MASS] * 9.80665
    mass_eff = scal[MASS_EFF]
    h = cell[0]
    k = cell[3]
    u = state[0]
    braking = state[1] > 0.5
    rising = state[2] > 0.5
    clock = state[3]
    pull = weight * (cell[1] - scal[ROLL_COEFF] * cell[2])
    c0 = cell[6]
    c1 = cell[7]
    slope_cap = (c1 - c0) / h
    drop = scal[SNUB_DROP] if snubbed == 1 else 0.0
    off0 = max(np.sqrt(c0) - drop, scal[SNUB_FLOOR] * np.sqrt(c0)) ** 2
    off1 = max(np.sqrt(c1) - drop, scal[SNUB_FLOOR] * np.sqrt(c1)) ** 2
    slope_off = (off1 - off0) / h
    need = 0.5 * mass_eff * slope_cap
    x = 0.0
    guard = 0
    while x < h * (1.0 - 1e-12):
        guard += 1
        if guard > 1000:
            return False
        rem = h - x
        cap = c0 + slope_cap * x
        off = off0 + slope_off * x
        if not braking and u > cap + 1e-6:
            braking = True
        if braking and u <= off + 1e-9:
            braking = False
        free = pull - _passive(u, k, engine, ret, row, inv_step, part)
        at_cap = not braking and u >= cap - 1e-6
        if at_cap and free <= need and need > mass_eff * scal[RISE_ACCEL]:
            at_cap = False                                    # the cap runs away upward: gain speed toward it
            rising = True
        if at_cap and free > need and drop > 0.0 and FALLING_CAP < slope_cap < RISING_CAP and u > off + 1e-6:
            braking = True
            log[0] += 1.0
        brake = 0.0
        drive = 0.0
        dx = rem
        if braking:
            rising = False
            dx = max(min(rem, (u - off) / (2.0 * scal[SNUB_DECEL] + slope_off)), 1e-9)
            u1 = max(u - 2.0 * scal[SNUB_DECEL] * dx, 0.0)
            held = _passive(0.5 * (u + u1), k, engine, ret, row, inv_step, part)
            brake = max(pull - held + 0.5 * mass_eff * (u - u1) / dx, 0.0)
            if brake == 0.0:
                u1 = max(u + 2.0 * (pull - held) / mass_eff * dx, 0.0)
        elif at_cap:
            rising = False
            u1, brake, drive = _hold(u, c1, dx, pull, k, engine, ret, row, inv_step, scal, part)
        else:
            least = scal[RISE_ACCEL] if rising or row == 0 else scal[RELEASE_ACCEL]
            change = max(abs(free) / mass_eff, least)
            dx = min(rem, 0.5 * LARGEST_CHANGE * max(u, 1.0) / change)
            longest = dx
            u1 = u
            for trial in range(6):
                u1, drive = _regain(u, dx, least, pull, k, engine, ret, row, inv_step, scal, part)
                over = u1 - (cap + slope_cap * dx)
                if (over <= 1e-9 and (trial == 0 or over > -1e-9)) or trial == 5:
                    break
                if trial == 0:
                    dx = longest * (u - cap) / ((u - cap) - over)
                else:
                    dx -= over / ((u1 - u) / dx - slope_cap)
                dx = min(max(dx, 1e-9), longest)
        v0 = np.sqrt(u)
        if v0 + np.sqrt(u1) <= 1e-6:
            return False
        pressure = pressure_for_force_kpa(rows, temps, min(brake, scal[ADHESION] * weight), scal[MAX_PRESSURE],
                                          share)
        given = share.sum()
        if brake - given > 1e-9 * brake:
            u1 = max(u1 + 2.0 * (brake - given) / mass_eff * dx, 0.0)
        dt = 2.0 * dx / (v0 + np.sqrt(u1))
        _heat(temps, rows, share, dx, dt, cell[4], cell[5], decay, energy)
        if braking:
            log[1] += dt
        log[2] = max(log[2], pressure)
        log[3] = max(log[3], given)
        energy[GRAVITY] += weight * cell[1] * dx
        energy[ROLLING] += weight * scal[ROLL_COEFF] * cell[2] * dx
        energy[AIR] += part[0] * dx
        energy[ENGINE] += part[1] * dx
        energy[RETARDER] += part[2] * dx
        energy[DRIVE] += drive * dx
        energy[BRAKE_WORK] += given * dx
        log[4] += given * dx
        log[5] += part[1] * dx
        log[6] += part[2] * dx
        clock += dt
        u = u1
        x += dx
    state[0] = u
    state[1] = 1.0 if braking else 0.0
    state[2] = 1.0 if rising else 0.0
    state[3] = clock
    return True


@numba.njit(cache=True, nogil=True)
def march(step_m: FloatArray, sin_down: FloatArray, cos_road: FloatArray, k_air: FloatArray, cool: FloatArray,
          air_temp: FloatArray, cap_u: FloatArray, row_of: NDArray[np.int64], snubbed: NDArray[np.int64],
          engine: FloatArray, ret: FloatArray, inv_step: float, rows: FloatArray, scal: FloatArray,
          dwell_s: FloatArray, start_u: float, temps: FloatArray, node: FloatArray, node_temp: FloatArray,
          node_rise: FloatArray, leave_temp: FloatArray, node_decay: FloatArray, snub_log: FloatArray,
          work: FloatArray, energy: FloatArray) -> int:
    """March over n cells. Shapes: cells (n,), nodes (n + 1,), node (n + 1, 4) = time [s], speed [m/s], pressure [kPa],
    brake force [N].

    Cells: step_m [m], sin_down, cos_road [1], k_air [N/(m/s)2], cool [1], air_temp [C], row_of, snubbed. `cap_u` per
    node [m2/s2]; `engine`, `ret` (n_settings, n_speeds) [N] at speeds 1 / `inv_step` [m/s] apart; `rows` (n_rows, 17);
    `scal` (14,) as `march.scalars` gives it; start_u [m2/s2]. `temps` (n_rows,) [C] is the start and becomes the end;
    `dwell_s` per node [s], negative where there is no stop; `node_temp`, `leave_temp` [C], `node_rise` [K] (n + 1, n_rows);
    `node_decay` (n + 1, n_rows) [1]: rate x time gathered up to each node, before any stop there; without an emergency
    pressure `node_rise` is left alone; `snub_log` (n, 2): snubs begun and seconds spent in them, per cell; `work` (n, 3)
    [J]: brakes, engine, retarder; `energy` (9,) [J]. Returns the node reached (n unless stalled).

    Range and source as in the wrapper (key derived). Example: `descent.physics.march.march`.
    """
    n = int(step_m.shape[0])
    decay = np.zeros(rows.shape[0])
    spare = np.zeros(3 + rows.shape[0])
    cell = np.empty(8)
    log = np.zeros(7)
    state = np.array([start_u, 0.0, 1.0, 0.0])      # speed is being gained, not regained between snubs
    for i in range(n + 1):
        at = min(i, n - 1)
        node[i, 0] = state[3]
        node[i, 1] = np.sqrt(state[0])
        node_temp[i, :] = temps
        node_decay[i, :] = decay
        if scal[EMERGENCY_PRESSURE] > 0.0:
            emergency_rise_k(rows, temps, node[i, 1], scal[MASS], sin_down[at], scal[EMERGENCY_PRESSURE],
                             scal[ADHESION], node_rise[i])
        if dwell_s[i] >= 0.0:
            stand(temps, rows, dwell_s[i], cool[at] * scal[PARKED_FRACTION], air_temp[at], decay, energy)
            state[1] = 0.0
            state[2] = 1.0
            state[3] += dwell_s[i]
        leave_temp[i, :] = temps
        if i == n:
            break
        cell[0], cell[1], cell[2], cell[3] = step_m[i], sin_down[i], cos_road[i], k_air[i]
        cell[4], cell[5], cell[6], cell[7] = cool[i], air_temp[i], cap_u[i], cap_u[i + 1]
        log[:] = 0.0
        whole = cross(cell, row_of[i], snubbed[i], engine, ret, inv_step, rows, scal, state, temps, decay, spare, log,
                      energy)
        snub_log[i, 0], snub_log[i, 1] = log[0], log[1]
        node[i + 1, 2], node[i + 1, 3] = log[2], log[3]
        work[i, 0], work[i, 1], work[i, 2] = log[4], log[5], log[6]
        if not whole:
            return i
    return n
