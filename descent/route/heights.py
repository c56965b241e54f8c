# SPDX-License-Identifier: MIT
"""Settles the heights recorded along a line: complete, or not used and said so."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
LOWEST_M, HIGHEST_M = -500.0, 6500.0
FILL_M = 200.0


def settle_heights(station_m: FloatArray, elevation_m: FloatArray, mended: list[str]) -> FloatArray | None:
    """Heights for every point, or None. station_m, elevation_m: (n,) [m], NaN where the file has none.

    Heights no road has (below -500 m or above 6500 m: common practice, no source) count as missing. Missing
    heights are filled along a straight line over at most 200 m, said in `mended`; over more, no height of the
    line is used. A line whose heights are all 0 was drawn without any.
    """
    present = np.isfinite(elevation_m)
    if not present.any():
        return None
    with np.errstate(invalid="ignore"):
        wild = present & ((elevation_m < LOWEST_M) | (elevation_m > HIGHEST_M))
    if wild.any():
        mended.append(f"{int(wild.sum())} recorded heights below {LOWEST_M:.0f} m or above {HIGHEST_M:.0f} m, such "
                      f"as {elevation_m[wild][0]:.0f} m, were left out")
        present &= ~wild
    known = np.flatnonzero(present)
    if not known.size:
        return None
    if not elevation_m[known].any():
        mended.append("the heights in the file are all 0, as drawing tools write them, and are not used")
        return None
    if known.size == len(elevation_m):
        return np.array(elevation_m)
    gaps = np.diff(station_m[known])[np.diff(known) > 1]
    ends = max(station_m[known[0]] - station_m[0], station_m[-1] - station_m[known[-1]])
    missing = len(elevation_m) - known.size
    if ends > 0 or (gaps > FILL_M).any():
        mended.append(f"{missing} of {len(elevation_m)} points have no height, over more than {FILL_M:.0f} m at a "
                      "time or at an end, so the heights in the file are not used")
        return None
    mended.append(f"{missing} points without a height were given one from their neighbours")
    return np.interp(station_m, station_m[known], elevation_m[known])
