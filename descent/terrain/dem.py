# SPDX-License-Identifier: MIT
"""Elevation files: which there are, where they lie, how fine they are and in what unit they give height."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import rasterio
from pyproj import CRS, Transformer
from pyproj.enums import TransformDirection
from pyproj.exceptions import CRSError
from rasterio.errors import RasterioError

from descent.errors import DemError, Fault
from descent.units import FOOT_M

US_SURVEY_FOOT_M = 1200 / 3937
FILE_SUFFIXES = (".tif", ".tiff", ".vrt", ".hgt", ".img", ".asc")
_UNIT_M = {"": 1.0, "m": 1.0, "metre": 1.0, "metres": 1.0, "meter": 1.0, "meters": 1.0, "ft": FOOT_M,
           "foot": FOOT_M, "feet": FOOT_M, "international foot": FOOT_M, "us-ft": US_SURVEY_FOOT_M,
           "ftus": US_SURVEY_FOOT_M, "us survey foot": US_SURVEY_FOOT_M, "cm": 0.01, "centimetre": 0.01,
           "dm": 0.1, "decimetre": 0.1, "mm": 0.001, "millimetre": 0.001, "km": 1000.0}
_EARTH_DEGREE_M = math.pi / 180 * 6_371_008.8  # mean radius, only to rank and class cell sizes


@dataclass(frozen=True)
class DemFile:
    """One elevation file.

    crs: horizontal; transform: the six affine terms (a, b, c, d, e, f) from pixel to CRS coordinates;
    block: (rows, columns) stored together; cell_m: geometric mean side of a cell; height = value * unit_m *
    scale + offset (offset in m); bounds in lon/lat (west, south, east, north).
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

    @property
    def name(self) -> str:
        """The file's name without its folder."""
        return self.path.rsplit("/", 1)[-1]


def open_dems(paths: Sequence[str]) -> tuple[DemFile, ...]:
    """Read the headers of elevation files, folders of them, VRTs or http(s) addresses; the finest first.

    Raises DemError, with one fault for each path: missing, unreadable, no coordinate system, unknown height unit.
    """
    faults: list[Fault] = []
    files: list[DemFile] = []
    for path in _expand(paths, faults):
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


def _expand(paths: Sequence[str], faults: list[Fault]) -> list[str]:
    """Folders to the files in them; addresses and files as they are."""
    found: list[str] = []
    for text in paths:
        if "://" in text or text.startswith("/vsi"):
            found.append(text)
            continue
        path = Path(text)
        if path.is_dir():
            inside = sorted(str(file) for file in path.iterdir() if file.suffix.lower() in FILE_SUFFIXES)
            if not inside:
                faults.append(Fault("dem-folder-empty", "this folder has no elevation file",
                                    f"Put {', '.join(FILE_SUFFIXES)} files there or name another folder", text))
            found.extend(inside)
        elif path.exists():
            found.append(text)
        else:
            faults.append(Fault("dem-missing", "this elevation file does not exist",
                                "Check the path; give a GeoTIFF, a folder of them or an http(s) address", text))
    return list(dict.fromkeys(found))


def _read_header(path: str) -> DemFile:
    try:
        with rasterio.open(path) as source:
            return _describe(path, source)
    except RasterioError as error:
        reason = str(error).splitlines()[0] if str(error) else "unknown format"
        raise DemError(Fault("dem-unreadable", "this elevation file cannot be read",
                             "Give a raster of heights such as a GeoTIFF, or download the file again", path,
                             reason)) from error


def _describe(path: str, source: Any) -> DemFile:
    if source.crs is None:
        raise DemError(Fault("dem-no-crs", "this elevation file does not say which coordinate system it uses",
                             "Write the coordinate system into the file (for example with gdal_edit -a_srs)", path))
    if source.width < 2 or source.height < 2:
        raise DemError(Fault("dem-too-small", "this elevation file has fewer than 2 x 2 cells",
                             "Give a larger piece of the elevation model", path,
                             f"{source.width} x {source.height}"))
    try:
        full = CRS.from_wkt(source.crs.to_wkt())
        crs = _horizontal(full)
        left, bottom, right, top = source.bounds
        bounds = lonlat_to(crs.to_wkt()).transform_bounds(left, bottom, right, top, densify_pts=5,
                                                          direction=TransformDirection.INVERSE)
    except CRSError as error:
        raise DemError(Fault("dem-crs-unusable", "the coordinate system of this elevation file is not usable",
                             "Reproject the file to a standard system (for example EPSG:4326)", path,
                             str(error).splitlines()[0])) from error
    affine = source.transform
    latitude = (bounds[1] + bounds[3]) / 2
    return DemFile(
        path=path, crs=crs, transform=(affine.a, affine.b, affine.c, affine.d, affine.e, affine.f),
        width=source.width, height=source.height, block=tuple(source.block_shapes[0]), nodata=source.nodata,
        unit_m=_vertical_unit_m(path, source, full), scale=float(source.scales[0]),
        offset_m=float(source.offsets[0]), cell_m=_cell_m(affine, crs, latitude), bounds_lonlat=bounds,
        has_mask=source.nodata is None and "all_valid" not in {flag.name for flag in source.mask_flag_enums[0]},
        integer=source.dtypes[0].startswith(("int", "uint")))


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


def _vertical_unit_m(path: str, source: Any, crs: CRS) -> float:
    """One unit of height in metres: from the band's unit, else from a vertical axis of the CRS, else metres."""
    text = (source.units[0] or "").strip().lower()
    if text not in _UNIT_M:
        raise DemError(Fault("dem-unit-unknown", "the height unit of this elevation file is not known",
                             "Set the band unit to m, ft or US survey foot", path, repr(source.units[0])))
    if text:
        return _UNIT_M[text]
    for part in (crs.sub_crs_list if crs.is_compound else [crs]):
        for axis in part.axis_info:
            if axis.direction in ("up", "down") and axis.unit_conversion_factor:
                return float(axis.unit_conversion_factor)
    return 1.0
