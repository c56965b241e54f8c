# SPDX-License-Identifier: MIT
"""Reads a filled-in walk-round form: every answer in SI, every fault of the file told at once."""

from __future__ import annotations

import difflib
import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from descent import units
from descent.errors import Fault, RequestError, VehicleError
from descent.vehicle.air_supply import body_of
from descent.vehicle.model import Vehicle
from descent.vehicle.walk_round_items import Item, Kind, stages
from descent.vehicle.walk_round_limits import PressureLimits

QUANTITIES: Mapping[Kind, tuple[units.Quantity, float, float]] = {
    Kind.PRESSURE: (units.PRESSURE, 0.0, 1500.0), Kind.TIME: (units.TIME, 0.5, 3600.0),
    Kind.LENGTH: (units.LENGTH, 0.0, 0.1), Kind.LENGTHS: (units.LENGTH, 0.005, 0.1)}
LARGEST_BYTES = 200_000


@dataclass(frozen=True)
class Answers:
    """Answers by key (section.item) in SI; what was left empty is not there, in a list NaN."""

    numbers: Mapping[str, float]
    lists: Mapping[str, tuple[float, ...]]
    words: Mapping[str, str]
    first_axle: str


def read_answers(path: str | Path, vehicle: Vehicle) -> Answers:
    """The answers of a form for a vehicle. Raises VehicleError: condition-file, condition-toml, condition-field."""
    return answers_of(_table(str(path)), vehicle, where=str(path))


def answers_of(table: Mapping[str, Any], vehicle: Vehicle, *, where: str) -> Answers:
    """The answers in a parsed form. Raises VehicleError with every fault."""
    faults: list[Fault] = []
    items = {f"{stage.section}.{item.key}": item for stage in stages(vehicle, PressureLimits(body_of(vehicle), None))
             for item in stage.items}
    given = dict(_flat(table))
    of = given.pop("vehicle.name", vehicle.name)
    if of not in ("", vehicle.name):
        faults.append(Fault("condition-field", "this walk-round is of another vehicle",
                            f"Walk round this one, or name it: {vehicle.name}", f"{where}: vehicle.name", repr(of)))
    numbers: dict[str, float] = {}
    lists: dict[str, tuple[float, ...]] = {}
    words: dict[str, str] = {}
    for key, raw in given.items():
        item = items.get(key)
        place = f"{where}: {key}"
        if item is None:
            faults.append(_unknown(key, list(items), place))
        elif item.kind is Kind.LENGTHS:
            lists[key] = _lengths(raw, item, place, faults)
        elif raw == "":
            continue
        elif item.kind is Kind.CHOICE:
            _word(raw, item, place, faults, words, key)
        else:
            value = _number(raw, item.kind, place, faults)
            if not math.isnan(value):
                numbers[key] = value
    if faults:
        raise VehicleError(*faults)
    return Answers(numbers, lists, words, vehicle.axles[0].name)


def _table(path: str) -> Mapping[str, Any]:
    try:
        raw = Path(path).read_bytes()
        if len(raw) > LARGEST_BYTES:
            raise VehicleError(Fault("condition-file", "this file is too large for a walk-round form",
                                     "Write a new form with `descent vehicles condition` and fill it in", path))
        return tomllib.loads(raw.decode("utf-8-sig"))
    except tomllib.TOMLDecodeError as error:
        raise VehicleError(Fault("condition-toml", f"this is not valid TOML: {error}",
                                 'Mend the file at that line; answers stand in quotes, as in "1.75in"', path)) from None
    except (OSError, ValueError) as error:
        raise VehicleError(Fault("condition-file", "the walk-round form cannot be read",
                                 f"Check the path and that it is UTF-8 text ({type(error).__name__})", path)) from None


def _flat(table: Mapping[str, Any], prefix: str = "") -> list[tuple[str, Any]]:
    out: list[tuple[str, Any]] = []
    for key, value in table.items():
        out += _flat(value, f"{prefix}{key}.") if isinstance(value, Mapping) else [(f"{prefix}{key}", value)]
    return out


def _unknown(key: str, known: list[str], place: str) -> Fault:
    near = difflib.get_close_matches(key, known, 3, 0.6)
    hint = f"Did you mean {' or '.join(near)}" if near else "Write a new form with `descent vehicles condition`"
    return Fault("condition-field", "the form of this vehicle has no such entry", hint, place)


def _word(raw: Any, item: Item, place: str, faults: list[Fault], words: dict[str, str], key: str) -> None:
    word = str(raw).strip().lower()
    if isinstance(raw, str) and word in item.choices:
        words[key] = word
    else:
        faults.append(Fault("condition-field", "this is not one of the words for this entry",
                            f"Write {', '.join(item.choices)}, or leave it empty", place, repr(raw)))


def _number(raw: Any, kind: Kind, place: str, faults: list[Fault]) -> float:
    quantity, low, high = QUANTITIES[kind]
    try:
        value = units.parse(str(raw), quantity, where=place)
    except RequestError as error:
        faults.extend(Fault("condition-field", fault.what, fault.remedy, fault.where, fault.value) for fault in error.faults)
        return math.nan
    if low <= value <= high:
        return value
    faults.append(Fault("condition-field", "this value is out of all range",
                        f"It must lie between {low:g} and {high:g} {quantity.si_unit}", place, repr(raw)))
    return math.nan


def _lengths(raw: Any, item: Item, place: str, faults: list[Fault]) -> tuple[float, ...]:
    if not isinstance(raw, list) or len(raw) != item.count:
        faults.append(Fault("condition-field", f"there must be a list of {item.count}, one per brake",
                            'Write them as ["1.5in", "1.75in"]; leave "" for one that was not measured', place, repr(raw)))
        return (math.nan,) * item.count
    return tuple(math.nan if value == "" else _number(value, item.kind, place, faults) for value in raw)
