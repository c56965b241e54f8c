# SPDX-License-Identifier: MIT
"""The only unit conversions: text with a unit to SI, SI to the user's units, and their formatting.

Exact definitions: inch 0.0254 m, pound 0.45359237 kg, standard gravity 9.80665 m/s2 (international yard and
pound agreement of 1959; BIPM SI brochure, 9th edition; values from memory, exact by definition).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import Enum

from descent.errors import Fault, RequestError

INCH_M = 0.0254
FOOT_M = 12 * INCH_M
MILE_M = 5280 * FOOT_M
POUND_KG = 0.45359237
GRAVITY_MPS2 = 9.80665
POUND_FORCE_N = POUND_KG * GRAVITY_MPS2
MPH_MPS = MILE_M / 3600
KMH_MPS = 1 / 3.6
PSI_KPA = POUND_FORCE_N / INCH_M**2 / 1000
HORSEPOWER_W = 550 * FOOT_M * POUND_FORCE_N
GALLON_M3 = 231 * INCH_M**3


class UnitSystem(Enum):
    """The units a person reads."""

    US = "us"
    METRIC = "metric"


def fahrenheit_to_c(value: float) -> float:
    """[F] to [C]."""
    return (value - 32) / 1.8


def c_to_fahrenheit(value: float) -> float:
    """[C] to [F]."""
    return value * 1.8 + 32


@dataclass(frozen=True)
class Quantity:
    """A kind of quantity: SI name, and the unit suffixes text may carry with the factor (or function) to SI."""

    name: str
    si_unit: str
    example: str
    to_si: Mapping[str, float | Callable[[float], float]]


MASS = Quantity("weight", "kg", "80000lb or 36.3t", {
    "kg": 1.0, "t": 1000.0, "lb": POUND_KG, "lbs": POUND_KG, "klb": 1000 * POUND_KG, "ton": 2000 * POUND_KG})
LENGTH = Quantity("length", "m", "6mi or 500m", {
    "m": 1.0, "km": 1000.0, "mi": MILE_M, "ft": FOOT_M, "in": INCH_M, "mm": 0.001, "cm": 0.01})
SPEED = Quantity("speed", "m/s", "35mph or 55km/h", {
    "mph": MPH_MPS, "km/h": KMH_MPS, "kmh": KMH_MPS, "kph": KMH_MPS, "m/s": 1.0})
TEMPERATURE = Quantity("temperature", "C", "90F or 32C", {"f": fahrenheit_to_c, "c": 1.0})
PRESSURE = Quantity("pressure", "kPa", "100psi or 690kPa", {"psi": PSI_KPA, "kpa": 1.0, "bar": 100.0})
POWER = Quantity("power", "W", "300kW or 400hp", {"w": 1.0, "kw": 1000.0, "hp": HORSEPOWER_W})
VOLUME = Quantity("volume", "m3", "14L", {"l": 0.001, "m3": 1.0, "in3": INCH_M**3, "gal": GALLON_M3})
TORQUE = Quantity("torque", "N m", "1200Nm or 885lbft", {"nm": 1.0, "lbft": FOOT_M * POUND_FORCE_N})
RATIO = Quantity("share", "1", "5% or 0.05", {"%": 0.01, "": 1.0})
TIME = Quantity("time", "s", "10min", {"s": 1.0, "min": 60.0, "h": 3600.0})

_PATTERN = re.compile(r"\s*([-+]?(?:\d[\d,]*\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*([a-zA-Z/%0-9]*)\s*$")


def parse(text: str, quantity: Quantity, *, where: str) -> float:
    """Read `text` such as "80000lb" as SI.

    Raises RequestError: no number, no unit, or a unit this quantity does not have; the message lists the units.
    """
    match = _PATTERN.match(text)
    units = ", ".join(unit for unit in quantity.to_si if unit)
    if match is None:
        raise RequestError(Fault("not-a-quantity", f"this is not a {quantity.name}",
                                 f"Write a number with a unit ({units}), for example {quantity.example}",
                                 where, repr(text)))
    number = float(match.group(1).replace(",", ""))
    factor = quantity.to_si.get(match.group(2).lower())
    if factor is None:
        fault = "the number has no unit" if not match.group(2) else "this unit is not known here"
        raise RequestError(Fault("unit-missing" if not match.group(2) else "unit-unknown", fault,
                                 f"Units for a {quantity.name}: {units}; for example {quantity.example}",
                                 where, repr(text)))
    if abs(number) > 1e12:
        raise RequestError(Fault("not-a-quantity", f"this {quantity.name} is out of all range",
                                 f"Write a number like {quantity.example}", where, repr(text)))
    return factor(number) if callable(factor) else number * factor


@dataclass(frozen=True)
class DisplayUnits:
    """How SI values are shown: one (symbol, SI value of one unit) per quantity."""

    system: UnitSystem
    distance: tuple[str, float]
    short: tuple[str, float]
    height: tuple[str, float]
    speed: tuple[str, float]
    mass: tuple[str, float]
    pressure: tuple[str, float]
    speed_step_mps: float
    snub_drop_mps: float

    def temperature(self, temp_c: float) -> float:
        """[C] in the system's degrees."""
        return c_to_fahrenheit(temp_c) if self.system is UnitSystem.US else temp_c

    @property
    def temperature_symbol(self) -> str:
        """"°F" or "°C"."""
        return "°F" if self.system is UnitSystem.US else "°C"


US = DisplayUnits(UnitSystem.US, ("mi", MILE_M), ("ft", FOOT_M), ("ft", FOOT_M), ("mph", MPH_MPS),
                  ("lb", POUND_KG), ("psi", PSI_KPA), 5 * MPH_MPS, 5 * MPH_MPS)
METRIC = DisplayUnits(UnitSystem.METRIC, ("km", 1000.0), ("m", 1.0), ("m", 1.0), ("km/h", KMH_MPS),
                      ("t", 1000.0), ("kPa", 1.0), 5 * KMH_MPS, 8 * KMH_MPS)


def display_units(system: UnitSystem) -> DisplayUnits:
    """The display units of a system."""
    return US if system is UnitSystem.US else METRIC
