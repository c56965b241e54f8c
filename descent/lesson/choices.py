# SPDX-License-Identifier: MIT
"""Which choices a lesson offers: gears around the right one, speeds each gear allows, stages, weights."""

from __future__ import annotations

import math
from collections.abc import Sequence

from descent.errors import Fault, RequestError
from descent.lesson.drive import drive
from descent.lesson.model import Adjustment, Axes, Choice, Ground, Preset, State
from descent.physics.driveline import speed_at_rpm_mps
from descent.physics.march import Braking
from descent.units import DisplayUnits, UnitSystem
from descent.vehicle.model import Vehicle

TOP_MPS = {UnitSystem.US: 55 * 0.44704, UnitSystem.METRIC: 90 / 3.6}
SPEED_APART = 4.0             # whole display units between grid points in a gear, about
WEIGHTS = 5
FEW_GEARS, MANY_GEARS = 7, 9  # with a retarder, and without one
LEAST_GEARS = 5
FEW_STAGES = 3
LIGHTEST_SHARE = 0.55         # of the gross weight the lesson is given


def weight_step_kg(units: DisplayUnits) -> float:
    """Steps in which a weight is chosen: 1,000 lb or half a tonne."""
    return (1000.0 if units.system is UnitSystem.US else 0.5) * units.mass[1]


def speeds_in_gear_mps(vehicle: Vehicle, gear: int, units: DisplayUnits) -> tuple[float, ...]:
    """Whole speeds from lugging to governed engine speed, up to the lesson's top speed; empty where there is none."""
    unit, engine = units.speed[1], vehicle.engine
    low = math.ceil(speed_at_rpm_mps(vehicle.gearbox, gear, engine.lugging_rpm) / unit - 1e-9)
    high = math.floor(min(speed_at_rpm_mps(vehicle.gearbox, gear, engine.overrun_limit_rpm), TOP_MPS[units.system]) / unit
                      + 1e-9)
    if high < low:
        return ()
    apart = SPEED_APART if units.system is UnitSystem.US else 1.6 * SPEED_APART
    count = 1 + max(1, math.ceil((high - low) / apart))
    wholes = sorted({round(low + (high - low) * k / (count - 1)) for k in range(count)})
    return tuple(whole * unit for whole in wholes)


def weights_kg(vehicle: Vehicle, gross_kg: float, units: DisplayUnits, *, count: int = WEIGHTS) -> tuple[float, ...]:
    """Weights from a lightly loaded vehicle up to gross_kg (count,), in whole steps but for the last."""
    step = weight_step_kg(units)
    low = math.ceil(max(vehicle.tare_kg, LIGHTEST_SHARE * gross_kg) / step) * step
    if low >= gross_kg - step / 2:
        return (gross_kg,)
    inner = {round((low + (gross_kg - low) * k / (count - 1)) / step) * step for k in range(count - 1)}
    return (*sorted(weight for weight in inner if weight < gross_kg - step / 2), gross_kg)


def basis(ground: Ground, gross_kg: float, units: DisplayUnits) -> tuple[int | None, int]:
    """The right gear (None: none holds) and the retarder stage the gears are compared at: the highest at which not every
    gear holds, so that there is something to see.

    Raises RequestError lesson-too-easy where every gear holds even without the retarder.
    """
    vehicle = ground.vehicle
    highest = max(gear for gear in range(len(vehicle.gearbox.ratios)) if speeds_in_gear_mps(vehicle, gear, units))
    for stage in reversed(_stages(len(vehicle.retarder.stages))):
        right = right_gear(ground, gross_kg, units, stage=stage)
        if right != highest:
            return right, stage
    raise RequestError(Fault("lesson-too-easy", "on this hill every gear holds, even without a retarder: it teaches nothing",
                             "Take a longer or steeper hill (--grade, --length) or a heavier vehicle", "hill"))


def right_gear(ground: Ground, gross_kg: float, units: DisplayUnits, *, stage: int) -> int | None:
    """The highest gear that keeps the brakes under their limit at the fastest speed it allows, at a retarder stage.

    Scanned upward from the lowest gear and ended at the first that does not: what holds above it by chance is no rule.
    """
    vehicle, found = ground.vehicle, None
    for gear in range(len(vehicle.gearbox.ratios)):
        speeds = speeds_in_gear_mps(vehicle, gear, units)
        if not speeds:
            continue
        choice = Choice(gear, stage, Adjustment.AS_BUILT, Braking.SNUB, speeds[-1], gross_kg)
        if drive(ground, choice).state is not State.HOLDS:
            break
        found = gear
    return found


def axes_of(ground: Ground, gross_kg: float, right: int | None, units: DisplayUnits) -> Axes:
    """The axes of a lesson: gears from one under the right one upward, thinned at the top where there are many."""
    vehicle = ground.vehicle
    usable = [gear for gear in range(len(vehicle.gearbox.ratios)) if speeds_in_gear_mps(vehicle, gear, units)]
    first = max(min(usable.index(right) - 1, len(usable) - LEAST_GEARS), 0) if right is not None else 0
    gears = _thinned(usable[first:], FEW_GEARS if vehicle.retarder.stages else MANY_GEARS)
    return Axes(tuple(gears), tuple(speeds_in_gear_mps(vehicle, gear, units) for gear in gears),
                _stages(len(vehicle.retarder.stages)), weights_kg(vehicle, gross_kg, units))


def _stages(count: int) -> tuple[int, ...]:
    """Off, and at most `FEW_STAGES` of the stages, the highest among them."""
    few = min(count, FEW_STAGES)
    return (0, *(round(count * (k + 1) / few) for k in range(few)))


def _thinned(gears: Sequence[int], most: int) -> list[int]:
    """At most `most` gears: the lower half whole, those above evenly, the highest among them."""
    if len(gears) <= most:
        return list(gears)
    low = list(gears[:most // 2 + 1])
    rest = gears[len(low):]
    wanted = most - len(low)
    return low + sorted({rest[round((k + 1) * len(rest) / wanted) - 1] for k in range(wanted)})


def presets_of(axes: Axes, right: int | None, stage: int) -> tuple[Preset, ...]:
    """The named choices, all at full weight: the gears at one retarder stage, the last with everything wrong."""
    gross = axes.weights_kg[-1]

    def made(name: str, at: int, *, speed_mps: float, braking: Braking = Braking.SNUB, on: int = stage,
             adjustment: Adjustment = Adjustment.AS_BUILT) -> Preset:
        return Preset(name, Choice(axes.gears[at], on, adjustment, braking, speed_mps, gross))

    last = len(axes.gears) - 1
    at = axes.gears.index(right) if right is not None else 0
    above = min(at + 1, last)
    high = _high_gear(axes, at)
    top = axes.speeds_mps
    slow = min(top[above], key=lambda speed: abs(speed - top[at][-1]))
    return (
        made("right-gear", at, speed_mps=top[at][-1]),
        made("one-too-high", above, speed_mps=top[above][-1]),
        made("too-high", high, speed_mps=top[high][-1]),
        made("drag-all-the-way", above, speed_mps=slow, braking=Braking.DRAG),
        made("everything-wrong", high, speed_mps=top[high][-1], on=0, adjustment=Adjustment.PAST_LIMIT),
    )


def _high_gear(axes: Axes, right: int) -> int:
    """The lowest gear that reaches the lesson's top speed: the one a driver would be in on the level."""
    most = max(speeds[-1] for speeds in axes.speeds_mps)
    return max(right, next(at for at, speeds in enumerate(axes.speeds_mps) if speeds[-1] >= most - 1e-9))
