# SPDX-License-Identifier: MIT
"""A lesson as the document of lesson.json: SI, the unit in the name, every grid point with its curves and its story."""

from __future__ import annotations

from dataclasses import asdict, fields
from typing import Any

import numpy as np

from descent.lesson.model import Axes, Choice, Curve, Lesson, Outcome
from descent.lesson_request import LessonRequest
from descent.physics.characteristics import characteristics
from descent.report.lesson_pack import on_step
from descent.report.plan_json import stable_document
from descent.sources import cite

SCHEMA = "descent-lesson/1"
ALWAYS_USED = ("fhwa_grade_severity", "wydot_2018_wy1901f", "standard_atmosphere", "aashto_green_book", "cdl_manual",
               "idaho_escape_ramps", "drum_fade_onset", "drum_growth", "derived", "assumed")


def lesson_document(lesson: Lesson, request: LessonRequest) -> dict[str, Any]:
    """lesson.json of a lesson, rounded; the page is drawn from it. `at` of an outcome and of a readable cell are indices
    into axes: gear, stage, adjustment, braking, speed, weight."""
    ground, axes = lesson.ground, lesson.axes
    hill, vehicle = ground.hill, ground.vehicle
    brakes = [row.brake for row in vehicle.rows]
    facts = characteristics(vehicle)
    return stable_document({
        "schema": SCHEMA,
        "conditions": {"vehicle": request.vehicle, "gross_kg": request.gross_kg, "air_temp_c": request.air_temp_c,
                       "start_temp_c": request.start_temp_c, "units": request.system.value},
        "hill": {"name": hill.name, "invented": hill.invented, "crest_m": hill.crest_m, "foot_m": hill.foot_m,
                 "length_m": hill.length_m, "mean_grade": hill.mean_grade, "altitude_offset_m": hill.altitude_offset_m,
                 "station_m": hill.profile.station_m, "elevation_m": hill.profile.elevation_m,
                 "grade": hill.profile.grade},
        "vehicle": {"name": vehicle.name, "title": vehicle.title,
                    "gears": [{"name": vehicle.gearbox.names[gear], "governed_mps": facts.governed_mps[gear]}
                              for gear in axes.gears],
                    "retarder": vehicle.retarder.kind.value,
                    "stages": [vehicle.retarder.stages[stage - 1][0] for stage in axes.stages if stage],
                    "strokes": [{"axle": vehicle.axle_of(index).name, "as_built_m": row.brake.stroke_m,
                                 "limit_m": row.brake.chamber.stroke_limit_m}
                                for index, row in enumerate(vehicle.rows)]},
        "limits": {"brake_temp_c": min(brake.temp_limit_c for brake in brakes),
                   "fade_onset_c": min(brake.fade_onset_c for brake in brakes),
                   "fade_floor": min(brake.fade_floor for brake in brakes),
                   "application_kpa": ground.driving.max_pressure_kpa,
                   "engine_speed_rpm": vehicle.engine.overrun_limit_rpm, "snub_drop_mps": ground.driving.snub_drop_mps},
        "axes": {"gear": list(axes.gears), "speed_mps": [list(speeds) for speeds in axes.speeds_mps],
                 "stage": list(axes.stages), "gross_kg": list(axes.weights_kg),
                 "adjustment": [item.value for item in axes.adjustments],
                 "braking": [item.name.lower() for item in axes.brakings]},
        "stretch_ends_m": ground.ends_m,
        "right_gear": lesson.right_gear, "basis_stage": lesson.basis_stage,
        "presets": [{"name": preset.name, "at": list(key_of(axes, preset.choice))} for preset in lesson.presets],
        "accuracy": asdict(lesson.accuracy) | {"readable_cells": len(lesson.readable)},
        "outcomes": [{"at": list(key)} | _outcome(outcome) for key, outcome in sorted(lesson.outcomes.items())],
        "readable": [list(cell) for cell in sorted(lesson.readable)],
        "vehicle_assumptions": list(vehicle.assumptions),
        "sources": cite({*ALWAYS_USED, *vehicle.source_keys}),
    })


def key_of(axes: Axes, choice: Choice) -> tuple[int, int, int, int, int, int]:
    """The grid point of a choice that lies on the grid."""
    gear = axes.gears.index(choice.gear)
    return (gear, axes.stages.index(choice.stage), axes.adjustments.index(choice.adjustment),
            axes.brakings.index(choice.braking), axes.speeds_mps[gear].index(choice.speed_mps),
            axes.weights_kg.index(choice.gross_kg))


def _outcome(outcome: Outcome) -> dict[str, Any]:
    same = all(np.array_equal(getattr(outcome.curve, item.name), getattr(outcome.worst, item.name))
               for item in fields(Curve))
    figures = {"peak_temp_c": outcome.peak_c, "with_stop_temp_c": outcome.with_stop_c, "peak_kpa": outcome.peak_kpa,
               "cold_kpa": outcome.cold_kpa, "fade_kpa": outcome.fade_kpa, "time_s": outcome.time_s}
    return {"state": outcome.state.name.lower(), **_on_steps(figures), "energy": _on_steps(outcome.energy_j),
            "story": _on_steps(asdict(outcome.story)),
            "curve": _curve(outcome.curve), "worst": None if same else _curve(outcome.worst)}


def _on_steps(figures: dict[str, float]) -> dict[str, float]:
    """Figures on the steps they are packed in, so that the page and the file say the same number."""
    return {name: on_step(value, name) for name, value in figures.items()}


def _curve(curve: Curve) -> dict[str, Any]:
    """A curve to a tenth of a kelvin and of a kilopascal, finer than anything known."""
    return {"temp_c": np.round(curve.temp_c, 1), "pressure_kpa": np.round(curve.pressure_kpa, 1),
            "speed_mps": np.round(curve.speed_mps, 2)}
