# SPDX-License-Identifier: MIT
"""From the merged table of a class or file to a Vehicle, keeping every fault on the way."""

from __future__ import annotations

import difflib
import math
from collections.abc import Mapping
from dataclasses import replace

from descent.units import MILE_M
from descent.vehicle.air_fields import read_air
from descent.vehicle.brakes import foundation_brake
from descent.vehicle.model import (
    AxleGroup,
    Battery,
    Engine,
    Gearbox,
    Retarder,
    RetarderKind,
    RetarderShaft,
    Vehicle,
    loaded,
)
from descent.vehicle.schema import Reader, Table
from descent.vehicle.shared_tables import read_gear_set, read_load

KWH_J = 3.6e6
LIFTED_AXLE_COST_G = 0.03
"""What a raised lift axle takes from the rollover threshold: the upper end of 0.01-0.03 g (key nrc_rollover, seen)."""

ELECTRIC_IDLE_RPM = 1.0     # an electric drive turns with the wheels down to standstill


def build_vehicle(name: str, table: Table, reader: Reader) -> Vehicle:
    """The vehicle at its rated weight; where `reader` has faults afterwards it is not to be used."""
    table = {name: part if isinstance(part, Mapping) or name == "title" else {} for name, part in table.items()}
    body = table.get("vehicle", {})
    get = {field: reader.number("vehicle", body, field, "vehicle")
           for field in ("rated_gross", "tare", "length", "drag_area", "rotating_mass_factor", "rollover_threshold",
                         "emergency_pressure")}
    engine = _motor(table["motor"], reader) if "motor" in table else _engine(table.get("engine", {}), reader)
    gearbox = _gearbox(table.get("gearbox", {}), reader)
    tables = {axle: dict(fields) for axle, fields in table.get("axles", {}).items() if isinstance(fields, Mapping)}
    _check_axle_names(tables, reader)
    raised = _raised(body, tables, reader)
    axles = tuple(_axle(axle, {**table.get("brakes", {}), **fields}, gearbox.wheel_radius_m, reader)
                  for axle, fields in tables.items())
    lifted_kg = sum(axle.rating_kg for axle in axles if axle.name in raised)
    axles = tuple(axle for axle in axles if axle.name not in raised)
    rated_kg = get["rated_gross"] - lifted_kg
    load = read_load(table.get("load", {}), reader)
    threshold = min(get["rollover_threshold"], load.rollover_threshold_g) - LIFTED_AXLE_COST_G * bool(raised)
    _check_sense(get, engine, axles, reader)
    if not axles:
        reader.fault("axles", "there is no axle group", "Give at least [axles.steer] and [axles.drive]")
    vehicle = Vehicle(name, str(table.get("title", name)), sum(axle.load_kg for axle in axles), rated_kg, get["tare"],
                      get["length"], axles, engine, gearbox,
                      _retarder(table.get("retarder", {}), table.get("battery"), reader), get["drag_area"],
                      get["rotating_mass_factor"], threshold, get["emergency_pressure"], load,
                      read_air(table.get("air", {}), tables, axles, engine, reader), (), ())
    if reader.faults:
        return vehicle
    vehicle = replace(vehicle, assumptions=tuple(dict.fromkeys(reader.assumed)),
                      source_keys=tuple(dict.fromkeys(reader.source_keys)))
    return loaded(_lifted(vehicle) if raised else vehicle, rated_kg)


def _lifted(vehicle: Vehicle) -> Vehicle:
    """The same empty weight on the axles that are down, shared as before."""
    scale = vehicle.tare_kg / sum(axle.tare_kg for axle in vehicle.axles)
    return replace(vehicle, title=f"{vehicle.title}, lift axle up",
                   axles=tuple(replace(axle, tare_kg=axle.tare_kg * scale) for axle in vehicle.axles))


def _raised(body: Table, axles: Mapping[str, Table], reader: Reader) -> frozenset[str]:
    """Names of the axle groups that are off the road."""
    place = body.get("lift_axle", "down")
    lifting = frozenset(name for name, fields in axles.items() if fields.get("lift"))
    if place not in ("up", "down"):
        reader.not_known("vehicle.lift_axle", "a lift axle is up or down", str(place), ["up", "down"])
    elif place == "up" and not lifting:
        reader.fault("vehicle.lift_axle", "no axle group can be lifted", "Write lift = true on one", place)
    return lifting if place == "up" else frozenset()


def _check_axle_names(axles: Mapping[str, Table], reader: Reader) -> None:
    """Fault an axle group that says too little to be one: most likely its name is misspelt."""
    whole = [name for name, fields in axles.items() if "axle_count" in fields]
    for name, fields in axles.items():
        if "axle_count" not in fields:
            near = difflib.get_close_matches(name, whole, 1, 0.5)
            reader.fault(f"axles.{name}", "the base has no axle group of this name, and this one says too little to be new",
                         f"Did you mean axles.{near[0]}" if near else f"Groups here: {', '.join(whole)}", name)


def _check_sense(body: Mapping[str, float], engine: Engine, axles: tuple[AxleGroup, ...], reader: Reader) -> None:
    """Faults of values that are each in range but contradict each other."""
    if body["tare"] >= body["rated_gross"]:
        reader.fault("vehicle.tare", "the empty weight is not below the rated gross weight", "Check both")
    if not engine.idle_rpm < engine.lugging_rpm < engine.overrun_limit_rpm:
        reader.fault("engine", "idle, lugging and overrun speeds must rise in this order", "Check the three")
    if axles and not any(axle.driven for axle in axles):
        reader.fault("axles", "no axle group is driven", "Write driven = true on one")
    for axle in axles:
        for brake in axle.brakes:
            if brake.fade_end_c <= brake.fade_onset_c:
                reader.fault(f"axles.{axle.name}", "fade ends below where it begins", "Check fade_onset and fade_end")


def _engine(table: Table, reader: Reader) -> Engine:
    return Engine(*(reader.number("engine", table, field, "engine") for field in (
        "displacement", "stroke", "power", "idle", "lugging", "overrun_limit", "drag_constant")))


def _motor(table: Table, reader: Reader) -> Engine:
    """An electric drive: no displacement, so no drag of its own, and no idle or lugging speed to speak of."""
    return Engine(0.0, 0.0, reader.number("motor", table, "power", "motor"), ELECTRIC_IDLE_RPM, 2 * ELECTRIC_IDLE_RPM,
                  reader.number("motor", table, "overrun_limit", "motor"), 0.0)


def _gearbox(table: Table, reader: Reader) -> Gearbox:
    read_gear_set(table, reader)
    ratios = reader.number("gearbox", table, "ratios", "gearbox")
    given = table.get("names", ())
    names = tuple(str(item) for item in given) if isinstance(given, list | tuple) else ()
    if len(names) != len(ratios):
        reader.fault("gearbox.names", "there must be one name per ratio", f"Give a list of {len(ratios)} names", given)
    if list(ratios) != sorted(ratios, reverse=True):
        reader.fault("gearbox.ratios", "ratios must fall from the lowest gear to the highest", "Sort them", ratios)
    direct = reader.number("gearbox", table, "efficiency_direct", "gearbox")
    indirect = reader.number("gearbox", table, "efficiency_indirect", "gearbox")
    tyre = reader.number("gearbox", table, "tyre", "gearbox")
    return Gearbox(str(table.get("kind", "")), names, ratios,
                   tuple(direct if ratio == 1.0 else indirect for ratio in ratios),
                   reader.number("gearbox", table, "final_ratio", "gearbox"),
                   reader.number("gearbox", table, "final_efficiency", "gearbox"), MILE_M / tyre / (2 * math.pi))


def _retarder(table: Table, battery: Table | None, reader: Reader) -> Retarder:
    kind = reader.choice(RetarderKind, table.get("kind", "none"), "retarder.kind")
    if kind is RetarderKind.NONE:
        return Retarder(kind, RetarderShaft.ENGINE, (), (), (), 0.0)

    def number(name: str, default: float | None = None) -> float:
        return default if default is not None and name not in table else float(
            reader.number("retarder", table, name, "retarder"))

    shaft = reader.choice(RetarderShaft, table.get("shaft", "engine"), "retarder.shaft")
    stages = reader.number("retarder", table, "stages", "retarder")
    if list(stages) != sorted(stages):
        reader.fault("retarder.stages", "stages must rise", "Sort them", stages)
    named = tuple((str(i + 1), item) for i, item in enumerate(stages))
    continuous = number("continuous_power")
    if kind is RetarderKind.ELECTRIC:
        return Retarder(kind, shaft, (), (), named, continuous, most_torque_nm=number("most_torque"),
                        motor_power_w=number("motor_power"), cut_out_rpm=number("cut_out", 0.0),
                        battery=_battery(battery or {}, reader))
    if "torque_per_speed2" in table:
        return Retarder(kind, shaft, (), (), named, continuous, number("torque_per_speed2"), number("most_torque"),
                        cut_out_rpm=number("cut_out", 0.0))
    speeds, torque = _torque_table(table, reader)
    return Retarder(kind, shaft, speeds, torque, named, continuous)


def _torque_table(table: Table, reader: Reader) -> tuple[tuple[float, ...], tuple[float, ...]]:
    speeds = reader.number("retarder", table, "speeds", "retarder")
    if "torque" in table:
        torque = reader.number("retarder", table, "torque", "retarder")
    else:
        power = reader.number("retarder", table, "power", "retarder")
        torque = tuple(1000 * item / (speed * math.pi / 30) for item, speed in zip(power, speeds, strict=False))
    if len(torque) != len(speeds) or list(speeds) != sorted(speeds):
        reader.fault("retarder", "speeds and torques must pair up, speeds rising", "Give one value per speed")
    return speeds, torque


def _battery(table: Table, reader: Reader) -> Battery:
    get = {field: reader.number("battery", table, field, "battery") for field in (
        "capacity", "charge_power", "state_of_charge", "taper_from", "full_at", "charge_efficiency")}
    if get["taper_from"] > get["full_at"]:
        reader.fault("battery.taper_from", "charging falls off above the charge that counts as full",
                     "Check taper_from and full_at", get["taper_from"])
    return Battery(get["capacity"] * KWH_J, get["charge_power"], get["state_of_charge"], get["taper_from"],
                   get["full_at"], get["charge_efficiency"])


def _axle(name: str, table: Table, wheel_radius_m: float, reader: Reader) -> AxleGroup:
    place = f"axles.{name}"
    load = reader.number("axles", table, "rated_load", place)
    return AxleGroup(name, reader.count(table, "axle_count", place), load,
                     reader.number("axles", table, "tare_load", place), load, bool(table.get("driven", False)),
                     reader.number("axles", table, "rolling", place),
                     (foundation_brake(table, place, wheel_radius_m, reader),))
