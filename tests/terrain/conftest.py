# SPDX-License-Identifier: MIT
"""Small grounds with a known formula, written as GeoTIFFs, and lines over them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import rasterio
from numpy.typing import NDArray
from pyproj import Transformer
from rasterio import Affine

from descent.route.line import Route, TaggedSpan, stations_along

FloatArray = NDArray[np.float64]
EAST, NORTH, UTM = 500_000.0, 4_400_000.0, "EPSG:32613"
Ground = Callable[[FloatArray, FloatArray], FloatArray]


@pytest.fixture
def write_dem(tmp_path: Path) -> Callable[..., str]:
    """Write ground(x, y) [m east, north of a corner] as a GeoTIFF in UTM; returns its path."""
    def write(ground: Ground, *, name: str = "dem.tif", west: float = 0.0, south: float = 0.0, width_m: float = 4000.0,
              height_m: float = 1000.0, cell_m: float = 10.0, dtype: str = "float32", nodata: float | None = -9999.0,
              unit: str = "", block: int = 64, crs: str = UTM) -> str:
        columns, rows = round(width_m / cell_m), round(height_m / cell_m)
        x = west + (np.arange(columns) + 0.5) * cell_m
        y = south + height_m - (np.arange(rows) + 0.5) * cell_m
        values = ground(*np.meshgrid(x, y))
        path = tmp_path / name
        layout = {"tiled": True, "blockxsize": block, "blockysize": block} if block else {}
        with rasterio.open(path, "w", driver="GTiff", width=columns, height=rows, count=1, dtype=dtype, crs=crs,
                           nodata=nodata, transform=Affine(cell_m, 0, EAST + west, 0, -cell_m, NORTH + south + height_m),
                           **layout) as out:
            out.write(np.where(np.isnan(values), nodata if nodata is not None else 0, values).astype(dtype), 1)
            if unit:
                out.units = (unit,)
        return str(path)
    return write


@pytest.fixture
def line_over() -> Callable[..., Route]:
    """A route through points given in metres east and north of the corner."""
    def make(x: FloatArray, y: FloatArray, *, spans: tuple[TaggedSpan, ...] = (),
             elevation_m: FloatArray | None = None) -> Route:
        lon, lat = Transformer.from_crs(UTM, "EPSG:4326", always_xy=True).transform(
            EAST + np.asarray(x, dtype=float), NORTH + np.asarray(y, dtype=float))
        return Route("test road", np.asarray(lon), np.asarray(lat), stations_along(lon, lat), elevation_m, spans)
    return make
