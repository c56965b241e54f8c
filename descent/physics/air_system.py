# SPDX-License-Identifier: MIT
"""Air on the way down: closed forms of one application, reservoirs along a march, snubs until cut-in and the warning."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from descent.physics import air_kernel as kernel
from descent.physics.brake_heat import packed_rows
from descent.physics.trace import DescentTrace
from descent.vehicle.air_supply import ATMOSPHERE_KPA, AirSupply, Circuit, Protection, clearance_m3
from descent.vehicle.model import Vehicle

FloatArray = NDArray[np.float64]
MOST_SNUBS = 3000


def application_drop_kpa(chambers_m3: float, application_kpa: float, reservoirs_m3: float) -> float:
    """Fall of a reservoir [kPa] by one application and release: V_chambers (p + p_atm) / V_reservoirs.

    Volumes in one unit [m3/m3]; pressures [kPa] gauge in, absolute inside. Range: isothermal, compressor off, the
    reservoir stays above the application. Source: key derived.

    >>> from descent.units import INCH_M, PSI_KPA
    >>> round(application_drop_kpa(0.6 * 464, 10 * PSI_KPA, 5568) / PSI_KPA, 3)
    1.235
    """
    return chambers_m3 * (application_kpa + ATMOSPHERE_KPA) / reservoirs_m3


def equalised_kpa(pressure_kpa: float, volumes: float) -> float:
    """Pressure [kPa] when a reservoir at pressure_kpa [kPa] of `volumes` [1] times its chambers levels with them.

    Range: isothermal, chambers at first at the air's own pressure. Source: key derived (one volume of gas).

    >>> from descent.units import PSI_KPA
    >>> round(equalised_kpa(100 * PSI_KPA, 12) / PSI_KPA, 2)
    91.18
    """
    return (pressure_kpa + ATMOSPHERE_KPA) * volumes / (volumes + 1) - ATMOSPHERE_KPA


def build_up_s(air: AirSupply, *, from_kpa: float, to_kpa: float, engine_rpm: float) -> float:
    """Time the compressor takes to fill all of the motor vehicle's own reservoirs, no leak [s].

    Pressures [kPa], engine_rpm [rpm]. Infinite for a dead compressor. The trailer is not counted, as in the published
    test (key fmvss_121). Range: isothermal, delivery in proportion to engine speed. Source: key derived.
    >>> from descent.vehicle.air_supply import air_supply
    >>> from descent.vehicle.catalogue import load_vehicle
    >>> air = air_supply(load_vehicle("tractor-semitrailer"))
    >>> slow, fast = (build_up_s(air, from_kpa=500.0, to_kpa=600.0, engine_rpm=rpm) for rpm in (1000.0, 2000.0))
    >>> round(slow / fast, 6)
    2.0
    """
    rate = air.compressor_m3ps * _share(air, engine_rpm)
    return sum(air.tanks_m3[:3]) * (to_kpa - from_kpa) / ATMOSPHERE_KPA / rate if rate > 0 else np.inf


def _share(air: AirSupply, engine_rpm: float) -> float:
    return 1.0 if air.compressor_rpm <= 0 else engine_rpm / air.compressor_rpm


def _chamber_table(vehicle: Vehicle, air: AirSupply) -> FloatArray:
    table = np.empty((len(vehicle.rows), 4))
    for index, row in enumerate(vehicle.rows):
        chamber, count = row.brake.chamber, row.brake.count
        table[index] = (chamber.area_m2 * count,
                        clearance_m3(chamber.area_m2, chamber.full_stroke_m, chamber.volume_m3) * count,
                        chamber.full_stroke_m, air.circuits[row.axle].value)
    return table


def _parameters(air: AirSupply) -> FloatArray:
    return np.array([air.compressor_m3ps, air.cut_in_kpa, air.cut_out_kpa, air.safety_valve_kpa,
                     air.leak_released_kpaps, air.leak_applied_kpaps,
                     1.0 if air.protection is Protection.PROTECTION_VALVES else 0.0, air.spring_on_kpa,
                     _share(air, air.idle_rpm)])


@dataclass(frozen=True)
class PackedAir:
    """An air supply as `air_kernel` reads it: chambers (n_rows, 4), tanks_m3 (4,) [m3], parameters (9,)."""

    chambers: FloatArray
    tanks_m3: FloatArray
    parameters: FloatArray


def packed_air(vehicle: Vehicle, air: AirSupply) -> PackedAir:
    """Chamber table (n_rows, 4), reservoirs (4,) [m3] and parameters (9,) [kPa, kPa/s, m3/s, 1] in the kernel's order.

    Range: none of its own. Source: key derived (the given values in order).
    >>> from descent.vehicle.air_supply import air_supply
    >>> from descent.vehicle.catalogue import load_vehicle
    >>> truck = load_vehicle("tractor-semitrailer")
    >>> packed = packed_air(truck, air_supply(truck))
    >>> packed.chambers.shape, packed.tanks_m3.shape, packed.parameters.shape
    ((3, 4), (4,), (9,))
    """
    return PackedAir(_chamber_table(vehicle, air), np.array(air.tanks_m3), _parameters(air))


def compressor_share(air: AirSupply, engine_rpm: FloatArray) -> FloatArray:
    """Share of its rated speed at which the compressor turns (n,) [1] at engine speeds engine_rpm (n,) [rpm].

    Range: 1 where the compressor has a motor of its own. Source: key derived (it is geared to the engine).
    >>> from descent.vehicle.air_supply import air_supply
    >>> from descent.vehicle.catalogue import load_vehicle
    >>> air = air_supply(load_vehicle("tractor-semitrailer"))
    >>> compressor_share(air, np.array([0.5, 1.0]) * air.compressor_rpm).tolist()
    [0.5, 1.0]
    """
    turning = np.asarray(engine_rpm, dtype=float)
    return np.ones_like(turning) if air.compressor_rpm <= 0 else turning / air.compressor_rpm


@dataclass(frozen=True)
class ReservoirHistory:
    """Reservoirs along a march: nodes (n + 1,).

    tank_kpa (n + 1, 4): supply, primary, secondary, trailer on arrival (0 where there is none); service_kpa: the lowest
    circuit that is not lost, what the cab gauge's lower needle shows; given_kpa: application that every circuit could
    give in the cell before the node; pumped_s: compressor at work in that cell; loadings: times it was loaded.
    *_node: first node at or below cut-in (supply), warning, spring brakes beginning; None: never.
    """

    station_m: FloatArray
    tank_kpa: FloatArray
    service_kpa: FloatArray
    given_kpa: FloatArray
    pumped_s: FloatArray
    loadings: int
    snubs: FloatArray
    cut_in_node: int | None
    warning_node: int | None
    spring_node: int | None
    short_node: int | None

    @property
    def least_kpa(self) -> float:
        """Lowest gauge reading on the way [kPa]."""
        return float(self.service_kpa.min())

    def snubs_before(self, node: int | None) -> int | None:
        """Snubs begun before a node; None where the event never comes."""
        return None if node is None else int(self.snubs[:node, 0].sum())


def reservoir_along(trace: DescentTrace, vehicle: Vehicle, air: AirSupply, *, engine_rpm: FloatArray,
                    start_kpa: float | None = None, lost: Circuit | None = None) -> ReservoirHistory:
    """Reservoir pressures at every node of a march, from its snubs, application pressures, strokes and engine speed.

    engine_rpm (n + 1,) [rpm] drives the compressor in the cell after each node (idle while standing); start_kpa [kPa]: all
    reservoirs at the start, default cut-in, the lowest a working governor leaves; lost: a circuit with a hole. Every
    snub is one whole application to the highest pressure of its cell, none of whose air comes back. A real foot on the
    pedal wavers more than the march's, so steady braking takes more air than this. Range: isothermal. Source: key
    derived; volumes, leaks and pressures as `air_supply` names them.
    >>> from descent.vehicle.air_supply import air_supply
    >>> from descent.physics.march import Cells, Day, Driving, Schedule, force_tables, march
    >>> from descent.vehicle.catalogue import load_vehicle
    >>> truck, day, n = load_vehicle("tractor-semitrailer"), Day(15.0, 65.0, 0.6), 100
    >>> cells = Cells(np.arange(n + 1) * 10.0, *(np.full(n, x) for x in (10.0, 0.06, 0.998, 3.0, 1.0, 15.0)))
    >>> plan = Schedule(np.full(n + 1, 10.0), *np.zeros((2, n), dtype=int), np.full(n + 1, -1.0))
    >>> tables = force_tables(truck, (), Driving())
    >>> trace = march(cells, truck, tables, plan, day, Driving(), start_speed_mps=10.0)
    >>> history = reservoir_along(trace, truck, air_supply(truck), engine_rpm=np.full(n + 1, 1500.0))
    >>> history.tank_kpa.shape, history.loadings, history.warning_node is None
    ((101, 4), 1, True)
    """
    log = _Log(trace.station_m, trace.time_s, np.asarray(trace.dwell_s, dtype=float), np.nan_to_num(trace.pressure_kpa),
               trace.snubs, np.nan_to_num(trace.temp_c), engine_rpm)
    return _history(log, vehicle, air, air.cut_in_kpa if start_kpa is None else start_kpa, lost)


@dataclass(frozen=True)
class _Log:
    """What the air system sees of a drive: nodes (n + 1,), snubs (n, 2), temperatures (n + 1, n_rows)."""

    station_m: FloatArray
    time_s: FloatArray
    dwell_s: FloatArray
    application_kpa: FloatArray
    snubs: FloatArray
    temp_c: FloatArray
    engine_rpm: FloatArray


def _history(log: _Log, vehicle: Vehicle, air: AirSupply, start_kpa: float, lost: Circuit | None) -> ReservoirHistory:
    rows = packed_rows(vehicle)
    n = len(log.station_m) - 1
    gone = np.zeros(kernel.TANKS, dtype=np.int64)
    if lost is not None:
        gone[lost.value] = 1
    state = np.full(kernel.TANKS, float(start_kpa))
    state[3] = state[3] if air.tanks_m3[3] > 0 else 0.0
    out, given, pumped = np.zeros((n + 1, kernel.TANKS)), np.zeros(n + 1), np.zeros(n + 1)
    packed = packed_air(vehicle, air)
    loadings = cast(Any, kernel.along)(
        log.time_s, log.dwell_s, log.application_kpa, log.snubs, log.temp_c, compressor_share(air, log.engine_rpm), rows,
        packed.chambers, packed.tanks_m3, gone, packed.parameters, state, out, given, pumped)
    own = [tank for tank in (1, 2) if not gone[tank]]
    service = out[:, own].min(axis=1)
    return ReservoirHistory(
        log.station_m, out, service, given, pumped, int(loadings), log.snubs,
        _first(out[:, 0] <= air.cut_in_kpa + 1e-9), _first(service < air.warning_kpa),
        _first(service < air.spring_on_kpa), _first(given < log.application_kpa - 1e-6))


def _first(mask: NDArray[np.bool_]) -> int | None:
    hits = np.flatnonzero(mask)
    return int(hits[0]) if len(hits) else None


def full_application_kpa(tank_kpa: FloatArray, vehicle: Vehicle, air: AirSupply, *, asked_kpa: float, temps_c: FloatArray,
                         lost: Circuit | None = None) -> float:
    """The application [kPa] that reservoirs at tank_kpa (4,) [kPa] can still give of the asked one, on brakes at temps_c
    (n_rows,) [C]: what is left when the emptiest circuit's chambers have run level with its reservoir.

    lost: a circuit with a hole, which is not asked. Range: isothermal; from released brakes; no reservoir refills another
    meanwhile. Source: key derived.
    >>> from descent.vehicle.air_supply import air_supply
    >>> from descent.vehicle.catalogue import load_vehicle
    >>> truck, cold = load_vehicle("tractor-semitrailer"), np.full(3, 25.0)
    >>> left = [full_application_kpa(np.full(4, kpa), truck, air_supply(truck), asked_kpa=550.0, temps_c=cold)
    ...         for kpa in (800.0, 400.0)]
    >>> left[0], 300.0 < left[1] < 400.0
    (550.0, True)
    """
    gone, packed, state = np.zeros(kernel.TANKS, dtype=np.int64), packed_air(vehicle, air), np.array(tank_kpa, dtype=float)
    if lost is not None:
        gone[lost.value] = 1
    return float(cast(Any, kernel.apply_brakes)(state, packed.tanks_m3, packed_rows(vehicle), packed.chambers,
                                                np.ascontiguousarray(temps_c, dtype=float), gone, 0.0, float(asked_kpa)))


@dataclass(frozen=True)
class SnubBudget:
    """Snubs and seconds until the governor cuts in, the warning, the spring brakes begin; None: not in 3000 snubs."""

    to_cut_in: int | None
    to_warning: int | None
    to_spring: int | None
    interval_s: float

    def seconds_to(self, snubs: int | None) -> float | None:
        """Time of so many snubs [s]."""
        return None if snubs is None else snubs * self.interval_s


def snubs_until(vehicle: Vehicle, air: AirSupply, *, application_kpa: float, temps_c: FloatArray, braking_s: float,
                interval_s: float, engine_rpm: float, start_kpa: float | None = None,
                lost: Circuit | None = None) -> SnubBudget:
    """How many equal snubs the air lasts for. temps_c (n_rows,) [C]; one snub of braking_s [s] every interval_s [s].

    application_kpa [kPa], engine_rpm [rpm]; start_kpa [kPa]: default cut-out. With a weak or dead compressor give `air` a smaller compressor_m3ps; fanning the pedal is
    the same with short intervals. Range: to 3000 snubs, isothermal. Source: key derived (`reservoir_along`).
    >>> from descent.vehicle.air_supply import air_supply
    >>> from descent.vehicle.catalogue import load_vehicle
    >>> truck = load_vehicle("tractor-semitrailer")
    >>> from dataclasses import replace
    >>> dead = replace(air_supply(truck), compressor_m3ps=0.0)
    >>> light, hard = (snubs_until(truck, dead, application_kpa=p, temps_c=np.full(3, 25.0), braking_s=3.0,
    ...                            interval_s=20.0, engine_rpm=1500.0).to_warning for p in (70.0, 210.0))
    >>> hard < light
    True
    """
    n = MOST_SNUBS
    snubs = np.column_stack([np.ones(n), np.full(n, min(braking_s, interval_s))])
    log = _Log(np.arange(n + 1.0), np.arange(n + 1.0) * np.float64(interval_s), np.full(n + 1, -1.0), np.full(n + 1, application_kpa),
               snubs, np.tile(np.asarray(temps_c, dtype=float), (n + 1, 1)), np.full(n + 1, engine_rpm))
    history = _history(log, vehicle, air, air.cut_out_kpa if start_kpa is None else start_kpa, lost)
    return SnubBudget(history.cut_in_node, history.warning_node, history.spring_node, interval_s)
