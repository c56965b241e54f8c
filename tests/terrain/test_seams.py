# SPDX-License-Identifier: MIT
"""Where files of different fineness meet there is no step: measured against ground with a known formula."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from descent.errors import ElevationError
from descent.route.line import Route
from descent.terrain.dem import open_dems
from descent.terrain.sample import CrossSamples, sample_across
from descent.terrain.seams import join, runs_of, wanted_stations

SPACING_M = 10.0


def ground(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    return 1500 - 0.06 * x + 12 * np.sin(x / 400) + 8 * np.sin(y / 150)


def rough(sd_m: float, seed: int) -> Callable[[np.ndarray, np.ndarray], np.ndarray]:
    noise = np.random.default_rng(seed)
    return lambda x, y: ground(x, y) + noise.normal(0, sd_m, np.shape(x))


def largest_step_m(got: CrossSamples, x: np.ndarray, y: np.ndarray, near: list[float]) -> float:
    """The largest departure of the height change over one station from the true one, around places."""
    error = np.diff(got.height_m[:, got.centre] - ground(x, y))
    here = np.zeros(len(error), dtype=bool)
    for place in near:
        here |= np.abs(x[:-1] - place) < 400
    return float(np.abs(error[here]).max())


@pytest.fixture
def road(line_over: Callable[..., Route]) -> tuple[Route, np.ndarray, np.ndarray]:
    x = np.arange(100.0, 7900.0, SPACING_M)
    y = np.full(len(x), 500.0)
    return line_over(x, y), x, y


def test_a_coarser_file_with_another_zero_leaves_no_step(write_dem: Callable[..., str],
                                                         road: tuple[Route, np.ndarray, np.ndarray]) -> None:
    """The fine file ends at 3 km and begins again at 6 km; the coarse one lies 6 m higher."""
    route, x, y = road
    files = [write_dem(ground, name="a.tif", width_m=3000.0), write_dem(ground, name="b.tif", west=6000, width_m=2000.0),
             write_dem(lambda x, y: ground(x, y) + 6.0, name="coarse.tif", width_m=8000.0, cell_m=25.0)]
    got = sample_across(open_dems(files), route.lon, route.lat)
    assert not np.isnan(got.height_m).any()
    assert largest_step_m(got, x, y, [3000.0, 6000.0]) < 0.1
    assert np.abs(got.height_m[:, got.centre] - ground(x, y)).max() < 0.5
    assert any("shifted by up to 6" in note for note in got.notes)


def test_the_step_left_by_noisy_files_is_that_of_their_noise(write_dem: Callable[..., str],
                                                             road: tuple[Route, np.ndarray, np.ndarray]) -> None:
    route, x, y = road
    fine = write_dem(rough(0.3, 1), name="a.tif", width_m=3000.0)
    rougher = rough(2.0, 2)
    coarse = write_dem(lambda x, y: rougher(x, y) - 9.0, name="c.tif", width_m=8000.0, cell_m=25.0)
    got = sample_across(open_dems([fine, coarse]), route.lon, route.lat)
    alone = sample_across(open_dems([coarse]), route.lon, route.lat)
    elsewhere = np.abs(np.diff(alone.height_m[:, alone.centre] - ground(x, y))).max()
    assert largest_step_m(got, x, y, [3000.0]) <= elsewhere
    assert got.cell_m[x < 2700].round().tolist() == [10.0] * int((x < 2700).sum())


def test_a_hole_of_one_cell_disturbs_little_around_it(write_dem: Callable[..., str],
                                                      road: tuple[Route, np.ndarray, np.ndarray]) -> None:
    route, x, y = road
    holed = write_dem(lambda x, y: np.where(np.abs(x - 4005) < 6, np.nan, ground(x, y)), name="a.tif", width_m=8000.0)
    coarse = write_dem(lambda x, y: ground(x, y) - 4.0, name="c.tif", width_m=8000.0, cell_m=25.0)
    got = sample_across(open_dems([holed, coarse]), route.lon, route.lat)
    off = np.abs(got.height_m[:, got.centre] - ground(x, y))
    assert off.max() < 0.3
    assert off[np.abs(x - 4005) > 70].max() < 0.05


def test_files_of_other_ground_are_refused(write_dem: Callable[..., str],
                                           road: tuple[Route, np.ndarray, np.ndarray]) -> None:
    route, *_ = road
    fine = write_dem(ground, name="a.tif", width_m=3000.0)
    other = write_dem(lambda x, y: 1500 + 400 * np.sin(x / 300), name="c.tif", width_m=8000.0, cell_m=25.0)
    with pytest.raises(ElevationError, match="same ground") as error:
        sample_across(open_dems([fine, other]), route.lon, route.lat)
    assert error.value.faults[0].code == "dem-misplaced" and error.value.exit_code == 4


def test_files_that_do_not_overlap_are_said(write_dem: Callable[..., str],
                                            road: tuple[Route, np.ndarray, np.ndarray]) -> None:
    route, *_ = road
    files = [write_dem(ground, name="a.tif", width_m=3000.0),
             write_dem(ground, name="b.tif", west=3000.0, width_m=5000.0, cell_m=25.0)]
    got = sample_across(open_dems(files), route.lon, route.lat)
    assert any("without overlapping" in note for note in got.notes)


@given(st.lists(st.booleans(), min_size=5, max_size=120), st.floats(-50, 50), st.integers(0, 2**32 - 1))
def test_joining_fills_all_that_the_layer_has_and_keeps_the_rest(known: list[bool], bias: float, seed: int) -> None:
    """A layer that differs by a constant gives back the fine heights everywhere, whatever is missing."""
    noise = np.random.default_rng(seed)
    fine_known = np.array(known)
    truth = np.cumsum(noise.normal(0, 1, len(known)))[:, None] + np.array([0.0, 1.0, 2.0])
    out = np.where(fine_known[:, None], truth, np.nan)
    layer = truth - bias
    distance = np.arange(len(known)) * 10.0
    join(out, layer, distance, 1)
    assert not np.isnan(out).any()
    expected = truth if fine_known.any() else layer
    far = np.zeros(len(known), dtype=bool)
    for start, stop in runs_of(~fine_known):
        far |= (np.arange(len(known)) >= start) & (np.arange(len(known)) < stop)
    assert np.allclose(out[:, 1], expected[:, 1], atol=1e-9)
    assert not far.any() or wanted_stations(~fine_known, distance)[far].all()
