# SPDX-License-Identifier: MIT
"""The line moves onto a bench that is there and stays where there is none."""

from __future__ import annotations

import numpy as np

from descent.terrain.registration import register
from descent.terrain.sample import LATERAL_OFFSETS_M, CrossSamples

N, DS = 800, 10.0
STATION = np.arange(N) * DS
SHIFT = 5.0 * np.sin(STATION / 190)                 # where the road lies beside the digitised line


def cross_sections(*, bench_half_m: float, cell_m: float = 10.0) -> CrossSamples:
    """A hillside of 40 % falling to the right with a level bench around SHIFT."""
    o = LATERAL_OFFSETS_M[None, :] - SHIFT[:, None]
    side = 0.4 * np.sign(o) * np.clip(np.abs(o) - bench_half_m, 0, None)
    heights = 900 - 0.05 * STATION[:, None] + side
    return CrossSamples(heights, LATERAL_OFFSETS_M, np.full(N, cell_m), np.zeros(N, dtype=np.int64),
                        np.zeros(N, dtype=bool))


def test_bench_is_found_to_within_its_width() -> None:
    placed = register(cross_sections(bench_half_m=5.0), np.zeros(N, dtype=bool), spacing_m=DS)
    assert placed.bench.all()
    error = placed.offset_m - SHIFT
    assert np.sqrt(np.mean(error**2)) < 2.5 < np.sqrt(np.mean(SHIFT**2))
    assert np.sqrt(np.mean((placed.height_m - (900 - 0.05 * STATION)) ** 2)) < 0.3


def test_plain_hillside_has_no_bench() -> None:
    placed = register(cross_sections(bench_half_m=0.0), np.zeros(N, dtype=bool), spacing_m=DS)
    assert not placed.bench.any() and not placed.offset_m.any()
    assert np.allclose(placed.cross_slope, 0.4)          # rises to the left of travel


def test_coarse_cells_are_left_alone() -> None:
    placed = register(cross_sections(bench_half_m=5.0, cell_m=30.0), np.zeros(N, dtype=bool), spacing_m=DS)
    assert not placed.bench.any() and not placed.offset_m.any()
