# SPDX-License-Identifier: MIT
"""How long a plan with its proof takes on random 100 km roads, and how many full marches a second two threads make."""

from __future__ import annotations

import time
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import numpy as np


def plan_times_ms(cases: int, *, spacing_m: float = 20.0) -> tuple[Any, Any, int]:
    """Milliseconds of processor time of one thread: (cases,) to prepare and to plan with proof; how many were proven."""
    from benchmarks.random_roads import random_task
    from descent.plan.planner import Found, find, workshop
    prepare, plan, proven = [], [], 0
    for seed in range(-1, cases):
        task = random_task(max(seed, 0), length_m=100_000.0, spacing_m=spacing_m)
        began = time.process_time()
        shop = workshop(task)
        ready = time.process_time()
        found = find(shop)
        if seed >= 0:                                   # the first only warms the compiled code
            prepare.append(1000 * (ready - began))
            plan.append(1000 * (time.process_time() - ready))
            proven += int(isinstance(found, Found) and found.proven)
    return np.array(prepare), np.array(plan), proven


def trips_per_second(threads: int, trips: int = 300) -> float:
    """Full marches of the 100 km bench road a second, shared between so many threads."""
    from benchmarks.march_peers import drive_hill
    work, _ = drive_hill()
    work()
    began = time.perf_counter()
    with ThreadPoolExecutor(threads) as pool:
        list(pool.map(lambda _: work(), range(trips)))
    return trips / (time.perf_counter() - began)


def report(cases: int = 60) -> None:
    """Print it."""
    prepare, plan, proven = plan_times_ms(cases)
    both = prepare + plan
    print(f"plan with proof, random 100 km     median {np.median(both):.0f} ms, 95 % within {np.quantile(both, 0.95):.0f} ms "
          f"(20 m cells, {cases} roads, {proven} proven; preparing {np.median(prepare):.0f} ms of it)")
    print(f"full marches of 100 km, 1 thread   {trips_per_second(1):8,.0f} a second")
    print(f"full marches of 100 km, 2 threads  {trips_per_second(2):8,.0f} a second")


if __name__ == "__main__":
    report()
