# SPDX-License-Identifier: MIT
"""March a loaded vehicle down a road profile under given instructions, and keep what happened."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from functools import cached_property
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from descent.physics import cell_kernel as kernel
from descent.physics import march_kernel
from descent.physics.brake_heat import packed_rows
from descent.physics.driveline import engine_rpm_per_mps, overrun_force_n
from descent.physics.engine_drag import drag_power_w, drag_torque_nm
from descent.physics.quick_brakes import COLUMNS
from descent.physics.retarder import retarder_force_n
from descent.physics.road_load import air_density_kgpm3
from descent.physics.trace import DescentTrace
from descent.terrain.road_profile import RoadProfile
from descent.units import GRAVITY_MPS2
from descent.vehicle.model import Vehicle

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
TABLE_STEP_MPS = 0.02
TABLE_TOP_MPS = 60.0
CRUISE = 0  # row 0 of the force tables: the driver's own choice of gear


class Braking(Enum):
    """How the service brakes hold a speed."""

    DRAG = 0
    SNUB = 1


@dataclass(frozen=True)
class Day:
    """The day: air temperature [C], brakes at the start [C], road grip (adhesion coefficient)."""

    air_temp_c: float
    start_temp_c: float
    adhesion: float


@dataclass(frozen=True)
class Driving:
    """What the driver model does; each value assumed unless a source is named in docs.

    snub: 5 mph down in about 3 s (common practice, and the US commercial driver's manual);
    approach_mps2: how firmly speed is taken off before a lower limit or a stop; rise_mps2: how speed is gained;
    release_mps2: the least rate at which it comes back between snubs; snub_floor: a snub never goes below this share
    of the control speed.
    """

    snub_drop_mps: float = 2.2352
    snub_decel_mps2: float = 2.2352 / 3.0
    approach_mps2: float = 0.5
    rise_mps2: float = 0.3
    release_mps2: float = 0.1
    snub_floor: float = 0.3
    cruise_rpm: float = 1500.0
    max_pressure_kpa: float = 690.0
    drive_efficiency: float = 0.9
    drive_force_share: float = 0.25
    parked_cooling_fraction: float = 0.6


@dataclass(frozen=True)
class Setting:
    """A gear (index, 0 = lowest) and a retarder stage (0 = off); gear -1: the driver's choice (cruise)."""

    gear: int
    stage: int


@dataclass(frozen=True)
class Cells:
    """A road cut into n cells for one vehicle and day: arrays (n,), nodes (n + 1,)."""

    station_m: FloatArray
    step_m: FloatArray
    sin_down: FloatArray
    cos_road: FloatArray
    k_air: FloatArray
    cool: FloatArray
    air_temp: FloatArray


def cells_of(profile: RoadProfile, vehicle: Vehicle, day: Day, *, grade: FloatArray | None = None,
             altitude_offset_m: float = 0.0) -> Cells:
    """Cells (n,) between the n + 1 stations of a profile; `grade` (n + 1,) [1] replaces its own (steep side of the band).

    step_m [m] is slope length; the mean grade of a cell is that of its two ends. Cooling falls with altitude, as
    the density ratio to the power 0.8 (derived from turbulent convection); never above the published sea-level value.
    altitude_offset_m [m] is added to heights that count from the start of the road. Range: heights of -400 to 9000 m,
    held outside. Source: key standard_atmosphere for the density; key derived for the rest.

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> o = np.zeros(3)
    >>> road = RoadProfile(np.array([0.0, 100.0, 200.0]), o, o, np.array([12.0, 6.0, 0.0]), o, o - 0.06, o, o, "example")
    >>> cells_of(road, load_vehicle("tractor-semitrailer"), Day(15.0, 65.0, 0.6)).step_m.round(2).tolist()
    [100.18, 100.18]
    """
    node = profile.grade if grade is None else grade
    mean = 0.5 * (node[1:] + node[:-1])
    cos_road = 1 / np.sqrt(1 + mean * mean)
    step = np.diff(profile.station_m) / cos_road
    altitude = 0.5 * (profile.elevation_m[1:] + profile.elevation_m[:-1])
    density = air_density_kgpm3(np.clip(np.nan_to_num(altitude) + altitude_offset_m, -400.0, 9000.0), day.air_temp_c)
    sea_level = air_density_kgpm3(np.zeros(1), day.air_temp_c)
    cool = np.minimum(1.0, np.power(density / sea_level, 0.8))
    return Cells(profile.station_m, step, -mean * cos_road, cos_road, 0.5 * density * vehicle.drag_area_m2, cool,
                 np.full(len(step), day.air_temp_c))


@dataclass(frozen=True)
class ForceTables:
    """Engine and retarder force at the tyres by speed for each setting: (rows, speeds), row 0 is cruise."""

    settings: tuple[Setting, ...]
    engine_n: FloatArray
    retarder_n: FloatArray

    @cached_property
    def held_n(self) -> FloatArray:
        """Both together, as the march reads them."""
        return self.engine_n + self.retarder_n

    def row(self, setting: Setting) -> int:
        """Row of a setting."""
        return self.settings.index(setting)


def force_tables(vehicle: Vehicle, settings: tuple[Setting, ...], driving: Driving, *,
                 density_ratio: float = 1.0) -> ForceTables:
    """Tabulate the settings (cruise is put first) at steps of `TABLE_STEP_MPS` [m/s]: forces (n_settings, n_speeds) [N].

    Below idle speed the clutch is open and the engine holds nothing. Cruise: the engine near `cruise_rpm`
    whatever the speed, so its drag is a constant power. density_ratio [1]: air density over sea level, for engine and
    retarder (take the highest place of the road: there they hold back least). Range: 0 to 60 m/s, engine drag held
    above 1.3 times the overrun limit. Source: as `engine_drag` and `retarder` name it; cruise is assumed.

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> truck = load_vehicle("tractor-semitrailer")
    >>> tables = force_tables(truck, (Setting(4, 0), Setting(5, 0)), Driving())
    >>> at_5_mps = tables.engine_n[:, int(5.0 / TABLE_STEP_MPS)]
    >>> tables.engine_n.shape, bool(at_5_mps[1] > at_5_mps[2])
    ((3, 3001), True)
    """
    rows = (Setting(-1, 0), *[item for item in settings if item.gear >= 0])
    speed = np.arange(0.0, TABLE_TOP_MPS + TABLE_STEP_MPS / 2, TABLE_STEP_MPS)
    engine = np.zeros((len(rows), len(speed)))
    retarder = np.zeros_like(engine)
    cruise_power = float(drag_power_w(vehicle.engine, np.array([driving.cruise_rpm]), density_ratio=density_ratio)[0])
    engine[0] = cruise_power / np.maximum(speed, 5.0) * np.minimum(1.0, speed / 2.0)
    for index, setting in enumerate(rows[1:], start=1):
        rpm = speed * engine_rpm_per_mps(vehicle.gearbox, setting.gear)
        engaged = np.clip((rpm / vehicle.engine.idle_rpm - 0.8) / 0.2, 0.0, 1.0)
        torque = drag_torque_nm(vehicle.engine, np.minimum(rpm, 1.3 * vehicle.engine.overrun_limit_rpm),
                                density_ratio=density_ratio)
        engine[index] = overrun_force_n(vehicle.gearbox, setting.gear, torque) * engaged
        retarder[index] = retarder_force_n(vehicle.retarder, vehicle.gearbox, setting.gear, setting.stage, speed,
                                           density_ratio=density_ratio) * engaged
    return ForceTables(rows, engine, retarder)


@dataclass(frozen=True)
class Schedule:
    """The driver's instructions on the cells: speed cap per node, force row and braking per cell, stops per node.

    dwell_s: (n + 1,), negative where there is no stop.
    """

    cap_mps: FloatArray
    row: IntArray
    snubbed: IntArray
    dwell_s: FloatArray


def reachable_caps(cap_mps: FloatArray, step_m: FloatArray, decel_mps2: float) -> FloatArray:
    """Caps (n + 1,) [m/s] lowered so that each lower one ahead is reached at `decel_mps2` [m/s2], over step_m (n,) [m].

    v_i^2 <= v_(i+1)^2 + 2 a ds, in O(n). Range: constant deceleration, decel_mps2 >= 0. Source: key derived.

    >>> reachable_caps(np.array([20.0, 20.0, 0.0]), np.array([100.0, 100.0]), 0.5).round(3).tolist()
    [14.142, 10.0, 0.0]
    """
    squared = cap_mps**2
    distance = np.concatenate([[0.0], np.cumsum(step_m)])
    line = squared + 2 * decel_mps2 * distance
    lowest = np.minimum.accumulate(line[::-1])[::-1]
    return np.asarray(np.sqrt(np.maximum(np.minimum(squared, lowest - 2 * decel_mps2 * distance), 0.0)))


def scalars(vehicle: Vehicle, day: Day, driving: Driving) -> FloatArray:
    """The march's scalar inputs (14,), in the kernel's order.

    Mass, mass with what turns [kg]; rolling coefficient [1]; drive power [W] and force [N]; rates of speed gained,
    regained and snubbed off [m/s2]; snub drop [m/s], floor [1]; highest and emergency application [kPa]; adhesion,
    parked share of the cooling [1]. Source: key derived (the given values in order).

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> truck = load_vehicle("tractor-semitrailer")
    >>> packed = scalars(truck, Day(15.0, 65.0, 0.6), Driving())
    >>> packed.shape, bool(packed[kernel.MASS] == truck.gross_kg), float(packed[kernel.ADHESION])
    ((14,), True, 0.6)
    """
    return np.array([vehicle.gross_kg, vehicle.gross_kg * vehicle.rotating_mass_factor, vehicle.rolling_coefficient,
                     vehicle.engine.power_w * driving.drive_efficiency,
                     driving.drive_force_share * vehicle.gross_kg * GRAVITY_MPS2, driving.rise_mps2,
                     driving.release_mps2, driving.snub_decel_mps2, driving.snub_drop_mps, driving.snub_floor, driving.max_pressure_kpa,
                     vehicle.emergency_pressure_kpa, day.adhesion, driving.parked_cooling_fraction])


def march(cells: Cells, vehicle: Vehicle, tables: ForceTables, schedule: Schedule, day: Day, driving: Driving, *,
          start_speed_mps: float = 0.0, start_temps_c: FloatArray | None = None) -> DescentTrace:
    """Drive the n cells. start_temps_c (n_rows,) [C], default the day's; start_speed_mps [m/s]. Trace: see there.

    Range: forward travel, speeds to 60 m/s; a vehicle that stalls on a climb ends the march (`DescentTrace.complete`).
    One lumped temperature per row of brakes. Source: key derived (equation of motion and heat balance, integrated
    cell by cell); cooling as the vehicle's file names it; the driver model is assumed where `Driving` names no source.

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> truck, day, n = load_vehicle("tractor-semitrailer"), Day(15.0, 65.0, 0.6), 100
    >>> cells = Cells(np.arange(n + 1) * 10.0, *(np.full(n, x) for x in (10.0, 0.06, 0.998, 3.0, 1.0, 15.0)))
    >>> plan = Schedule(np.full(n + 1, 10.0), *np.zeros((2, n), dtype=int), np.full(n + 1, -1.0))
    >>> tables = force_tables(truck, (), Driving())
    >>> trace = march(cells, truck, tables, plan, day, Driving(), start_speed_mps=10.0)
    >>> round(trace.total_time_s, 6), trace.complete, bool((np.diff(trace.temp_c, axis=0) > 0).all())
    (100.0, True, True)
    >>> energy = trace.energy_j
    >>> out_j = sum(energy[name] for name in ("rolling_j", "air_j", "engine_j", "retarder_j", "brakes_j"))
    >>> round(energy["gravity_j"] / out_j, 9)
    1.0
    """
    n = len(cells.step_m)
    axles = packed_rows(vehicle)
    temps = np.full(len(axles), day.start_temp_c) if start_temps_c is None else np.array(start_temps_c, dtype=float)
    node = np.zeros((n + 1, 4))
    node_temp, node_rise, leave, decay = np.zeros((4, n + 1, len(axles)))
    snubs, work = np.zeros((n, 2)), np.zeros((n, 3))
    energy = np.zeros(9)
    road = (cells.step_m, cells.sin_down, cells.cos_road, cells.k_air, cells.cool, cells.air_temp, schedule.cap_mps**2,
            schedule.row, schedule.snubbed)
    reached = cast(Any, march_kernel.march)(
        *(np.ascontiguousarray(column) for column in road), tables.held_n, tables.retarder_n,
        1 / TABLE_STEP_MPS, axles, scalars(vehicle, day, driving), np.ascontiguousarray(schedule.dwell_s), start_speed_mps**2,
        temps, node, node_temp, node_rise, leave, decay, snubs, work, energy, np.zeros((2, len(axles))),
        np.empty((len(axles) + 1, COLUMNS)), np.zeros(11))
    return DescentTrace(cells.station_m, node[:, 0], node[:, 1], node[:, 2], node[:, 3], node_temp, node_rise, leave,
                        schedule.dwell_s, snubs, work, _ledger(energy, node, vehicle, int(reached), start_speed_mps),
                        int(reached))


def _ledger(energy: FloatArray, node: FloatArray, vehicle: Vehicle, reached: int, start_mps: float) -> dict[str, float]:
    moving = 0.5 * vehicle.gross_kg * vehicle.rotating_mass_factor
    return {"gravity_j": float(energy[kernel.GRAVITY]), "drive_j": float(energy[kernel.DRIVE]),
            "rolling_j": float(energy[kernel.ROLLING]), "air_j": float(energy[kernel.AIR]),
            "engine_j": float(energy[kernel.ENGINE]), "retarder_j": float(energy[kernel.RETARDER]),
            "brakes_j": float(energy[kernel.STORED] + energy[kernel.COOLED]),
            "kinetic_change_j": moving * (float(node[reached, 1]) ** 2 - start_mps**2)}
