# SPDX-License-Identifier: MIT
"""Takes out of the heights along a road what the ground beside it shows to be error of the elevation model.

Where no road bench is seen, the height at the line is ground of a cell or more around it. The mean of the heights
equally far to the left and to the right, less the height at the line, holds none of the road's own rise (and none of
the cross-slope), yet much of the error: the model's own noise, which neighbouring cells share in part, and the ground's
departures from the road. How much of it to take is learnt from each road itself by least squares over waves of some
50 to 250 m, where a road has little rise and fall of its own and the error is nearly all there is; this is the noise
canceller with reference inputs of adaptive filtering (Widrow and others 1975, from memory). The shares are drawn
towards none by as much as chance alone would explain (James and Stein 1961, from memory), so a short road stays as it
is; what is taken out is freed of waves beyond some 600 m, which could be the road's.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from descent.terrain.sample import CrossSamples

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
SHORT_M, LONG_M, LONGEST_M = 50.0, 250.0, 600.0     # spans (Gaussian sd) of the waves looked at and taken out
_RIDGE = 0.01
_INDEPENDENT_M = 50.0       # stretches this long count as one independent look at the waves


def quietened(height_m: FloatArray, samples: CrossSamples, *, spacing_m: float, members: BoolArray,
              aside_m: tuple[float, ...]) -> FloatArray:
    """Heights (n,) [m] with the error that the ground `aside_m` to both sides shows taken out.

    height_m (n,): heights along the road, NaN left out; samples: heights beside it, with columns at plus and minus
    each of aside_m; members (n,): the stations meant, the others stay as they are.
    """
    if not aside_m:
        return height_m
    shown = _shown(samples, aside_m)
    seen = members & ~np.isnan(height_m) & ~np.isnan(shown).any(axis=1)
    count = float(np.sum(seen)) * spacing_m / _INDEPENDENT_M
    if count <= 2 * len(aside_m):
        return height_m
    local = _LocalMean(seen, spacing_m)
    height = local.band(height_m[:, None])[seen, 0]
    beside = local.band(shown)[seen]
    square = beside.T @ beside
    share = np.linalg.solve(square + _RIDGE * np.diag(np.diag(square)) + 1e-9 * np.eye(len(square)), beside.T @ height)
    explained = float(np.sum((beside @ share) ** 2))
    left = float(np.sum((height - beside @ share) ** 2))
    share *= max(0.0, 1.0 - len(aside_m) * left / max(count * explained, 1e-9))
    error = (local.filled(shown) - local.over(shown, LONGEST_M)) @ share
    return np.where(seen, height_m - error, height_m)


def _shown(samples: CrossSamples, aside_m: tuple[float, ...]) -> FloatArray:
    """(n, k): mean of the heights at plus and minus each distance, less the height at the line [m]."""
    def column(offset: float) -> FloatArray:
        return samples.height_m[:, int(np.argmin(np.abs(samples.offsets_m - offset)))]
    return np.stack([(column(far) + column(-far)) / 2 - column(0.0) for far in aside_m], axis=1)


class _LocalMean:
    """Means over Gaussian spans of columns (n, k) along a road, over the stations that are seen."""

    def __init__(self, seen: BoolArray, spacing_m: float) -> None:
        self.seen, self.spacing_m = seen[:, None], spacing_m

    def filled(self, values: FloatArray) -> FloatArray:
        """0 where not seen."""
        return np.where(self.seen, values, 0.0)

    def over(self, values: FloatArray, span_m: float) -> FloatArray:
        """Local mean."""
        def blurred(column: FloatArray) -> FloatArray:
            return np.asarray(gaussian_filter1d(column, span_m / self.spacing_m, axis=0, mode="nearest", truncate=3.0))
        return blurred(self.filled(values)) / np.maximum(blurred(self.seen.astype(float)), 1e-3)

    def band(self, values: FloatArray) -> FloatArray:
        """Waves between the short and the long span."""
        return self.over(values, SHORT_M) - self.over(values, LONG_M)
