# SPDX-License-Identifier: MIT
"""The catalogue of generic vehicle classes, and a user's own vehicle file that starts from one of them."""

from __future__ import annotations

import difflib
import math
import tomllib
from collections.abc import Mapping
from dataclasses import replace
from enum import Enum
from importlib import resources
from pathlib import Path
from typing import Any, TypeVar

from descent.errors import Fault, VehicleError
from descent.sources import load_sources
from descent.units import INCH_M, MILE_M
from descent.vehicle.model import (
    AxleGroup,
    BrakeKind,
    Engine,
    Gearbox,
    Retarder,
    RetarderKind,
    RetarderShaft,
    Vehicle,
    loaded,
)
from descent.vehicle.schema import Reader, Table

EnumT = TypeVar("EnumT", bound=Enum)


def class_names() -> tuple[str, ...]:
    """Names of the catalogue's classes, sorted."""
    folder = resources.files("descent.vehicle") / "tables"
    return tuple(sorted(item.name[:-5] for item in folder.iterdir() if item.name.endswith(".toml")))


def load_vehicle(name_or_path: str, *, gross_kg: float | None = None,
                 axle_loads_kg: tuple[float, ...] | None = None) -> Vehicle:
    """A catalogue class by name, or a vehicle file (.toml) by path, at a gross weight (default: rated).

    Raises VehicleError with every fault found: unknown name (with near matches), fields, units, sources, weights.
    """
    name = Path(name_or_path).stem if name_or_path.endswith(".toml") else name_or_path
    table = vehicle_table(name_or_path)
    reader = Reader(name_or_path, frozenset(load_sources()), [], [], [])
    reader.check_names(table)
    vehicle = _build(name, table, reader)
    if reader.faults:
        raise VehicleError(*reader.faults)
    if axle_loads_kg is not None and len(axle_loads_kg) != len(vehicle.axles):
        raise VehicleError(Fault("axle-loads", "there must be one load per axle group",
                                 f"Groups: {', '.join(axle.name for axle in vehicle.axles)}", name_or_path))
    gross = sum(axle_loads_kg) if axle_loads_kg is not None else gross_kg
    if gross is None:
        return vehicle
    if not vehicle.tare_kg * 0.999 <= gross <= 3 * vehicle.rated_gross_kg:
        raise VehicleError(Fault(
            "gross-weight", "this gross weight cannot be this vehicle's",
            f"It weighs {vehicle.tare_kg:.0f} kg empty and {vehicle.rated_gross_kg:.0f} kg at its rating",
            name_or_path, f"{gross:.0f} kg"))
    return loaded(vehicle, gross, axle_loads_kg)


def vehicle_table(name_or_path: str) -> Table:
    """The merged table of a class or file, its base classes filled in underneath."""
    return _merged(name_or_path, ())


def _merged(name_or_path: str, seen: tuple[str, ...]) -> Table:
    if name_or_path in seen:
        raise VehicleError(Fault("vehicle-base", "the base classes run in a circle", "Name a catalogue class as base",
                                 " > ".join((*seen, name_or_path))))
    table = _parsed(name_or_path)
    if "base" not in table:
        return table
    return _overlaid(_merged(str(table["base"]), (*seen, name_or_path)), table)


def _parsed(name_or_path: str) -> Table:
    if name_or_path.endswith(".toml"):
        try:
            text = Path(name_or_path).read_text(encoding="utf-8")
        except (OSError, UnicodeDecodeError) as error:
            raise VehicleError(Fault("vehicle-file", "the vehicle file cannot be read",
                                     f"Check the path ({type(error).__name__})", name_or_path)) from None
    elif name_or_path in class_names():
        text = (resources.files("descent.vehicle") / "tables" / f"{name_or_path}.toml").read_text(encoding="utf-8")
    else:
        near = difflib.get_close_matches(name_or_path, class_names(), 3, 0.4)
        hint = f"Did you mean {' or '.join(near)}" if near else f"Known: {', '.join(class_names())}"
        raise VehicleError(Fault("vehicle-unknown", "no vehicle class or .toml file has this name",
                                 f"{hint}. `descent vehicles list` shows all", "--vehicle", repr(name_or_path)))
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise VehicleError(Fault("vehicle-toml", f"this is not valid TOML: {error}", "Mend the file at that line",
                                 name_or_path)) from None


def _overlaid(base: Table, over: Table) -> Table:
    merged = dict(base)
    for key, value in over.items():
        below = merged.get(key)
        if value == "none" and key not in ("kind",):
            merged.pop(key, None)
        elif isinstance(value, Mapping) and isinstance(below, Mapping) and "value" not in value:
            merged[key] = _overlaid(dict(below), dict(value))
        else:
            merged[key] = value
    return merged


def _choice(reader: Reader, kind: type[EnumT], value: object, place: str) -> EnumT:
    for member in kind:
        if member.value == value:
            return member
    reader.fault(place, "this kind is not known", f"Known: {', '.join(str(item.value) for item in kind)}", value)
    return next(iter(kind))


def _count(reader: Reader, table: Table, name: str, place: str) -> int:
    value = table.get(name)
    if not isinstance(value, int) or isinstance(value, bool) or not 1 <= value <= 24:
        reader.fault(f"{place}.{name}", "this must be a whole number from 1 to 24", "Count them", value)
        return 1
    return value


def _build(name: str, table: Table, reader: Reader) -> Vehicle:
    body = table.get("vehicle", {})
    engine_table = table.get("engine", {})
    brakes = table.get("brakes", {})
    get = {field: reader.number("vehicle", body, field, "vehicle")
           for field in ("rated_gross", "tare", "drag_area", "rotating_mass_factor", "rollover_threshold",
                         "emergency_pressure")}
    of = {field: reader.number("engine", engine_table, field, "engine")
          for field in ("displacement", "stroke", "power", "idle", "lugging", "overrun_limit", "drag_constant")}
    engine = Engine(of["displacement"], of["stroke"], of["power"], of["idle"], of["lugging"], of["overrun_limit"],
                    of["drag_constant"])
    gearbox = _gearbox(table.get("gearbox", {}), reader)
    axles = tuple(_axle(axle, {**brakes, **fields}, gearbox.wheel_radius_m, reader)
                  for axle, fields in table.get("axles", {}).items() if isinstance(fields, Mapping))
    if not axles:
        reader.fault("axles", "there is no axle group", "Give at least [axles.steer] and [axles.drive]")
    gross = sum(axle.load_kg for axle in axles)
    vehicle = Vehicle(name, str(table.get("title", name)), gross, get["rated_gross"], get["tare"], axles, engine,
                      gearbox, _retarder(table.get("retarder", {}), reader), get["drag_area"], get["rotating_mass_factor"], get["rollover_threshold"],
                      get["emergency_pressure"], (), ())
    keys = tuple(dict.fromkeys(reader.source_keys))
    assumed = tuple(dict.fromkeys(reader.assumed))
    if math.isnan(get["rated_gross"]) or not axles:
        return vehicle
    return loaded(replace(vehicle, assumptions=assumed, source_keys=keys), get["rated_gross"])


def _gearbox(table: Table, reader: Reader) -> Gearbox:
    ratios = reader.number("gearbox", table, "ratios", "gearbox")
    names = tuple(str(item) for item in table.get("names", ()))
    if len(names) != len(ratios):
        reader.fault("gearbox.names", "there must be one name per ratio", f"Give {len(ratios)} names", len(names))
    if list(ratios) != sorted(ratios, reverse=True):
        reader.fault("gearbox.ratios", "ratios must fall from the lowest gear to the highest", "Sort them", ratios)
    direct = reader.number("gearbox", table, "efficiency_direct", "gearbox")
    indirect = reader.number("gearbox", table, "efficiency_indirect", "gearbox")
    tyre = reader.number("gearbox", table, "tyre", "gearbox")
    return Gearbox(str(table.get("kind", "")), names, ratios,
                   tuple(direct if ratio == 1.0 else indirect for ratio in ratios),
                   reader.number("gearbox", table, "final_ratio", "gearbox"),
                   reader.number("gearbox", table, "final_efficiency", "gearbox"), MILE_M / tyre / (2 * math.pi))


def _retarder(table: Table, reader: Reader) -> Retarder:
    kind = _choice(reader, RetarderKind, table.get("kind", "none"), "retarder.kind")
    if kind is RetarderKind.NONE:
        return Retarder(kind, RetarderShaft.ENGINE, (), (), (), 0.0)
    shaft = _choice(reader, RetarderShaft, table.get("shaft", "engine"), "retarder.shaft")
    speeds = reader.number("retarder", table, "speeds", "retarder")
    if "torque" in table:
        torque = reader.number("retarder", table, "torque", "retarder")
    else:
        power = reader.number("retarder", table, "power", "retarder")
        torque = tuple(1000 * item / (speed * math.pi / 30) for item, speed in zip(power, speeds, strict=False))
    if len(torque) != len(speeds) or list(speeds) != sorted(speeds):
        reader.fault("retarder", "speeds and torques must pair up, speeds rising", "Give one value per speed")
    stages = reader.number("retarder", table, "stages", "retarder")
    if list(stages) != sorted(stages):
        reader.fault("retarder.stages", "stages must rise", "Sort them", stages)
    return Retarder(kind, shaft, speeds, torque, tuple((str(i + 1), item) for i, item in enumerate(stages)),
                    reader.number("retarder", table, "continuous_power", "retarder"))


def _axle(name: str, table: Table, wheel_radius_m: float, reader: Reader) -> AxleGroup:
    place = f"axles.{name}"
    count = _count(reader, table, "brake_count", place)
    of: dict[str, Any] = {field: reader.number("axles", table, field, place)
                          for field in ("rated_load", "rolling", "chamber", "slack", "drum_radius")}
    per = {field: reader.number("brakes", table, field, "brakes")
           for field in ("heat_capacity", "cooling", "cooling_per_speed", "temp_limit", "fade_onset", "fade_end",
                         "fade_floor", "cam_radius", "factor", "crack")}
    chamber_n_per_kpa = of["chamber"] * INCH_M**2 * 1000
    torque_nm_per_kpa = chamber_n_per_kpa * of["slack"] / per["cam_radius"] / 2 * per["factor"] * of["drum_radius"]
    return AxleGroup(
        name, _count(reader, table, "axle_count", place), of["rated_load"], of["rated_load"],
        bool(table.get("driven", False)), _choice(reader, BrakeKind, table.get("brake_kind"), f"{place}.brake_kind"),
        count, torque_nm_per_kpa / wheel_radius_m * count, per["crack"], per["heat_capacity"] * count, per["cooling"] * count,
        per["cooling_per_speed"] * count, of["rolling"], per["temp_limit"], per["fade_onset"], per["fade_end"],
        per["fade_floor"])

