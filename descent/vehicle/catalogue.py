# SPDX-License-Identifier: MIT
"""The catalogue of generic vehicle classes, and a user's own vehicle file that starts from one of them."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Mapping
from importlib import resources
from pathlib import Path

from descent.errors import Fault, VehicleError
from descent.sources import load_sources
from descent.vehicle.build import build_vehicle
from descent.vehicle.model import Vehicle, loaded
from descent.vehicle.schema import Reader, Table
from descent.vehicle.shared_tables import SHARED, with_gear_set

REPLACED_WHOLE = ("retarder", "load")
"""Sections that a different `kind` replaces: nothing of the base's kind stays underneath."""


def class_names() -> tuple[str, ...]:
    """Names of the catalogue's classes, sorted."""
    folder = resources.files("descent.vehicle") / "tables"
    return tuple(sorted(item.name[:-5] for item in folder.iterdir()
                        if item.name.endswith(".toml") and item.name[:-5] not in SHARED))


def load_vehicle(name_or_path: str, *, gross_kg: float | None = None,
                 axle_loads_kg: tuple[float, ...] | None = None) -> Vehicle:
    """A catalogue class by name, or a vehicle file (.toml) by path, at a gross weight (default: rated).

    Raises VehicleError with every fault found: unknown name (with near matches), fields, units, sources, weights.
    """
    name = Path(name_or_path).stem if name_or_path.endswith(".toml") else name_or_path
    reader = Reader(name_or_path, frozenset(load_sources()), [], [], [])
    try:
        table = vehicle_table(name_or_path)
    except VehicleError as error:
        if error.faults[0].where == name_or_path or not name_or_path.endswith(".toml"):
            raise
        reader.check_names(_parsed(name_or_path))
        raise VehicleError(*error.faults, *reader.faults) from None
    reader.check_names(table)
    vehicle = build_vehicle(name, table, reader)
    if reader.faults:
        raise VehicleError(*reader.faults)
    return vehicle if gross_kg is None and axle_loads_kg is None else at_weight(vehicle, gross_kg, axle_loads_kg)


def at_weight(vehicle: Vehicle, gross_kg: float | None, axle_loads_kg: tuple[float, ...] | None = None) -> Vehicle:
    """The vehicle at a gross weight, or with the axle loads of a scale ticket; VehicleError where it cannot be."""
    if axle_loads_kg is not None and len(axle_loads_kg) != len(vehicle.axles):
        raise VehicleError(Fault("axle-loads", "there must be one load per axle group",
                                 f"Groups: {', '.join(axle.name for axle in vehicle.axles)}", vehicle.name))
    gross = sum(axle_loads_kg) if axle_loads_kg is not None else gross_kg
    if gross is None:
        return vehicle
    if not vehicle.tare_kg * 0.999 <= gross <= 3 * vehicle.rated_gross_kg:
        raise VehicleError(Fault(
            "gross-weight", "this gross weight cannot be this vehicle's",
            f"It weighs {vehicle.tare_kg:.0f} kg empty and {vehicle.rated_gross_kg:.0f} kg at its rating",
            vehicle.name, f"{gross:.0f} kg"))
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
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise VehicleError(Fault("vehicle-toml", f"this is not valid TOML: {error}", "Mend the file at that line",
                                 name_or_path)) from None
    if isinstance(table.get("gearbox"), dict):
        table["gearbox"] = with_gear_set(table["gearbox"])
    return table


def _overlaid(base: Table, over: Table) -> Table:
    merged = dict(base)
    for key, value in over.items():
        below = merged.get(key)
        if (key in REPLACED_WHOLE and isinstance(value, Mapping) and isinstance(below, Mapping)
                and value.get("kind", below.get("kind")) != below.get("kind")):
            below = None
        if value == "none" and key not in ("kind",):
            merged.pop(key, None)
        elif isinstance(value, Mapping) and isinstance(below, Mapping) and "value" not in value:
            merged[key] = _overlaid(dict(below), dict(value))
        else:
            merged[key] = value
    return merged
