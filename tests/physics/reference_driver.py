# SPDX-License-Identifier: MIT
"""A second descent simulation, written apart from the compiled march: time domain, forces straight from the formulas,
solve_ivp with located events. Slow and plain on purpose."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from scipy.integrate import solve_ivp

from descent.physics.march import Cells, Day, Driving, Schedule, Setting
from descent.vehicle.model import RetarderKind, RetarderShaft, Vehicle

G = 9.80665


class ReferenceDriver:
    """Drives the cells of a schedule; `settings` gives the setting of each force row (row 0: cruise)."""

    def __init__(self, cells: Cells, vehicle: Vehicle, settings: tuple[Setting, ...], schedule: Schedule, day: Day,
                 driving: Driving, *, density_ratio: float = 1.0, tolerance: float = 1e-8) -> None:
        self.cells, self.vehicle, self.settings, self.schedule = cells, vehicle, settings, schedule
        self.day, self.driving, self.tolerance, self.thin = day, driving, tolerance, density_ratio
        self.mass = vehicle.gross_kg * vehicle.rotating_mass_factor
        self.crr = sum(a.load_kg * a.rolling_coefficient for a in vehicle.axles) / vehicle.gross_kg

    def engine_and_retarder(self, row: int, v: float) -> float:
        engine, box, ret = self.vehicle.engine, self.vehicle.gearbox, self.vehicle.retarder

        def torque(rpm: float) -> float:
            tfmep = engine.drag_constant_kpa + 48 * rpm / 1000 + 0.4 * self.thin * (2 * engine.stroke_m * rpm / 60) ** 2
            return tfmep * 1000 * engine.displacement_m3 / (4 * math.pi)

        if row == 0:
            rpm = self.driving.cruise_rpm
            return torque(rpm) * rpm * math.pi / 30 / max(v, 5.0) * min(1.0, v / 2.0)
        setting = self.settings[row]
        ratio = box.ratios[setting.gear] * box.final_ratio / box.wheel_radius_m
        rpm = v * ratio * 30 / math.pi
        whole, behind = torque(min(rpm, 1.3 * engine.overrun_limit_rpm)), 0.0      # held above, as documented
        assert not setting.stage or (ret.shaft is RetarderShaft.PROPSHAFT) == (ret.kind is RetarderKind.HYDRODYNAMIC)
        if setting.stage and ret.shaft is RetarderShaft.PROPSHAFT:      # behind the gearbox; its cooling works by the air
            turns = v * box.final_ratio / box.wheel_radius_m
            at = 0.0
            if turns * 30 / math.pi >= ret.speeds_rpm[0]:
                at = float(np.interp(turns * 30 / math.pi, ret.speeds_rpm, ret.torque_nm)) * ret.stages[setting.stage - 1][1]
            at = min(at, ret.continuous_power_w * self.thin / max(turns, 1e-9))
            behind = at * box.final_ratio / box.wheel_radius_m / box.final_efficiency
        elif setting.stage and rpm >= ret.speeds_rpm[0]:
            at = float(np.interp(rpm, ret.speeds_rpm, ret.torque_nm)) * ret.stages[setting.stage - 1][1]
            whole += min(at * self.thin, ret.continuous_power_w / (rpm * math.pi / 30))   # it works by the air it pumps
        clutch = min(max((rpm / engine.idle_rpm - 0.8) / 0.2, 0.0), 1.0)
        return clutch * (whole * ratio / (box.efficiencies[setting.gear] * box.final_efficiency) + behind)

    def heat(self, brake_n: float, v: float, temps: np.ndarray, cool: float, air_c: float) -> np.ndarray:
        rows = self.vehicle.rows
        rates = np.empty(len(rows))
        total = sum(row.brake.force_n_per_kpa * row.brake.count for row in rows)
        crack = rows[0].brake.crack_kpa               # equal crack pressures, strokes in adjustment: shares are gains
        assert all(row.brake.crack_kpa == crack for row in rows)
        for i, row in enumerate(rows):
            b = row.brake
            share = brake_n * b.force_n_per_kpa / total
            loss = (b.cooling_wpk + b.cooling_wpk_per_mps * v) * cool * (temps[i] - air_c)
            rates[i] = (share * v - loss) / b.heat_capacity_jpk
        return rates

    def drive(self, start_temps_c: np.ndarray | None = None) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Time, speed and axle temperatures on arrival at every node."""
        n, axles = len(self.cells.step_m), len(self.vehicle.rows)
        times, speeds, temps = np.zeros(n + 1), np.zeros(n + 1), np.zeros((n + 1, axles))
        t, v, now = 0.0, float(self.schedule.cap_mps[0]), np.full(axles, self.day.start_temp_c) if start_temps_c is None else start_temps_c
        braking, self.gaining = False, True
        for i in range(n + 1):
            times[i], speeds[i], temps[i] = t, v, now
            if i == n:
                break
            if self.schedule.dwell_s[i] >= 0:
                braking, self.gaining = False, True
                now = self.stand(now, self.schedule.dwell_s[i], i)
                t += self.schedule.dwell_s[i]
            t, v, now, braking = self.cell(i, t, v, now, braking)
        return times, speeds, temps

    def stand(self, temps: np.ndarray, seconds: float, i: int) -> np.ndarray:
        if seconds <= 0:
            return temps
        cool = self.cells.cool[i] * self.driving.parked_cooling_fraction
        solved = solve_ivp(lambda _, y: self.heat(0.0, 0.0, y, cool, self.cells.air_temp[i]), (0, seconds), temps,
                           rtol=self.tolerance, atol=1e-8)
        return solved.y[:, -1]

    def cell(self, i: int, t: float, v: float, temps: np.ndarray, braking: bool) -> tuple:
        c, d = self.cells, self.driving
        h, row = c.step_m[i], int(self.schedule.row[i])
        c0, c1 = self.schedule.cap_mps[i] ** 2, self.schedule.cap_mps[i + 1] ** 2
        drop = d.snub_drop_mps if self.schedule.snubbed[i] else 0.0
        off0, off1 = (max(math.sqrt(u) - drop, 0.3 * math.sqrt(u)) ** 2 for u in (c0, c1))
        slope = (c1 - c0) / h
        pull = self.vehicle.gross_kg * G * (c.sin_down[i] - self.crr * c.cos_road[i])

        def cap(x: float) -> float:
            return c0 + slope * x

        def off(x: float) -> float:
            return off0 + (off1 - off0) * x / h

        def free(speed: float) -> float:
            return pull - c.k_air[i] * speed**2 - self.engine_and_retarder(row, speed)

        x = 0.0
        while x < h - 1e-9:
            u, need = v * v, 0.5 * self.mass * slope
            if not braking and u > cap(x) + 1e-6:
                braking = True
            if braking and u <= off(x) + 1e-6:
                braking = False
            at_cap = not braking and u >= cap(x) - 1e-6
            if at_cap and free(v) <= need and need > self.mass * d.rise_mps2:
                at_cap, self.gaining = False, True
            if at_cap and free(v) > need and drop > 0 and abs(slope) < 0.3 and u > off(x) + 1e-5:
                braking = True
            if braking:
                self.gaining = False
                accel: Callable[[float], float] = lambda s: min(-d.snub_decel_mps2, free(s) / self.mass)
                brake: Callable[[float], float] = lambda s: max(free(s) + self.mass * d.snub_decel_mps2, 0.0)
                stop: Callable[[float, float], float] = lambda y, s: s * s - off(y)
            elif at_cap:
                self.gaining = False
                short = need - (pull - c.k_air[i] * u) > self.most(v)
                if not short:
                    return self.followed(i, t, v, temps, math.sqrt(c1), h - x,
                                         lambda s: max(free(s) - 0.5 * self.mass * slope, 0.0))
                accel, brake = self.regained(i, pull, free, d.rise_mps2), lambda s: 0.0
                stop = lambda y, s: s * s - cap(y) - 1e-3
            else:
                least = d.rise_mps2 if self.gaining or row == 0 else d.release_mps2
                accel, brake = self.regained(i, pull, free, least), lambda s: 0.0
                stop = lambda y, s: s * s - cap(y)
            x, t, v, temps, hit = self.run(i, x, t, v, temps, accel, brake, stop, h, falling=braking)
            if hit and not braking:
                v = math.sqrt(cap(x))
            elif hit:
                v = math.sqrt(off(x))
        return t, v, temps, braking

    def followed(self, i: int, t: float, v: float, temps: np.ndarray, end: float, distance: float,
                 brake: Callable[[float], float]) -> tuple:
        """Speed follows the cap to the end of the cell: the motion is known, only the heat is integrated."""
        seconds = 2 * distance / (v + end)
        a = (end - v) / seconds
        solved = solve_ivp(
            lambda tau, y: self.heat(brake(v + a * tau), v + a * tau, y, self.cells.cool[i], self.cells.air_temp[i]),
            (0, seconds), temps, rtol=self.tolerance, atol=1e-8)
        return t + seconds, end, solved.y[:, -1], False

    def most(self, v: float) -> float:
        """Greatest tractive force."""
        return min(self.vehicle.engine.power_w * self.driving.drive_efficiency / max(v, 0.5),
                   self.driving.drive_force_share * self.vehicle.gross_kg * G)

    def regained(self, i: int, pull: float, free: Callable[[float], float],
                 least: float) -> Callable[[float], float]:
        """Below the cap: by itself, or at a least rate as far as power reaches."""
        return lambda s: max(free(s), min(self.mass * least, pull - self.cells.k_air[i] * s**2 + self.most(s))
                             ) / self.mass

    def run(self, i: int, x: float, t: float, v: float, temps: np.ndarray, accel: Callable[[float], float],
            brake: Callable[[float], float], stop: Callable[[float, float], float], h: float, *, falling: bool) -> tuple:
        def slopes(_: float, y: np.ndarray) -> np.ndarray:
            return np.concatenate([[y[1], accel(y[1])],
                                   self.heat(brake(y[1]), y[1], y[2:], self.cells.cool[i], self.cells.air_temp[i])])

        def end(_: float, y: np.ndarray) -> float:
            return float(y[0] - h)

        def event(_: float, y: np.ndarray) -> float:
            return float(stop(y[0], y[1]))

        end.terminal, event.terminal = True, True     # type: ignore[attr-defined]
        event.direction = -1 if falling else 1        # type: ignore[attr-defined]
        solved = solve_ivp(slopes, (0, 600), np.concatenate([[x, v], temps]), events=(end, event),
                           rtol=self.tolerance, atol=1e-9, max_step=5.0)
        y = solved.y[:, -1]
        return float(y[0]), t + float(solved.t[-1]), float(y[1]), y[2:], len(solved.t_events[1]) > 0
