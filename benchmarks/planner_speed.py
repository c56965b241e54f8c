# SPDX-License-Identifier: MIT
"""How long a plan with its proof takes on random 100 km roads, and how many trips a second two threads make."""

from __future__ import annotations

import time
from typing import Any

import numpy as np

WARMING = 12      # roads planned before any is timed: between them they need every compiled function


def plan_times_ms(cases: int, *, spacing_m: float = 20.0) -> tuple[Any, Any, int, int]:
    """Milliseconds of processor time of one thread, warm: (cases,) to prepare and to plan with proof, the better of two
    runs; how many roads have a plan, and how many plans were proven best."""
    from benchmarks.random_roads import random_task
    from descent.plan.planner import Found, find, workshop
    tasks = [random_task(seed, length_m=100_000.0, spacing_m=spacing_m) for seed in range(max(cases, WARMING))]
    for task in tasks[:WARMING]:
        find(workshop(task))
    prepare, plan, planned, proven = [], [], 0, 0
    for task in tasks[:cases]:
        runs = []
        for _ in range(2):
            began = time.process_time()
            shop = workshop(task)
            ready = time.process_time()
            found = find(shop)
            runs.append((1000 * (time.process_time() - began), 1000 * (ready - began)))
        whole, ready_ms = min(runs)
        prepare.append(ready_ms)
        plan.append(whole - ready_ms)
        planned += int(isinstance(found, Found))
        proven += int(isinstance(found, Found) and found.proven)
    return np.array(prepare), np.array(plan), planned, proven


def trips_per_second(threads: int, trips: int = 3000) -> float:
    """Full-physics trips of the 100 km bench road a second, of trucks that all differ, shared between so many threads."""
    from benchmarks.march_peers import drive_many
    work = drive_many(trips, threads)
    work()
    began = time.perf_counter()
    work()
    return trips / (time.perf_counter() - began)


def report(cases: int = 60) -> None:
    """Print it."""
    prepare, plan, planned, proven = plan_times_ms(cases)
    both = prepare + plan
    print(f"plan with proof, random 100 km     median {np.median(both):.0f} ms, 95 % within {np.quantile(both, 0.95):.0f} ms "
          f"(20 m cells, {cases} roads, {planned} with a plan, {proven} of them proven; preparing {np.median(prepare):.0f} ms of it)")
    print(f"trips of 100 km, 1 thread          {trips_per_second(1):8,.0f} a second")
    print(f"trips of 100 km, 2 threads         {trips_per_second(2):8,.0f} a second")


if __name__ == "__main__":
    report()
