# SPDX-License-Identifier: MIT
"""One request for a plan: all outside input parsed once, every fault collected."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from typing import TypeVar

from descent import units
from descent.errors import Fault, RequestError
from descent.plan.chance import WeightFrom
from descent.route.line import Direction
from descent.route.text import clean_text

__all__ = ["Direction", "Faults", "HeightSource", "Language", "PlanRequest", "Road", "RoadRequest", "choice", "plan_request",
           "road_request"]

T = TypeVar("T")
U = TypeVar("U")
ANY_AIR_C = (-50.0, 55.0)


class Road(Enum):
    """The road surface of the day, with the grip counted on (adhesion coefficient; assumed)."""

    DRY = "dry"
    WET = "wet"
    SNOW = "snow"
    ICE = "ice"

    @property
    def adhesion(self) -> float:
        """Adhesion coefficient of tyre and road."""
        return {Road.DRY: 0.6, Road.WET: 0.4, Road.SNOW: 0.2, Road.ICE: 0.1}[self]


class Language(Enum):
    """The languages there are words for."""

    ENGLISH = "en"
    SPANISH = "es"


class HeightSource(Enum):
    """Where heights come from."""

    DEM = "dem"
    GRADE_TABLE = "grades"
    ROUTE = "route elevations"


@dataclass(frozen=True)
class RoadRequest:
    """Which road: a route file and where its heights come from."""

    route: str
    heights: HeightSource
    dem: tuple[str, ...] = ()
    grades: str = ""
    direction: Direction = Direction.AS_DRAWN


@dataclass(frozen=True)
class PlanRequest:
    """Everything a plan is asked for, in SI."""

    road: RoadRequest
    places: str | None
    vehicle: str
    gross_kg: float
    air_temp_c: float = 32.222222222222221
    start_temp_c: float = 65.55555555555556
    surface: Road = Road.DRY
    min_speed_mps: float = 15 * units.MPH_MPS
    system: units.UnitSystem = units.UnitSystem.US
    date: str = ""
    condition: str | None = None
    accepted_risk: float = 0.05
    seed: int = 1
    weight_from: WeightFrom = WeightFrom.TICKET
    language: Language = Language.ENGLISH


class Faults:
    """Collects every fault of an input so that all are told at once."""

    def __init__(self) -> None:
        self.all: list[Fault] = []

    def attempt(self, make: Callable[[], T], otherwise: U) -> T | U:
        """The value made, or `otherwise` with the fault kept."""
        try:
            return make()
        except RequestError as error:
            self.all.extend(error.faults)
            return otherwise

    def add(self, code: str, what: str, remedy: str, where: str, value: str = "") -> None:
        """Keep one fault."""
        self.all.append(Fault(code, what, remedy, where, value))

    def quantity(self, texts: Mapping[str, str | None], name: str, kind: units.Quantity, default: float, *, low: float,
                 high: float) -> float:
        """The quantity under `name` among the texts, `default` where there is none; out of [low, high] is a fault."""
        text = texts.get(name)
        if text is None:
            return default
        value = self.attempt(lambda: units.parse(text, kind, where=f"--{name}"), None)
        if value is None:
            return default
        if not low <= value <= high:
            self.add("out-of-range", f"this {kind.name} is out of range",
                     f"It must lie between {low:g} and {high:g} {kind.si_unit}", f"--{name}", repr(text))
        return value

    def raise_if_any(self) -> None:
        """Raise RequestError with all that was kept."""
        if self.all:
            raise RequestError(*self.all)


def road_request(route: str, *, dem: Sequence[str], grades: str | None, route_elevation: str | None,
                 direction: Direction, faults: Faults) -> RoadRequest:
    """Exactly one source of heights must be named: elevation files, a grade table or the route's own heights."""
    named = [name for name, given in (("--dem", dem), ("--grades", grades), ("--route-elevation", route_elevation))
             if given]
    if len(named) != 1:
        faults.add("height-source", "the heights must come from exactly one place",
                   "Give --dem FILE (one or more), --grades TABLE, or --route-elevation", "heights",
                   " and ".join(named) or "none")
    if grades:
        return RoadRequest(route, HeightSource.GRADE_TABLE, grades=grades, direction=direction)
    source = HeightSource.ROUTE if route_elevation else HeightSource.DEM
    return RoadRequest(route, source, dem=tuple(dem), direction=direction)


def plan_request(road: RoadRequest, texts: Mapping[str, str | None], faults: Faults) -> PlanRequest:
    """The request from the texts a face was given: vehicle, gross, and optionally places, air-temp, start-temp, road,
    min-speed, units, date, condition, accept-risk, seed, weight-from, language.
    Raises RequestError with every fault, those already in `faults` included."""

    def quantity(name: str, kind: units.Quantity, default: float, low: float, high: float) -> float:
        return faults.quantity(texts, name, kind, default, low=low, high=high)

    if not texts.get("vehicle"):
        faults.add("vehicle-missing", "no vehicle is named", "Give a class (see `descent vehicles list`) or a .toml file",
                   "--vehicle")
    if not texts.get("gross"):
        faults.add("gross-missing", "no gross weight is given", "Give the weight from the scale ticket, "
                   f"for example {units.MASS.example}", "--gross")
    defaults = PlanRequest(road, None, "", 0.0)
    request = PlanRequest(
        road, texts.get("places"), texts.get("vehicle") or "",
        quantity("gross", units.MASS, 0.0, 1000.0, 250000.0) if texts.get("gross") else 0.0,
        quantity("air-temp", units.TEMPERATURE, defaults.air_temp_c, *ANY_AIR_C),
        quantity("start-temp", units.TEMPERATURE, defaults.start_temp_c, -50.0, 250.0),
        faults.attempt(lambda: choice(Road, texts.get("road") or "dry", "--road"), Road.DRY),
        quantity("min-speed", units.SPEED, defaults.min_speed_mps, 1.0, 30.0),
        faults.attempt(lambda: choice(units.UnitSystem, texts.get("units") or "us", "--units"), units.UnitSystem.US),
        clean_text(texts.get("date") or "", limit=60), texts.get("condition"),
        quantity("accept-risk", units.RATIO, defaults.accepted_risk, 0.0, 1.0), _seed(texts.get("seed"), faults),
        faults.attempt(lambda: choice(WeightFrom, texts.get("weight-from") or "ticket", "--weight-from"),
                       WeightFrom.TICKET),
        faults.attempt(lambda: choice(Language, texts.get("language") or "en", "--language"), Language.ENGLISH))
    faults.raise_if_any()
    return request


def _seed(text: str | None, faults: Faults) -> int:
    """The seed of the draws: a whole number from 0 to 2^63 - 1."""
    if text is None:
        return 1
    if not text.strip().isascii() or not text.strip().isdigit() or int(text) >= 2**63:
        faults.add("not-a-quantity", "this is not a seed", "Write a whole number from 0 up, for example 7", "--seed",
                   repr(text[:40]))
        return 1
    return int(text)


E = TypeVar("E", bound=Enum)


def choice(kind: type[E], text: str, where: str) -> E:
    """A member of an enum by its value, case-blind. Raises RequestError that lists the choices."""
    for member in kind:
        if str(member.value).lower() == text.strip().lower():
            return member
    raise RequestError(Fault("unknown-choice", "this is not one of the choices",
                             f"Choose from {', '.join(str(item.value) for item in kind)}", where, repr(text)))
