# SPDX-License-Identifier: MIT
"""How fast a curve may be taken: side friction of design guides and the load's rollover threshold."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from descent.units import GRAVITY_MPS2, MPH_MPS

FloatArray = NDArray[np.float64]

# Highest side friction by speed [mph] (key aashto_green_book, from memory, high confidence).
SIDE_FRICTION_MPH = np.array([15, 20, 25, 30, 35, 40, 45, 50, 55, 60, 65, 70, 75, 80], dtype=float)
SIDE_FRICTION = np.array([.32, .27, .23, .20, .18, .16, .15, .14, .13, .12, .11, .10, .09, .08])


def curve_limit_mps(curvature_1pm: FloatArray, *, rollover_threshold_g: float, rollover_share: float = 0.6,
                    superelevation: float = 0.0, cap_mps: float = 45.0) -> FloatArray:
    """Highest speed (n,) [m/s] on a plan curvature (n,) [1/m]: the lower of side friction and rollover.

    Point-mass curve equation v^2 kappa / g = e + f with f falling with speed, solved by scanning up from 5 mph;
    rollover: v^2 kappa / g <= e + `rollover_share` x threshold (the share is assumed). Superelevation is not in a
    route line, so none is counted.
    """
    kappa = np.abs(curvature_1pm)
    speeds = np.arange(5, 101, 0.25) * MPH_MPS
    friction = np.interp(speeds / MPH_MPS, SIDE_FRICTION_MPH, SIDE_FRICTION)
    allowed = superelevation + np.minimum(friction, rollover_share * rollover_threshold_g)
    tightest = allowed * GRAVITY_MPS2 / speeds**2          # falls with speed
    index = np.searchsorted(-tightest, -np.maximum(kappa, 1e-9), side="right") - 1
    return np.asarray(np.minimum(speeds[np.clip(index, 0, len(speeds) - 1)], cap_mps))
