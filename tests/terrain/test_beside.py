# SPDX-License-Identifier: MIT
"""What the ground beside a road takes out of its heights: errors it shows, and nothing of the road itself."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from descent.terrain.beside import quietened
from descent.terrain.sample import CrossSamples

FloatArray = NDArray[np.float64]
DS, N, ASIDE = 10.0, 1200, (30.0, 60.0)
STATION = np.arange(N) * DS
ROAD = 900 - 0.05 * STATION + 40 * np.sin(STATION / 1500)
EVERY = np.ones(N, dtype=bool)


def waves(seed: int, sd: float = 2.0) -> FloatArray:
    """Correlated height error [m]: white noise blurred over 60 m."""
    rough = gaussian_filter1d(np.random.default_rng(seed).standard_normal(N), 6.0)
    return np.asarray(rough / rough.std() * sd)


def samples(height: FloatArray, left: FloatArray, right: FloatArray) -> CrossSamples:
    """Heights at the line and beside it; `left` and `right` are departures from the road 30 m aside, 60 m is level."""
    columns = np.stack([ROAD, ROAD + right, height, ROAD + left, ROAD], axis=1)
    return CrossSamples(columns, np.array([-60.0, -30.0, 0.0, 30.0, 60.0]), np.full(N, 30.0),
                        np.zeros(N, dtype=np.int64), np.ones(N, dtype=bool))


def rms(values: FloatArray) -> float:
    return float(np.sqrt(np.mean(values**2)))


def test_error_that_the_sides_do_not_share_is_taken_out_but_for_its_longest_waves() -> None:
    error = waves(1)
    height = ROAD + error
    got = quietened(height, samples(height, 0 * error, 0 * error), spacing_m=DS, members=EVERY, aside_m=ASIDE)
    kept = gaussian_filter1d(error, 60.0, mode="nearest", truncate=3.0)         # what is slower than 600 m stays
    assert rms(got - ROAD - kept) < 0.1 * rms(error)


def test_error_common_to_the_whole_section_shows_nothing_and_stays() -> None:
    error = waves(2)
    height = ROAD + error
    seen = samples(height, error, error)
    seen = CrossSamples(np.stack([height] * 5, axis=1), seen.offsets_m, seen.cell_m, seen.file, seen.integer)
    got = quietened(height, seen, spacing_m=DS, members=EVERY, aside_m=ASIDE)
    assert np.array_equal(got, height)


def test_cross_slope_shows_nothing() -> None:
    height, slope = ROAD + waves(3), 0.4 + 0.1 * np.sin(STATION / 90)
    columns = height[:, None] + slope[:, None] * np.array([-60.0, -30.0, 0.0, 30.0, 60.0])[None, :]
    seen = samples(height, ROAD, ROAD)
    seen = CrossSamples(columns, seen.offsets_m, seen.cell_m, seen.file, seen.integer)
    got = quietened(height, seen, spacing_m=DS, members=EVERY, aside_m=ASIDE)
    assert got == pytest.approx(height, abs=1e-6)


@pytest.mark.parametrize("seed", range(5))
def test_unrelated_ground_beside_hardly_changes_a_height(seed: int) -> None:
    error, other = waves(10 + seed), waves(20 + seed)
    height = ROAD + error
    columns = np.stack([height + other, height + other, height, height + other, height + other], axis=1)
    seen = CrossSamples(columns, np.array([-60.0, -30.0, 0.0, 30.0, 60.0]), np.full(N, 30.0),
                        np.zeros(N, dtype=np.int64), np.ones(N, dtype=bool))
    got = quietened(height, seen, spacing_m=DS, members=EVERY, aside_m=ASIDE)
    # least squares alone would take out chance likeness of about sqrt(2 / independent waves) = 13 % of the error
    assert rms(got - height) < 0.15 * rms(error)
    assert rms(got - ROAD) < 1.03 * rms(error)


def test_gaps_other_stations_and_short_roads_stay_as_they_are() -> None:
    height = ROAD + waves(4)
    height[300:340] = np.nan
    seen = samples(height, np.zeros(N), np.zeros(N))
    members = STATION < 9000
    got = quietened(height, seen, spacing_m=DS, members=members, aside_m=ASIDE)
    assert np.array_equal(np.isnan(got), np.isnan(height))
    assert np.array_equal(got[~members], height[~members]) and not np.array_equal(got[:200], height[:200])
    few = STATION < 150
    assert quietened(height, seen, spacing_m=DS, members=few, aside_m=ASIDE) is height
    assert quietened(height, seen, spacing_m=DS, members=EVERY, aside_m=()) is height


def test_direction_and_side_do_not_matter() -> None:
    height = ROAD + waves(5)
    seen = samples(height, waves(6), waves(7))
    one = quietened(height, seen, spacing_m=DS, members=EVERY, aside_m=ASIDE)
    turned = CrossSamples(seen.height_m[::-1, ::-1].copy(), seen.offsets_m, seen.cell_m, seen.file, seen.integer)
    other = quietened(height[::-1].copy(), turned, spacing_m=DS, members=EVERY, aside_m=ASIDE)
    assert other[::-1] == pytest.approx(one, abs=1e-9)
