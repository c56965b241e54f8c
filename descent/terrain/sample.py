# SPDX-License-Identifier: MIT
"""Heights along a line and at several offsets beside it from many elevation files, the finest first, joined."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from descent.errors import ElevationError, Fault
from descent.terrain.dem import DemFile
from descent.terrain.mosaic import Layer, layers_along, member_at, touches
from descent.terrain.placement_checks import neighbour_notes, seam_notes
from descent.terrain.raster_access import check_unchanged
from descent.terrain.reading import read_along
from descent.terrain.seams import Seam, join, runs_of, wanted_stations
from descent.terrain.voids import blank_zero_patches

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
Progress = Callable[[str, float], None]

LATERAL_OFFSETS_M = np.arange(-20.0, 20.1, 2.0)
_WGS84_A, _WGS84_E2 = 6378137.0, 6.69437999014e-3
_NAMED = 3


@dataclass(frozen=True)
class CrossSamples:
    """Heights at n stations and k offsets: height_m (n, k) [m], NaN where no file has a value; offsets_m (k,),
    left of travel positive; cell_m (n,) of the file used at the line (NaN: none); file (n,) its index or -1;
    integer (n,): that file holds whole numbers; notes: what was joined, left out or doubted, as sentences."""

    height_m: FloatArray
    offsets_m: FloatArray
    cell_m: FloatArray
    file: NDArray[np.int64]
    integer: NDArray[np.bool_]
    notes: tuple[str, ...] = ()

    @property
    def centre(self) -> int:
        """Column of the offset nearest to the line itself."""
        return int(np.argmin(np.abs(self.offsets_m)))


def sample_across(dems: Sequence[DemFile], lon: FloatArray, lat: FloatArray, *,
                  offsets_m: FloatArray = LATERAL_OFFSETS_M, progress: Progress | None = None) -> CrossSamples:
    """Bilinear heights at points beside a line, from the finest file that has a value there.

    dems: finest first; lon, lat: (n,) [degree, WGS84], in travel order; offsets_m: (k,) to the left of travel.
    Tiles of one grid are read as one raster; a coarser file is shifted onto the finer ones beside it and the change
    is blended (see `seams`); voids filled with 0 count as voids. Raises DemError (a block cannot be read, a file
    changed) and ElevationError (dem-no-overlap, dem-void, dem-misplaced).
    """
    n, k = len(lon), len(offsets_m)
    reach = float(np.max(np.abs(offsets_m))) or 1.0
    sides, distance = _offset_lines(lon, lat, reach), _distance_m(lon, lat)
    out = np.full((n, k), np.nan)
    used = np.full(n, -1, dtype=np.int64)
    zeroed = np.zeros(n, dtype=bool)
    centre = int(np.argmin(np.abs(offsets_m)))
    seams: list[tuple[Layer, Seam]] = []
    layers = layers_along(dems, lon, lat)
    for step, layer in enumerate(layers, start=1):
        if not np.isnan(out[:, centre]).any():
            break
        wanted = wanted_stations(np.isnan(out).any(axis=1), distance)
        read = read_along(layer.dem, sides, offsets_m / reach, wanted)
        zeroed |= blank_zero_patches(read.height_m, read.zero, centre=centre)
        taken, found = join(out, read.height_m, distance, centre)
        members = member_at(layer, read.column, read.row)
        used[taken] = members[taken]
        seams.extend((layer, seam) for seam in found)
        if progress is not None:
            progress("reading elevation", step / len(layers))
    for index in sorted(set(used.tolist()) - {-1}):
        check_unchanged(dems[index].path, dems[index].stamp)
    if not (used >= 0).any():
        raise ElevationError(_no_overlap(dems, lon, lat))
    notes = (*_vertical_notes(dems, used), *_void_notes(zeroed, distance),
             *seam_notes(dems, used, [seam for _, seam in seams], distance),
             *neighbour_notes(dems, used, lon, lat))
    cells = np.array([dem.cell_m for dem in dems] + [np.nan])
    whole = np.array([dem.integer for dem in dems] + [False])
    return CrossSamples(out, np.asarray(offsets_m, dtype=float), cells[used], used, whole[used], notes)


def _no_overlap(dems: Sequence[DemFile], lon: FloatArray, lat: FloatArray) -> Fault:
    where = f"route lon {lon.min():.4f} to {lon.max():.4f}, lat {lat.min():.4f} to {lat.max():.4f}"
    west, south, east, north = dems[0].bounds_lonlat
    if any(touches(dem, lon, lat) for dem in dems):
        return Fault("dem-void", "the elevation files have no heights along the route",
                     "Use an elevation model without voids here", where)
    return Fault("dem-no-overlap", "the elevation files do not cover the route",
                 "Give files that cover the whole route", where,
                 f"{dems[0].name}: lon {west:.4f} to {east:.4f}, lat {south:.4f} to {north:.4f}")


def _vertical_notes(dems: Sequence[DemFile], used: NDArray[np.int64]) -> list[str]:
    """What the heights count from, once for each kind; nothing is said of files that do not say."""
    notes: dict[tuple[str, bool | None], str] = {}
    for index in sorted(set(used.tolist()) - {-1}):
        vertical = dems[index].vertical
        if vertical.ellipsoidal is not None:
            notes.setdefault((vertical.datum, vertical.ellipsoidal), vertical.note(dems[index].name))
    return list(notes.values())


def _void_notes(zeroed: BoolArray, distance: FloatArray) -> list[str]:
    runs = runs_of(zeroed)
    if not runs:
        return []
    parts = [f"km {distance[a] / 1000:.1f} to {distance[b - 1] / 1000:.1f}" for a, b in runs[:_NAMED]]
    more = f" and {len(runs) - _NAMED} more" if len(runs) > _NAMED else ""
    return [f"Heights of exactly 0 in the middle of higher ground were taken as voids: {', '.join(parts)}{more}."]


def _distance_m(lon: FloatArray, lat: FloatArray) -> FloatArray:
    """Distance along the points, (n,) [m], by the local lengths of a degree (to 1 % is enough here)."""
    phi = np.radians((lat[1:] + lat[:-1]) / 2)
    east = np.radians(np.diff(lon)) * np.cos(phi)
    return np.concatenate([[0.0], np.cumsum(_WGS84_A * np.hypot(east, np.radians(np.diff(lat))))])


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
