# SPDX-License-Identifier: MIT
"""The length-and-grade rule for a hill warning sign.

Source: Manual on Uniform Traffic Control Devices (FHWA), hill signs W7-1, guidance for use in advance of
downgrades; the figures are from memory (2003 and 2009 editions, section 2C.16), not checked against the text.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from descent.units import FOOT_M

FloatArray = NDArray[np.float64]

# (grade at least this steep, length beyond which a sign is warranted [m])
HILL_SIGN_RULE = ((0.05, 3000 * FOOT_M), (0.06, 2000 * FOOT_M), (0.07, 1000 * FOOT_M), (0.08, 750 * FOOT_M),
                  (0.09, 500 * FOOT_M))
_ROUNDING = 1e-9


def hill_sign_warranted(grade: float, length_m: float) -> bool:
    """Whether a downgrade of this grade (ratio, negative downhill) and length meets the rule."""
    return any(-grade >= steep - _ROUNDING and length_m > least * (1 + _ROUNDING)
               for steep, least in HILL_SIGN_RULE)


def hill_sign_on(elevation_m: FloatArray, spacing_m: float) -> bool:
    """Whether any stretch inside a downgrade meets the rule by its mean grade.

    elevation_m: (n,) heights at equal spacing. For each line of the rule the steepest window just longer than
    its length is looked at.
    """
    for steep, least in HILL_SIGN_RULE:
        steps = int(least / spacing_m) + 1
        if steps < len(elevation_m):
            falls = elevation_m[:-steps] - elevation_m[steps:]
            if float(np.max(falls)) >= (steep - _ROUNDING) * steps * spacing_m:
                return True
    return False
