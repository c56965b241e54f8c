# SPDX-License-Identifier: MIT
"""What a change would do: when nothing holds, the smallest changes that would; when a plan holds, what they cost."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from descent.plan.chance import upper_bound
from descent.plan.model import Alternative, Task
from descent.plan.planner import Found, Nothing, find, workshop
from descent.plan.risk import Within, find_within
from descent.units import MPH_MPS
from descent.vehicle.catalogue import load_vehicle
from descent.vehicle.model import RetarderKind, loaded

FloatArray = NDArray[np.float64]
TONNE_KG = 1000.0


WEIGHINGS = 4             # weights whose chance is judged in full


def time_with(task: Task, *, reserve_k: FloatArray | None = None) -> float | None:
    """Trip time of the way down [s], None where there is none; under the task's accepted chance, if it has one and no
    reserve is given in its place."""
    shop = workshop(task)
    found = find(shop, reserve_k=reserve_k)
    if isinstance(found, Nothing):
        return None
    if task.chance is not None and reserve_k is None:
        within = find_within(shop, task.chance, found)
        return within.found.trace.total_time_s if isinstance(within, Within) else None
    return found.trace.total_time_s


def heaviest_that_holds(task: Task, *, step_kg: float = 250.0) -> float | None:
    """The greatest gross weight within the rating, on whole steps, with a way down under the same rules, or None [kg].

    Lighter is never worse under the same rules (a law the tests hold), so the weight is bisected: first without chance;
    then, while the chance of what was found is too great, with the reserve its own draws ask for, which a lighter truck
    needs no more of.
    """
    low = math.ceil(task.vehicle.tare_kg / step_kg)
    high = math.floor(min(task.vehicle.gross_kg, task.vehicle.rated_gross_kg + step_kg) / step_kg)
    sure = replace(task, chance=None)
    best, reserve = _heaviest(sure, low, high, step_kg, np.zeros(len(task.vehicle.rows))), None
    for _ in range(WEIGHINGS):
        if best is None or task.chance is None:
            break
        shop = workshop(replace(task, vehicle=loaded(task.vehicle, best * step_kg)))
        found = find(shop)
        weighed = find_within(shop, task.chance, found) if isinstance(found, Found) else None
        if isinstance(weighed, Within):
            return best * step_kg
        asked = np.ones(len(task.vehicle.rows)) if weighed is None else weighed.asked_k
        reserve = asked if reserve is None else np.maximum(asked, 1.1 * reserve)
        best = _heaviest(sure, low, best, step_kg, reserve)
    return None if best is None or task.chance is not None else best * step_kg


def _heaviest(task: Task, low: int, high: int, step_kg: float, reserve_k: FloatArray) -> int | None:
    """The most steps in [low, high) at which there is a way down with this reserve."""
    def holds(steps: int) -> bool:
        return time_with(replace(task, vehicle=loaded(task.vehicle, steps * step_kg)), reserve_k=reserve_k) is not None

    if low >= high or not holds(low):
        return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if holds(middle) else (low, middle)
    return low


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
    if task.chance is not None and task.chance.allowed < 0:
        return (Alternative("accept", {"accepted": upper_bound(0, task.chance.draws)}),)
    weight = heaviest_that_holds(task)
    if weight is not None:
        time_s = time_with(replace(task, vehicle=loaded(task.vehicle, weight)))
        found.append(Alternative("lighter", {"gross_kg": weight, "total_time_s": time_s or 0.0}))
    retarded = with_retarder(task)
    if retarded is not None and (time_s := time_with(retarded)) is not None:
        found.append(Alternative("retarder", {"total_time_s": time_s}))
    for slower in (10.0, 7.5, 5.0):
        speed = slower * MPH_MPS
        if speed < task.rules.min_speed_mps - 1e-6:
            trial = replace(task, rules=replace(task.rules, min_speed_mps=speed))
            if (time_s := time_with(trial)) is not None:
                found.append(Alternative("slower", {"min_speed_mps": speed, "total_time_s": time_s}))
                break
    return tuple(found)


def effects_of_changes(task: Task, total_time_s: float, *,
                       reserve_k: FloatArray | None = None) -> tuple[Alternative, ...]:
    """For a task with a way down: what one tonne more or less, a retarder and, where it saves time, permission to go
    slower would change in trip time, with the same reserve to the limits (n_rows,) [K] that the plan keeps."""
    task = task if reserve_k is not None else replace(task, chance=None)
    effects: list[Alternative] = []
    for change_kg in (-TONNE_KG, TONNE_KG):
        gross = task.vehicle.gross_kg + change_kg
        if gross < task.vehicle.tare_kg:
            continue
        time_s = time_with(replace(task, vehicle=loaded(task.vehicle, gross)), reserve_k=reserve_k)
        values: dict[str, float | str] = {"change_kg": change_kg}
        if time_s is not None:
            values["change_s"] = time_s - total_time_s
        effects.append(Alternative("weight", values))
    retarded = with_retarder(task)
    if retarded is not None and (time_s := time_with(retarded, reserve_k=reserve_k)) is not None:
        effects.append(Alternative("retarder-effect", {"change_s": time_s - total_time_s}))
    slower = 10.0 * MPH_MPS
    if slower < task.rules.min_speed_mps - 1e-6:
        time_s = time_with(replace(task, rules=replace(task.rules, min_speed_mps=slower)), reserve_k=reserve_k)
        if time_s is not None and time_s < total_time_s - 60.0:
            effects.append(Alternative("slower", {"min_speed_mps": slower, "change_s": time_s - total_time_s}))
    return tuple(effects)
