# SPDX-License-Identifier: MIT
"""The compiled march against the same code in plain Python, a NumPy version over many trucks, and solve_ivp: one run."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np

ROOT = Path(__file__).resolve().parents[1]
HILL = [(20_000.0, -0.05), (5_000.0, 0.0), (25_000.0, -0.03), (25_000.0, 0.02), (25_000.0, -0.045)]


def drive_hill() -> tuple[Any, Any]:
    """One full march of a 100 km road of plain grades under a fixed schedule (36 t, snubbed at 8.5 m/s)."""
    sys.path.insert(0, str(ROOT / "tests"))
    from descent.physics.march import Day, Driving, Schedule, Setting, cells_of, force_tables, march
    from descent.vehicle.catalogue import load_vehicle
    from made_roads import straight_profile  # type: ignore[import-not-found]

    vehicle, day, driving = load_vehicle("tractor-semitrailer-retarder"), Day(32.2, 65.6, 0.6), Driving()
    cells = cells_of(straight_profile(HILL, spacing_m=20.0, top_m=2500.0), vehicle, day)
    tables = force_tables(vehicle, (Setting(5, 2),), driving)
    n = len(cells.step_m)
    schedule = Schedule(np.full(n + 1, 11.6), np.full(n, 1), np.ones(n, dtype=np.int64), np.full(n + 1, -1.0))
    return (lambda: march(cells, vehicle, tables, schedule, day, driving, start_speed_mps=11.6)), (
        cells, vehicle, tables, schedule, day, driving)


def drive_many(trucks: int, threads: int) -> Any:
    """The same road and schedule for trucks of 0.9 to 1.1 of the weight, each with the whole physics of a march."""
    from types import SimpleNamespace

    from descent.physics.brake_heat import packed_rows
    from descent.physics.cell_kernel import DRIVE_FORCE, MASS, MASS_EFF
    from descent.physics.march import scalars
    from descent.physics.march_draws import march_draws
    cells, vehicle, tables, schedule, day, driving = drive_hill()[1]
    n = len(cells.step_m)
    packed = np.repeat(scalars(vehicle, day, driving)[None], trucks, axis=0)
    packed[:, [MASS, MASS_EFF, DRIVE_FORCE]] *= np.linspace(0.9, 1.1, trucks)[:, None]
    varied = SimpleNamespace(
        rows=np.repeat(packed_rows(vehicle)[None], trucks, axis=0), scalars=packed, retarder_share=np.ones(trucks),
        air_share=np.ones(trucks), air_temp_c=np.full(trucks, day.air_temp_c),
        grade_error=np.zeros((trucks, n), dtype=np.float32))
    return lambda: march_draws(cells, tables, schedule, varied, start_temp_c=day.start_temp_c, keep=np.array([0, n]),
                               threads=threads)


def seconds(work: Any, runs: int) -> float:
    """Mean seconds of several runs after one that does not count."""
    work()
    began = time.perf_counter()
    for _ in range(runs):
        work()
    return (time.perf_counter() - began) / runs


def numpy_trips(parts: Any, trucks: int, step_s: float = 0.25) -> float:
    """Seconds per trip of a time-stepped NumPy march over many trucks at once: the same forces, snubs and heat."""
    cells, vehicle, tables, _, day, driving = parts
    from descent.physics.brake_heat import packed_rows
    from descent.physics.foundation_brake import CAPACITY, COOL_REST, COOL_SPEED, GAIN
    rows = packed_rows(vehicle)
    share = rows[:, GAIN] / rows[:, GAIN].sum()
    edges = np.concatenate([[0.0], np.cumsum(cells.step_m)])
    mass = np.linspace(0.9, 1.1, trucks) * vehicle.gross_kg
    moving = mass * vehicle.rotating_mass_factor
    s, v = np.zeros(trucks), np.full(trucks, 11.6)
    temps, braking = np.full((trucks, len(rows)), day.start_temp_c), np.zeros(trucks, dtype=bool)
    grid = np.arange(tables.engine_n.shape[1]) * 0.02
    began = time.perf_counter()
    while (s < edges[-1]).any():
        cell = np.clip(np.searchsorted(edges, s, side="right") - 1, 0, len(cells.step_m) - 1)
        pull = mass * 9.80665 * (cells.sin_down[cell] - vehicle.rolling_coefficient * cells.cos_road[cell])
        held = np.interp(v, grid, tables.engine_n[1] + tables.retarder_n[1]) + cells.k_air[cell] * v * v
        braking = np.where(v >= 11.6, pull > held, braking & (v > 11.6 - driving.snub_drop_mps))
        brake = np.where(braking, np.maximum(pull - held + moving * driving.snub_decel_mps2, 0.0), 0.0)
        accel = np.where(braking, -driving.snub_decel_mps2, np.minimum(np.maximum((pull - held) / moving, 0.1), 0.3))
        cooling = (rows[:, COOL_REST] + rows[:, COOL_SPEED] * v[:, None]) * cells.cool[cell][:, None]
        temps += step_s * (brake[:, None] * share * v[:, None] - cooling * (temps - day.air_temp_c)) / rows[:, CAPACITY]
        s += v * step_s
        v = np.clip(v + accel * step_s, 0.5, 11.6)
    return (time.perf_counter() - began) / trucks


def report() -> None:
    """Print trips per second and the ratios."""
    work, parts = drive_hill()
    compiled = seconds(work, 20)
    plain = float(json.loads(subprocess.run(
        [sys.executable, "-m", "benchmarks.march_peers"], env={**os.environ, "NUMBA_DISABLE_JIT": "1"}, cwd=ROOT,
        capture_output=True, text=True, check=True).stdout))
    many = numpy_trips(parts, 200)
    from physics.reference_driver import ReferenceDriver  # type: ignore[import-not-found]
    cells, vehicle, tables, schedule, day, driving = parts
    began = time.perf_counter()
    ReferenceDriver(cells, vehicle, tables.settings, schedule, day, driving, tolerance=1e-6).drive()
    solved = time.perf_counter() - began
    each = seconds(drive_many(200, 1), 5) / 200
    print(f"one march of 100 km, 20 m cells    {1000 * compiled:8.2f} ms  ({1 / compiled:,.0f} a second on one core, all of it kept)")
    print(f"  plain Python, same code          {plain:8.2f} s   {plain / compiled:8,.0f} x as long")
    print(f"  solve_ivp, rtol 1e-6             {solved:8.2f} s   {solved / compiled:8,.0f} x as long")
    print(f"one of 200 trucks, peaks kept      {1000 * each:8.2f} ms  ({1 / each:,.0f} a second on one core)")
    print(f"  NumPy over 200 trucks, 0.25 s    {1000 * many:8.2f} ms  {many / each:8,.0f} x as long ({many / compiled:,.0f} x one march)")


if __name__ == "__main__":
    print(json.dumps(seconds(drive_hill()[0], 1)))
