# SPDX-License-Identifier: MIT
"""Elevation files: which there are, where they lie, how fine they are and in what unit they give height."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from pyproj import CRS, Transformer
from pyproj.enums import TransformDirection
from pyproj.exceptions import ProjError

from descent.errors import DemError, Fault
from descent.terrain.dem_paths import expand
from descent.terrain.raster_access import RASTER_ERRORS, opened, reason_of, shown, stamp_of, unreadable
from descent.terrain.vertical import METRES, Vertical, vertical_of

LARGEST_SIDE = 50_000_000           # cells; the whole Earth in 1 m cells
LARGEST_BLOCK_BYTES = 256_000_000
_EARTH_DEGREE_M = math.pi / 180 * 6_371_008.8  # mean radius, only to rank and class cell sizes


@dataclass(frozen=True)
class DemFile:
    """One elevation file.

    crs: horizontal; transform: the six affine terms (a, b, c, d, e, f) from pixel to CRS coordinates;
    block: (rows, columns) stored together; cell_m: geometric mean side of a cell; height = value * unit_m *
    scale + offset (offset in m); bounds in lon/lat (west, south, east, north); stamp: size and time of change;
    dtype: of a stored value.
    """

    path: str
    crs: CRS
    transform: tuple[float, float, float, float, float, float]
    width: int
    height: int
    block: tuple[int, int]
    nodata: float | None
    unit_m: float
    scale: float
    offset_m: float
    cell_m: float
    bounds_lonlat: tuple[float, float, float, float]
    has_mask: bool
    integer: bool
    vertical: Vertical = METRES
    stamp: tuple[int, int] | None = None
    dtype: str = "float32"

    @property
    def name(self) -> str:
        """The file's name without its folder, safe to print."""
        return shown(self.path).rsplit("/", 1)[-1]


def open_dems(paths: Sequence[str]) -> tuple[DemFile, ...]:
    """Read the headers of elevation files, folders of them, VRTs or http(s) addresses; the finest first.

    Raises DemError with the faults of every path: those of `dem_paths.expand`, dem-unreadable, dem-address,
    dem-no-band, dem-not-heights, dem-no-crs, dem-crs-unusable, dem-too-small, dem-too-large, dem-block-too-large,
    dem-placement, dem-unit-unknown.
    """
    faults: list[Fault] = []
    files: list[DemFile] = []
    for path in expand(paths, faults):
        try:
            files.append(_read_header(path))
        except DemError as error:
            faults.extend(error.faults)
    if faults:
        raise DemError(*faults)
    if not files:
        raise DemError(Fault("dem-none", "no elevation file was given", "Name a GeoTIFF or a folder of them"))
    return tuple(sorted(files, key=lambda dem: (round(dem.cell_m, 2), dem.path)))


@lru_cache(maxsize=16)
def lonlat_to(crs_wkt: str) -> Transformer:
    """The transformation from WGS84 lon/lat to a system; finding it takes longer than using it, so it is kept."""
    return Transformer.from_crs("EPSG:4326", CRS.from_wkt(crs_wkt), always_xy=True)


def _read_header(path: str) -> DemFile:
    stamp = stamp_of(path)
    try:
        with opened(path) as source:
            return _describe(path, source, stamp)
    except RASTER_ERRORS as error:
        raise unreadable(path, error, part="file") from error


def _fault(code: str, what: str, remedy: str, path: str, value: str = "") -> DemError:
    return DemError(Fault(code, what, remedy, shown(path), value))


def _check_raster(path: str, source: Any) -> None:
    """Refuse what is no raster of heights, or one too small or too large to use."""
    if source.count < 1:
        raise _fault("dem-no-band", "this file holds no layer of values",
                     "Export the elevation layer as a GeoTIFF", path)
    kind = source.dtypes[0]
    if kind.startswith("complex"):
        raise _fault("dem-not-heights", "the values in this file are no heights", "Give a raster of heights", path,
                     f"{kind} numbers")
    if source.count >= 3 and kind == "uint8":
        raise _fault("dem-not-heights", "this file is a picture, not a raster of heights",
                     "Export the heights themselves, not a rendering of them", path, f"{source.count} bands of {kind}")
    if source.crs is None:
        raise _fault("dem-no-crs", "this elevation file does not say which coordinate system it uses",
                     "Write the coordinate system into the file (for example with gdal_edit -a_srs)", path)
    size = f"{source.width} x {source.height}"
    if source.width < 2 or source.height < 2:
        raise _fault("dem-too-small", "this elevation file has fewer than 2 x 2 cells",
                     "Give a larger piece of the elevation model", path, size)
    if max(source.width, source.height) > LARGEST_SIDE:
        raise _fault("dem-too-large", f"this elevation file is wider or higher than {LARGEST_SIDE:,} cells",
                     "Cut out the part around the road", path, size)
    rows, columns = source.block_shapes[0]
    if rows * columns * 8 > LARGEST_BLOCK_BYTES:
        raise _fault("dem-block-too-large", "this elevation file is stored in blocks too large to read one by one",
                     "Store it in tiles (for example with gdal_translate -co TILED=YES)", path,
                     f"blocks of {columns} x {rows}")


def _describe(path: str, source: Any, stamp: tuple[int, int] | None) -> DemFile:
    _check_raster(path, source)
    affine = source.transform
    if not all(map(math.isfinite, affine[:6])) or affine.is_identity or \
            affine.a * affine.e == affine.b * affine.d:
        raise _fault("dem-placement", "this elevation file does not say where its cells lie",
                     "Write the placement into the file (for example with gdal_edit -a_ullr)", path)
    try:
        full = CRS.from_wkt(source.crs.to_wkt())
        crs = _horizontal(full)
        left, bottom, right, top = source.bounds
        bounds = lonlat_to(crs.to_wkt()).transform_bounds(left, bottom, right, top, densify_pts=5,
                                                          direction=TransformDirection.INVERSE)
    except ProjError as error:
        raise _fault("dem-crs-unusable", "the coordinate system of this elevation file is not usable",
                     "Reproject the file to a standard system (for example EPSG:4326)", path,
                     reason_of(error)) from error
    if not all(map(math.isfinite, bounds)) or not -91.0 < bounds[1] < bounds[3] < 91.0:
        raise _fault("dem-placement", "the place of this elevation file is not on the Earth",
                     "Check its coordinate system and corner coordinates", path,
                     f"x {left:g} to {right:g}, y {bottom:g} to {top:g}")
    latitude = (bounds[1] + bounds[3]) / 2
    vertical = vertical_of(full, band_unit=source.units[0], where=shown(path))
    return DemFile(
        path=path, crs=crs, transform=(affine.a, affine.b, affine.c, affine.d, affine.e, affine.f),
        width=source.width, height=source.height, block=tuple(source.block_shapes[0]), nodata=source.nodata,
        unit_m=vertical.unit_m, scale=float(source.scales[0]),
        offset_m=float(source.offsets[0]), cell_m=_cell_m(affine, crs, latitude), bounds_lonlat=bounds,
        has_mask=source.nodata is None and "all_valid" not in {flag.name for flag in source.mask_flag_enums[0]},
        integer=source.dtypes[0].startswith(("int", "uint")), vertical=vertical, stamp=stamp,
        dtype=source.dtypes[0])


def _horizontal(crs: CRS) -> CRS:
    """The horizontal part of a compound system; a 3-D system as 2-D."""
    if crs.is_compound:
        return crs.sub_crs_list[0]
    return crs.to_2d()


def _cell_m(affine: Any, crs: CRS, latitude: float) -> float:
    """Geometric mean side of a cell [m]."""
    area = abs(affine.a * affine.e - affine.b * affine.d)
    if crs.is_geographic:
        degrees = math.degrees(crs.axis_info[0].unit_conversion_factor)
        return math.sqrt(area * math.cos(math.radians(latitude))) * degrees * _EARTH_DEGREE_M
    return math.sqrt(area) * crs.axis_info[0].unit_conversion_factor
