# SPDX-License-Identifier: MIT
"""Plans on made roads with their rows of what could go wrong, and what a fault made by hand needs: for two test modules."""

from __future__ import annotations

import sys
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np

sys.path[:0] = [str(Path(__file__).parent), str(Path(__file__).parents[1] / "physics")]

from failure_simulation import Drive, over_limit_k
from reference_driver import ReferenceDriver

from descent.physics.march import Cells, Day, Schedule, Setting, force_tables
from descent.plan.doubt import Failure
from descent.plan.failures import failures
from descent.plan.planner import Found, Workshop, find, workshop
from descent.plan.verify import schedule_of
from descent.vehicle.air_supply import air_supply
from descent.vehicle.catalogue import load_vehicle
from descent.vehicle.model import Vehicle
from made_roads import made_task, pull_out

ROAD = [(800.0, 0.0), (2600.0, -0.06), (500.0, 0.0)]
PLACES = (pull_out("Top", 600.0, kind="brake-check-area"), pull_out("Ramp", 2400.0, kind="escape-ramp", grade=0.1),
          pull_out("Shelf", 3500.0))
COACH_ROAD = [(1000.0, 0.0), (10_000.0, -0.09), (1500.0, 0.0)]


class Answer:
    """A plan with its rows, and what a hand-made fault needs."""

    def __init__(self, name: str, road: list[tuple[float, float]], start_temp_c: float = 65.6) -> None:
        task = made_task(road, load_vehicle(name), places=PLACES, start_temp_c=start_temp_c)
        self.shop: Workshop = workshop(replace(task, air=air_supply(task.vehicle)))
        found = find(self.shop)
        assert isinstance(found, Found)
        self.found = found
        self.rows = {(row.downgrade, row.what): row for row in failures(self.shop, found)}
        self.end = min(round((self.shop.task.downgrades[-1].end_m + 1000.0) / 10.0), len(self.shop.cells.step_m))
        self.settings = (Setting(-1, 0), *dict.fromkeys(
            Setting(gear, stage) for leg in found.solution.legs for gear in (leg.instruction.gear, leg.instruction.gear + 1)
            for stage in range(leg.instruction.stage + 1)))
        self.tables = force_tables(self.shop.task.vehicle, self.settings[1:], self.shop.task.driving,
                                   density_ratio=self.shop.task.density_ratio)
        self.schedule = schedule_of(self.shop.task, self.shop.cells, self.tables, found.solution)

    def row(self, what: str) -> Failure:
        return self.rows[(1, what)]

    def over_k(self, vehicle: Vehicle, schedule: Schedule, *, adhesion: float = 0.6, ill_from: int = 0) -> float:
        """Most by which the second simulation passes the limit from the brake check (node 60) to 1 km past the foot, one stop included.
        ill_from: the fault comes when moving off from the stop there; before it the plan's own temperatures."""
        task, whole = self.shop.task, self.shop.cells
        day = Day(task.day.air_temp_c, task.day.start_temp_c, adhesion)
        cells = Cells(whole.station_m[ill_from:], *(getattr(whole, name)[ill_from:] for name in (
            "step_m", "sin_down", "cos_road", "k_air", "cool", "air_temp")))
        schedule = Schedule(schedule.cap_mps[ill_from:], schedule.row[ill_from:], schedule.snubbed[ill_from:],
                            schedule.dwell_s[ill_from:].copy())
        if ill_from:
            schedule.dwell_s[0] = -1.0
        _, speeds, temps = ReferenceDriver(cells, vehicle, self.settings, schedule, day, task.driving,
                                           density_ratio=task.density_ratio, tolerance=1e-7).drive(
            self.found.trace.leave_temp_c[ill_from].copy() if ill_from else None)
        found = Drive(max(60, ill_from))
        nodes = slice(found.begin - ill_from, self.end - ill_from + 1)
        found.speed_mps, found.temps_c = speeds[nodes].tolist(), temps[nodes].tolist()
        return over_limit_k(whole, vehicle, found, adhesion)


@cache
def truck_answer() -> Answer:
    """A loaded combination with an engine retarder down 2.6 km of 6 %."""
    return Answer("tractor-semitrailer-retarder", ROAD)


@cache
def coach_answer() -> Answer:
    """A coach with an automatic gearbox down 10 km of 9 %."""
    return Answer("motorcoach", COACH_ROAD)


def with_rows(answer: Answer, change: dict[Setting, Setting]) -> Schedule:
    numbers = {answer.settings.index(a): answer.settings.index(b) for a, b in change.items()}
    return replace(answer.schedule, row=np.array([numbers.get(int(row), int(row)) for row in answer.schedule.row]))
