# SPDX-License-Identifier: MIT
"""The relief picture: small, deterministic, inside its greys, lit from the north-west."""

from __future__ import annotations

import base64
from collections.abc import Callable

import numpy as np
import pytest
from pyproj import Transformer
from rasterio.io import MemoryFile

from descent.errors import ElevationError
from descent.terrain.hillshade import DARKEST, LARGEST_BYTES, LIGHTEST, hillshade, shade


def bounds() -> tuple[float, float, float, float]:
    to = Transformer.from_crs("EPSG:32613", "EPSG:4326", always_xy=True)
    return to.transform_bounds(500_200, 4_400_100, 503_800, 4_400_900)


def rough(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    rng = np.random.default_rng(2)
    return 900 + 80 * np.sin(x / 170) * np.cos(y / 110) + rng.normal(0, 1.0, x.shape)


@pytest.mark.filterwarnings("ignore::rasterio.errors.NotGeoreferencedWarning")      # reading a plain picture back
def test_small_and_the_same_every_time(write_dem: Callable[..., str]) -> None:
    path = write_dem(rough)
    one, two = (hillshade([path], bounds(), width_px=900) for _ in range(2))
    assert one == two
    head, _, data = one.data_uri.partition(",")
    raw = base64.b64decode(data)
    assert head == "data:image/webp;base64" and len(raw) <= LARGEST_BYTES
    assert (one.west, one.south, one.east, one.north) == bounds()
    with MemoryFile(raw) as memory, memory.open() as picture:
        assert picture.width == 900
        pixels = picture.read(1)
        assert picture.count == 3                          # nothing is transparent: no fourth band is kept
    assert pixels.std() > 15 and pixels.min() >= DARKEST - 12 and np.median(pixels) > 170   # lossy: a few greys off


def test_slopes_to_the_north_west_are_lighter() -> None:
    y, x = np.mgrid[0:200, 0:200].astype(float)                        # row 0 is north
    cone = 1000 - 2.0 * np.hypot(x - 100, y - 100)
    grey = shade(cone, np.full(200, 10.0))
    assert grey[50, 50].astype(int) - grey[150, 150] > 40
    assert grey.min() >= DARKEST and grey.max() <= LIGHTEST


@pytest.mark.filterwarnings("ignore::rasterio.errors.NotGeoreferencedWarning")      # reading a plain picture back
def test_ground_without_heights_is_transparent(write_dem: Callable[..., str]) -> None:
    half = write_dem(lambda x, y: np.where(x < 2000, rough(x, y), np.nan))
    raw = base64.b64decode(hillshade([half], bounds(), width_px=400).data_uri.partition(",")[2])
    with MemoryFile(raw) as memory, memory.open() as picture:
        alpha = picture.read(4)
    assert set(np.unique(alpha)) == {0, 255}
    assert (alpha[:, :180] == 255).all() and (alpha[:, 220:] == 0).all()


def test_ground_without_heights_is_light() -> None:
    y, x = np.mgrid[0:60, 0:60].astype(float)
    heights = 500 + 3 * x + 5 * np.sin(y / 4)
    heights[:20] = np.nan
    assert (shade(heights, np.full(60, 10.0))[:20] == LIGHTEST).all()


def test_flat_country_does_not_fail() -> None:
    assert shade(np.full((40, 40), 12.0), np.full(40, 30.0)).shape == (40, 40)


def test_elsewhere(write_dem: Callable[..., str]) -> None:
    with pytest.raises(ElevationError):
        hillshade([write_dem(rough)], (7.0, 46.0, 7.1, 46.1), width_px=200)
