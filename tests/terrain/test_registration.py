# SPDX-License-Identifier: MIT
"""The line moves onto a bench that is there and stays where there is none."""

from __future__ import annotations

import numpy as np
import pytest

from descent.terrain.registration import OFFSETS_M, register
from descent.terrain.sample import CrossSamples

N, DS = 800, 10.0
STATION = np.arange(N) * DS
SHIFT = 5.0 * np.sin(STATION / 190)                 # where the road lies beside the digitised line


def cross_sections(*, bench_half_m: float, cell_m: float = 10.0) -> CrossSamples:
    """A hillside of 40 % falling to the right with a level bench around SHIFT."""
    o = OFFSETS_M[None, :] - SHIFT[:, None]
    side = 0.4 * np.sign(o) * np.clip(np.abs(o) - bench_half_m, 0, None)
    heights = 900 - 0.05 * STATION[:, None] + side
    return CrossSamples(heights, OFFSETS_M, np.full(N, cell_m), np.zeros(N, dtype=np.int64),
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


def two_benches(apart_m: float) -> CrossSamples:
    """A 30 % hillside with the road's bench around SHIFT and another level bench this far above it."""
    fine = np.arange(-60.0, 60.01, 0.5)
    slope = np.where((np.abs(fine) < 5.5) | (np.abs(fine - apart_m) < 5.5), 0.0, 0.5)
    shape = np.cumsum(slope) * 0.5
    shape = np.convolve(np.pad(shape, 20, mode="edge"), np.ones(20) / 20, mode="same")[20:-20]
    shape -= np.interp(0.0, fine, shape)
    o = OFFSETS_M[None, :] - SHIFT[:, None]
    heights = 900 - 0.05 * STATION[:, None] + np.interp(o, fine, shape)
    return CrossSamples(heights, OFFSETS_M, np.full(N, 10.0), np.zeros(N, dtype=np.int64), np.zeros(N, dtype=bool))


@pytest.mark.parametrize("apart", [-32.0, -20.0, 20.0, 32.0])
def test_a_parallel_road_does_not_capture_the_line(apart: float) -> None:
    placed = register(two_benches(apart), np.zeros(N, dtype=bool), spacing_m=DS)
    assert np.percentile(np.abs(placed.offset_m - SHIFT), 99) < 6.0


def test_gaps_beside_and_on_the_line() -> None:
    seen = cross_sections(bench_half_m=5.0)
    seen.height_m[300:330] = np.nan
    seen.height_m[500:520, :5] = np.nan
    placed = register(seen, np.zeros(N, dtype=bool), spacing_m=DS)
    assert np.isnan(placed.height_m[300:330]).all() and np.isfinite(placed.height_m[330:]).all()
    assert np.isfinite(placed.cross_slope).all() and np.isfinite(placed.offset_sd_m).all()
    assert np.sqrt(np.mean((placed.offset_m - SHIFT)[500:520] ** 2)) < 3.0


def test_mirrored_sections_give_the_mirrored_shift() -> None:
    seen = cross_sections(bench_half_m=5.0)
    mirrored = CrossSamples(seen.height_m[:, ::-1].copy(), seen.offsets_m, seen.cell_m, seen.file, seen.integer)
    one, other = (register(item, np.zeros(N, dtype=bool), spacing_m=DS) for item in (seen, mirrored))
    assert other.offset_m == pytest.approx(-one.offset_m, abs=1e-6)
    assert other.height_m == pytest.approx(one.height_m, abs=1e-6)
