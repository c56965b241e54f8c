# SPDX-License-Identifier: MIT
"""One request for a lesson: which hill, which vehicle, which day; every fault of the options at once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from descent import units
from descent.request import ANY_AIR_C, Direction, Faults, Language, RoadRequest, choice, road_request

GRADE = (0.02, 0.15)
LENGTH_M = (1000.0, 40000.0)
DEFAULT_GRADE, DEFAULT_LENGTH_M = 0.07, 8 * units.MILE_M


@dataclass(frozen=True)
class BuiltHill:
    """An invented hill: grade (ratio, positive) and length from crest to foot [m]."""

    grade: float
    length_m: float


@dataclass(frozen=True)
class LessonRequest:
    """Everything a lesson is asked for, in SI. hill: an invented one, a road, or a grade table without a road."""

    hill: BuiltHill | RoadRequest
    vehicle: str
    gross_kg: float
    air_temp_c: float
    start_temp_c: float
    system: units.UnitSystem
    language: Language = Language.ENGLISH


def lesson_request(route: str | None, texts: Mapping[str, str | None], *, dem: tuple[str, ...], direction: Direction,
                   heights_in_route: str | None) -> LessonRequest:
    """The request in a face's texts: vehicle, gross, and optionally grades, grade, length, air-temp, start-temp, units,
    language.

    Raises RequestError with every fault.
    """
    faults = Faults()

    def quantity(name: str, kind: units.Quantity, default: float, within: tuple[float, float]) -> float:
        return faults.quantity(texts, name, kind, default, low=within[0], high=within[1])

    if not texts.get("vehicle"):
        faults.add("vehicle-missing", "no vehicle is named", "Give a class (see `descent vehicles list`) or a .toml file",
                   "--vehicle")
    if not texts.get("gross"):
        faults.add("gross-missing", "no gross weight is given", "Give the weight from the scale ticket, "
                   f"for example {units.MASS.example}", "--gross")
    built = BuiltHill(quantity("grade", units.RATIO, DEFAULT_GRADE, GRADE),
                      quantity("length", units.LENGTH, DEFAULT_LENGTH_M, LENGTH_M))
    asked = [name for name in ("grade", "length") if texts.get(name)]
    hill: BuiltHill | RoadRequest = built
    if route is not None or texts.get("grades"):
        if asked:
            faults.add("lesson-two-hills", "two hills are asked for", "Give a road or a grade table, or --grade and --length "
                       "for an invented hill", ", ".join(f"--{name}" for name in asked))
        hill = road_request(route or "", dem=dem, grades=texts.get("grades"), route_elevation=heights_in_route,
                            direction=direction, faults=faults)
    elif dem or heights_in_route:
        faults.add("lesson-two-hills", "heights are given but no road", "Name the ROUTE they belong to", "--dem")
    request = LessonRequest(
        hill, texts.get("vehicle") or "",
        quantity("gross", units.MASS, 0.0, (1000.0, 250000.0)) if texts.get("gross") else 0.0,
        quantity("air-temp", units.TEMPERATURE, units.fahrenheit_to_c(90.0), ANY_AIR_C),
        quantity("start-temp", units.TEMPERATURE, units.fahrenheit_to_c(150.0), (-50.0, 250.0)),
        faults.attempt(lambda: choice(units.UnitSystem, texts.get("units") or "us", "--units"), units.UnitSystem.US),
        faults.attempt(lambda: choice(Language, texts.get("language") or "en", "--language"), Language.ENGLISH))
    faults.raise_if_any()
    return request
