# SPDX-License-Identifier: MIT
"""Reads the stored values of one raster layer along a line, each block once and in bounded memory, bilinear."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numba
import numpy as np
from numpy.typing import NDArray
from rasterio.windows import Window

from descent.terrain.dem import DemFile, lonlat_to
from descent.terrain.raster_access import RASTER_ERRORS, opened, unreadable

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]

BUDGET_BYTES = 256_000_000      # of stored values held at a time
LOWEST_M, HIGHEST_M = -500.0, 9000.0    # no road is lower or higher (the lowest shore lies at -430 m): a void value
_SPARSE, _NUDGE_DEG = 50, 2e-4
_MARGIN_DEG = 0.01


@dataclass(frozen=True)
class LayerSamples:
    """height_m (n, k) [m], NaN where the layer has no value; zero (n, k): a stored value of exactly 0 took part;
    column, row (n,): the line itself in cell-centre coordinates."""

    height_m: FloatArray
    zero: BoolArray
    column: FloatArray
    row: FloatArray


def read_along(dem: DemFile, sides: FloatArray, share: FloatArray, wanted: BoolArray) -> LayerSamples:
    """Bilinear heights of one layer at the wanted stations of a line.

    sides: (3, n, 2) lon/lat of the line and of lines to its left and right; share: (k,) of the way to the left
    (positive) or right; wanted: (n,). Whole blocks are read, each once while the blocks along the line fit in
    BUDGET_BYTES; a longer line is read in pieces that hand on what they share. Raises DemError.
    """
    pixels = pixel_coordinates(dem, sides)
    n, k = len(wanted), len(share)
    height, zero = np.full((n, k), np.nan), np.zeros((n, k), dtype=np.bool_)
    rows, columns = chunk_shape(dem)
    boxes = np.full((n, 4), -1, dtype=np.int64)
    _chunk_boxes(pixels, wanted, dem.height, dem.width, rows, columns, boxes)
    held: dict[tuple[int, int], int] = {}
    room = max(16, BUDGET_BYTES // (rows * columns * 4))
    pieces = list(_pieces(boxes, room))
    stack = np.empty((max((len(ids) for _, _, ids in pieces), default=0), rows, columns), dtype=np.float32)
    void = np.float32(np.nan if dem.nodata is None else dem.nodata)
    if not pieces:
        return LayerSamples(height, zero, pixels[0, :, 0], pixels[0, :, 1])
    try:
        with opened(dem.path) as source:
            for start, stop, ids in pieces:
                _load(source, dem, ids, held, stack)
                origin, slots = _slots(ids, held)
                _gather(pixels[:, start:stop], share, dem.height, dem.width, rows, columns, origin, slots, stack,
                        dem.unit_m * dem.scale, dem.offset_m * dem.unit_m, void, boxes[start:stop],
                        height[start:stop], zero[start:stop])
    except RASTER_ERRORS as error:
        raise unreadable(dem.path, error, part="part") from error
    return LayerSamples(height, zero, pixels[0, :, 0], pixels[0, :, 1])


def pixel_coordinates(dem: DemFile, sides: FloatArray) -> FloatArray:
    """(3, n, 2) lon/lat to (3, n, 2) column, row counted in cell centres.

    The line itself is transformed point by point; the step to its sides (some 20 m) by the local linear map,
    which hardly changes along the road and is taken at every _SPARSE-th station.
    """
    to_dem = lonlat_to(dem.crs.to_wkt())
    a, b, c, d, e, f = dem.transform
    det = a * e - b * d
    west = dem.bounds_lonlat[0] - _MARGIN_DEG

    def pixels(lonlat: FloatArray) -> FloatArray:
        lon = west + np.mod(lonlat[..., 0] - west, 360.0) if dem.crs.is_geographic else lonlat[..., 0]
        x, y = to_dem.transform(lon, lonlat[..., 1])
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


def chunk_shape(dem: DemFile) -> tuple[int, int]:
    """Rows and columns read at a time: whole blocks of handy size; parts of very large ones."""
    def handy(block: int, size: int) -> int:
        if block < 128:
            block *= -(-128 // block)
        return min(block if block <= 1024 else 512, size)
    return handy(dem.block[0], dem.height), handy(dem.block[1], dem.width)


def _pieces(boxes: IntArray, room: int) -> Iterator[tuple[int, int, set[tuple[int, int]]]]:
    """Runs of stations (start, stop) with the chunks they need, at most `room` of them (or one station's)."""
    changes = np.flatnonzero(np.any(np.diff(boxes, axis=0) != 0, axis=1)) + 1
    start, ids = 0, set[tuple[int, int]]()
    for begin in (0, *changes.tolist()):
        top, bottom, left, right = boxes[begin].tolist()
        more = set() if top < 0 else {(i, j) for i in range(top, bottom + 1) for j in range(left, right + 1)}
        if ids and len(ids | more) > room:
            yield start, begin, ids
            start, ids = begin, set()
        ids = ids | more
    if ids:
        yield start, len(boxes), ids


def _load(source: Any, dem: DemFile, ids: set[tuple[int, int]], held: dict[tuple[int, int], int],
          stack: NDArray[np.float32]) -> None:
    """Bring the chunks of a piece into the stack; chunks of one stored block are read one after another."""
    rows, columns = stack.shape[1:]
    for old in [key for key in held if key not in ids]:
        del held[old]
    free = sorted(set(range(len(stack))) - set(held.values()))
    block_rows, block_columns = max(dem.block[0], rows), max(dem.block[1], columns)

    def by_block(key: tuple[int, int]) -> tuple[int, int, int, int]:
        return key[0] * rows // block_rows, key[1] * columns // block_columns, *key
    for slot, (i, j) in zip(free, sorted(ids - held.keys(), key=by_block), strict=False):
        height, width = min(rows, dem.height - i * rows), min(columns, dem.width - j * columns)
        read_one(source, dem, Window(j * columns, i * rows, width, height), stack[slot][:height, :width])
        held[i, j] = slot


def read_one(source: Any, dem: DemFile, window: Window, into: NDArray[np.float32]) -> None:
    """One window of stored values; masked ones NaN."""
    if into.flags.c_contiguous:
        source.read(1, window=window, out=into)
    else:
        into[...] = source.read(1, window=window, out_dtype="float32")
    if dem.has_mask:
        into[source.read_masks(1, window=window) == 0] = np.nan


def _slots(ids: set[tuple[int, int]], held: dict[tuple[int, int], int]) -> tuple[IntArray, IntArray]:
    """Where each chunk of a piece stands in the stack, as a table over the box they span; its first row, column."""
    keys = np.array(sorted(ids), dtype=np.int64)
    origin, last = keys.min(axis=0), keys.max(axis=0)
    table = np.full(tuple((last - origin + 1).tolist()), -1, dtype=np.int64)
    for i, j in ids:
        table[i - origin[0], j - origin[1]] = held[i, j]
    return origin, table


@numba.njit(cache=True, fastmath=False, error_model="numpy")
def _position(pixels: Any, i: Any, share: Any) -> Any:
    side = 1 if share >= 0 else 2
    s = abs(share)
    column = pixels[0, i, 0] + s * (pixels[side, i, 0] - pixels[0, i, 0])
    row = pixels[0, i, 1] + s * (pixels[side, i, 1] - pixels[0, i, 1])
    return column, row


@numba.njit(cache=True, fastmath=False, error_model="numpy")
def _chunk_boxes(pixels: Any, wanted: Any, height: Any, width: Any, rows: Any, columns: Any, boxes: Any) -> None:
    """First and last chunk row, first and last chunk column that the cross-section of each wanted station touches."""
    for i in range(wanted.shape[0]):
        left = min(pixels[0, i, 0], pixels[1, i, 0], pixels[2, i, 0])
        right = max(pixels[0, i, 0], pixels[1, i, 0], pixels[2, i, 0])
        top = min(pixels[0, i, 1], pixels[1, i, 1], pixels[2, i, 1])
        bottom = max(pixels[0, i, 1], pixels[1, i, 1], pixels[2, i, 1])
        if not wanted[i] or not (right >= -0.5 and left <= width - 0.5 and bottom >= -0.5 and top <= height - 0.5):
            continue
        first_r, last_r = max(int(np.floor(top)), 0), min(int(np.floor(bottom)) + 1, height - 1)
        first_c, last_c = max(int(np.floor(left)), 0), min(int(np.floor(right)) + 1, width - 1)
        boxes[i, 0], boxes[i, 1] = min(first_r, height - 2) // rows, last_r // rows
        boxes[i, 2], boxes[i, 3] = min(first_c, width - 2) // columns, last_c // columns


@numba.njit(cache=True, fastmath=False, error_model="numpy")
def _gather(pixels: Any, share: Any, height: Any, width: Any, rows: Any, columns: Any, origin: Any, slots: Any,
            stack: Any, scale: Any, offset: Any, void: Any, boxes: Any, out: Any, zero: Any) -> None:
    """Bilinear heights at the stations that have a box, where the point lies on the layer."""
    for i in range(out.shape[0]):
        if boxes[i, 0] < 0:
            continue
        for j in range(out.shape[1]):
            column, row = _position(pixels, i, share[j])
            if not (-0.5 <= column <= width - 0.5 and -0.5 <= row <= height - 0.5):
                continue
            c = min(max(int(np.floor(column)), 0), width - 2)
            r = min(max(int(np.floor(row)), 0), height - 2)
            u, v = column - c, row - r                      # beyond the outermost centres: along the slope there
            br, bc = r // rows, c // columns
            ir, ic = r - br * rows, c - bc * columns
            total = 0.0
            for k in range(4):
                down, over = k // 2, k % 2
                weight = (v if down else 1.0 - v) * (u if over else 1.0 - u)
                if weight != 0.0:
                    rr, cc, kr, kc = ir + down, ic + over, br, bc
                    if rr == rows:
                        rr, kr = 0, br + 1
                    if cc == columns:
                        cc, kc = 0, bc + 1
                    value = stack[slots[kr - origin[0], kc - origin[1]], rr, cc]
                    if value == 0.0 and value != void:
                        zero[i, j] = True
                    metres = value * scale + offset
                    total += weight * (metres if value != void and LOWEST_M <= metres <= HIGHEST_M else np.nan)
            out[i, j] = total
