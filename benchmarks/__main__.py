# SPDX-License-Identifier: MIT
"""`make bench`: the demo end to end, a 100 km route, and the march against a second simulation."""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median
from typing import Any

import numpy as np

from benchmarks import march_peers, nlp_bound, page, planner_speed

ROOT = Path(__file__).resolve().parents[1]
SAMPLE = ROOT / "data" / "sample_dem"


def timed(work: Callable[[], Any], *, runs: int = 5) -> float:
    """Median seconds of several runs after one that does not count."""
    work()
    times = []
    for _ in range(runs):
        began = time.perf_counter()
        work()
        times.append(time.perf_counter() - began)
    return median(times)


def command(*arguments: str) -> float:
    """Median wall seconds of the `descent` command as a whole process."""
    line = [sys.executable, "-m", "descent", *arguments]
    return timed(lambda: subprocess.run(line, check=False, capture_output=True), runs=3)


def long_road(copies: int) -> Any:
    """The sample's surveyed profile driven there and back again until it is long enough; closed-form joins."""
    from descent.pipeline import survey
    from descent.request import Direction, Faults, road_request
    from descent.terrain.road_profile import RoadProfile
    road = survey(road_request(str(SAMPLE / "route.geojson"), dem=[str(SAMPLE / "pass_10m.tif")], grades=None,
                               route_elevation=None, direction=Direction.AS_DRAWN, faults=Faults()))
    once = road.profile
    grade = np.concatenate([once.grade if k % 2 == 0 else -once.grade[::-1] for k in range(copies)])
    station = np.arange(len(grade)) * once.spacing_m
    rise = np.concatenate([[0.0], np.cumsum((grade[1:] + grade[:-1]) / 2 * once.spacing_m)])
    tile = lambda column: np.concatenate([column if k % 2 == 0 else column[::-1] for k in range(copies)])
    return RoadProfile(station, tile(once.lon), tile(once.lat), once.elevation_m[0] + rise, tile(once.elevation_sd_m),
                       grade, tile(once.grade_sd), tile(once.curvature_1pm), "sample, there and back")


def main() -> None:
    """Run all and print one line each."""
    from descent.downgrades.find import sustained_downgrades
    from descent.physics.curves import curve_limit_mps
    from descent.physics.march import Day, Driving
    from descent.plan.limits import steep_side
    from descent.plan.model import Rules, Task
    from descent.plan.planner import find, workshop
    from descent.units import MPH_MPS
    from descent.vehicle.catalogue import load_vehicle

    with tempfile.TemporaryDirectory() as out:
        print(f"descent --help                     {command('--help'):8.2f} s")
        plan = ("plan", str(SAMPLE / "route.geojson"), "--dem", str(SAMPLE / "pass_10m.tif"), "--places",
                str(SAMPLE / "places.geojson"), "--vehicle", "tractor-semitrailer", "--gross", "80000lb", "--out", out)
        print(f"demo plan, whole process           {command(*plan):8.2f} s")
        profile = ("profile", str(SAMPLE / "route.geojson"), "--dem", str(SAMPLE / "pass_10m.tif"), "--json")
        print(f"demo profile, whole process        {command(*profile):8.2f} s")
    road = long_road(4)
    downgrades = sustained_downgrades(road)
    vehicle = load_vehicle("tractor-semitrailer-retarder")
    n = len(road.station_m)
    task = Task(road, downgrades, (), vehicle, Day(32.2, 65.6, 0.6), Driving(), Rules(15 * MPH_MPS, 5 * MPH_MPS, MPH_MPS),
                np.full(n, 50 * MPH_MPS), np.ones(n, dtype=bool),
                curve_limit_mps(road.curvature_1pm, rollover_threshold_g=0.35), steep_side(road, downgrades))
    shop = workshop(task)
    found = find(shop)
    km = road.length_m / 1000
    print(f"plan of {km:.0f} km, in process          {timed(lambda: find(workshop(task)), runs=3):8.2f} s "
          f"({len(downgrades)} downgrades, {type(found).__name__.lower()})")
    if hasattr(found, "solution"):
        once = timed(lambda: shop.drive(found.solution))
        print(f"one march of {km:.0f} km                 {1000 * once:8.2f} ms")
        sys.path.insert(0, str(ROOT / "tests"))
        from descent.plan.verify import schedule_of
        from physics.reference_driver import ReferenceDriver  # type: ignore[import-not-found]
        schedule = schedule_of(task, shop.cells, shop.tables, found.solution)
        began = time.perf_counter()
        ReferenceDriver(shop.cells, vehicle, shop.tables.settings, schedule, task.day, task.driving,
                        density_ratio=task.density_ratio, tolerance=1e-6).drive()
        print(f"the same by solve_ivp (rtol 1e-6)  {time.perf_counter() - began:8.2f} s, "
              f"{(time.perf_counter() - began) / once:,.0f} x as long")


if __name__ == "__main__":
    main()
    march_peers.report()
    planner_speed.report()
    nlp_bound.report()
    page.report()
