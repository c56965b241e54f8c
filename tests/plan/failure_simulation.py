# SPDX-License-Identifier: MIT
"""A third simulation of a drive, a full stop and the air, in plain Python and small steps of time, for the failure rows.

Written apart from the package's kernels, from docs/stopping.md and docs/air.md: it knows fade, long strokes, the highest
application and the grip of the road, which the reference driver of the physics leaves out.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from scipy.optimize import brentq

from descent.physics.march import Cells, Driving, Schedule
from descent.vehicle.air_model import AirSupply, Circuit, Protection, SpringControl
from descent.vehicle.model import BrakeRow, Vehicle

G, ATM_KPA = 9.80665, 101.325
DT = 0.08                       # of the drive [s]
BEFORE_S = 1.75 + 1.0           # perception and the longer reaction (docs/stopping.md)
TAU_S = 0.45 / math.log(2.5)    # 60 psi of 100 in 0.45 s
TRAILER_TAU_S = 0.50 / math.log(2.5)
FARTHEST_M = 3000.0


def growth_m(row: BrakeRow, temp_c: float) -> float:
    """Stroke with no pressure: as found less the give of 85 psi, plus what the heat adds [m]."""
    brake = row.brake
    return brake.stroke_m - brake.stroke_per_kpa_m * 586.0543699193107 + brake.stroke_per_k_m * max(temp_c - 25.0, 0.0)


def row_n(row: BrakeRow, kpa: float, temp_c: float) -> float:
    """Force of all brakes of a row [N]: gain x (what presses - crack) x fade; past the readjustment limit stroke and force
    find each other."""
    brake = row.brake
    assert brake.valve_share >= 1.0
    begin, limit, full = growth_m(row, temp_c), brake.chamber.stroke_limit_m, brake.chamber.full_stroke_m

    def short(pressing: float) -> float:
        stroke = begin + brake.stroke_per_kpa_m * pressing
        return pressing - kpa * min(max((full - stroke) / (full - limit), 0.0), 1.0)

    pressing = kpa if kpa <= 0.0 or short(kpa) <= 0.0 else float(brentq(short, 0.0, kpa, xtol=1e-6))
    faded = min(max((temp_c - brake.fade_onset_c) / (brake.fade_end_c - brake.fade_onset_c), 0.0), 1.0)
    return (brake.count * brake.force_n_per_kpa * max(pressing - brake.crack_kpa, 0.0)
            * (1.0 - (1.0 - brake.fade_floor) * faded))


@dataclass
class Application:
    """One time the pedal goes down: when [s], at which node's cell, how hard [kPa], how long [s], brakes [C]."""

    time_s: float
    node: int
    kpa: float
    seconds: float
    temps_c: list[float]


@dataclass
class Drive:
    """Nodes from the first: arrival [s], speed [m/s], brakes [C]; and every application."""

    begin: int
    time_s: list[float] = field(default_factory=list)
    speed_mps: list[float] = field(default_factory=list)
    temps_c: list[list[float]] = field(default_factory=list)
    applications: list[Application] = field(default_factory=list)


def drive(cells: Cells, vehicle: Vehicle, held: Callable[[int, float], float], schedule: Schedule, driving: Driving, *,
          adhesion: float, begin: int, end: int, speed_mps: float, temps_c: Sequence[float]) -> Drive:
    """From node to node under the schedule's instructions, no stop in between. held(row, speed): engine and retarder [N]."""
    turning, rows = vehicle.gross_kg * vehicle.rotating_mass_factor, vehicle.rows
    weight = vehicle.gross_kg * G
    roll = sum(axle.load_kg * axle.rolling_coefficient for axle in vehicle.axles) / vehicle.gross_kg
    out, t, v, temps = Drive(begin), 0.0, float(speed_mps), [float(x) for x in temps_c]
    braking, gaining, pressed = False, True, False

    def most_n(speed: float) -> float:
        return min(vehicle.engine.power_w * driving.drive_efficiency / max(speed, 0.5), driving.drive_force_share * weight)

    for i in range(begin, end + 1):
        out.time_s.append(t)
        out.speed_mps.append(v)
        out.temps_c.append(list(temps))
        if i == end:
            break
        h, k, row = float(cells.step_m[i]), float(cells.k_air[i]), int(schedule.row[i])
        cap0, cap1 = float(schedule.cap_mps[i]) ** 2, float(schedule.cap_mps[i + 1]) ** 2
        off0, off1 = (max(math.sqrt(u) - driving.snub_drop_mps, driving.snub_floor * math.sqrt(u)) ** 2 for u in (cap0, cap1))
        slope, slope_off = (cap1 - cap0) / h, (off1 - off0) / h
        pull = weight * (float(cells.sin_down[i]) - roll * float(cells.cos_road[i]))
        need, x = 0.5 * turning * slope, 0.0
        while x < h - 1e-9:
            u, cap, off = v * v, cap0 + slope * x, off0 + slope_off * x
            if braking and u <= off + 1e-7:
                braking = False
            if not braking and u > cap + 1e-4:
                braking = True
            free = pull - k * u - held(row, v)
            follow = not braking and u >= cap - 1e-7
            if follow and free <= need and need > turning * driving.rise_mps2:
                follow, gaining = False, True
            elif follow and free > need and schedule.snubbed[i] and abs(slope) < 0.3 and u > off + 1e-6:
                follow, braking = False, True
            if braking or follow:
                gaining = False
                wanted = -turning * driving.snub_decel_mps2 if braking else need
                ahead = free if free > wanted else min(wanted, pull - k * u + most_n(v)) if follow else free
                brake = max(free - wanted, 0.0)
            else:
                least = turning * (driving.rise_mps2 if gaining or row == 0 else driving.release_mps2)
                ahead, brake = max(free, min(least, pull - k * u + most_n(v))), 0.0
            forces, kpa = _given(rows, temps, min(brake, adhesion * weight), driving.max_pressure_kpa)
            a = (ahead - sum(forces)) / turning
            dx = min(max(v * DT + 0.5 * a * DT * DT, 1e-6), h - x)
            if braking and u + 2 * a * dx < off + slope_off * dx:
                dx = max((u - off) / (slope_off - 2 * a), 1e-6)
            elif not braking and not follow and u + 2 * a * dx > cap + slope * dx:
                dx = max((cap - u) / (2 * a - slope), 1e-6)
            v1 = math.sqrt(max(u + 2 * a * dx, 0.0))
            dt = 2 * dx / (v + v1)
            if kpa > 0.0 and not pressed:
                out.applications.append(Application(t, i, kpa, 0.0, list(temps)))
            pressed = kpa > 0.0
            if pressed:
                now = out.applications[-1]
                now.kpa, now.seconds, now.temps_c = max(now.kpa, kpa), now.seconds + dt, list(temps)
            for j, item in enumerate(rows):
                brakes = item.brake
                lost = (brakes.cooling_wpk + brakes.cooling_wpk_per_mps * v) * float(cells.cool[i]) * (
                    temps[j] - float(cells.air_temp[i])) * dt
                temps[j] += (forces[j] * dx / brakes.count - lost) / brakes.heat_capacity_jpk
            t, v, x = t + dt, v1, x + dx
    return out


def _given(rows: Sequence[BrakeRow], temps: Sequence[float], demand_n: float, most_kpa: float) -> tuple[list[float], float]:
    """Force of each row and the application that gives a demand, or the hardest one."""
    if demand_n <= 0.0:
        return [0.0] * len(rows), 0.0

    def over(kpa: float) -> float:
        return sum(row_n(row, kpa, temp) for row, temp in zip(rows, temps, strict=True)) - demand_n

    kpa = _straight_kpa(rows, temps, demand_n)          # right as long as every stroke is short of its limit
    if not (kpa <= most_kpa and abs(over(kpa)) < 1e-6 * demand_n):
        kpa = most_kpa if over(most_kpa) <= 0.0 else float(brentq(over, 0.0, most_kpa, xtol=1e-4))
    return [row_n(row, kpa, temp) for row, temp in zip(rows, temps, strict=True)], kpa


def _straight_kpa(rows: Sequence[BrakeRow], temps: Sequence[float], demand_n: float) -> float:
    slope = offset = 0.0
    for row, temp in zip(rows, temps, strict=True):
        gain = row_n(row, row.brake.crack_kpa + 1.0, temp)
        slope, offset = slope + gain, offset + gain * row.brake.crack_kpa
    return (demand_n + offset) / slope if slope > 0.0 else math.inf


def over_limit_k(cells: Cells, vehicle: Vehicle, driven: Drive, adhesion: float) -> float:
    """Most by which a drive passes the brakes' limits with one emergency stop on top [K]: 1.5 x (kinetic energy + height of
    its way), shared as the rows then brake; infinite at 0.2 m/s2 or less."""
    worst = -math.inf
    for index, (v, temps) in enumerate(zip(driven.speed_mps, driven.temps_c, strict=True)):
        sine = float(cells.sin_down[min(driven.begin + index, len(cells.sin_down) - 1)])
        forces = [min(row_n(row, vehicle.emergency_pressure_kpa, temp),
                      adhesion * vehicle.axles[row.axle].load_kg * row.load_share * G)
                  for row, temp in zip(vehicle.rows, temps, strict=True)]
        decel = sum(forces) / vehicle.gross_kg - G * sine
        if decel <= 0.2:
            return math.inf
        energy = 1.5 * vehicle.gross_kg * (v * v / 2 + G * max(sine, 0.0) * v * v / (2 * decel))
        for row, temp, force in zip(vehicle.rows, temps, forces, strict=True):
            rise = energy * force / sum(forces) / (row.brake.count * row.brake.heat_capacity_jpk)
            worst = max(worst, temp + rise - row.brake.temp_limit_c)
    return worst


def stop_m(cells: Cells, vehicle: Vehicle, air: AirSupply, *, node: int, speed_mps: float, temps_c: Sequence[float],
           adhesion: float, kpa: float, gone: Circuit | None = None, springs: bool = False) -> float:
    """Way along the road from a node to a full stop, infinite if it takes more than 3 km [m]. Nothing but brakes helps.

    Antilock uses 0.9 of each row's grip, careful feet without it 0.85 of the grip of the row that locks first; springs at
    once lock wheels, which slide at 0.8 of their grip. kpa: the application; gone: a circuit whose axles give nothing;
    springs: only they brake, like `spring_force_kpa`, on within about a second.
    """
    rows, temps = vehicle.rows, [float(x) for x in temps_c]
    circuits = [air.circuits[row.axle] for row in rows]
    works = [air.spring_axles[row.axle] if springs else circuit is not gone for row, circuit in zip(rows, circuits, strict=True)]
    tau = [1.0 if springs else TRAILER_TAU_S if circuit is Circuit.TRAILER else TAU_S for circuit in circuits]
    grip = [adhesion * vehicle.axles[row.axle].load_kg * row.load_share * G for row in rows]
    antilock, slides = vehicle.air.antilock and not springs, springs and air.spring_control is SpringControl.ON_OFF
    kpa = air.spring_force_kpa if springs else kpa
    if not antilock and not slides:
        for row, temp, holds, on in zip(rows, temps, grip, works, strict=True):
            if on and row_n(row, kpa, temp) > 0.85 * holds:
                kpa = float(brentq(lambda p, r=row, c=temp, most=holds: row_n(r, p, c) - 0.85 * most, 0.0, kpa))
    way, cell, v, t = speed_mps * (0.0 if springs else BEFORE_S), node, speed_mps, 0.0
    passed, begun = float(cells.step_m[min(node, len(cells.step_m) - 1)]), way
    while v > 0.0:
        while way > passed and cell < len(cells.step_m) - 1:
            cell += 1
            passed += float(cells.step_m[cell])
        dt = 0.02 if t < 5.0 else 0.1
        total = 0.0
        for j, row in enumerate(rows):
            if not works[j]:
                continue
            force = row_n(row, kpa * (1.0 - math.exp(-(t + dt / 2) / tau[j])), temps[j])
            if slides:
                force = force if force <= grip[j] else 0.8 * grip[j]
            else:
                force = min(force, (0.9 if antilock else 0.85) * grip[j])
            temps[j] += force * v * dt / row.brake.count / row.brake.heat_capacity_jpk
            total += force
        a = (vehicle.gross_kg * G * float(cells.sin_down[min(cell, len(cells.sin_down) - 1)]) - total) / (
            vehicle.gross_kg * vehicle.rotating_mass_factor)
        if v + a * dt <= 0.0:
            return way + 0.5 * v * v / -a
        way, v, t = way + v * dt + 0.5 * a * dt * dt, v + a * dt, t + dt
        if way - begun > FARTHEST_M:
            return math.inf
    return way


class Reservoirs:
    """Four reservoirs by the amount of air in them [m3 kPa]: supply, primary, secondary, trailer. No compressor works."""

    def __init__(self, vehicle: Vehicle, air: AirSupply, start_kpa: float, lost: Circuit | None = None, *,
                 emptiest_first: bool = False) -> None:
        assert lost is None or air.protection is Protection.CHECK_VALVES       # the supply empties into the hole
        self.vehicle, self.air, self.emptiest_first = vehicle, air, emptiest_first
        self.gone = [] if lost is None else [lost.value]
        self.tanks = [tank for tank in range(4) if air.tanks_m3[tank] > 0.0 and tank not in self.gone]
        if lost is not None:
            self.tanks.remove(Circuit.SUPPLY.value)
        self.amount = {tank: (start_kpa + ATM_KPA) * air.tanks_m3[tank] for tank in self.tanks}

    def kpa(self, tank: int) -> float:
        """Gauge [kPa]."""
        return self.amount[tank] / self.air.tanks_m3[tank] - ATM_KPA

    def gauge_kpa(self) -> float:
        """The lower needle of what is not lost."""
        return min(self.kpa(tank) for tank in self.tanks if tank in (1, 2))

    def chambers_m3(self, tank: int, kpa: float, temps_c: Sequence[float]) -> float:
        """Room of a circuit's chambers at an application: A s + clearance, the stroke as hot and as slack as it is."""
        room = 0.0
        for row, temp in zip(self.vehicle.rows, temps_c, strict=True):
            if self.air.circuits[row.axle].value == tank:
                of = row.brake.chamber
                stroke = min(growth_m(row, temp) + row.brake.stroke_per_kpa_m * kpa, of.full_stroke_m)
                swept = of.area_m2 * of.full_stroke_m
                room += row.brake.count * (of.area_m2 * stroke + max(of.volume_m3 - swept, 0.12 * swept))
        return room

    def left_kpa(self, kpa: float, temps_c: Sequence[float]) -> float:
        """What a full application can still give: the asked pressure, or chambers and reservoir run level."""
        least = kpa
        for tank in self.tanks:
            room = self.chambers_m3(tank, kpa, temps_c) if tank else 0.0
            if room > 0.0 and self.amount[tank] - room * (kpa + ATM_KPA) < (kpa + ATM_KPA) * self.air.tanks_m3[tank]:
                least = min(least, self.amount[tank] / (self.air.tanks_m3[tank] + room) - ATM_KPA)
        return least

    def press(self, kpa: float, temps_c: Sequence[float]) -> None:
        """One application and its release: the chambers' air is gone."""
        for tank in self.tanks:
            if tank:
                self.amount[tank] -= self.chambers_m3(tank, kpa, temps_c) * (kpa + ATM_KPA)
        self.settle()

    def settle(self) -> None:
        """Through the check valves in small gulps until nothing runs any more: by every valve at once, in proportion to the
        fall of pressure there, or the greatest fall first. Statics leave open which it is."""
        ways = [(a, b) for a, b in ((0, 1), (0, 2), (1, 3), (2, 3)) if a in self.tanks and b in self.tanks]
        while True:
            flows = [(a, b, self.kpa(a) - self.kpa(b)) for a, b in ways if self.kpa(a) > self.kpa(b) + 1e-4]
            if not flows:
                return
            if self.emptiest_first:
                flows = [max(flows, key=lambda flow: flow[2])]
            for a, b, differ in flows:
                gulp = 0.1 * differ * min(self.air.tanks_m3[a], self.air.tanks_m3[b])
                self.amount[a] -= gulp
                self.amount[b] += gulp

    def leak(self, released_s: float, applied_s: float) -> None:
        """Every gauge falls alike, faster with the brakes on."""
        fall = self.air.leak_released_kpaps * released_s + self.air.leak_applied_kpaps * applied_s
        for tank in self.tanks:
            self.amount[tank] = max(self.amount[tank] - fall * self.air.tanks_m3[tank], ATM_KPA * self.air.tanks_m3[tank])


def air_along(driven: Drive, reservoirs: Reservoirs, emergency_kpa: float) -> tuple[list[float], list[float]]:
    """Gauge [kPa] and what a full application gives [kPa] on arrival at every node of a drive."""
    gauge, given, todo = [], [], list(driven.applications)
    for index, temps in enumerate(driven.temps_c):
        gauge.append(reservoirs.gauge_kpa())
        given.append(reservoirs.left_kpa(emergency_kpa, temps))
        if index + 1 == len(driven.time_s):
            break
        seconds, braked = driven.time_s[index + 1] - driven.time_s[index], 0.0
        for item in driven.applications:
            overlap = min(item.time_s + item.seconds, driven.time_s[index + 1]) - max(item.time_s, driven.time_s[index])
            braked += max(overlap, 0.0)
        while todo and todo[0].time_s < driven.time_s[index + 1]:
            item = todo.pop(0)
            reservoirs.press(item.kpa, item.temps_c)
        reservoirs.leak(seconds - braked, braked)
    return gauge, given
