# SPDX-License-Identifier: MIT
"""Random mountain roads, vehicles, loads and days, the same for every seed: what the planner is measured on."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

NAMES = ("tractor-semitrailer", "tractor-semitrailer-retarder", "motorcoach", "dump-truck", "straight-truck",
         "tank-truck", "logging-truck", "doubles", "transit-bus", "tractor-semitrailer-disc")


def random_profile(rng: np.random.Generator, length_m: float, *, spacing_m: float = 20.0) -> Any:
    """Climbs, flats and falls of 0.5 to 9 km joined over 200 m, with a small waviness; curves now and then."""
    from descent.terrain.road_profile import RoadProfile
    pieces: list[tuple[float, float]] = []
    total = 0.0
    while total < length_m:
        kind = rng.uniform()
        if kind < 0.42:
            piece = (float(rng.uniform(1000, 9000)), float(rng.uniform(-0.075, -0.03)))
        elif kind < 0.6:
            piece = (float(rng.uniform(500, 3000)), float(rng.uniform(-0.02, 0.01)))
        else:
            piece = (float(rng.uniform(1000, 7000)), float(rng.uniform(0.01, 0.06)))
        pieces.append(piece)
        total += piece[0]
    count = round(length_m / spacing_m)
    grade = np.concatenate([np.full(max(1, round(long / spacing_m)), value) for long, value in pieces])[:count]
    grade = np.append(grade, grade[-1])
    width = max(1, round(200.0 / spacing_m))
    grade = np.convolve(np.pad(grade, (width // 2, width - 1 - width // 2), mode="edge"), np.full(width, 1 / width), "valid")
    station = np.arange(len(grade)) * spacing_m
    grade = grade + 0.003 * np.sin(station / float(rng.uniform(60, 200)) + float(rng.uniform(0, 6)))
    rise = np.concatenate([[0.0], np.cumsum((grade[1:] + grade[:-1]) / 2 * spacing_m)])
    curvature = np.zeros(len(grade))
    for at in rng.uniform(0, length_m, int(length_m / 2500)):
        long = float(rng.uniform(100, 400))
        curvature[(station >= at) & (station < at + long)] = 1 / float(rng.uniform(60, 600))
    flat = np.zeros(len(grade))
    return RoadProfile(station, flat, flat, 600.0 - float(rise.min()) + rise, flat, grade, flat, curvature, "random")


def random_task(seed: int, *, length_m: float | None = None, spacing_m: float = 20.0) -> Any:
    """A random road of 5 to 200 km (or `length_m`), vehicle, load, day, limits and places, as a planner's task."""
    from descent.downgrades.find import sustained_downgrades
    from descent.physics.curves import curve_limit_mps
    from descent.physics.march import Day, Driving
    from descent.plan.limits import steep_side
    from descent.plan.model import Rules, Task
    from descent.plan.sight import sight_limit_mps
    from descent.route.places import Place
    from descent.units import MPH_MPS
    from descent.vehicle.air_supply import air_supply
    from descent.vehicle.catalogue import load_vehicle

    rng = np.random.default_rng(seed)
    length = float(length_m or np.exp(rng.uniform(np.log(5_000), np.log(200_000))))
    profile = random_profile(rng, length, spacing_m=spacing_m)
    name = str(rng.choice(NAMES))
    full = load_vehicle(name)
    load = float(rng.uniform(0.4, 1.0)) if full.retarder.stages else float(rng.uniform(0.2, 1.0))
    vehicle = load_vehicle(name, gross_kg=full.tare_kg + load * (full.gross_kg - full.tare_kg))
    where = np.sort(rng.uniform(0, length, rng.poisson(length / 8_000)))
    kinds = rng.choice(["pull-out", "brake-check-area", "rest-area"], len(where), p=[0.7, 0.2, 0.1])
    places = tuple(Place(f"Place {i}", str(kind), 0.0, 0.0, float(at), 5.0, "right", float(rng.uniform(-0.03, 0.02)), 80.0, {})
                   for i, (at, kind) in enumerate(zip(where, kinds, strict=True)))
    n = len(profile.station_m)
    posted = np.full(n, float(rng.choice([45, 55, 65])) * MPH_MPS)
    for at in rng.uniform(0, length, rng.poisson(length / 15_000)):
        inside = (profile.station_m >= at) & (profile.station_m < at + float(rng.uniform(300, 3000)))
        posted[inside] = np.minimum(posted[inside], float(rng.choice([25, 35, 45])) * MPH_MPS)
    downgrades = sustained_downgrades(profile)
    curve = curve_limit_mps(profile.curvature_1pm, rollover_threshold_g=vehicle.rollover_threshold_g,
                            rollover_share=vehicle.load.curve_share, greatest_lateral_g=vehicle.load.greatest_lateral_g)
    curve = np.minimum(curve, sight_limit_mps(profile.grade, spacing_m))
    units = float(rng.choice([MPH_MPS, 1 / 3.6]))
    rules = Rules(float(rng.choice([10, 15])) * MPH_MPS, 5 * units, units)
    day = Day(float(rng.uniform(-15, 40)), 65.6, float(rng.choice([0.6, 0.6, 0.4])))
    task = Task(profile, downgrades, places, vehicle, day, Driving(), rules, posted, np.ones(n, dtype=bool), curve,
                steep_side(profile, downgrades), air=air_supply(vehicle))
    return replace(task, driving=replace(task.driving, snub_decel_mps2=min(
        task.driving.snub_decel_mps2, vehicle.load.greatest_decel_mps2)))
