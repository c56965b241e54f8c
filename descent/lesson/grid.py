# SPDX-License-Identifier: MIT
"""Compute a whole lesson: every grid point driven by the real march, and where one may read between them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import product

from descent.lesson.accuracy import readable_cells
from descent.lesson.between import Key, Outcomes
from descent.lesson.choices import axes_of, basis, presets_of
from descent.lesson.drive import drive
from descent.lesson.hill import stretch_ends_m
from descent.lesson.model import Axes, Choice, Ground, Hill, Lesson
from descent.physics.march import Day, Driving
from descent.units import DisplayUnits
from descent.vehicle.model import Vehicle

Progress = Callable[[str], None]
FEWEST, MOST = 20, 40        # stretches of the hill
NUMBERS = 420_000            # in all curves together, four to a grid point


def lesson_of(hill: Hill, vehicle: Vehicle, gross_kg: float, day: Day, driving: Driving, units: DisplayUnits, *,
              progress: Progress) -> Lesson:
    """The lesson of a hill and a vehicle: axes, every outcome, presets, where one may read between, and its greatest error."""
    ground = Ground(hill, vehicle, day, driving, stretch_ends_m(hill, count=FEWEST))
    right, stage = basis(ground, gross_kg, units)
    axes = axes_of(ground, gross_kg, right, units)
    ground = replace(ground, ends_m=stretch_ends_m(hill, count=stretches_for(axes)))
    outcomes = every_outcome(ground, axes, progress)
    progress("comparing readings between with direct marches")
    found = axes.gears.index(right) if right is not None else None
    readable, accuracy = readable_cells(ground, axes, outcomes)
    return Lesson(ground, axes, outcomes, presets_of(axes, right, stage), found, axes.stages.index(stage), readable, accuracy)


def stretches_for(axes: Axes) -> int:
    """How many stretches the curves are given in: as many as keep the page small enough to send to a class."""
    points = sum(len(speeds) for speeds in axes.speeds_mps) * len(axes.stages) * len(axes.adjustments) * len(
        axes.brakings) * len(axes.weights_kg)
    return min(max(NUMBERS // (4 * points), FEWEST), MOST)


def choice_at(axes: Axes, key: Key) -> Choice:
    """The choice of a grid point."""
    gear, stage, adjustment, braking, speed, weight = key
    return Choice(axes.gears[gear], axes.stages[stage], axes.adjustments[adjustment], axes.brakings[braking],
                  axes.speeds_mps[gear][speed], axes.weights_kg[weight])


def every_outcome(ground: Ground, axes: Axes, progress: Progress) -> Outcomes:
    """Drive every grid point."""
    outcomes: Outcomes = {}
    for gear in range(len(axes.gears)):
        progress(f"driving every choice, gear {gear + 1} of {len(axes.gears)}")
        for key in product((gear,), range(len(axes.stages)), range(len(axes.adjustments)), range(len(axes.brakings)),
                           range(len(axes.speeds_mps[gear])), range(len(axes.weights_kg))):
            outcomes[key] = drive(ground, choice_at(axes, key))
    return outcomes
