# SPDX-License-Identifier: MIT
"""The plan's time against a nonlinear programme: free speed, engine and retarder held back as by an endless gearbox.

Solved with the public solver of the `casadi` package, a test dependency. The solver is local, so its time is an indicative
bound, not a certified one. Usage: python -m benchmarks.nlp_bound
"""

from __future__ import annotations

import time
from itertools import pairwise
from typing import Any

import numpy as np

CELL_M = 100.0
PUBLISHED_RISE_FACTOR = 1.4976      # of kinetic energy by heat capacity: 3.11e-7 W V^2 [F] (key fhwa_grade_severity, derived)


def relaxed_time(shop: Any) -> tuple[float, float] | None:
    """Least time [s] found for a shop's road and the seconds it took; None when the solver gives up.

    Cells of `CELL_M`; every row heats by its cold share; an emergency stop heats by the published term alone, shared cold;
    no gears: engine and retarder hold back anything up to their greatest power over all gears and stages at any speed.
    """
    import casadi as ca

    from descent.physics.brake_heat import packed_rows
    from descent.physics.foundation_brake import CAPACITY, COOL_REST, COOL_SPEED, GAIN, LIMIT
    task, cells = shop.task, shop.cells
    stride = max(1, round(CELL_M / task.profile.spacing_m))
    cuts = np.arange(0, len(cells.step_m) + 1, stride)
    if cuts[-1] != len(cells.step_m):
        cuts = np.append(cuts, len(cells.step_m))
    add = lambda column: np.add.reduceat(column, cuts[:-1])
    step, n = add(cells.step_m), len(cuts) - 1
    mean = lambda column: add(column * cells.step_m) / step
    mass, scal = task.vehicle.gross_kg, shop.maker.scalars
    pull = mass * 9.80665 * (mean(cells.sin_down) - task.vehicle.rolling_coefficient * mean(cells.cos_road))
    air, cool = mean(cells.k_air), mean(cells.cool)
    speeds = np.arange(shop.tables.engine_n.shape[1]) * 0.02
    power = float(np.max((shop.tables.engine_n + shop.tables.retarder_n) * speeds))
    rows = packed_rows(task.vehicle)
    share = rows[:, GAIN] / rows[:, GAIN].sum()
    caps = np.array([shop.maker.layout.caps_u[0][a:b + 1].max() for a, b in pairwise(cuts)])
    caps = np.append(caps, caps[-1])
    problem = ca.Opti()
    v, brake, held, drive = (problem.variable(size) for size in (n + 1, n, n, n))
    temp = problem.variable(len(rows), n + 1)
    middle = 0.5 * (v[:-1] + v[1:])
    problem.minimize(ca.sum1(step / middle))
    problem.subject_to(problem.bounded(2.0, v, np.sqrt(caps)))
    problem.subject_to(problem.bounded(0.0, brake / 1e4, 50.0))
    problem.subject_to(held >= 0)
    problem.subject_to(held * middle / 1e5 <= power / 1e5)
    problem.subject_to(drive >= 0)
    problem.subject_to(drive * middle / 1e5 <= scal[3] / 1e5)
    moving = mass * task.vehicle.rotating_mass_factor
    problem.subject_to((moving * (v[1:] ** 2 - v[:-1] ** 2) / 2 / step - (
        pull - air * middle**2 - held - brake + drive)) / 1e4 == 0)
    problem.subject_to(temp[:, 0] == task.day.start_temp_c)
    for i in range(len(rows)):
        before, after = temp[i, :-1].T, temp[i, 1:].T
        lost = (rows[i, COOL_REST] / middle + rows[i, COOL_SPEED]) * cool * step * (0.5 * (before + after) - task.day.air_temp_c)
        problem.subject_to(after == before + (share[i] * brake * step - lost) / rows[i, CAPACITY])
        rise = PUBLISHED_RISE_FACTOR * share[i] * 0.5 * mass * v**2 / rows[i, CAPACITY]
        problem.subject_to(temp[i, :].T + rise <= rows[i, LIMIT])
    problem.set_initial(v, np.minimum(np.sqrt(caps), 9.0))
    problem.set_initial(temp, 120.0)
    problem.solver("ipopt", {"print_time": False, "ipopt.print_level": 0, "ipopt.sb": "yes", "ipopt.max_iter": 600})
    began = time.perf_counter()
    try:
        solved = problem.solve()
    except RuntimeError:
        return None
    return float(solved.value(problem.f)), time.perf_counter() - began


def report(cases: int = 6, length_m: float = 20_000.0) -> None:
    """Print plan, price of simplicity and the relaxed time for some random roads."""
    from benchmarks.random_roads import random_task
    from descent.plan.planner import Found, find, workshop
    from descent.plan.simplicity import price_of_simplicity
    for seed in range(cases):
        shop = workshop(random_task(seed, length_m=length_m))
        found = find(shop)
        if not isinstance(found, Found):
            continue
        moving = found.trace.total_time_s - sum(60.0 * stop.minutes for stop in found.solution.stops)
        price, solved = price_of_simplicity(shop, found.trace.total_time_s), relaxed_time(shop)
        free = f"{price.free_s:,.0f} s" if price else "-"
        relaxed = "not solved" if solved is None else f"{solved[0]:,.0f} s in {solved[1]:.2f} s"
        print(f"nonlinear programme, road {seed}        plan {found.trace.total_time_s:,.0f} s (moving {moving:,.0f} s), free gear and "
              f"speed per 600 m {free}, endless gearbox {relaxed}")


if __name__ == "__main__":
    report()
