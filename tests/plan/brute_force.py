# SPDX-License-Identifier: MIT
"""Every way down there is, one after the other, each marched in full: slow, plain, and written apart from the search."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from descent.physics.march import Cells, Schedule, Setting, march, reachable_caps
from descent.physics.trace import DescentTrace
from descent.plan.actions import fitting, holding_force_n, instructions
from descent.plan.air_check import low_air_node
from descent.plan.model import Instruction
from descent.plan.search import Choice
from descent.plan.sections import SectionKind
from descent.plan.shop import Workshop, workshop
from descent.plan.verify import excess_k, solution_of
from descent.units import MPH_MPS
from descent.vehicle.air_supply import air_supply
from descent.vehicle.catalogue import load_vehicle
from made_roads import made_task, pull_out

NAMES = ("tractor-semitrailer", "tractor-semitrailer-retarder", "motorcoach", "dump-truck", "straight-truck",
         "tractor-semitrailer-mixed", "doubles", "transit-bus")


@dataclass(frozen=True)
class Enumerated:
    """Least time of all ways down that hold [s] (inf: none holds), least time of any of them, and how many there are."""

    best_s: float
    least_s: float
    count: int


def opened(shop: Workshop, index: int) -> tuple[Instruction, ...]:
    """Instructions that fit section `index` up to the end of its chain."""
    part = shop.parts[index]
    alike = [other.end for other in shop.parts[index:] if (other.kind, other.group) == (part.kind, part.group)]
    return fitting(shop.task, shop.choices, part.start, max(alike))


def ways(shop: Workshop, index: int = 0, held: Instruction | None = None) -> Iterator[tuple[Choice, ...]]:
    """All ways down from the start of section `index` on, depth first."""
    if index == len(shop.parts):
        yield ()
        return
    part = shop.parts[index]
    options: list[tuple[Instruction | None, int, bool]] = []
    must_stop = index > 0 and part.check is not None and part.check.node == part.start
    before = shop.parts[index - 1] if index else None
    if not must_stop:
        if before is not None and before.kind is part.kind is SectionKind.DOWNGRADE and before.group == part.group:
            options.append((held, 0, False))
        elif part.kind is SectionKind.CRUISE:
            options.append((None, 0, True))
        else:
            options += [(item, 0, True) for item in opened(shop, index)]
            options += [(None, 0, True)] if part.kind is SectionKind.RUN_OUT else []
    if index and part.halt is not None:
        rules = shop.task.rules
        options += [(item, minutes, True) for item in opened(shop, index) for minutes in range(
            rules.shortest_stop_minutes, rules.longest_stop_minutes + 1, rules.stop_step_minutes)]
    for item, minutes, told in options:
        for rest in ways(shop, index + 1, item):
            yield (Choice(index, item, minutes), *rest) if told else rest


def guarded(shop: Workshop, trace: DescentTrace, picked: list[Instruction | None]) -> bool:
    """Wherever an instruction is held, the governed speed of each lower gear that holds back as much would do too."""
    governed = {item.gear: item for item in instructions(shop.task)}.values()
    for part, held in zip(shop.parts, picked, strict=True):
        for lower in governed if held is not None else ():
            measure = lower.gear < held.gear and holding_force_n(shop.task, lower) >= holding_force_n(shop.task, held)
            if measure and not _section_holds(shop, part.start, part.end, lower, trace.leave_temp_c[part.start]):
                return False
    return True


def _section_holds(shop: Workshop, a: int, b: int, held: Instruction, temps_c: np.ndarray) -> bool:
    task, cells = shop.task, shop.cells
    caps = reachable_caps(np.minimum(np.minimum(task.posted_mps, task.curve_mps), held.control_mps), cells.step_m,
                          task.driving.approach_mps2)
    end = min(b + 1, len(cells.step_m))           # one cell more, for the grade an emergency stop at the end stands on
    part = Cells(cells.station_m[a:end + 1], *(column[a:end] for column in (
        cells.step_m, cells.sin_down, cells.cos_road, cells.k_air, cells.cool, cells.air_temp)))
    row = shop.tables.row(Setting(held.gear, held.stage))
    schedule = Schedule(caps[a:end + 1], np.full(end - a, row), np.ones(end - a, dtype=np.int64),
                        np.full(end - a + 1, -1.0))
    trace = march(part, task.vehicle, shop.tables, schedule, task.day, task.driving, start_speed_mps=float(caps[a]),
                  start_temps_c=temps_c)
    limit = np.array([one.brake.temp_limit_c for one in task.vehicle.rows])
    return trace.reached >= b - a and float(np.max((trace.temp_c + trace.rise_k - limit)[1:b - a + 1])) <= 0.0


def enumerated(shop: Workshop) -> Enumerated:
    """March every way down."""
    best, least, count = np.inf, np.inf, 0
    for choices in ways(shop):
        count += 1
        solution = solution_of(shop.task, shop.chains, shop.parts, choices)
        trace = shop.drive(solution)
        if trace.complete:
            least = min(least, trace.total_time_s)
        if not trace.complete or trace.total_time_s >= best or float(excess_k(shop.task, trace).max()) > 0.0:
            continue
        picked: list[Instruction | None] = []
        told = {choice.section: choice.instruction for choice in choices}
        for index in range(len(shop.parts)):
            picked.append(told[index] if index in told else picked[-1])
        if guarded(shop, trace, picked) and low_air_node(shop.task, solution, trace) is None:
            best = trace.total_time_s
    return Enumerated(best, least, count)


def short_of_air(shop: Workshop, seed: int) -> Workshop:
    """The same case with an air supply as weak as no walk-round lets go, so that the air often decides."""
    rng = np.random.default_rng(seed)
    air = air_supply(shop.task.vehicle)
    tanks = tuple(tank * float(rng.uniform(0.25, 0.7)) for tank in air.tanks_m3)
    air = replace(air, tanks_m3=tanks, compressor_m3ps=air.compressor_m3ps * float(rng.uniform(0.0, 0.8)),
                  leak_released_kpaps=air.leak_released_kpaps * float(rng.uniform(0.0, 1.0)),
                  leak_applied_kpaps=air.leak_applied_kpaps * float(rng.uniform(0.0, 1.0)))
    return replace(shop, task=replace(shop.task, air=air))


def small_case(seed: int, *, most_ways: int = 400) -> Workshop:
    """A random small road, vehicle, load, day and set of instructions with at most so many ways down."""
    rng = np.random.default_rng(seed)
    while True:
        name = str(rng.choice(NAMES))
        full = load_vehicle(name)
        gross = full.tare_kg + float(rng.uniform(0.7, 1.0)) * (full.gross_kg - full.tare_kg)
        pieces = [(float(rng.choice([400.0, 800.0, 2000.0])), float(rng.uniform(-0.01, 0.02))),
                  (float(rng.choice([1500.0, 3000.0, 5000.0])), float(rng.uniform(-0.085, -0.035))),
                  (float(rng.choice([200.0, 500.0, 900.0])), float(rng.uniform(-0.02, 0.02))),
                  (float(rng.choice([800.0, 2500.0])), float(rng.uniform(-0.08, -0.02))), (700.0, 0.0)]
        length = sum(piece[0] for piece in pieces)
        where = sorted(round(float(share) * length, -1) for share in rng.uniform(0.1, 0.9, int(rng.integers(0, 3))))
        kinds = rng.choice(["pull-out", "brake-check-area"], len(where))
        places = tuple(pull_out(f"P{i}", at, kind=str(kind)) for i, (at, kind) in enumerate(zip(where, kinds, strict=True)))
        task = made_task(pieces, load_vehicle(name, gross_kg=gross), places=places, air_temp_c=float(rng.uniform(-10, 40)),
                         start_temp_c=float(rng.uniform(50, 190)), posted_mps=float(rng.choice([45, 55, 65])) * MPH_MPS)
        task = replace(task, rules=replace(task.rules, longest_stop_minutes=int(rng.choice([5, 10, 40])),
                                           stop_step_minutes=int(rng.choice([5, 35]))))
        shop = workshop(task)
        if len(shop.choices) < 3:
            continue
        some = sorted(rng.choice(len(shop.choices), int(rng.integers(2, 5)), replace=False))
        shop = replace(shop, choices=tuple(shop.choices[i] for i in some))
        total = sum(1 for _, _ in zip(ways(shop), range(most_ways + 1), strict=False))
        if 2 <= total <= most_ways:
            return shop
