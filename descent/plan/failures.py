# SPDX-License-Identifier: MIT
"""What could go wrong on each downgrade of a plan, each case driven and not guessed."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from descent.physics.driveline import engine_rpm_per_mps
from descent.physics.march import ForceTables, Schedule, Setting, force_tables, march
from descent.physics.trace import DescentTrace
from descent.plan.actions import grip_allows
from descent.plan.air_failures import air_cases
from descent.plan.doubt import Failure
from descent.plan.failure_march import Case, Window, driven, excess, follow, shifted, window, within
from descent.plan.faulty import slack_row, with_dead_brake
from descent.plan.model import Instruction, Solution, Task
from descent.plan.planner import Found, Workshop
from descent.plan.verify import schedule_of, without_stop
from descent.vehicle.model import Vehicle, loaded

FloatArray = NDArray[np.float64]
Progress = Callable[[str], None]
HEAVIER = 1.1              # against what the papers say
ICE_ADHESION = 0.05        # wet ice, the slippery end (assumed)
ONSETS = 5                 # places per downgrade at which a fault that may come anywhere is tried
BEFORE_M, AFTER_M = 200.0, 1000.0


@dataclass(frozen=True)
class _Plan:
    """What every case starts from: the plan's march, its schedule, and tables for its gears and the next higher ones."""

    shop: Workshop
    solution: Solution
    trace: DescentTrace
    tables: ForceTables
    schedule: Schedule


def failures(shop: Workshop, found: Found, *, progress: Progress | None = None) -> tuple[Failure, ...]:
    """Every case on every downgrade of a found plan, in travel order. Driven on the steep side of the grade band."""
    solution = found.solution
    settings = dict.fromkeys(
        Setting(gear, stage) for leg in solution.legs
        for gear in (leg.instruction.gear, leg.instruction.gear + 1) if gear < len(shop.task.vehicle.gearbox.ratios)
        for stage in range(leg.instruction.stage + 1))
    tables = force_tables(shop.task.vehicle, tuple(settings), shop.task.driving, density_ratio=shop.task.density_ratio)
    plan = _Plan(shop, solution, found.trace, tables, schedule_of(shop.task, shop.cells, tables, solution))
    rows: list[Failure] = []
    ill = _whole_road(plan)
    for part in _windows(plan):
        if progress is not None:
            progress(f"what could go wrong on downgrade {part.number}")
        for case in _cases(plan, part, ill):
            row = follow(shop.task, part, case, tables)
            rows.append(replace(row, holds=row.holds and _wheels_grip(plan, part)) if case.what == "ice" else row)
        rows += air_cases(shop.task, part, _planned(plan, part), found.trace, _rpm(plan), tables)
    return tuple(rows)


def _windows(plan: _Plan) -> Iterator[Window]:
    """From the last stop before each crest, else a lead before it, to some way past the foot."""
    task, profile = plan.shop.task, plan.shop.task.profile
    last, since = len(profile.station_m) - 1, 0
    crests = [profile.index_at(item.start_m) for item in task.downgrades]
    for index, item in enumerate(task.downgrades):
        crest, foot = crests[index], profile.index_at(item.end_m)
        stops = [stop.node for stop in plan.solution.stops if since < stop.node <= crest]
        start = stops[-1] if stops else max(since, crest - round(BEFORE_M / profile.spacing_m), 0)
        following = crests[index + 1] if index + 1 < len(crests) else last
        end = min(foot + round(AFTER_M / profile.spacing_m), max(following, foot), last)
        since = foot
        if end > start + 1:
            yield window(plan.shop.cells, item.number, start, end)


def _planned(plan: _Plan, part: Window, what: str = "planned") -> Case:
    """The plan itself on a window."""
    return Case(what, part.start, plan.shop.task.vehicle, within(plan.schedule, part), plan.shop.task.day,
                float(plan.trace.speed_mps[part.start]), plan.trace.temp_c[part.start].copy())


def _whole_road(plan: _Plan) -> list[tuple[str, Vehicle, DescentTrace, dict[str, float | str]]]:
    """Faults that are there from the start of the road, each with its march over the whole of it."""
    task = plan.shop.task
    heavier = task.vehicle.gross_kg * HEAVIER
    faulty: list[tuple[str, Vehicle, dict[str, float | str]]] = [
        ("heavier", loaded(task.vehicle, heavier), {"gross_kg": heavier})]
    for row in range(len(task.vehicle.rows)):
        axle: dict[str, float | str] = {"axle": task.vehicle.axle_of(row).name}
        faulty += [("brake-dead", with_dead_brake(task.vehicle, row), axle),
                   ("brake-slack", slack_row(task.vehicle, row), axle)]
    return [(what, vehicle, march(plan.shop.cells, vehicle, plan.tables, plan.schedule, task.day, task.driving,
                                  start_speed_mps=float(plan.schedule.cap_mps[0])), detail)
            for what, vehicle, detail in faulty]


def _cases(plan: _Plan, part: Window,
           ill: list[tuple[str, Vehicle, DescentTrace, dict[str, float | str]]]) -> Iterator[Case]:
    gearbox = plan.shop.task.vehicle.gearbox
    higher = _changed(plan, lambda held: replace(held, gear=min(held.gear + 1, len(gearbox.ratios) - 1)))
    if not np.array_equal(within(higher, part).row, within(plan.schedule, part).row):
        yield replace(_planned(plan, part, "gear-high"), schedule=within(higher, part), detail=_gears(plan, part))
        if "automat" in gearbox.kind:
            yield replace(_worst_onset(plan, part, "upshift", higher), detail=_gears(plan, part))
    off = _changed(plan, lambda held: replace(held, stage=0))
    if not np.array_equal(within(off, part).row, within(plan.schedule, part).row):
        yield _worst_onset(plan, part, "retarder-lost", off)
    missed = [_missed(plan, part, index) for index, stop in enumerate(plan.solution.stops)
              if part.start <= stop.node < part.end]
    if missed:
        yield max(missed, key=lambda case: _heat(plan, part, case))
    for what in ("heavier", "brake-dead", "brake-slack"):
        cases = [replace(_planned(plan, part, what), vehicle=vehicle, speed_mps=float(trace.speed_mps[part.start]),
                         temps_c=trace.temp_c[part.start].copy(), detail=detail)
                 for name, vehicle, trace, detail in ill if name == what and trace.reached > part.start]
        if cases:
            yield max(cases, key=lambda case: _heat(plan, part, case))
    icy = replace(_planned(plan, part, "ice"), schedule=within(off, part))
    yield replace(icy, day=replace(icy.day, adhesion=min(ICE_ADHESION, icy.day.adhesion)))


def _changed(plan: _Plan, change: Callable[[Instruction], Instruction]) -> Schedule:
    """The schedule with every leg's gear or stage changed and its speeds kept."""
    row = plan.schedule.row.copy()
    for leg in plan.solution.legs:
        held = change(leg.instruction)
        row[leg.start:leg.end] = plan.tables.row(Setting(held.gear, held.stage))
    return replace(plan.schedule, row=row)


def _gears(plan: _Plan, part: Window) -> dict[str, float | str]:
    """Engine speed in the gear of the plan and in the next higher one, at the control speed of the window's steepest leg."""
    gearbox = plan.shop.task.vehicle.gearbox
    inside = [leg for leg in plan.solution.legs if leg.start < part.end and leg.end > part.start]
    held = min((leg.instruction for leg in inside), key=lambda item: item.control_mps)
    high = min(held.gear + 1, len(gearbox.ratios) - 1)
    return {"gear": gearbox.names[held.gear], "higher": gearbox.names[high],
            "rpm": held.control_mps * engine_rpm_per_mps(gearbox, held.gear),
            "higher_rpm": held.control_mps * engine_rpm_per_mps(gearbox, high)}


def _worst_onset(plan: _Plan, part: Window, what: str, broken: Schedule) -> Case:
    """The fault begun where it does most harm to the brakes: several places are tried."""
    base, best = _planned(plan, part, what), []
    whole, failing = within(plan.schedule, part), within(broken, part)
    for onset in np.unique(np.linspace(0, len(whole.row) - 1, ONSETS, dtype=int)):
        row = np.where(np.arange(len(whole.row)) >= onset, failing.row, whole.row)
        case = shifted(base, part.start + int(onset), replace(whole, row=row))
        best.append((_heat(plan, part, case), -int(onset), case))
    return max(best, key=lambda item: item[:2])[2]


def _missed(plan: _Plan, part: Window, index: int) -> Case:
    """One stop driven past: the road before it is driven without it too, so no heat of braking for it is counted."""
    task, stop = plan.shop.task, plan.solution.stops[index]
    schedule = schedule_of(task, plan.shop.cells, plan.tables, without_stop(plan.solution, index))
    trace = march(plan.shop.cells, task.vehicle, plan.tables, schedule, task.day, task.driving,
                  start_speed_mps=float(schedule.cap_mps[0]))
    name = stop.place.name if stop.place is not None else ""
    return replace(_planned(plan, part, "stop-missed"), node=stop.node, schedule=within(schedule, part),
                   speed_mps=float(trace.speed_mps[part.start]), temps_c=trace.temp_c[part.start].copy(),
                   detail={"place": name, "minutes": float(stop.minutes)})


def _wheels_grip(plan: _Plan, part: Window) -> bool:
    """On ice the drag of the engine alone leaves the driven wheels rolling, on every leg of the window."""
    task = plan.shop.task
    icy = replace(task, day=replace(task.day, adhesion=min(ICE_ADHESION, task.day.adhesion)))
    return all(grip_allows(icy, replace(leg.instruction, stage=0)) for leg in plan.solution.legs
               if leg.start < part.end and leg.end > part.start)


def _heat(plan: _Plan, part: Window, case: Case) -> float:
    return min(excess(driven(plan.shop.task, part, case, plan.tables), case.vehicle), 1e6)


def _rpm(plan: _Plan) -> FloatArray:
    """Engine speed at the nodes (n,) [rpm], as usual in cruise where the gear is the driver's choice."""
    task: Task = plan.shop.task
    rpm = np.full(len(plan.trace.speed_mps), task.driving.cruise_rpm)
    for leg in plan.solution.legs:
        nodes = slice(leg.start, leg.end + 1)
        rpm[nodes] = np.maximum(plan.trace.speed_mps[nodes] * engine_rpm_per_mps(
            task.vehicle.gearbox, leg.instruction.gear), task.vehicle.engine.idle_rpm)
    return rpm
