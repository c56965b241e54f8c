# SPDX-License-Identifier: MIT
"""The inverse question: the most weight with a way down, with cool-down stops and without any."""

from __future__ import annotations

from dataclasses import dataclass, replace

from descent.plan.model import Task
from descent.plan.what_if import heaviest_that_holds, time_with
from descent.vehicle.model import loaded


@dataclass(frozen=True)
class Heaviest:
    """The greatest gross weights within the rating that have a way down [kg]; None: not even empty.

    no_cool_down_kg: with no stop but brake checks; any_stop_kg: with every stop the road offers.
    """

    no_cool_down_kg: float | None
    any_stop_kg: float | None


def heaviest(task: Task, *, step_kg: float = 250.0) -> Heaviest:
    """Both weights for a task's road, vehicle and day, whatever weight the task itself has: the rating, else the
    greatest whole step of `step_kg` that holds."""
    return Heaviest(_greatest(without_cool_down(task), step_kg), _greatest(task, step_kg))


def _greatest(task: Task, step_kg: float) -> float | None:
    rated_kg = task.vehicle.rated_gross_kg
    full = replace(task, vehicle=loaded(task.vehicle, rated_kg))
    return rated_kg if time_with(full) is not None else heaviest_that_holds(full, step_kg=step_kg)


def without_cool_down(task: Task) -> Task:
    """The same task with no place to cool the brakes: only the brake checks stay, as long as a check takes."""
    places = tuple(place for place in task.places if place.kind not in {"pull-out", "rest-area", "chain-up-area", "scale"})
    minutes = task.rules.brake_check_minutes
    return replace(task, places=places, rules=replace(
        task.rules, shortest_stop_minutes=minutes, longest_stop_minutes=minutes))
