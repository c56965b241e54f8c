# SPDX-License-Identifier: MIT
"""Where the grid may be read between its points, and how far that is off: measured by direct marches."""

from __future__ import annotations

from itertools import product

import numpy as np

from descent.lesson.between import ENERGIES, Key, Outcomes, alike, cell_of, corners, read
from descent.lesson.drive import curve_of, run
from descent.lesson.model import Accuracy, Axes, Choice, FloatArray, Ground

PROBES = ((0.5, 0.5), (0.25, 0.75), (0.7, 0.3))     # where in a cell reading is compared with a direct march
STATED = (6.0, 25.0, 0.01)                          # the error the page states: [K], [kPa], share of all energy
MUST_KEEP = 2 / 3                                   # of it, at the probes; the rest is for the places between them


def readable_cells(ground: Ground, axes: Axes, outcomes: Outcomes) -> tuple[frozenset[Key], Accuracy]:
    """The cells that may be read, each found good by direct marches at `PROBES`, and the greatest error found in them.

    A cell is left out where its corners are not of one kind (`between.alike`) or a probe is off by more than `MUST_KEEP`
    of `STATED`: the page then shows the nearest grid point and says so.
    """
    good: set[Key] = set()
    points, cells, worst = 0, 0, np.zeros(3)
    allowed = MUST_KEEP * np.array(STATED)
    for discrete in product(range(len(axes.gears)), range(len(axes.stages)), range(len(axes.adjustments)),
                            range(len(axes.brakings))):
        speeds = axes.speeds_mps[discrete[0]]
        for at, heavy in product(range(max(len(speeds) - 1, 1)), range(max(len(axes.weights_kg) - 1, 1))):
            cell = (*discrete, at, heavy)
            cells += 1
            errors = _errors_in(ground, axes, outcomes, cell, allowed)
            if errors is not None:
                good.add(cell)
                points += len(PROBES)
                worst = np.maximum(worst, errors)
    return frozenset(good), Accuracy(cells, points, *(float(item) for item in worst))


def _errors_in(ground: Ground, axes: Axes, outcomes: Outcomes, cell: Key, allowed: FloatArray) -> FloatArray | None:
    """The greatest errors at the probes of a cell; None as soon as it may not be read."""
    speeds, weights = axes.speeds_mps[cell[0]], axes.weights_kg
    worst = np.zeros(3)
    for share, part in PROBES:
        speed = float(np.interp(cell[4] + share, range(len(speeds)), speeds))
        gross = float(np.interp(cell[5] + part, range(len(weights)), weights))
        if not alike(outcomes, corners(axes, cell, speed, gross)):
            return None
        worst = np.maximum(worst, errors_at(ground, axes, outcomes, cell[:4], speed, gross))
        if (worst > allowed).any():
            return None
    return worst


def errors_at(ground: Ground, axes: Axes, outcomes: Outcomes, discrete: tuple[int, int, int, int], speed_mps: float,
              gross_kg: float) -> FloatArray:
    """Error of reading at a choice against a direct march (3,): of any stretch's temperature [K] and pressure [kPa], of
    the hottest brake too, and of an energy as a share of all that was turned to heat [1]."""
    gear, stage, adjustment, braking = discrete
    made = run(ground, Choice(axes.gears[gear], axes.stages[stage], axes.adjustments[adjustment], axes.brakings[braking],
                              speed_mps, gross_kg))
    cell = cell_of(axes, discrete, speed_mps, gross_kg)
    found = read(outcomes, corners(axes, cell, speed_mps, gross_kg))
    temp = abs(float(made.trace.temp_c.max()) - found.peak_c)
    pressure = abs(float(made.trace.pressure_kpa.max()) - found.peak_kpa)
    for trace, curve in ((made.trace, found.curve), (made.worst, found.worst)):
        direct = curve_of(trace, ground, speed_mps)
        temp = max(temp, float(np.abs(direct.temp_c - curve.temp_c).max()))
        pressure = max(pressure, float(np.abs(direct.pressure_kpa - curve.pressure_kpa).max()))
    total = sum(made.trace.energy_j[name] for name in ENERGIES)
    energy = max(abs(made.trace.energy_j[name] - found.energy_j[name]) for name in ENERGIES) / total
    return np.array([temp, pressure, energy])
