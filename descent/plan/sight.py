# SPDX-License-Identifier: MIT
"""How fast a crest may be taken: no faster than one can stop within the road seen over it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from descent.units import GRAVITY_MPS2

FloatArray = NDArray[np.float64]
EYE_M = 2.33             # truck driver's eye above the road (key aashto_green_book, from memory, high confidence)
OBJECT_M = 0.60          # what must be seen, a car's tail lamps (same)
REACTION_S = 2.5         # perception and reaction of the design guide (same)
DECEL_MPS2 = 3.4         # deceleration of the design guide (same)
WINDOWS_M = (100.0, 200.0, 400.0, 800.0)


def crest_sight_m(change: FloatArray, length_m: float) -> FloatArray:
    """Sight distance (n,) [m] over crest curves of `length_m` [m] that turn the grade down by `change` (n,) [1].

    S^2 = L (sqrt(2 h1) + sqrt(2 h2))^2 / A where S < L, else S = L / 2 + (sqrt(h1) + sqrt(h2))^2 / A; infinite where the
    grade does not turn down. Range: one parabolic curve between straight grades, the road in plan straight and clear.
    Source: key aashto_green_book (from memory, high confidence).

    >>> crest_sight_m(np.array([0.08]), 400.0).round(1).tolist()
    [230.1]
    """
    turn = np.maximum(np.asarray(change, dtype=float), 1e-9)
    heights = (np.sqrt(EYE_M) + np.sqrt(OBJECT_M)) ** 2
    inside = np.sqrt(2.0 * length_m * heights / turn)
    return np.asarray(np.where(inside < length_m, inside, length_m / 2 + heights / turn))


def speed_to_stop_mps(sight_m: FloatArray, grade: FloatArray) -> FloatArray:
    """Speed (n,) [m/s] from which one stops within `sight_m` (n,) [m] on a grade (n,) [1]: v t + v^2 / (2 (a + g G)) = S.

    Range: where the grade leaves some deceleration. Source: key aashto_green_book for t and a.

    >>> speed_to_stop_mps(np.array([130.0]), np.array([0.0])).round(2).tolist()
    [22.4]
    """
    decel = np.maximum(DECEL_MPS2 + GRAVITY_MPS2 * np.asarray(grade, dtype=float), 0.2)
    return np.asarray(decel * (np.sqrt(REACTION_S**2 + 2 * np.asarray(sight_m, dtype=float) / decel) - REACTION_S))


def sight_limit_mps(grade: FloatArray, spacing_m: float) -> FloatArray:
    """Highest speed (n,) [m/s] with which one can stop within the road seen over crests, on a profile's grades (n,) [1] at
    equal spacing [m].

    The crest around each station is taken as the sharpest of curves 100 to 800 m long. Shorter ones are left out: heights
    of a 10 m elevation model do not carry them. What hides the road sideways (cuttings, trees) is not in the data at
    all: this is no promise of sight. Source: key aashto_green_book (from memory, high confidence).
    """
    grade = np.asarray(grade, dtype=float)
    least = np.full(len(grade), np.inf)
    index = np.arange(len(grade))
    for window_m in WINDOWS_M:
        half = max(1, round(window_m / 2 / spacing_m))
        before, after = grade[np.maximum(index - half, 0)], grade[np.minimum(index + half, len(grade) - 1)]
        sight = crest_sight_m(before - after, 2 * half * spacing_m)
        least = np.minimum(least, speed_to_stop_mps(sight, np.minimum(grade, after)))
    return least
