# SPDX-License-Identifier: MIT
"""Reads a fleet file: a CSV table of units, each with its vehicle, its empty weight and, if there is one, its walk-round."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from descent.errors import Fault, RequestError
from descent.units import MASS, parse

NEEDED = ("unit", "vehicle", "tare")
MOST_BYTES = 1_000_000


@dataclass(frozen=True)
class FleetUnit:
    """One vehicle of a fleet with the load in question. gross_kg: its tare and that load [kg]."""

    name: str
    vehicle: str
    gross_kg: float
    condition: str | None = None


def read_fleet(path: str, *, load_kg: float) -> tuple[FleetUnit, ...]:
    """The units of a fleet file, each loaded with `load_kg`, in the file's order.

    Columns: unit, vehicle (a class or a file beside this one), tare (with its unit), and if wanted condition (a
    filled-in walk-round). Raises RequestError fleet-unreadable, fleet-columns, fleet-row with every fault.
    """
    file = Path(path)
    try:
        with file.open("rb") as handle:
            text = handle.read(MOST_BYTES).decode("utf-8-sig")
    except (OSError, ValueError) as error:
        raise RequestError(Fault("fleet-unreadable", "the fleet file cannot be read as text",
                                 "Give a CSV table saved as UTF-8", path, type(error).__name__)) from error
    reader = csv.DictReader(io.StringIO(text, newline=""))
    heads = {str(name).strip().lower(): str(name) for name in reader.fieldnames or ()}
    missing = [name for name in NEEDED if name not in heads]
    if missing:
        raise RequestError(Fault("fleet-columns", f"the fleet file has no column {', '.join(missing)}",
                                 "Begin it with the line unit,vehicle,tare", path))
    units: list[FleetUnit] = []
    faults: list[Fault] = []
    for number, row in enumerate(reader, start=2):
        cells = {name: str(row.get(head) or "").strip() for name, head in heads.items()}
        if not any(cells.values()):
            continue
        try:
            units.append(_unit(cells, file, load_kg, f"{path}, line {number}"))
        except RequestError as error:
            faults += error.faults
    if not units and not faults:
        faults.append(Fault("fleet-row", "the fleet file names no unit", "Write one line for each vehicle", path))
    if faults:
        raise RequestError(*faults)
    return tuple(units)


def _unit(cells: Mapping[str, str], file: Path, load_kg: float, where: str) -> FleetUnit:
    if not cells["unit"] or not cells["vehicle"]:
        raise RequestError(Fault("fleet-row", "a line names no unit or no vehicle", "Fill in unit and vehicle", where))
    tare_kg = parse(cells["tare"], MASS, where=f"{where}, tare")
    if not 1000.0 <= tare_kg <= 100_000.0:
        raise RequestError(Fault("fleet-row", "this empty weight is out of range", "It must lie between 1 t and 100 t",
                                 f"{where}, tare", cells["tare"]))
    condition = cells.get("condition") or None
    return FleetUnit(cells["unit"], _beside(file, cells["vehicle"]), tare_kg + load_kg,
                     None if condition is None else _beside(file, condition))


def _beside(file: Path, name: str) -> str:
    """A file name in the table counts from the table's folder; a class name stays as it is."""
    return str(file.parent / name) if name.endswith(".toml") else name
