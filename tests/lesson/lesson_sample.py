# SPDX-License-Identifier: MIT
"""A small lesson for tests: three gears, two stages, a short steep invented hill; every path of the page is on it."""

from __future__ import annotations

from functools import cache
from typing import Any

from descent.lesson.accuracy import readable_cells
from descent.lesson.choices import presets_of
from descent.lesson.grid import every_outcome
from descent.lesson.hill import constructed_hill, stretch_ends_m
from descent.lesson.model import Axes, Ground, Lesson
from descent.lesson_request import BuiltHill, LessonRequest
from descent.physics.march import Day, Driving
from descent.report.lesson_document import lesson_document
from descent.units import MPH_MPS, UnitSystem
from descent.vehicle.catalogue import load_vehicle

TRUCK = "tractor-semitrailer-retarder"
GROSS_KG = 36000.0


def ground(*, grade: float = 0.08, length_m: float = 9000.0) -> Ground:
    """The truck on an invented hill of 8 % over 9 km."""
    hill = constructed_hill(grade=grade, length_m=length_m)
    return Ground(hill, load_vehicle(TRUCK, gross_kg=GROSS_KG), Day(32.0, 65.0, 0.6), Driving(),
                  stretch_ends_m(hill, count=24))


AXES = Axes((4, 5, 8), tuple(tuple(mph * MPH_MPS for mph in speeds) for speeds in ((11, 15, 19), (18, 22, 26), (45, 50, 55))),
            (0, 3), (30000.0, 33000.0, GROSS_KG))


@cache
def sample() -> Lesson:
    """The whole small lesson, computed once."""
    here = ground()
    outcomes = every_outcome(here, AXES, lambda _: None)
    readable, accuracy = readable_cells(here, AXES, outcomes)
    return Lesson(here, AXES, outcomes, presets_of(AXES, 4, 3), 0, 1, readable, accuracy)


def document(system: UnitSystem = UnitSystem.US) -> dict[str, Any]:
    """The small lesson as lesson.json, read in a system of units."""
    request = LessonRequest(BuiltHill(0.08, 9000.0), TRUCK, GROSS_KG, 32.0, 65.0, system)
    return lesson_document(sample(), request)


__all__ = ["AXES", "GROSS_KG", "TRUCK", "document", "ground", "sample"]
