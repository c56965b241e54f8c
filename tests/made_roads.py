# SPDX-License-Identifier: MIT
"""Roads with closed-form profiles, and a task to plan on them, for tests."""

from __future__ import annotations

import numpy as np

from descent.downgrades.find import sustained_downgrades
from descent.physics.march import Day, Driving
from descent.plan.limits import steep_side
from descent.plan.model import Rules, Task
from descent.route.places import Place
from descent.terrain.road_profile import RoadProfile
from descent.units import MPH_MPS
from descent.vehicle.model import Vehicle


def straight_profile(pieces: list[tuple[float, float]], *, spacing_m: float = 10.0, top_m: float = 1500.0,
                     grade_sd: float = 0.0) -> RoadProfile:
    """A profile of (length_m, grade) pieces at equal spacing, heights by exact sums; no curves, no position."""
    grade = np.concatenate([np.full(round(length / spacing_m), value) for length, value in pieces])
    grade = np.append(grade, grade[-1])
    station = np.arange(len(grade)) * spacing_m
    rise = np.concatenate([[0.0], np.cumsum((grade[1:] + grade[:-1]) / 2 * spacing_m)])
    flat = np.zeros(len(grade))
    return RoadProfile(station, flat, flat, top_m + rise, flat, grade, flat + grade_sd, flat, "closed form")


def made_task(pieces: list[tuple[float, float]], vehicle: Vehicle, *, places: tuple[Place, ...] = (),
              min_speed_mps: float = 15 * MPH_MPS, posted_mps: float = 55 * MPH_MPS, air_temp_c: float = 32.2,
              start_temp_c: float = 65.6) -> Task:
    """A task on a straight road of these pieces, everything known exactly."""
    profile = straight_profile(pieces)
    downgrades = sustained_downgrades(profile)
    n = len(profile.station_m)
    return Task(profile, downgrades, places, vehicle, Day(air_temp_c, start_temp_c, 0.6), Driving(),
                Rules(min_speed_mps, 5 * MPH_MPS, MPH_MPS), np.full(n, posted_mps), np.ones(n, dtype=bool),
                np.full(n, 45.0), steep_side(profile, downgrades))


def pull_out(name: str, station_m: float, *, kind: str = "pull-out", grade: float = 0.0) -> Place:
    """A place on the right of the road."""
    return Place(name, kind, 0.0, 0.0, station_m, 5.0, "right", grade, 80.0, {})
