# SPDX-License-Identifier: MIT
"""Joins elevation tiles of one grid near a route into one raster, so that heights run on across their edges."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from xml.sax.saxutils import escape, quoteattr

import numpy as np
from numpy.typing import NDArray

from descent.terrain.dem import DemFile
from descent.terrain.raster_access import is_address

FloatArray = NDArray[np.float64]
VOID = -32768.0
_ALIGNED_CELLS = 0.02       # how far grids may be off each other and still be one
_MAX_TILES = 400
_GDAL_TYPES = {"uint8": "Byte", "int8": "Int8", "uint16": "UInt16", "int16": "Int16", "uint32": "UInt32",
               "int32": "Int32", "uint64": "UInt64", "int64": "Int64", "float32": "Float32", "float64": "Float64"}
_REACH_DEG = 0.002          # tiles this near the line matter (a few cells and the sideways samples)


@dataclass(frozen=True)
class Layer:
    """A raster to sample: a file, or tiles of one grid joined. members: indexes of the files it is made of;
    windows: (first column, first row, width, height) of each in the layer's cells."""

    dem: DemFile
    members: tuple[int, ...]
    windows: tuple[tuple[int, int, int, int], ...]


def layers_along(dems: Sequence[DemFile], lon: FloatArray, lat: FloatArray) -> tuple[Layer, ...]:
    """The files near a line (n,), finest first, those of one grid joined."""
    near = [index for index, dem in enumerate(dems) if touches(dem, lon, lat, margin_deg=_REACH_DEG)]
    groups: list[list[int]] = []
    for index in near:
        home = next((group for group in groups if len(group) < _MAX_TILES
                     and one_grid(dems[group[0]], dems[index])), None)
        if home is None:
            groups.append([index])
        else:
            home.append(index)
    return tuple(_layer(dems, group) for group in groups)


def touches(dem: DemFile, lon: FloatArray, lat: FloatArray, *, margin_deg: float = 0.0) -> bool:
    """Whether any point of a line lies in the box of a file (of one across the antimeridian: either part)."""
    west, south, east, north = dem.bounds_lonlat
    high = (lat >= south - margin_deg) & (lat <= north + margin_deg)
    turns = np.mod(lon - (west - margin_deg), 360.0)
    return bool(np.any(high & (turns <= np.mod(east - west, 360.0 + 1e-9) + 2 * margin_deg)))


def one_grid(one: DemFile, other: DemFile) -> bool:
    """Same system, cells, unit and datum, and a whole number of cells apart."""
    if one.has_mask or other.has_mask or not (one.crs == other.crs and one.vertical == other.vertical):
        return False
    if (one.unit_m, one.scale, one.offset_m, one.dtype) != (other.unit_m, other.scale, other.offset_m, other.dtype):
        return False
    a, b, c, d, e, f = one.transform
    a2, b2, c2, d2, e2, f2 = other.transform
    size = max(one.width, one.height, other.width, other.height)
    if b or d or b2 or d2 or abs(a - a2) * size > abs(a) * _ALIGNED_CELLS or abs(e - e2) * size > abs(e) * _ALIGNED_CELLS:
        return False
    right, down = (c2 - c) / a, (f2 - f) / e
    return bool(abs(right - round(right)) < _ALIGNED_CELLS and abs(down - round(down)) < _ALIGNED_CELLS)


def _layer(dems: Sequence[DemFile], group: list[int]) -> Layer:
    first = dems[group[0]]
    if len(group) == 1:
        return Layer(first, (group[0],), ((0, 0, first.width, first.height),))
    a, _, c, _, e, f = first.transform
    places = [(round((dems[k].transform[2] - c) / a), round((dems[k].transform[5] - f) / e)) for k in group]
    left, top = min(x for x, _ in places), min(y for _, y in places)
    windows = tuple((x - left, y - top, dems[k].width, dems[k].height) for k, (x, y) in zip(group, places, strict=True))
    width, height = max(x + w for x, _, w, _ in windows), max(y + h for _, y, _, h in windows)
    boxes = np.array([dems[k].bounds_lonlat for k in group])
    place = (c + left * a, a, 0.0, f + top * e, 0.0, e)
    joined = replace(
        first, path=_vrt([dems[k] for k in group], windows, width, height, place), width=width, height=height, nodata=VOID,
        transform=(a, 0.0, place[0], 0.0, e, place[3]), stamp=None,
        bounds_lonlat=(float(boxes[:, 0].min()), float(boxes[:, 1].min()), float(boxes[:, 2].max()),
                       float(boxes[:, 3].max())))
    return Layer(joined, tuple(group), windows)


def _vrt(dems: Sequence[DemFile], windows: Sequence[tuple[int, int, int, int]], width: int, height: int,
         place: tuple[float, ...]) -> str:
    """A virtual raster of the tiles at a place (left, cell, 0, top, 0, -cell); where tiles overlap the first one with
    a value counts."""
    numbers = ", ".join(f"{value:.17g}" for value in place)
    head = (f'<VRTDataset rasterXSize="{width}" rasterYSize="{height}"><SRS>{escape(dems[0].crs.to_wkt())}</SRS>'
            f'<GeoTransform>{numbers}</GeoTransform><VRTRasterBand dataType="Float32" band="1">'
            f"<NoDataValue>{VOID:.0f}</NoDataValue>")
    parts = [head]
    for dem, (x, y, w, h) in reversed(list(zip(dems, windows, strict=True))):
        path = f"/vsicurl/{dem.path}" if is_address(dem.path) else \
            dem.path if dem.path.startswith("/vsi") else str(Path(dem.path).resolve())
        void = "" if dem.nodata is None else f"<NODATA>{dem.nodata!r}</NODATA>"
        size = f"RasterXSize={quoteattr(str(w))} RasterYSize={quoteattr(str(h))}"
        parts.append(
            f'<ComplexSource><SourceFilename relativeToVRT="0">{escape(path)}</SourceFilename><SourceBand>1</SourceBand>'
            f'<SourceProperties {size} DataType="{_GDAL_TYPES.get(dem.dtype, "Float32")}" '
            f'BlockXSize="{dem.block[1]}" BlockYSize="{dem.block[0]}"/>'
            f'<SrcRect xOff="0" yOff="0" xSize="{w}" ySize="{h}"/>'
            f'<DstRect xOff="{x}" yOff="{y}" xSize="{w}" ySize="{h}"/>{void}</ComplexSource>')
    return "".join([*parts, "</VRTRasterBand></VRTDataset>"])


def member_at(layer: Layer, column: FloatArray, row: FloatArray) -> NDArray[np.int64]:
    """The file (index) each point (n,) in cell-centre coordinates of the layer comes from."""
    found = np.full(len(column), layer.members[0], dtype=np.int64)
    taken = np.zeros(len(column), dtype=bool)
    for index, (x, y, w, h) in zip(layer.members, layer.windows, strict=True):
        inside = ~taken & (column >= x - 0.5) & (column <= x + w - 0.5) & (row >= y - 0.5) & (row <= y + h - 0.5)
        found[inside] = index
        taken |= inside
    return found
