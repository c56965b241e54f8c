# SPDX-License-Identifier: MIT
"""A quiet shaded relief picture of the ground for a web map, as one small embedded image."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import rasterio
from numpy.typing import NDArray
from pyproj import Transformer
from rasterio.io import MemoryFile
from rasterio.warp import Resampling, reproject
from scipy.ndimage import distance_transform_edt, gaussian_filter

from descent.errors import ElevationError, Fault
from descent.terrain.dem import DemFile, open_dems
from descent.terrain.raster_access import RASTER_ERRORS, opened, unreadable

FloatArray = NDArray[np.float64]
DARKEST, LIGHTEST = 96, 252
LARGEST_BYTES = 60 * 1024
_LIGHTS = ((315.0, 0.40), (270.0, 0.22), (0.0, 0.22), (225.0, 0.16))   # azimuth [degree], share
_SUN_HEIGHT = np.radians(42.0)
_MIDDLE_SHARE = 0.70        # how light the median slope is drawn
_QUALITIES = (82, 70, 58, 46, 34, 22, 12)
_WIDTH_RANGE = (64, 4096)


@dataclass(frozen=True)
class Hillshade:
    """data_uri: a WebP image in Web Mercator; south, west, north, east: its edges [degree]."""

    data_uri: str
    south: float
    west: float
    north: float
    east: float


def hillshade(dem_paths: Sequence[str], bounds_lonlat: tuple[float, float, float, float], *,
              width_px: int) -> Hillshade:
    """The shaded relief of a box (west, south, east, north) [degree] from elevation files.

    Grey from 96 to 252, its middle light so that lines drawn over it stay readable; ground without heights is
    transparent. Light comes from four directions, so slopes of every aspect show. The same input gives the same
    bytes. Raises DemError (a file cannot be read) and ElevationError (no heights in the box).
    """
    width = int(np.clip(width_px, *_WIDTH_RANGE))
    heights, pixel_m = ground_heights(open_dems(dem_paths), bounds_lonlat, width)
    grey = shade(heights, pixel_m)
    west, south, east, north = bounds_lonlat
    data = base64.b64encode(_webp(grey, ~np.isnan(heights))).decode("ascii")
    return Hillshade(f"data:image/webp;base64,{data}", south, west, north, east)


def ground_heights(dems: Sequence[DemFile], bounds: tuple[float, float, float, float],
                   width: int) -> tuple[FloatArray, FloatArray]:
    """Heights in Web Mercator (rows, width), NaN where none, and the ground size of a pixel per row [m]."""
    to_map = Transformer.from_crs("EPSG:4326", "EPSG:3857", always_xy=True)
    (left, right), (bottom, top) = to_map.transform([bounds[0], bounds[2]], [bounds[1], bounds[3]])
    pixel = (right - left) / width
    rows = max(2, round((top - bottom) / pixel))
    transform = rasterio.Affine(pixel, 0.0, left, 0.0, (bottom - top) / rows, top)
    out = np.full((rows, width), np.nan)
    northing = top - (np.arange(rows) + 0.5) * (top - bottom) / rows
    latitude = to_map.transform(np.zeros(rows), northing, direction="INVERSE")[1]
    ground = pixel * np.cos(np.radians(np.asarray(latitude)))
    for dem in dems:
        if not np.isnan(out).any():
            break
        west, south, east, north = dem.bounds_lonlat
        if west < east and (west > bounds[2] or east < bounds[0] or south > bounds[3] or north < bounds[1]):
            continue
        layer = _layer(dem, transform, (rows, width), float(np.mean(ground)))
        out = np.where(np.isnan(out), layer, out)
    if np.isnan(out).all():
        raise ElevationError(Fault("dem-no-overlap", "the elevation files do not cover this map",
                                   "Give files that cover it", f"lon {bounds[0]:.4f} to {bounds[2]:.4f}, "
                                   f"lat {bounds[1]:.4f} to {bounds[3]:.4f}"))
    return out, ground


def _layer(dem: DemFile, transform: rasterio.Affine, shape: tuple[int, int], pixel_m: float) -> FloatArray:
    layer = np.full(shape, np.nan, dtype=np.float32)
    method = Resampling.average if dem.cell_m < pixel_m else Resampling.cubic_spline
    try:
        with opened(dem.path) as source:
            reproject(rasterio.band(source, 1), layer, dst_transform=transform, dst_crs="EPSG:3857",
                      src_nodata=dem.nodata, dst_nodata=np.nan, resampling=method, num_threads=1)
    except RASTER_ERRORS as error:
        raise unreadable(dem.path, error, part="part") from error
    return (layer.astype(float) * dem.scale + dem.offset_m) * dem.unit_m


def shade(height_m: FloatArray, pixel_m: FloatArray) -> NDArray[np.uint8]:
    """Grey (rows, columns) from heights and the ground size of a pixel in each row [m]."""
    void = np.isnan(height_m)
    nearest = distance_transform_edt(void, return_distances=False, return_indices=True)
    filled = height_m[tuple(nearest)]                                    # no cliff where heights end
    dy, dx = np.gradient(filled)
    size = np.asarray(pixel_m)[:, None]
    east, north = dx / size, -dy / size
    typical = float(np.percentile(np.hypot(east, north)[~void], 90))
    steepen = float(np.clip(0.9 / max(typical, 1e-6), 0.5, 6.0))         # gentle country gets more relief
    slope = np.arctan(steepen * np.hypot(east, north))
    downhill = np.arctan2(-east, -north)                                 # clockwise from north
    light = np.zeros_like(filled)
    for azimuth, share in _LIGHTS:
        light += share * (np.sin(_SUN_HEIGHT) * np.cos(slope) + np.cos(_SUN_HEIGHT) * np.sin(slope)
                          * np.cos(np.radians(azimuth) - downhill))
    light = light + 0.25 * (filled - gaussian_filter(filled, 12)) / max(float(np.std(filled)), 1.0) * 0.2
    low, middle, high = np.percentile(light[~void], [0.5, 50.0, 99.5])
    level = np.clip((light - low) / max(high - low, 1e-9), 0.0, 1.0)
    centre = float(np.clip((middle - low) / max(high - low, 1e-9), 0.05, 0.95))
    grey = DARKEST + (LIGHTEST - DARKEST) * level ** (np.log(_MIDDLE_SHARE) / np.log(centre))
    return np.where(void, LIGHTEST, np.round(grey)).astype(np.uint8)


def _webp(grey: NDArray[np.uint8], known: NDArray[np.bool_]) -> bytes:
    """The picture as WebP, in the best quality that stays under the size limit; transparent where nothing is known."""
    alpha = np.where(known, 255, 0).astype(np.uint8)
    rows, columns = grey.shape
    data = b""
    for quality in _QUALITIES:
        with MemoryFile() as memory:
            with memory.open(driver="WEBP", width=columns, height=rows, count=4, dtype="uint8", QUALITY=quality,
                             transform=rasterio.Affine(1.0, 0.0, 0.0, 0.0, -1.0, rows)) as picture:
                for band in (1, 2, 3):
                    picture.write(grey, band)
                picture.write(alpha, 4)
            data = bytes(memory.read())
        if len(data) <= LARGEST_BYTES:
            break
    return data
