# SPDX-License-Identifier: MIT
"""The order of a lesson: a hill, built or read, a vehicle, then every choice driven down."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from descent.downgrades.find import sustained_downgrades
from descent.lesson.grid import lesson_of
from descent.lesson.hill import constructed_hill, hill_of_road
from descent.lesson.model import Hill, Lesson
from descent.lesson_request import BuiltHill, LessonRequest
from descent.physics.march import Day, Driving
from descent.pipeline import UNKNOWN_ALTITUDE_M, refuse_untrusted, survey
from descent.plan.limits import steep_side
from descent.request import Direction, HeightSource, Road, RoadRequest
from descent.units import display_units
from descent.vehicle.catalogue import load_vehicle

Progress = Callable[[str], None]


def lesson_for(request: LessonRequest, *, progress: Progress) -> Lesson:
    """The lesson of a request. Raises what reading the road and the vehicle raises, and RequestError lesson-no-hill."""
    units = display_units(request.system)
    vehicle = load_vehicle(request.vehicle, gross_kg=request.gross_kg)
    hill = hill_for(request.hill, progress=progress)
    firmest = vehicle.load.greatest_decel_mps2
    driving = Driving(snub_drop_mps=units.snub_drop_mps, snub_decel_mps2=min(units.snub_drop_mps / 3.0, firmest))
    day = Day(request.air_temp_c, request.start_temp_c, Road.DRY.adhesion)
    return lesson_of(hill, vehicle, request.gross_kg, day, driving, units, progress=progress)


def hill_for(asked: BuiltHill | RoadRequest, *, progress: Progress) -> Hill:
    """The hill that is asked for: an invented one exactly as told; of a road or table the steep side of its band."""
    if isinstance(asked, BuiltHill):
        return constructed_hill(grade=asked.grade, length_m=asked.length_m)
    table = asked.heights is HeightSource.GRADE_TABLE
    offset = UNKNOWN_ALTITUDE_M if table else 0.0
    if table and not asked.route:
        from descent.route.grade_table import read_grade_table
        from descent.terrain.from_grades import profile_from_grades
        rows = [(row.length_m, row.grade) for row in read_grade_table(asked.grades)]
        if asked.direction is Direction.REVERSED:
            rows = [(length, -grade) for length, grade in reversed(rows)]
        profile = profile_from_grades(rows)
        downgrades, name = sustained_downgrades(profile), Path(asked.grades).stem
    else:
        road = survey(asked, progress=progress)
        refuse_untrusted(road.profile)
        profile, downgrades, name = road.profile, road.downgrades, road.route.name
    return hill_of_road(name, profile, downgrades, steep_side(profile, downgrades), altitude_offset_m=offset)
