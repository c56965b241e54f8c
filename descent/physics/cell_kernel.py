# SPDX-License-Identifier: MIT
"""One cell of road, compiled: speed, snubs, brake heat and energy, event by event.

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

from descent.physics.foundation_brake import CAPACITY, COOL_REST
from descent.physics.quick_brakes import PER_JPK, REST_RATE, SPEED_RATE, quick_pressure_kpa

FloatArray = NDArray[np.float64]
GRAVITY, DRIVE, ROLLING, AIR, ENGINE, RETARDER, BRAKE_WORK, STORED, COOLED = range(9)
(MASS, MASS_EFF, ROLL_COEFF, DRIVE_POWER, DRIVE_FORCE, RISE_ACCEL, RELEASE_ACCEL, SNUB_DECEL, SNUB_DROP, SNUB_FLOOR,
 MAX_PRESSURE, EMERGENCY_PRESSURE, ADHESION, PARKED_FRACTION) = range(14)
SNUBS, SNUB_S, PRESSURE, FORCE, BRAKES_J, ENGINE_J, RETARDER_J = range(7)
FALLING_CAP = -0.3   # [m/s2 as du/ds] a cap falling faster than this is followed, not snubbed
RISING_CAP = 0.3     # and one rising faster is followed too
LARGEST_CHANGE = 0.3  # of u (or of 1 m2/s2) in one step of coasting: engine drag is steep at a crawl
ARRIVED_U = 1e-6     # [m2/s2] so near the cap speed has arrived there
SMALLEST, SMALL = 0.0025, 0.02      # rate x time below which the series for what is left of a temperature are exact
SIXTH, FACULTY_4, FACULTY_5 = 1.0 / 6.0, 1.0 / 24.0, 1.0 / 120.0
MOST_STEPS = 1000    # in one cell


@numba.njit(cache=True, error_model="numpy")
def _look(table: FloatArray, row: int, speed: float, inv_step: float) -> float:
    x = speed * inv_step
    i = int(x)
    last = table.shape[1] - 2
    if i > last:
        return float(table[row, last + 1])
    low = table[row, i]
    return float(low + (table[row, i + 1] - low) * (x - i))


@numba.njit(cache=True, error_model="numpy")
def _driven(u: float, v: float, least: float, dx: float, pull: float, k: float, scal: FloatArray) -> float:
    """Speed squared at the end of dx where speed comes back at the rate `least`, or at what power and grip of the driven
    axles can give (their greatest force: DRIVE_FORCE, or DRIVE_POWER by speed), taken half-way."""
    mass_eff = scal[MASS_EFF]
    um = max(u + least * dx, 0.25)
    drive = mass_eff * least - pull + k * um
    if drive <= 0.0 or (drive <= scal[DRIVE_FORCE] and drive * drive * um <= scal[DRIVE_POWER] * scal[DRIVE_POWER]):
        return u + 2.0 * least * dx
    net = min(mass_eff * least, pull - k * u + min(scal[DRIVE_FORCE], scal[DRIVE_POWER] / max(v, 0.5)))
    um = max(u + net / mass_eff * dx, 0.25)
    net = min(mass_eff * least, pull - k * um + min(scal[DRIVE_FORCE], scal[DRIVE_POWER] / np.sqrt(um)))
    return float(max(u + 2.0 * net / mass_eff * dx, 0.0))


@numba.njit(cache=True, error_model="numpy")
def _coasted(u: float, free: float, dx: float, pull: float, k: float, held: FloatArray, row: int, inv_step: float,
             mass_eff: float) -> tuple[float, float]:
    """Speed squared after dx of coasting from the force `free` at u, and by how much its slope du/ds x dx changes on the
    way: the slope taken as straight in u through its value at u and half-way (exponential of that line by its Pade form,
    of fourth order)."""
    rise = 2.0 * free / mass_eff * dx
    um = max(u + 0.5 * rise, 0.0)
    half = pull - k * um - _look(held, row, np.sqrt(um), inv_step)
    z = 2.0 * (half - free) / free
    return max(u + rise / (1.0 - 0.5 * z + z * z * (1.0 / 12.0)), 0.0), rise * z * (1.0 + 0.5 * z)


@numba.njit(cache=True, error_model="numpy")
def mean_left(x: float) -> float:
    """(1 - exp(-x)) / x for x >= 0 [1]: what is left on average of a difference that decays by exp(-x) in all.

    Source: key derived (Newton cooling); below 0.02 by its series, whose next term is below rounding (five terms below 0.0025). Range: x >= 0.

    >>> [bool(abs(mean_left(x) * x + np.expm1(-x)) < 1e-16) for x in (0.0, 0.0024, 0.019, 0.5)]
    [True, True, True, True]
    """
    xx = x * x
    if x < SMALLEST:
        return (1.0 - 0.5 * x) + xx * ((SIXTH - FACULTY_4 * x) + xx * FACULTY_5)
    if x < SMALL:
        return 1.0 - x * (0.5 - x * (SIXTH - x * (FACULTY_4 - x * (FACULTY_5 - x * (FACULTY_5 / 6.0 - x * (FACULTY_5 / 42.0))))))
    return float(-np.expm1(-x) / x)


@numba.njit(cache=True, error_model="numpy")
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


@numba.njit(cache=True, error_model="numpy")
def lower_cap(cap_u: float, scal: FloatArray) -> float:
    """Speed squared [m2/s2] at which a snub from a cap [m2/s2] ends: the drop below it, at no less than a share of it [1].

    scal (14,) as in `march`. Source: key derived. Example: `descent.physics.march.march`.
    """
    v = np.sqrt(cap_u)
    off = max(v - scal[SNUB_DROP], scal[SNUB_FLOOR] * v)
    return float(off * off)


@numba.njit(cache=True, error_model="numpy", forceinline=True)
def _follow(u: float, u1: float, dx: float, pull: float, k: float, passive: float, scal: FloatArray) -> tuple[
        float, float, float, float]:
    """At the cap to u1 over dx, of engine and retarder `passive` at most. Returns the speed squared reached, brake and drive
    force, and what engine and retarder hold."""
    mass_eff = scal[MASS_EFF]
    um = 0.5 * (u + u1)
    spare = pull - k * um - 0.5 * mass_eff * (u1 - u) / dx            # what is left for them and the brakes to hold
    if spare > passive:
        return u1, spare - passive, 0.0, passive
    if spare >= 0.0:
        return u1, 0.0, 0.0, spare
    most = min(scal[DRIVE_FORCE], scal[DRIVE_POWER] / max(np.sqrt(um), 0.5))
    if most < -spare:
        u1 = max(u + 2.0 * (pull - k * u + most) / mass_eff * dx, 0.0)
        return u1, 0.0, 0.5 * mass_eff * (u1 - u) / dx - pull + k * 0.5 * (u + u1), 0.0
    return u1, 0.0, -spare, 0.0


@numba.njit(cache=True, error_model="numpy", forceinline=True)
def _snub(u: float, off: float, slope_off: float, rem: float, pull: float, k: float, held: FloatArray, row: int,
          inv_step: float, scal: FloatArray) -> tuple[float, float, float, float]:
    """A snub until `off` or the end of the cell. Returns its length, the speed squared reached, brake force, and what engine
    and retarder hold."""
    mass_eff = scal[MASS_EFF]
    decel = 2.0 * scal[SNUB_DECEL]
    dx = max(min(rem, (u - off) / (decel + slope_off)), 1e-9)
    u1 = max(u - decel * dx, 0.0)
    um = 0.5 * (u + u1)
    passive = _look(held, row, np.sqrt(um), inv_step)
    free = pull - k * um - passive
    brake = max(free + 0.5 * mass_eff * (u - u1) / dx, 0.0)
    if brake == 0.0:
        u1 = max(u + 2.0 * free / mass_eff * dx, 0.0)
        passive = pull - k * 0.5 * (u + u1) - 0.5 * mass_eff * (u1 - u) / dx
    return dx, u1, brake, passive


@numba.njit(cache=True, error_model="numpy", forceinline=True)
def _regain(u: float, v: float, cap: float, slope_cap: float, rem: float, least: float, pull: float, k: float,
            held: FloatArray, row: int, inv_step: float, scal: FloatArray) -> tuple[float, float, float, float, float]:
    """Speed comes back below the cap, by itself or at the rate `least`, to the cap or the end of the cell at most. Returns the
    length, speed squared reached, drive force, what engine and retarder hold, and the bend (`_coasted`; 0: not coasting)."""
    mass_eff = scal[MASS_EFF]
    free = pull - k * u - _look(held, row, v, inv_step)
    coasting = free > mass_eff * least
    longest = rem
    if coasting and rem * free > 0.5 * LARGEST_CHANGE * max(u, 1.0) * mass_eff:
        longest = 0.5 * LARGEST_CHANGE * max(u, 1.0) * mass_eff / free
    dx = longest
    u1 = u
    bend = 0.0
    for trial in range(6):
        if coasting:
            u1, bend = _coasted(u, free, dx, pull, k, held, row, inv_step, mass_eff)
        else:
            u1 = _driven(u, v, least, dx, pull, k, scal)
        over = u1 - (cap + slope_cap * dx)
        if (over <= 1e-9 and (trial == 0 or over > -1e-9)) or trial == 5:
            break
        if trial > 0 and abs(over) < ARRIVED_U:
            u1 -= over                                    # what is passed by goes to the forces, not to the speed
            break
        if trial == 0:
            dx = longest * (u - cap) / ((u - cap) - over)
        else:
            dx -= over / ((u1 - u) / dx - slope_cap)
        dx = min(max(dx, 1e-9), longest)
    spare = pull - k * 0.5 * (u + u1) - 0.5 * mass_eff * (u1 - u) / dx
    return dx, u1, 0.0 if coasting else max(-spare, 0.0), max(spare, 0.0), bend


@numba.njit(cache=True, error_model="numpy", forceinline=True)
def _heat(temps: FloatArray, rows: FloatArray, quick: FloatArray, share: FloatArray, braked_m: float, dx: float, dt: float,
          cool: float, air_temp: float, decay: FloatArray, energy: FloatArray | None) -> None:
    """Heat each row by its force `share` over `braked_m` and cool it over dx and dt, exactly for constant power; `decay`
    gathers rate x time, so that exp(-decay) is what is left of a difference in temperature."""
    for i in range(rows.shape[0]):
        gone = (quick[i, REST_RATE] * dt + quick[i, SPEED_RATE] * dx) * cool
        left = mean_left(gone)
        heat = share[i] * braked_m
        lost = gone * (temps[i] - air_temp)
        change = left * (heat * quick[i, PER_JPK] - lost)
        temps[i] += change
        decay[i] += gone
        if energy is not None:
            energy[STORED] += rows[i, CAPACITY] * change
            energy[COOLED] += left * rows[i, CAPACITY] * lost + heat * (1.0 - left)


@numba.njit(cache=True, error_model="numpy", forceinline=True)
def cross(h: float, sin_down: float, cos_road: float, k: float, cool: float, air_temp: float, c0: float, c1: float,
          off0: float, off1: float, row: int, snubbed: int, held: FloatArray, ret: FloatArray, inv_step: float,
          rows: FloatArray, quick: FloatArray, scal: FloatArray, state: FloatArray, temps: FloatArray, decay: FloatArray,
          share: FloatArray, log: FloatArray, energy: FloatArray | None) -> bool:
    """Cross one cell; False when the vehicle stalls in it.

    h [m], sin_down, cos_road [1], k [N/(m/s)2], cool [1], air_temp [C]; c0, c1: cap squared at its two ends, off0, off1:
    where snubs end (`lower_cap`) [m2/s2]; held, ret (n_settings, n_speeds): engine and retarder together, and the retarder
    alone [N]; state (4,): speed squared [m2/s2], braking, rising [1], clock [s], carried on; temps, decay (n_rows,):
    carried on; share (n_rows,): scratch; log (7,): snubs begun, seconds in them, highest pressure [kPa] and force [N], work
    [J] of brakes, engine, retarder, added to; energy (9,) [J], added to, or None: no work is reckoned. quick (n_rows + 1, 11)
    as in `quick_brakes.quick_table`. The rest as in `march`. Source: key derived. Example: `descent.physics.march.march`.
    """
    weight = scal[MASS] * 9.80665
    mass_eff = scal[MASS_EFF]
    pull = weight * (sin_down - scal[ROLL_COEFF] * cos_road)
    u = state[0]
    braking = state[1] > 0.5
    rising = state[2] > 0.5
    v = np.sqrt(u)
    per_m = 1.0 / h
    slope_cap = (c1 - c0) * per_m
    slope_off = (off1 - off0) * per_m
    need = 0.5 * mass_eff * slope_cap
    x = 0.0
    steps = 0
    while x < h * (1.0 - 1e-12):
        steps += 1
        dx = h - x
        cap = c0 + slope_cap * x
        off = off0 + slope_off * x
        if not braking and u > cap + 1e-6:
            braking = True
        if braking and u <= off + 1e-9:
            braking = False
        at_cap = not braking and u >= cap - 1e-6
        brake, drive, bend, pressure, given = 0.0, 0.0, 0.0, 0.0, 0.0
        passive = 0.0                                             # engine and retarder together
        u1 = c1
        if at_cap:
            um = 0.5 * (u + c1)
            passive = _look(held, row, np.sqrt(um), inv_step)
            free = pull - k * um - passive
            if free <= need and need > mass_eff * scal[RISE_ACCEL]:
                at_cap = False                                    # the cap runs away upward: gain speed toward it
                rising = True
            elif free > need and snubbed == 1 and FALLING_CAP < slope_cap < RISING_CAP and u > off + 1e-6:
                at_cap = False
                braking = True
                log[SNUBS] += 1.0
        if braking:
            dx, u1, brake, passive = _snub(u, off, slope_off, dx, pull, k, held, row, inv_step, scal)
        elif at_cap:
            u1, brake, drive, passive = _follow(u, c1, dx, pull, k, passive, scal)
        else:
            least = scal[RISE_ACCEL] if rising or row == 0 else scal[RELEASE_ACCEL]
            dx, u1, drive, passive, bend = _regain(u, v, cap, slope_cap, dx, least, pull, k, held, row, inv_step, scal)
        rising = rising and not (braking or at_cap)
        if brake > 0.0:
            pressure = quick_pressure_kpa(rows, quick, temps, min(brake, scal[ADHESION] * weight), scal[MAX_PRESSURE],
                                          share)
            for i in range(rows.shape[0]):
                given += share[i]
            if brake - given > 1e-9 * brake:
                u1 = max(u1 + 2.0 * (brake - given) / mass_eff * dx, 0.0)
                passive = pull - given - k * 0.5 * (u + u1) - 0.5 * mass_eff * (u1 - u) / dx
            log[PRESSURE] = max(log[PRESSURE], pressure)
            log[FORCE] = max(log[FORCE], given)
        v1 = np.sqrt(u1)
        if v + v1 <= 1e-6 or steps > MOST_STEPS:
            return False
        middle = 0.5 * (v + v1)
        dt = dx / middle
        if bend != 0.0:                                           # time of a slope that changes on the way
            dt *= 1.0 + min(max(bend * (1.0 / 24.0) / (middle * middle), -0.1), 0.1)
        _heat(temps, rows, quick, share, dx if brake > 0.0 else 0.0, dx, dt, cool, air_temp, decay, energy)
        if braking:
            log[SNUB_S] += dt
        if energy is not None:
            um = 0.5 * (u + u1)
            at_mid, retarder = _look(held, row, np.sqrt(um), inv_step), _look(ret, row, np.sqrt(um), inv_step)
            if brake == 0.0 and bend == 0.0 and not braking:
                retarder = max(passive - (at_mid - retarder), 0.0)          # eased first
            elif at_mid > 0.0:
                retarder *= passive / at_mid
            energy[GRAVITY] += weight * sin_down * dx
            energy[ROLLING] += weight * scal[ROLL_COEFF] * cos_road * dx
            energy[AIR] += k * um * dx
            energy[ENGINE] += (passive - retarder) * dx
            energy[RETARDER] += retarder * dx
            energy[DRIVE] += drive * dx
            energy[BRAKE_WORK] += given * dx
            log[BRAKES_J] += given * dx
            log[ENGINE_J] += (passive - retarder) * dx
            log[RETARDER_J] += retarder * dx
        state[3] += dt
        u, v = u1, v1
        x += dx
    state[0] = u
    state[1] = 1.0 if braking else 0.0
    state[2] = 1.0 if rising else 0.0
    return True
