# SPDX-License-Identifier: MIT
"""What a change would do: when nothing holds, the smallest changes that would; when a plan holds, what they cost."""

from __future__ import annotations

import math
from dataclasses import replace

from descent.plan.model import Alternative, Task
from descent.plan.planner import Found, find, workshop
from descent.units import MPH_MPS
from descent.vehicle.catalogue import load_vehicle
from descent.vehicle.model import RetarderKind, loaded

TONNE_KG = 1000.0


def _time_with(task: Task) -> float | None:
    found = find(workshop(task))
    return found.trace.total_time_s if isinstance(found, Found) else None


def heaviest_that_holds(task: Task, *, step_kg: float = 250.0) -> float | None:
    """The greatest gross weight within the rating, on whole steps, with a way down under the same rules, or None [kg].

    Lighter is never worse under the same rules (a law the tests hold), so the weight is bisected.
    """
    low = math.ceil(task.vehicle.tare_kg / step_kg)
    high = math.floor(min(task.vehicle.gross_kg, task.vehicle.rated_gross_kg + step_kg) / step_kg)
    if low >= high or _time_with(replace(task, vehicle=loaded(task.vehicle, low * step_kg))) is None:
        return None
    while high - low > 1:
        middle = (low + high) // 2
        if _time_with(replace(task, vehicle=loaded(task.vehicle, middle * step_kg))) is None:
            high = middle
        else:
            low = middle
    return low * step_kg


def with_retarder(task: Task) -> Task | None:
    """The same task with the catalogue's engine compression retarder, or None when the vehicle has a retarder."""
    if task.vehicle.retarder.kind is not RetarderKind.NONE:
        return None
    retarder = load_vehicle("tractor-semitrailer-retarder").retarder
    top = task.vehicle.engine.displacement_m3 / 0.014
    share = min(top, 1.0)
    scaled = replace(retarder, torque_nm=tuple(torque * share for torque in retarder.torque_nm),
                     continuous_power_w=retarder.continuous_power_w * share)
    return replace(task, vehicle=replace(task.vehicle, retarder=scaled))


def changes_that_hold(task: Task) -> tuple[Alternative, ...]:
    """For a task without a way down: single changes, each with the way down it gives. Empty when none is known."""
    found: list[Alternative] = []
    weight = heaviest_that_holds(task)
    if weight is not None:
        time_s = _time_with(replace(task, vehicle=loaded(task.vehicle, weight)))
        found.append(Alternative("lighter", {"gross_kg": weight, "total_time_s": time_s or 0.0}))
    retarded = with_retarder(task)
    if retarded is not None and (time_s := _time_with(retarded)) is not None:
        found.append(Alternative("retarder", {"total_time_s": time_s}))
    for slower in (10.0, 7.5, 5.0):
        speed = slower * MPH_MPS
        if speed < task.rules.min_speed_mps - 1e-6:
            trial = replace(task, rules=replace(task.rules, min_speed_mps=speed))
            if (time_s := _time_with(trial)) is not None:
                found.append(Alternative("slower", {"min_speed_mps": speed, "total_time_s": time_s}))
                break
    return tuple(found)


def effects_of_changes(task: Task, total_time_s: float) -> tuple[Alternative, ...]:
    """For a task with a way down: what one tonne more or less and a retarder would change in trip time."""
    effects: list[Alternative] = []
    for change_kg in (-TONNE_KG, TONNE_KG):
        gross = task.vehicle.gross_kg + change_kg
        if gross < task.vehicle.tare_kg:
            continue
        time_s = _time_with(replace(task, vehicle=loaded(task.vehicle, gross)))
        values: dict[str, float | str] = {"change_kg": change_kg}
        if time_s is not None:
            values["change_s"] = time_s - total_time_s
        effects.append(Alternative("weight", values))
    retarded = with_retarder(task)
    if retarded is not None and (time_s := _time_with(retarded)) is not None:
        effects.append(Alternative("retarder-effect", {"change_s": time_s - total_time_s}))
    return tuple(effects)
