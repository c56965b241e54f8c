# SPDX-License-Identifier: MIT
"""Catches elevation files that lie about where they are: against finer files, neighbours and recorded heights."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from rasterio.windows import Window

from descent.errors import ElevationError, Fault
from descent.route.line import Route
from descent.terrain.dem import DemFile
from descent.terrain.mosaic import one_grid
from descent.terrain.raster_access import RASTER_ERRORS, opened, unreadable
from descent.terrain.reading import HIGHEST_M, LOWEST_M, pixel_coordinates, read_one
from descent.terrain.seams import Seam, runs_of

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

# Chosen here, no source: twice and six times what surface models of 30 to 90 m cells differ by on steep ground.
SPREAD_SAID_M, SPREAD_REFUSED_M = 25.0, 80.0
EDGE_SAID_M, EDGE_REFUSED_M, EDGE_TIMES = 3.0, 40.0, 6.0
RECORD_SAID_M, RECORD_REFUSED_M, RECORD_RUN_M = 40.0, 60.0, 500.0
_SHIFT_SAID_M = 0.5
_REMEDY = ("Check the coordinate system and corner coordinates of the elevation files against their maker's, "
           "or leave the wrong one out")
_WINDOW = 128
_FEET_RATIO = (3.1, 3.45)


def seam_notes(dems: Sequence[DemFile], used: IntArray, seams: Sequence[Seam], distance_m: FloatArray) -> list[str]:
    """What was shifted where files of different fineness meet. Raises ElevationError dem-misplaced when they show
    different ground."""
    worst = max((seam for seam in seams if np.isfinite(seam.spread_m)), key=lambda seam: seam.spread_m, default=None)
    notes = []
    if worst is not None and worst.spread_m > SPREAD_SAID_M:
        name = dems[int(used[worst.start])].name
        text = (f"around km {distance_m[worst.start] / 1000:.1f} {name} and a finer file differ by "
                f"{worst.spread_m:.0f} m where both have heights")
        if worst.spread_m > SPREAD_REFUSED_M:
            raise ElevationError(Fault("dem-misplaced", f"{text}: they do not show the same ground", _REMEDY, name))
        notes.append(f"{text[0].upper()}{text[1:]}: one of them may be misplaced or very coarse.")
    shifts = [abs(value) for seam in seams for value in seam.shift_m if value is not None]
    if shifts and max(shifts) >= _SHIFT_SAID_M:
        notes.append(f"Where elevation files of different fineness meet ({len(seams)} times), the coarser heights "
                     f"were shifted by up to {max(shifts):.1f} m so that no step is left.")
    blind = [seam for seam in seams if seam.shift_m == (None, None)]
    if blind:
        notes.append(f"Elevation files meet without overlapping ({len(blind)} times); a step between them there "
                     "cannot be told from the road.")
    return notes


def neighbour_notes(dems: Sequence[DemFile], used: IntArray, lon: FloatArray, lat: FloatArray) -> list[str]:
    """Compare tiles of one grid along the edge they share, near where the line (n,) goes from one to the other.

    Raises ElevationError dem-misplaced when the edges show different ground, DemError when a tile cannot be read.
    """
    notes, done = [], set[tuple[int, int]]()
    at = np.flatnonzero(used >= 0)
    turns = np.flatnonzero(np.diff(used[at]))
    for before, after in zip(at[turns], at[turns + 1], strict=True):
        one, other = int(used[before]), int(used[after])
        pair = (min(one, other), max(one, other))
        if pair in done or not one_grid(dems[one], dems[other]):
            continue
        done.add(pair)
        misfit, usual = _edge_misfit(dems[one], dems[other], lon[[before, after]], lat[[before, after]])
        if not misfit > EDGE_SAID_M + EDGE_TIMES * usual:
            continue
        text = f"the tiles {dems[one].name} and {dems[other].name} do not fit along their common edge"
        if misfit > EDGE_REFUSED_M + EDGE_TIMES * usual:
            raise ElevationError(Fault("dem-misplaced", text, _REMEDY, f"lon {lon[after]:.4f}, lat {lat[after]:.4f}",
                                       f"{misfit:.0f} m apart"))
        notes.append(f"{text[0].upper()}{text[1:]} (by {misfit:.0f} m): one of them may be misplaced.")
    return notes


def _edge_misfit(one: DemFile, other: DemFile, lon: FloatArray, lat: FloatArray) -> tuple[float, float]:
    """Typical height difference [m] of two tiles at their common edge, and what is usual inside them; NaN: not known."""
    a, _, c, _, e, f = one.transform
    right, down = round((other.transform[2] - c) / a), round((other.transform[5] - f) / e)
    sides = np.stack([np.stack([lon, lat], axis=1)] * 3)
    place = np.clip(np.round(pixel_coordinates(one, sides)[0].mean(axis=0)), -1e9, 1e9).astype(int)
    spans = [_span(int(place[axis]), size, size2, step) for axis, size, size2, step in (
        (0, one.width, other.width, right), (1, one.height, other.height, down))]
    deep = [span[1] - span[0] for span in spans]
    if min(deep) >= 1:
        first = _heights(one, spans[0], spans[1])
        second = _heights(other, (spans[0][0] - right, spans[0][1] - right), (spans[1][0] - down, spans[1][1] - down))
        return _median(np.abs(first - second)), 0.0
    axis = int(np.argmin(deep))
    if deep[axis] != 0 or deep[1 - axis] < 2:
        return float("nan"), float("nan")
    along = spans[1 - axis]
    forward = (right, down)[axis] > 0
    size = (one.width, one.height)[axis] if forward else (other.width, other.height)[axis]
    upper, lower = (one, other) if forward else (other, one)
    shift = (down, right)[axis]
    moved = (along[0] - shift, along[1] - shift)
    here, there = ((along, moved) if forward else (moved, along))
    blocks = [_heights(dem, *((part, across) if axis == 0 else (across, part))) for dem, part, across in (
        (upper, (size - 3, size), here), (lower, (0, 3), there))]
    inner, outer = (blocks if axis == 0 else [block.T for block in blocks])
    jump = outer[:, 0] - inner[:, -1]
    slope = (inner[:, -1] - inner[:, -2] + outer[:, 1] - outer[:, 0]) / 2
    usual = np.abs(np.concatenate([np.diff(inner, 2, axis=1), np.diff(outer, 2, axis=1)]))
    return _median(np.abs(jump - slope)), _median(usual)


def _span(place: int, size: int, other: int, step: int) -> tuple[int, int]:
    """Cells of one axis both tiles have, near a place: (start, stop), equal where they only touch, stop < start where
    they are apart."""
    start, stop = max(0, step), min(size, step + other)
    if stop - start <= 2 * _WINDOW:
        return start, stop
    middle = min(max(place, start + _WINDOW), stop - _WINDOW)
    return middle - _WINDOW, middle + _WINDOW


def _heights(dem: DemFile, columns: tuple[int, int], rows: tuple[int, int]) -> FloatArray:
    """Heights [m] of a window of cells, NaN where void."""
    values = np.empty((rows[1] - rows[0], columns[1] - columns[0]), dtype=np.float32)
    try:
        with opened(dem.path) as source:
            read_one(source, dem, Window(columns[0], rows[0], columns[1] - columns[0], rows[1] - rows[0]), values)
    except RASTER_ERRORS as error:
        raise unreadable(dem.path, error, part="part") from error
    metres = values.astype(float) * dem.unit_m * dem.scale + dem.offset_m * dem.unit_m
    bad = ~((metres >= LOWEST_M) & (metres <= HIGHEST_M)) | (values == 0)
    return np.where(bad | (values == np.float32(np.nan if dem.nodata is None else dem.nodata)), np.nan, metres)


def _median(values: FloatArray) -> float:
    known = values[~np.isnan(values)]
    return float(np.median(known)) if len(known) >= 8 else float("nan")


def record_notes(route: Route, station_m: FloatArray, height_m: FloatArray) -> tuple[str, ...]:
    """Compare heights read along a route (n,), NaN where none, with those recorded in its file, if any.

    Raises ElevationError: dem-misplaced when the two show different ground, dem-unit-doubtful when the model looks
    like feet taken for metres. A smaller disagreement is told in a sentence with the stretch. A record without
    relief (under 5 m) says nothing and is not compared.
    """
    if route.elevation_m is None:
        return ()
    known = ~np.isnan(route.elevation_m)
    if known.sum() < 10:
        return ()
    record = np.interp(station_m, route.station_m[known], route.elevation_m[known])
    both = ~np.isnan(height_m)
    if both.sum() < 20 or float(np.std(record[both])) < 5.0:
        return ()
    difference = height_m - record
    middle = float(np.median(difference[both]))
    spread = float(1.4826 * np.median(np.abs(difference[both] - middle)))
    if spread > max(RECORD_REFUSED_M, 0.5 * float(np.std(record[both]))):
        raise ElevationError(_record_fault(route.name, record[both], height_m[both], spread))
    notes = []
    if abs(middle) > 2 * RECORD_SAID_M:
        notes.append(f"The heights recorded in the route file lie {abs(middle):.0f} m "
                     f"{'below' if middle > 0 else 'above'} the elevation model: they may count from another zero.")
    off = both & (np.abs(difference - middle) > RECORD_SAID_M)
    step = float(station_m[1] - station_m[0])
    long = [(a, b) for a, b in runs_of(off) if (b - a) * step >= RECORD_RUN_M]
    if long:
        parts = ", ".join(f"km {station_m[a] / 1000:.1f} to {station_m[b - 1] / 1000:.1f}" for a, b in long[:3])
        notes.append(f"The elevation model is more than {RECORD_SAID_M:.0f} m off the heights recorded in the route "
                     f"file at {parts}: a tile or the line may be misplaced there.")
    return tuple(notes)


def _record_fault(name: str, record: FloatArray, height: FloatArray, spread: float) -> Fault:
    alike = float(np.corrcoef(record, height)[0, 1]) if float(np.std(height)) > 0 else 0.0
    ratio = float(np.std(height) / np.std(record))
    if alike > 0.98 and _FEET_RATIO[0] < ratio < _FEET_RATIO[1]:
        return Fault("dem-unit-doubtful", "the elevation model looks like feet, but says metres",
                     "Set the unit of its band to ft (for example with gdal_edit -units ft)", name,
                     f"{ratio:.2f} times the relief recorded in the route file")
    return Fault("dem-misplaced", "the elevation model and the heights recorded in the route file do not show the "
                 "same ground", f"{_REMEDY}. If it is the recorded heights that are wrong, take them out of the "
                 "route file", name, f"{spread:.0f} m apart")
