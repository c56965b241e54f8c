# SPDX-License-Identifier: MIT
"""A vehicle with one thing broken: a brake that gives nothing, slack brakes on one axle group, a circuit without air."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from descent.vehicle.model import FoundationBrake, Vehicle


def _with_brake(vehicle: Vehicle, row: int, changed: FoundationBrake) -> Vehicle:
    """The vehicle with the brakes of one row replaced; the rows keep their order."""
    place, axles = 0, []
    for axle in vehicle.axles:
        brakes = list(axle.brakes)
        if place <= row < place + len(brakes):
            brakes[row - place] = changed
        place += len(brakes)
        axles.append(replace(axle, brakes=tuple(brakes)))
    return replace(vehicle, axles=tuple(axles))


def with_dead_brake(vehicle: Vehicle, row: int) -> Vehicle:
    """The vehicle with one brake of a row dead: its heat capacity is gone with its force; the others carry the load.

    A row of one brake keeps its place and gives nothing.
    """
    brake = vehicle.rows[row].brake
    return _with_brake(vehicle, row, replace(brake, count=brake.count - 1) if brake.count > 1
                       else replace(brake, force_n_per_kpa=0.0))


def slack_row(vehicle: Vehicle, row: int) -> Vehicle:
    """The vehicle with all brakes of a row at their readjustment limit (longer strokes stay as they are)."""
    brake = vehicle.rows[row].brake
    return _with_brake(vehicle, row, replace(brake, stroke_m=max(brake.stroke_m, brake.chamber.stroke_limit_m)))


def without_axles(vehicle: Vehicle, gone: Collection[int]) -> Vehicle:
    """The vehicle with the service brakes of some axle groups (by index) giving nothing."""
    return replace(vehicle, axles=tuple(
        replace(axle, brakes=tuple(replace(brake, force_n_per_kpa=0.0) for brake in axle.brakes)) if index in gone else axle
        for index, axle in enumerate(vehicle.axles)))
