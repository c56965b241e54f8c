# SPDX-License-Identifier: MIT
"""How fast a curve may be taken: side friction of design guides, the load's rollover threshold, and who stands inside."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from descent.units import GRAVITY_MPS2, MPH_MPS

FloatArray = NDArray[np.float64]

# Highest side friction by speed [mph] (key aashto_green_book, from memory, high confidence).
SIDE_FRICTION_MPH = np.array([15, 20, 25, 30, 35, 40, 45, 50, 55, 60, 65, 70, 75, 80], dtype=float)
SIDE_FRICTION = np.array([.32, .27, .23, .20, .18, .16, .15, .14, .13, .12, .11, .10, .09, .08])


def side_friction(speed_mps: FloatArray) -> FloatArray:
    """Highest side friction of the design guide (n,) [1] at speeds (n,) [m/s], linear between its rows.

    Range: 15 to 80 mph, held outside. Source: key aashto_green_book (from memory, high confidence); made for comfort in
    cars, so it is no limit of grip.

    >>> side_friction(np.array([45 * MPH_MPS])).round(3).tolist()
    [0.15]
    """
    return np.asarray(np.interp(speed_mps / MPH_MPS, SIDE_FRICTION_MPH, SIDE_FRICTION))


def least_radius_m(speed_mps: float, *, lateral: float, superelevation: float = 0.0) -> float:
    """Radius [m] at which a speed [m/s] asks for a sideways share `lateral` of gravity [1] beyond superelevation [1].

    R = v^2 / (g (e + f)), the point-mass curve equation. Range: small superelevation. Source: key aashto_green_book.

    >>> round(least_radius_m(80 / 3.6, lateral=0.14, superelevation=0.06), 1)
    251.8
    """
    return speed_mps**2 / (GRAVITY_MPS2 * (superelevation + lateral))


def rollover_speed_mps(radius_m: float, *, rollover_threshold_g: float, superelevation: float = 0.0) -> float:
    """Speed [m/s] at which a curve of `radius_m` [m] lifts the inner wheels: v^2 = g R (e + threshold).

    Range: steady curves; quick steering and moving loads roll over below it. No speed to drive at. Source: keys
    nchrp_505, nrc_rollover for thresholds.

    >>> round(rollover_speed_mps(152.4, rollover_threshold_g=0.35, superelevation=0.06) / MPH_MPS, 1)
    55.4
    """
    return math.sqrt(GRAVITY_MPS2 * radius_m * (superelevation + rollover_threshold_g))


def curve_limit_mps(curvature_1pm: FloatArray, *, rollover_threshold_g: float, rollover_share: float = 0.6,
                    superelevation: float = 0.0, cap_mps: float = 45.0,
                    greatest_lateral_g: float = math.inf) -> FloatArray:
    """Highest speed (n,) [m/s] on a plan curvature (n,) [1/m]: the lowest of side friction, rollover and the load's own.

    Point-mass curve equation v^2 kappa / g = e + f with f falling with speed, solved by scanning up from 5 mph to the
    nearest 0.25 mph below; rollover: v^2 kappa / g <= e + `rollover_share` x threshold [g] (the share is assumed);
    `greatest_lateral_g` [g]: what the load bears beyond superelevation, such as people standing. Superelevation is not in a route line, so none is counted. Range: 5 to 100 mph; source:
    key aashto_green_book.

    >>> limit = curve_limit_mps(np.array([0.01]), rollover_threshold_g=0.35)
    >>> (limit / MPH_MPS).round(2).tolist()
    [31.0]
    """
    kappa = np.abs(curvature_1pm)
    speeds = np.arange(5, 101, 0.25) * MPH_MPS
    most = min(rollover_share * rollover_threshold_g, greatest_lateral_g)
    allowed = superelevation + np.minimum(side_friction(speeds), most)
    tightest = allowed * GRAVITY_MPS2 / speeds**2          # falls with speed
    index = np.searchsorted(-tightest, -np.maximum(kappa, 1e-9), side="right") - 1
    return np.asarray(np.minimum(speeds[np.clip(index, 0, len(speeds) - 1)], cap_mps))
