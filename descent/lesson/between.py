# SPDX-License-Identifier: MIT
"""Reading between the grid's speeds and weights: straight lines, and never across a runaway."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from descent.lesson.model import Axes, Curve, FloatArray, Outcome, State

Key = tuple[int, int, int, int, int, int]
Outcomes = dict[Key, Outcome]
ENERGIES = ("rolling_j", "air_j", "engine_j", "retarder_j", "brakes_j")


@dataclass(frozen=True)
class Between:
    """What is read between grid points: curves as in `Outcome`, hottest brake [C], with one emergency stop [C], pressure
    [kPa], and the energy of `ENERGIES` [J]."""

    curve: Curve
    worst: Curve
    peak_c: float
    with_stop_c: float
    peak_kpa: float
    time_s: float
    energy_j: dict[str, float]


def cell_of(axes: Axes, discrete: tuple[int, int, int, int], speed_mps: float, gross_kg: float) -> Key:
    """The grid cell a choice lies in, by the indices of its lowest corner. discrete: gear, stage, adjustment, braking, as
    indices into the axes."""
    return (*discrete, _low(axes.speeds_mps[discrete[0]], speed_mps), _low(axes.weights_kg, gross_kg))


def corners(axes: Axes, cell: Key, speed_mps: float, gross_kg: float) -> dict[Key, float]:
    """The grid points around a choice in its cell and their weights, those of no weight left out. Values outside the grid
    are held at its edge."""
    gear, stage, adjustment, braking, at, heavy = cell
    found: dict[Key, float] = {}
    for i, share in enumerate(_shares(axes.speeds_mps[gear], at, speed_mps)):
        for j, part in enumerate(_shares(axes.weights_kg, heavy, gross_kg)):
            if share * part > 1e-9:
                found[gear, stage, adjustment, braking, at + i, heavy + j] = share * part
    return found


def _low(grid: tuple[float, ...], value: float) -> int:
    return max(min(int(np.searchsorted(np.array(grid), value + 1e-9, side="right")) - 1, len(grid) - 2), 0)


def _shares(grid: tuple[float, ...], low: int, value: float) -> tuple[float, ...]:
    if len(grid) == 1:
        return (1.0,)
    share = min(max((value - grid[low]) / (grid[low + 1] - grid[low]), 0.0), 1.0)
    return (1.0 - share, share)


def alike(outcomes: Outcomes, around: dict[Key, float]) -> bool:
    """Whether grid points are of one kind: each can be stopped all the way in every case, and the service brakes are used
    in each or in none. Where a runaway lies among them there is no reading between."""
    parts = [outcomes[key] for key in around]
    used = {item.peak_kpa > 0.0 for item in parts}
    return all(item.state in (State.HOLDS, State.HOT) for item in parts) and len(used) == 1


def read(outcomes: Outcomes, around: dict[Key, float]) -> Between:
    """The figures between grid points: the weighted mean of theirs; of pressures, the mean of their reciprocals, since the
    pressure a force takes goes with one over what is left of the brake. Call only in a cell that may be read."""
    shares = np.array(list(around.values()))
    parts = [outcomes[key] for key in around]

    def mean(pick: str) -> float:
        return float(shares @ np.array([getattr(item, pick) for item in parts]))

    def curve(pick: str) -> Curve:
        curves = [getattr(item, pick) for item in parts]
        return Curve(shares @ np.array([item.temp_c for item in curves]),
                     _reciprocal_mean(shares, np.array([item.pressure_kpa for item in curves])),
                     shares @ np.array([item.speed_mps for item in curves]))

    peak = _reciprocal_mean(shares, np.array([[item.peak_kpa] for item in parts]))
    return Between(curve("curve"), curve("worst"), mean("peak_c"), mean("with_stop_c"), float(peak[0]), mean("time_s"),
                   {name: float(shares @ np.array([item.energy_j[name] for item in parts])) for name in ENERGIES})


def _reciprocal_mean(shares: FloatArray, pressures_kpa: FloatArray) -> FloatArray:
    """One over the weighted mean of reciprocals (n,) of pressures (parts, n); the plain mean where one of them is 0."""
    some = (pressures_kpa > 0.0).all(axis=0)
    inverse = shares @ (1.0 / np.where(some, pressures_kpa, 1.0))
    return np.asarray(np.where(some, 1.0 / inverse, shares @ pressures_kpa))
