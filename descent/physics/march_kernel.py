# SPDX-License-Identifier: MIT
"""The compiled march down the road: speed, snubs, brake heat and energy, cell by cell, event by event.

The state is u = v^2, whose slope du/ds = 2 F / m is nearly constant, so a cell is one step. Snub on and off and the
arrival at the control speed are located inside the cell. Every force is summed with the weights that move u, so
each energy is integrated by itself and they close to rounding.
"""

from __future__ import annotations

import numba
import numpy as np
from numpy.typing import NDArray

from descent.physics.brake_heat import (
    CAPACITY,
    COOL_REST,
    COOL_SPEED,
    CRACK,
    FADE_END,
    FADE_FLOOR,
    FADE_ON,
    GAIN,
    emergency_rise_k,
    fade,
    pressure_for_force_kpa,
)

FloatArray = NDArray[np.float64]
GRAVITY, DRIVE, ROLLING, AIR, ENGINE, RETARDER, BRAKE_WORK, STORED, COOLED = range(9)
MASS, MASS_EFF, ROLL_COEFF, DRIVE_POWER, DRIVE_FORCE, RISE_ACCEL, SNUB_DECEL, SNUB_DROP, MAX_PRESSURE, \
    EMERGENCY_PRESSURE, ADHESION, PARKED_FRACTION = range(12)
FOLLOW_SLOPE = -0.3  # [m/s2 as du/ds] a cap falling faster than this is followed, not snubbed


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
def _free(u: float, pull: float, k: float, engine: FloatArray, ret: FloatArray, row: int, inv_step: float) -> float:
    v = np.sqrt(max(u, 0.0))
    return pull - k * u - _look(engine, row, v, inv_step) - _look(ret, row, v, inv_step)


@numba.njit(cache=True)
def _coast(u: float, dx: float, pull: float, k: float, engine: FloatArray, ret: FloatArray, row: int,
           inv_step: float, mass_eff: float, part: FloatArray) -> float:
    """One Runge-Kutta 4 step of du/ds = 2 F(u) / m; `part` gets the mean air, engine and retarder force."""
    c = 2.0 / mass_eff
    air = 0.0
    eng = 0.0
    hold = 0.0
    slope = 0.0
    total = 0.0
    for stage in range(4):
        us = u
        if stage == 1 or stage == 2:
            us = u + 0.5 * dx * slope
        elif stage == 3:
            us = u + dx * slope
        us = max(us, 0.0)
        v = np.sqrt(us)
        e = _look(engine, row, v, inv_step)
        r = _look(ret, row, v, inv_step)
        slope = c * (pull - k * us - e - r)
        w = 1.0 / 6.0 if stage == 0 or stage == 3 else 1.0 / 3.0
        air += w * k * us
        eng += w * e
        hold += w * r
        total += w * slope
    part[0] = air
    part[1] = eng
    part[2] = hold
    return u + dx * total


@numba.njit(cache=True)
def _heat(temps: FloatArray, axles: FloatArray, force: float, dx: float, dt: float, cool: float, air_temp: float,
          share: FloatArray, gains: FloatArray, energy: FloatArray) -> float:
    """Share `force` over the axles, heat and cool them over `dt`; returns the application pressure."""
    n = axles.shape[0]
    pressure = 0.0
    if force > 0.0:
        for i in range(n):
            gains[i] = axles[i, GAIN] * fade(temps[i], axles[i, FADE_ON], axles[i, FADE_END], axles[i, FADE_FLOOR])
        pressure = pressure_for_force_kpa(force, gains, axles[:, CRACK])
        for i in range(n):
            share[i] = gains[i] * max(pressure - axles[i, CRACK], 0.0)
    else:
        for i in range(n):
            share[i] = 0.0
    v = dx / dt
    for i in range(n):
        conductance = (axles[i, COOL_REST] + axles[i, COOL_SPEED] * v) * cool
        rate = conductance / axles[i, CAPACITY]
        power = share[i] * v
        settle = air_temp + power / conductance
        gone = -np.expm1(-rate * dt)
        start = temps[i]
        temps[i] = start + (settle - start) * gone
        energy[STORED] += axles[i, CAPACITY] * (temps[i] - start)
        energy[COOLED] += conductance * ((settle - air_temp) * dt + (start - settle) * gone / rate)
    return pressure


@numba.njit(cache=True)
def march(step_m: FloatArray, sin_down: FloatArray, cos_road: FloatArray, k_air: FloatArray, cool: FloatArray,
          air_temp: FloatArray, cap_u: FloatArray, row_of: NDArray[np.int64], snubbed: NDArray[np.int64],
          engine: FloatArray, ret: FloatArray, inv_step: float, axles: FloatArray, scal: FloatArray,
          dwell_s: FloatArray, start_u: float, temps: FloatArray, node: FloatArray, node_temp: FloatArray,
          node_rise: FloatArray, leave_temp: FloatArray, snub_log: FloatArray,
          work: FloatArray, energy: FloatArray) -> int:
    """March over n cells. Shapes: cells (n,), nodes (n + 1,), node (n + 1, 4) = time, speed, pressure, brake force.

    `temps` (n_axles,) is the start and becomes the end; `dwell_s` per node, negative where there is no stop;
    `snub_log` (n, 2): snubs begun and seconds spent in them, per cell; `work` (n, 3): brakes, engine, retarder. Returns the node reached (n unless stalled).
    """
    n = int(step_m.shape[0])
    n_axles = int(axles.shape[0])
    share = np.zeros(n_axles)
    gains = np.zeros(n_axles)
    part = np.zeros(3)
    rise = np.zeros(n_axles)
    mass_eff = scal[MASS_EFF]
    weight = scal[MASS] * 9.80665
    u = start_u
    clock = 0.0
    braking = False
    for i in range(n + 1):
        node[i, 0] = clock
        node[i, 1] = np.sqrt(u)
        here = sin_down[min(i, n - 1)]
        emergency_rise_k(axles, temps, node[i, 1], scal[MASS], here, scal[EMERGENCY_PRESSURE], scal[ADHESION], rise)
        for a in range(n_axles):
            node_temp[i, a] = temps[a]
            node_rise[i, a] = rise[a]
            leave_temp[i, a] = temps[a]
        if dwell_s[i] >= 0.0:
            braking = False
            if dwell_s[i] > 0.0:
                cell = min(i, n - 1)
                for a in range(n_axles):
                    conductance = axles[a, COOL_REST] * cool[cell] * scal[PARKED_FRACTION]
                    left = np.exp(-conductance / axles[a, CAPACITY] * dwell_s[i])
                    before = temps[a]
                    temps[a] = air_temp[cell] + (before - air_temp[cell]) * left
                    energy[STORED] += axles[a, CAPACITY] * (temps[a] - before)
                    energy[COOLED] += axles[a, CAPACITY] * (before - air_temp[cell]) * (1.0 - left)
                    leave_temp[i, a] = temps[a]
                clock += dwell_s[i]
        if i == n:
            break
        h = step_m[i]
        row = row_of[i]
        pull = weight * (sin_down[i] - scal[ROLL_COEFF] * cos_road[i])
        k = k_air[i]
        c0 = cap_u[i]
        slope_cap = (cap_u[i + 1] - c0) / h
        drop = scal[SNUB_DROP] if snubbed[i] == 1 else 0.0
        off0 = max(np.sqrt(c0) - drop, 0.3 * np.sqrt(c0)) ** 2
        off1 = max(np.sqrt(cap_u[i + 1]) - drop, 0.3 * np.sqrt(cap_u[i + 1])) ** 2
        slope_off = (off1 - off0) / h
        x = 0.0
        peak_pressure = 0.0
        peak_force = 0.0
        guard = 0
        while x < h * (1.0 - 1e-12):
            guard += 1
            if guard > 200:
                return i
            rem = h - x
            cap = c0 + slope_cap * x
            if not braking and u > cap + 1e-9:
                braking = True
            if braking and u <= off0 + slope_off * x + 1e-9:
                braking = False
            brake = 0.0
            drive = 0.0
            dx = rem
            need = 0.5 * mass_eff * slope_cap
            free = _free(u, pull, k, engine, ret, row, inv_step)
            at_cap = not braking and u >= cap - 1e-9 and (need <= mass_eff * scal[RISE_ACCEL] or free > need)
            if at_cap and free > need and drop > 0.0 and slope_cap > FOLLOW_SLOPE:
                braking = True
                snub_log[i, 0] += 1.0
            if braking:
                dx = min(rem, (u - off0 - slope_off * x) / (2.0 * scal[SNUB_DECEL] + slope_off))
                dx = max(dx, 1e-9)
                u1 = max(u - 2.0 * scal[SNUB_DECEL] * dx, 0.0)
                um = 0.5 * (u + u1)
                vm = np.sqrt(um)
                part[0] = k * um
                part[1] = _look(engine, row, vm, inv_step)
                part[2] = _look(ret, row, vm, inv_step)
                free = pull - part[0] - part[1] - part[2]
                brake = max(free + 0.5 * mass_eff * (u - u1) / dx, 0.0)
            elif at_cap:
                u1 = cap_u[i + 1]
                um = 0.5 * (u + u1)
                vm = np.sqrt(um)
                need = 0.5 * mass_eff * (u1 - u) / dx
                part[0] = k * um
                part[1] = _look(engine, row, vm, inv_step)
                part[2] = _look(ret, row, vm, inv_step)
                free = pull - part[0] - part[1] - part[2]
                if free > need:
                    brake = free - need
                else:
                    spare = pull - part[0] - need
                    if spare >= 0.0:
                        part[1] = min(part[1], spare)
                        part[2] = spare - part[1]
                    else:
                        part[1] = 0.0
                        part[2] = 0.0
                        drive = min(-spare, scal[DRIVE_FORCE], scal[DRIVE_POWER] / max(vm, 0.5))
                        if drive < -spare:
                            u1 = max(u + 2.0 * (pull - k * u + drive) / mass_eff * dx, 0.0)
                            um = 0.5 * (u + u1)
                            part[0] = k * um
                            drive = 0.5 * mass_eff * (u1 - u) / dx - pull + part[0]
            else:
                u1 = u
                for trial in range(6):
                    if free > 0.0:
                        u1 = _coast(u, dx, pull, k, engine, ret, row, inv_step, mass_eff, part)
                    else:
                        um = u
                        for _ in range(3):
                            vm = np.sqrt(max(um, 0.0))
                            most = min(scal[DRIVE_FORCE], scal[DRIVE_POWER] / max(vm, 0.5))
                            net = min(mass_eff * scal[RISE_ACCEL], pull - k * um + most)
                            um = max(u + net / mass_eff * dx, 0.0)
                        u1 = max(u + 2.0 * net / mass_eff * dx, 0.0)
                        net = 0.5 * mass_eff * (u1 - u) / dx
                        um = 0.5 * (u + u1)
                        vm = np.sqrt(um)
                        part[0] = k * um
                        spare = pull - part[0] - net
                        part[1] = max(min(_look(engine, row, vm, inv_step), spare), 0.0)
                        part[2] = max(spare - part[1], 0.0)
                        drive = max(-spare, 0.0)
                    over = u1 - (cap + slope_cap * dx)
                    if over <= 1e-9 and (trial == 0 or over > -1e-9):
                        break
                    if trial == 0:
                        below = u - cap
                        dx = rem * below / (below - over)
                    else:
                        gain = (u1 - u) / dx - slope_cap
                        dx = min(max(dx - over / gain, 1e-9), rem)
            v0 = np.sqrt(u)
            v1 = np.sqrt(u1)
            if v0 + v1 <= 1e-6:
                return i
            if brake > 0.0:
                most = 0.0
                for a in range(n_axles):
                    most += axles[a, GAIN] * fade(temps[a], axles[a, FADE_ON], axles[a, FADE_END],
                                                  axles[a, FADE_FLOOR]) * max(scal[MAX_PRESSURE] - axles[a, CRACK], 0.0)
                most = min(most, scal[ADHESION] * weight)
                if brake > most:
                    u1 = max(u1 + 2.0 * (brake - most) / mass_eff * dx, 0.0)
                    brake = most
                    v1 = np.sqrt(u1)
            dt = 2.0 * dx / (v0 + v1)
            pressure = _heat(temps, axles, brake, dx, dt, cool[i], air_temp[i], share, gains, energy)
            if braking:
                snub_log[i, 1] += dt
            peak_pressure = max(peak_pressure, pressure)
            peak_force = max(peak_force, brake)
            energy[GRAVITY] += weight * sin_down[i] * dx
            energy[ROLLING] += weight * scal[ROLL_COEFF] * cos_road[i] * dx
            energy[AIR] += part[0] * dx
            energy[ENGINE] += part[1] * dx
            energy[RETARDER] += part[2] * dx
            energy[DRIVE] += drive * dx
            energy[BRAKE_WORK] += brake * dx
            work[i, 0] += brake * dx
            work[i, 1] += part[1] * dx
            work[i, 2] += part[2] * dx
            clock += dt
            u = u1
            x += dx
        node[i + 1, 2] = peak_pressure
        node[i + 1, 3] = peak_force
    return n
