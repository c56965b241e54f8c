# SPDX-License-Identifier: MIT
"""Heights along a line and at several offsets beside it, bilinear between cell centres, each block read once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numba
import numpy as np
import rasterio
from numpy.typing import NDArray
from rasterio.errors import RasterioError
from rasterio.windows import Window

from descent.errors import DemError, ElevationError, Fault
from descent.terrain.dem import DemFile, lonlat_to

FloatArray = NDArray[np.float64]
Progress = Callable[[str, float], None]

LATERAL_OFFSETS_M = np.arange(-20.0, 20.1, 2.0)
_HEIGHT_LIMIT = 20_000.0  # no ground is higher or lower than this in metres or deeper in feet: a void value
_SPARSE, _NUDGE_DEG = 50, 2e-4
_WGS84_A, _WGS84_E2 = 6378137.0, 6.69437999014e-3


@dataclass(frozen=True)
class CrossSamples:
    """Heights at n stations and k offsets: height_m (n, k) [m], NaN where no file has a value; offsets_m (k,),
    left of travel positive; cell_m (n,) of the file used at the line (NaN: none); file (n,) its index or -1;
    integer (n,): that file holds whole numbers."""

    height_m: FloatArray
    offsets_m: FloatArray
    cell_m: FloatArray
    file: NDArray[np.int64]
    integer: NDArray[np.bool_]

    @property
    def centre(self) -> int:
        """Column of the offset nearest to the line itself."""
        return int(np.argmin(np.abs(self.offsets_m)))


def sample_across(dems: Sequence[DemFile], lon: FloatArray, lat: FloatArray, *,
                  offsets_m: FloatArray = LATERAL_OFFSETS_M, progress: Progress | None = None) -> CrossSamples:
    """Bilinear heights at points beside a line, from the finest file that has a value there.

    dems: finest first; lon, lat: (n,) [degree, WGS84]; offsets_m: (k,) to the left of travel. Blocks of a file
    are each read once for all offsets. Raises DemError (a block cannot be read) and ElevationError (no file
    covers any part of the line).
    """
    n, k = len(lon), len(offsets_m)
    reach = float(np.max(np.abs(offsets_m))) or 1.0
    sides = _offset_lines(lon, lat, reach)
    out = np.full((n, k), np.nan)
    used = np.full(n, -1, dtype=np.int64)
    centre = int(np.argmin(np.abs(offsets_m)))
    for index, dem in enumerate(dems):
        missing = np.isnan(out[:, centre])
        if not missing.any():
            break
        if not _may_cover(dem, sides):
            continue
        _sample_file(dem, sides, offsets_m / reach, out)
        used[missing & ~np.isnan(out[:, centre])] = index
        if progress is not None:
            progress("reading elevation", (index + 1) / len(dems))
    if not (used >= 0).any():
        raise ElevationError(_no_overlap(dems, lon, lat))
    cells = np.array([dem.cell_m for dem in dems] + [np.nan])
    whole = np.array([dem.integer for dem in dems] + [False])
    return CrossSamples(out, np.asarray(offsets_m, dtype=float), cells[used], used, whole[used])


def _no_overlap(dems: Sequence[DemFile], lon: FloatArray, lat: FloatArray) -> Fault:
    where = f"route lon {lon.min():.4f} to {lon.max():.4f}, lat {lat.min():.4f} to {lat.max():.4f}"
    west, south, east, north = dems[0].bounds_lonlat
    touching = any(_box_overlap(dem, lon, lat) for dem in dems)
    if touching:
        return Fault("dem-void", "the elevation files have no heights along the route",
                     "Use an elevation model without voids here", where)
    return Fault("dem-no-overlap", "the elevation files do not cover the route",
                 "Give files that cover the whole route", where,
                 f"{dems[0].name}: lon {west:.4f} to {east:.4f}, lat {south:.4f} to {north:.4f}")


def _box_overlap(dem: DemFile, lon: FloatArray, lat: FloatArray) -> bool:
    west, south, east, north = dem.bounds_lonlat
    return bool(np.any((lon >= west) & (lon <= east) & (lat >= south) & (lat <= north)))


def _may_cover(dem: DemFile, sides: FloatArray) -> bool:
    return _box_overlap(dem, sides[0, :, 0], sides[0, :, 1])


def _offset_lines(lon: FloatArray, lat: FloatArray, reach: float) -> FloatArray:
    """The line, the line `reach` metres to its left and to its right: (3, n, 2) lon/lat [degree]."""
    phi = np.radians(lat)
    w = np.sqrt(1 - _WGS84_E2 * np.sin(phi) ** 2)
    east_m = np.radians(1.0) * _WGS84_A / w * np.cos(phi)                 # metres per degree of longitude
    north_m = np.radians(1.0) * _WGS84_A * (1 - _WGS84_E2) / w**3         # and of latitude (meridian radius)
    dx, dy = np.gradient(lon) * east_m, np.gradient(lat) * north_m
    length = np.maximum(np.hypot(dx, dy), 1e-9)
    left_lon, left_lat = -dy / length * reach / east_m, dx / length * reach / north_m
    here = np.stack([lon, lat], axis=1)
    side = np.stack([left_lon, left_lat], axis=1)
    return np.stack([here, here + side, here - side])


def _sample_file(dem: DemFile, sides: FloatArray, share: FloatArray, out: FloatArray) -> None:
    """Fill the NaNs of `out` that this file covers."""
    pixels = _pixel_coordinates(dem, sides)
    rows, columns = _chunk_shape(dem)
    needed = np.zeros((-(-dem.height // rows), -(-dem.width // columns)), dtype=np.bool_)
    _mark_chunks(pixels, out, dem.height, dem.width, rows, columns, needed)
    if not needed.any():
        return
    slots = np.full(needed.shape, -1, dtype=np.int64)
    slots[needed] = np.arange(int(needed.sum()))
    chunks = _read_chunks(dem, slots, rows, columns)
    void = np.float32(np.nan if dem.nodata is None else dem.nodata)
    limit = np.float32(_HEIGHT_LIMIT / min(dem.unit_m * dem.scale, 1.0))
    _gather(pixels, share, dem.height, dem.width, rows, columns, slots, chunks,
            dem.unit_m * dem.scale, dem.offset_m * dem.unit_m, void, limit, out)


def _pixel_coordinates(dem: DemFile, sides: FloatArray) -> FloatArray:
    """(3, n, 2) lon/lat to (3, n, 2) column, row counted in cell centres.

    The line itself is transformed point by point; the step to its sides (some 20 m) by the local linear map,
    which hardly changes along the road and is taken at every _SPARSE-th station.
    """
    to_dem = lonlat_to(dem.crs.to_wkt())
    a, b, c, d, e, f = dem.transform
    det = a * e - b * d

    def pixels(lonlat: FloatArray) -> FloatArray:
        x, y = to_dem.transform(lonlat[..., 0], lonlat[..., 1])
        x, y = np.asarray(x) - c, np.asarray(y) - f
        return np.stack([(e * x - b * y) / det - 0.5, (a * y - d * x) / det - 0.5], axis=-1)

    n = sides.shape[1]
    line = pixels(sides[0])
    some = np.unique(np.append(np.arange(0, n, _SPARSE), n - 1))
    nudged = [pixels(sides[0, some] + _NUDGE_DEG * axis) for axis in (np.array([1.0, 0.0]), np.array([0.0, 1.0]))]
    every = np.arange(n)
    moved = np.zeros((2, n, 2))
    for axis, far in enumerate(nudged):
        for k in range(2):
            rate = np.interp(every, some, (far[:, k] - line[some, k]) / _NUDGE_DEG)
            moved[:, :, k] += rate * (sides[1:, :, axis] - sides[0, :, axis])
    return np.concatenate([line[None], line + moved])


def _chunk_shape(dem: DemFile) -> tuple[int, int]:
    """Rows and columns read at a time: whole blocks of handy size; parts of very large ones."""
    def handy(block: int, size: int) -> int:
        if block < 128:
            block *= -(-128 // block)
        return min(block if block <= 1024 else 512, size)
    return handy(dem.block[0], dem.height), handy(dem.block[1], dem.width)


def _read_chunks(dem: DemFile, slots: NDArray[np.int64], rows: int, columns: int) -> NDArray[np.float32]:
    """(m, rows, columns) stored values of the chunks that have a slot, row by row; masked ones are NaN."""
    chunks = np.empty((int(slots.max()) + 1, rows, columns), dtype=np.float32)
    try:
        with rasterio.open(dem.path) as source:
            for i, j in np.argwhere(slots >= 0):
                height = min(rows, dem.height - int(i) * rows)
                width = min(columns, dem.width - int(j) * columns)
                window = Window(int(j) * columns, int(i) * rows, width, height)
                _read_one(source, dem, window, chunks[slots[i, j]][:height, :width])
    except RasterioError as error:
        raise DemError(Fault("dem-unreadable", "a part of this elevation file cannot be read",
                             "Download or copy the file again", dem.path, str(error).splitlines()[0])) from error
    return chunks


def _read_one(source: Any, dem: DemFile, window: Window, into: NDArray[np.float32]) -> None:
    if into.flags.c_contiguous:
        source.read(1, window=window, out=into)
    else:
        into[...] = source.read(1, window=window, out_dtype="float32")
    if dem.has_mask:
        into[source.read_masks(1, window=window) == 0] = np.nan


@numba.njit(cache=True, fastmath=False, error_model="numpy")
def _position(pixels: Any, i: Any, share: Any) -> Any:
    side = 1 if share >= 0 else 2
    s = abs(share)
    column = pixels[0, i, 0] + s * (pixels[side, i, 0] - pixels[0, i, 0])
    row = pixels[0, i, 1] + s * (pixels[side, i, 1] - pixels[0, i, 1])
    return column, row


@numba.njit(cache=True, fastmath=False, error_model="numpy")
def _mark_chunks(pixels: Any, out: Any, height: Any, width: Any, rows: Any, columns: Any, needed: Any) -> None:
    """Mark all chunks the box around each cross-section touches, where heights are still missing."""
    for i in range(out.shape[0]):
        missing = False
        for j in range(out.shape[1]):
            missing = missing or np.isnan(out[i, j])
        left = min(pixels[0, i, 0], pixels[1, i, 0], pixels[2, i, 0])
        right = max(pixels[0, i, 0], pixels[1, i, 0], pixels[2, i, 0])
        top = min(pixels[0, i, 1], pixels[1, i, 1], pixels[2, i, 1])
        bottom = max(pixels[0, i, 1], pixels[1, i, 1], pixels[2, i, 1])
        if not missing or not (right >= -0.5 and left <= width - 0.5 and bottom >= -0.5 and top <= height - 0.5):
            continue
        first_r, last_r = max(int(np.floor(top)), 0), min(int(np.floor(bottom)) + 1, height - 1)
        first_c, last_c = max(int(np.floor(left)), 0), min(int(np.floor(right)) + 1, width - 1)
        for r in range(min(first_r, height - 2) // rows, last_r // rows + 1):
            for c in range(min(first_c, width - 2) // columns, last_c // columns + 1):
                needed[r, c] = True


@numba.njit(cache=True, fastmath=False, error_model="numpy")
def _gather(pixels: Any, share: Any, height: Any, width: Any, rows: Any, columns: Any, slots: Any, chunks: Any,
            scale: Any, offset: Any, void: Any, limit: Any, out: Any) -> None:
    """Bilinear heights where `out` is NaN and the point lies on the file."""
    for i in range(out.shape[0]):
        for j in range(out.shape[1]):
            if not np.isnan(out[i, j]):
                continue
            column, row = _position(pixels, i, share[j])
            if not (-0.5 <= column <= width - 0.5 and -0.5 <= row <= height - 0.5):
                continue
            c = min(max(int(np.floor(column)), 0), width - 2)
            r = min(max(int(np.floor(row)), 0), height - 2)
            u = min(max(column - c, 0.0), 1.0)
            v = min(max(row - r, 0.0), 1.0)
            br, bc = r // rows, c // columns
            ir, ic = r - br * rows, c - bc * columns
            total = 0.0
            for k in range(4):
                down, over = k // 2, k % 2
                weight = (v if down else 1.0 - v) * (u if over else 1.0 - u)
                if weight > 0.0:
                    rr, cc, kr, kc = ir + down, ic + over, br, bc
                    if rr == rows:
                        rr, kr = 0, br + 1
                    if cc == columns:
                        cc, kc = 0, bc + 1
                    value = chunks[slots[kr, kc], rr, cc]
                    total += weight * (np.nan if value == void or not abs(value) < limit else value)
            out[i, j] = total * scale + offset
