# SPDX-License-Identifier: MIT
"""What a vehicle table may say: every field with its quantity, and the check that collects all faults at once."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum
from typing import Any, TypeVar

from descent import units
from descent.errors import Fault, RequestError

Table = dict[str, Any]
EnumT = TypeVar("EnumT", bound=Enum)


@dataclass(frozen=True)
class Field:
    """One field: a quantity with a unit suffix in its text, or a plain number (or list) in the stated unit."""

    quantity: units.Quantity | None = None
    unit: str = ""
    many: int = 0
    low: float = 0.0
    high: float = 1e9


def _q(quantity: units.Quantity, low: float, high: float) -> Field:
    return Field(quantity, low=low, high=high)


def _n(unit: str, low: float, high: float, many: int = 0) -> Field:
    return Field(None, unit, many, low, high)


FIELDS: Mapping[str, Mapping[str, Field]] = {
    "vehicle": {
        "rated_gross": _q(units.MASS, 3000, 200000), "tare": _q(units.MASS, 1000, 100000),
        "length": _q(units.LENGTH, 4, 60), "drag_area": _n("m2", 1, 20), "rotating_mass_factor": _n("1", 1, 1.5),
        "rollover_threshold": _n("g", 0.1, 1), "emergency_pressure": _q(units.PRESSURE, 200, 900)},
    "engine": {
        "displacement": _q(units.VOLUME, 0.002, 0.03), "stroke": _q(units.LENGTH, 0.05, 0.3),
        "power": _q(units.POWER, 5e4, 1e6), "idle": _n("rpm", 300, 1200), "lugging": _n("rpm", 500, 2000),
        "overrun_limit": _n("rpm", 1000, 4000), "drag_constant": _n("kPa", 0, 300)},
    "motor": {
        "power": _q(units.POWER, 2e4, 2e6), "overrun_limit": _n("rpm", 500, 20000)},
    "gearbox": {
        "ratios": _n("1", 0.3, 30, many=1), "efficiency_direct": _n("1", 0.5, 1),
        "efficiency_indirect": _n("1", 0.5, 1), "final_ratio": _n("1", 1, 15),
        "final_efficiency": _n("1", 0.5, 1), "tyre": _n("rev/mi", 200, 1000)},
    "retarder": {
        "speeds": _n("rpm", 1, 6000, many=1), "power": _n("kW", 0, 1000, many=1), "torque": _n("Nm", 0, 10000, many=1),
        "stages": _n("1", 0.01, 1, many=1), "continuous_power": _q(units.POWER, 1e4, 1e6),
        "torque_per_speed2": _n("Nm/rpm2", 1e-6, 0.1), "most_torque": _q(units.TORQUE, 50, 20000),
        "motor_power": _q(units.POWER, 1e4, 2e6), "cut_out": _n("rpm", 0, 3000)},
    "battery": {
        "capacity": _n("kWh", 5, 3000), "charge_power": _q(units.POWER, 5e3, 2e6), "state_of_charge": _n("1", 0, 1),
        "taper_from": _n("1", 0.3, 1), "full_at": _n("1", 0.5, 1), "charge_efficiency": _n("1", 0.5, 1)},
    "load": {
        "rollover_threshold": _n("g", 0.1, 1), "curve_share": _n("1", 0.2, 0.9), "greatest_lateral": _n("g", 0.03, 1),
        "greatest_decel": _n("m/s2", 0.3, 6)},
    "air": {
        "supply_reservoir": _q(units.VOLUME, 0.002, 0.5), "primary_reservoir": _q(units.VOLUME, 0.002, 0.5),
        "secondary_reservoir": _q(units.VOLUME, 0.002, 0.5), "trailer_reservoir": _q(units.VOLUME, 0.002, 1.0),
        "emergency_reservoir": _q(units.VOLUME, 0, 0.2), "build_up": _q(units.TIME, 2, 300),
        "compressor_displacement": _q(units.VOLUME, 5e-5, 0.003), "compressor_drive": _n("1", 0.2, 4),
        "compressor_fill": _n("1", 0.1, 1), "cut_in": _q(units.PRESSURE, 350, 1200),
        "cut_out": _q(units.PRESSURE, 400, 1300), "safety_valve": _q(units.PRESSURE, 500, 1600),
        "warning": _q(units.PRESSURE, 200, 800), "spring_on": _q(units.PRESSURE, 100, 700),
        "spring_full": _q(units.PRESSURE, 20, 600), "spring_force": _q(units.PRESSURE, 150, 900),
        "leak_released": _q(units.PRESSURE, 0, 100), "leak_applied": _q(units.PRESSURE, 0, 100)},
    "brakes": {
        "heat_capacity": _n("J/K", 1000, 500000), "cooling": _n("W/K", 1, 500),
        "cooling_per_speed": _n("W/K per m/s", 0, 20), "wear": _n("1", 0, 0.5),
        "temp_limit": _q(units.TEMPERATURE, 100, 500), "fade_onset": _q(units.TEMPERATURE, 100, 800),
        "fade_end": _q(units.TEMPERATURE, 100, 1000), "fade_floor": _n("1", 0.01, 1),
        "factor": _n("1", 0.05, 5), "crack": _q(units.PRESSURE, 0, 150), "slack": _q(units.LENGTH, 0.08, 0.25),
        "cam_radius": _q(units.LENGTH, 0.005, 0.05), "wedge_angle": _n("degree", 5, 40), "disc_ratio": _n("1", 5, 40),
        "stroke_give": _n("in/psi", 0, 0.1), "stroke_growth": _n("in/100F", 0, 0.3),
        "valve_share": _n("1", 0.1, 1), "valve_open": _q(units.PRESSURE, 50, 900)},
    "axles": {
        "rated_load": _q(units.MASS, 500, 50000), "tare_load": _q(units.MASS, 200, 30000), "rolling": _n("1", 0.002, 0.05),
        "radius": _q(units.LENGTH, 0.1, 0.3), "stroke": _q(units.LENGTH, 0.005, 0.1),
        "chamber_volume": _q(units.VOLUME, 1e-4, 0.01), "spring_chamber_volume": _q(units.VOLUME, 1e-4, 0.01)},
}
WORDS: Mapping[str, tuple[str, ...]] = {
    "vehicle": ("lift_axle",), "engine": (), "motor": (), "gearbox": ("set", "kind", "names"), "retarder": ("kind", "shaft"),
    "air": ("body", "warning_rule", "spring_control", "parking_controls", "protection", "antilock", "evaporator"),
    "brakes": (), "battery": (), "load": ("kind",),
    "axles": ("axle_count", "driven", "brake_kind", "brake_count", "chamber", "lift", "circuit", "spring_brakes")}
TOP = ("title", "base", *FIELDS)


@dataclass
class Reader:
    """Reads fields of one table into SI, keeping every fault, source key and assumed field it meets."""

    where: str
    known_sources: frozenset[str]
    faults: list[Fault]
    source_keys: list[str]
    assumed: list[str]

    def fault(self, place: str, what: str, remedy: str, value: object = "") -> None:
        """Keep one fault."""
        shown = "" if value == "" else repr(value)
        self.faults.append(Fault("vehicle-field", what, remedy, f"{self.where}: {place}", shown))

    def unknown(self, place: str, name: str, choices: list[str]) -> None:
        """Keep a fault about a name nobody knows, with the nearest ones."""
        self.not_known(place, "this field is not known", name, choices)

    def not_known(self, place: str, what: str, name: str, choices: list[str]) -> None:
        """Keep a fault about a word that is none of the choices, with the nearest ones."""
        words = {choice.lower(): choice for choice in choices}
        near = [words[item] for item in difflib.get_close_matches(name.lower(), words, 2, 0.5)]
        hint = f"Did you mean {' or '.join(near)}" if near else f"Known here: {', '.join(choices)}"
        self.fault(place, what, hint, name)

    def number(self, section: str, table: Table, name: str, place: str) -> Any:
        """A field in SI: float, or tuple of floats where the field is a list; NaN after a fault."""
        field = FIELDS[section][name]
        raw = table.get(name)
        if raw is None:
            self.fault(f"{place}.{name}", "this field is missing", "Give it, or a base class that has it")
            return (float("nan"),) if field.many else float("nan")
        value = self._value(raw, field, f"{place}.{name}")
        seen = value if isinstance(value, tuple) else (value,)
        if not seen:
            self.fault(f"{place}.{name}", "this list is empty", f"Give at least one number in {field.unit}")
            return (float("nan"),)
        if any(not (field.low <= item <= field.high) for item in seen):
            unit = field.quantity.si_unit if field.quantity else field.unit
            self.fault(f"{place}.{name}", "this value is out of all range",
                       f"It must lie between {field.low:g} and {field.high:g} {unit}", raw)
            seen = tuple(item if field.low <= item <= field.high else float("nan") for item in seen)
        return seen if field.many else seen[0]

    def _value(self, raw: Any, field: Field, place: str) -> Any:
        if isinstance(raw, Mapping):
            self._provenance(raw, place)
            if field.quantity is None and raw.get("unit") != field.unit:
                self.fault(place, f"the unit must be {field.unit!r}", f'Write unit = "{field.unit}"', raw.get("unit"))
            raw = raw.get("value")
        else:
            self.source_keys.append("user")
        try:
            if field.quantity is not None:
                return units.parse(str(raw), field.quantity, where=f"{self.where}: {place}")
            if field.many:
                return tuple(float(item) for item in raw)
            return float(raw)
        except RequestError as error:
            self.faults.extend(error.faults)
        except (TypeError, ValueError):
            self.fault(place, "this is not a number" if not field.many else "this is not a list of numbers",
                       f"Write {'a list of numbers' if field.many else 'a number'} in {field.unit}", raw)
        return (float("nan"),) if field.many else float("nan")

    def _provenance(self, raw: Mapping[str, Any], place: str) -> None:
        key = raw.get("source")
        if key not in self.known_sources:
            self.fault(place, "every value names its source, and this one is not in the registry",
                       "Use a key that `descent sources` lists, or \"user\"", key)
            return
        self.source_keys.append(str(key))
        if key == "assumed":
            note = f" ({raw['note']})" if raw.get("note") else ""
            unit = raw.get("unit", "")
            shown = raw.get("value")
            text = (", ".join(f"{item:g}" for item in shown) if isinstance(shown, list)
                    else str(shown) if not isinstance(shown, bool) else "yes" if shown else "no")
            self.assumed.append(f"{place.replace('_', ' ')} = {text}{' ' + unit if unit not in ('', '1') else ''}{note}")

    def check_names(self, table: Table) -> None:
        """Fault every section or field that no vehicle has."""
        for section, content in table.items():
            if section not in TOP:
                self.unknown(section, section, list(TOP))
            elif section not in ("title", "base") and not isinstance(content, Mapping):
                self.fault(section, "this must be a table of fields", f"Write a [{section}] section", content)
            elif section == "axles":
                for axle, fields in content.items():
                    if not isinstance(fields, Mapping):
                        self.fault(f"axles.{axle}", "an axle group must be a table of fields",
                                   f'Write an [axles.{axle}] section, or "none" to take it away', fields)
                        continue
                    for name in fields:
                        self._check(section, name, f"axles.{axle}.{name}")
            elif section in FIELDS:
                for name in content:
                    self._check(section, name, f"{section}.{name}")

    def _check(self, section: str, name: str, place: str) -> None:
        choices = [*FIELDS[section], *WORDS[section], *(FIELDS["brakes"] if section == "axles" else ())]
        if name not in choices:
            self.unknown(place, name, choices)

    def choice(self, kind: type[EnumT], value: object, place: str) -> EnumT:
        """A member of an enum by its value; the first one after a fault."""
        for member in kind:
            if member.value == value:
                return member
        self.not_known(place, "this kind is not known", str(value), [str(item.value) for item in kind])
        return next(iter(kind))

    def word(self, kind: type[EnumT], table: Table, name: str, place: str) -> EnumT:
        """A member of an enum by a word of the table, plain or with its source; the first one after a fault."""
        raw = table.get(name)
        if raw is None:
            self.fault(f"{place}.{name}", "this field is missing", "Give it, or a base class that has it")
            return next(iter(kind))
        return self.choice(kind, self._plain(raw, f"{place}.{name}"), f"{place}.{name}")

    def flag(self, table: Table, name: str, place: str) -> bool:
        """Yes or no, plain or with its source; no after a fault."""
        raw = table.get(name)
        if raw is None:
            self.fault(f"{place}.{name}", "this field is missing", "Give it, or a base class that has it")
            return False
        value = self._plain(raw, f"{place}.{name}")
        if not isinstance(value, bool):
            self.fault(f"{place}.{name}", "this must be true or false", "Write true or false, without quotes", raw)
            return False
        return value

    def _plain(self, raw: Any, place: str) -> Any:
        if not isinstance(raw, Mapping):
            return raw
        self._provenance(raw, place)
        return raw.get("value")

    def count(self, table: Table, name: str, place: str) -> int:
        """A whole number from 1 to 24; 1 after a fault."""
        value = table.get(name)
        if not isinstance(value, int) or isinstance(value, bool) or not 1 <= value <= 24:
            self.fault(f"{place}.{name}", "this must be a whole number from 1 to 24", "Count them", value)
            return 1
        return value
