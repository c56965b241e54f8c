# SPDX-License-Identifier: MIT
"""Builds the road profile of a route from elevation files."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from descent.errors import ElevationError, Fault, RequestError
from descent.route.line import Route, resample
from descent.terrain.beside import quietened
from descent.terrain.confidence import Evidence, confidence_spans
from descent.terrain.curvature import plan_curvature
from descent.terrain.dem import DemFile, open_dems
from descent.terrain.estimate import Estimate, estimate
from descent.terrain.noise_class import BENCH, FARTHEST_ASIDE_M, FINE, FINE_CELL_M, NoiseClass, coarse_class
from descent.terrain.registration import OFFSETS_M, Registered, register
from descent.terrain.road_profile import RoadProfile
from descent.terrain.sample import CrossSamples, sample_across
from descent.terrain.structures import FoundStructures, mark_structures

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
SPACING_M = 10.0
READ_OFFSETS_M = np.concatenate([[-FARTHEST_ASIDE_M], OFFSETS_M, [FARTHEST_ASIDE_M]])
_SHORTEST_ROUTE_M = 50.0
_SPACING_RANGE_M = (1.0, 100.0)


def profile_from_dem(route: Route, dem_paths: Sequence[str], *, spacing_m: float | None = None,
                     progress: Callable[[str, float], None] | None = None) -> RoadProfile:
    """The road profile of a route from elevation files.

    dem_paths: GeoTIFFs, folders of them, VRTs or http(s) addresses, in any coordinate system; each point is read
    from the finest file that has a height there. spacing_m: distance between stations (default 10 m). progress:
    called with a text and the share done. Structures, sideways registration, smoothing and bands as in the
    modules named after them.

    Raises DemError (a file cannot be used), ElevationError (no heights along the route), RequestError (spacing
    or route length out of range). Stretches without heights get the confidence level "none".
    """
    tell = progress or _silent
    station, lon, lat = _stations(route, SPACING_M if spacing_m is None else spacing_m)
    spacing = float(station[1] - station[0])
    tell("opening elevation files", 0.0)
    dems = open_dems(dem_paths)
    tell("reading elevation", 0.1)
    samples = sample_across(dems, lon, lat, offsets_m=READ_OFFSETS_M)
    tell("looking for bridges and tunnels", 0.6)
    centre = samples.height_m[:, samples.centre]
    cell = float(np.nanmedian(samples.cell_m))
    found = mark_structures(centre, route.spans, spacing_m=spacing, cell_m=cell,
                            whole_metres=bool(np.mean(samples.integer) > 0.5))
    tell("finding the road bench", 0.65)
    placed = register(_near(samples), found.masked, spacing_m=spacing)
    heights = np.where(found.masked, np.nan, placed.height_m)
    if np.isnan(heights).all():
        raise ElevationError(Fault("dem-void", "no usable height is left along the route",
                                   "Use an elevation model that covers open road on this route", route.name))
    tell("fitting the grade", 0.7)
    kinds, classes = _classes(samples, placed, cell)
    common = int(np.argmax(np.bincount(kinds, minlength=len(classes))))
    main = classes[common]                  # shares learnt on the remnants of another class do harm
    heights = quietened(heights, samples, spacing_m=spacing, members=kinds == common, aside_m=main.aside_m)
    result = estimate(heights, spacing_m=spacing, cross_slope=placed.cross_slope, kinds=kinds, classes=classes)
    tell("judging confidence", 0.95)
    evidence = Evidence(~np.isnan(centre), _outside(dems, samples, lon, lat), placed.bench, samples.cell_m,
                        placed.cross_slope, result.grade_sd, found.structures, found.masked & ~found.tagged)
    return RoadProfile(
        station_m=station, lon=lon, lat=lat, elevation_m=result.z_m, elevation_sd_m=result.z_sd_m,
        grade=result.grade, grade_sd=result.grade_sd, curvature_1pm=plan_curvature(lon, lat, spacing),
        source=_source(dems, samples), structures=found.structures,
        confidence=confidence_spans(evidence, spacing_m=spacing),
        notes=(*_notes(main, placed, found, result, cell), *samples.notes), raw_elevation_m=centre.copy(),
        elevation_correlation_m=result.height_length_m, cross_slope=placed.cross_slope,
        hysteresis_m=main.hysteresis_m, grade_correlation_m=result.grade_length_m)


def _silent(_text: str, _share: float) -> None:
    return None


def _stations(route: Route, spacing_m: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    least, most = _SPACING_RANGE_M
    if not least <= spacing_m <= most:
        raise RequestError(Fault("spacing-range", "the spacing of stations is out of range",
                                 f"Choose {least:.0f} to {most:.0f} m", "spacing", f"{spacing_m} m"))
    if route.length_m < max(_SHORTEST_ROUTE_M, 2 * spacing_m):
        raise RequestError(Fault("route-too-short", "the route is too short for a profile",
                                 f"Give a line of at least {_SHORTEST_ROUTE_M:.0f} m and two stations",
                                 route.name, f"{route.length_m:.1f} m"))
    return resample(route, spacing_m)


def _near(samples: CrossSamples) -> CrossSamples:
    """The samples at OFFSETS_M only."""
    inner = np.abs(samples.offsets_m) <= float(np.max(OFFSETS_M))
    return replace(samples, height_m=np.ascontiguousarray(samples.height_m[:, inner]),
                   offsets_m=samples.offsets_m[inner])


def _classes(samples: CrossSamples, placed: Registered,
             cell_m: float) -> tuple[NDArray[np.int64], tuple[NoiseClass, ...]]:
    """The class of each station; where nothing was read, that of the most stations."""
    coarse = samples.cell_m[samples.cell_m > FINE_CELL_M]
    classes = (BENCH, FINE, coarse_class(float(np.median(coarse)) if len(coarse) else cell_m))
    kinds = np.where(placed.bench, 0, np.where(samples.cell_m <= FINE_CELL_M, 1, 2))
    read = ~np.isnan(samples.cell_m)
    kinds[~read] = int(np.argmax(np.bincount(kinds[read], minlength=3)))
    return kinds.astype(np.int64), classes


def _outside(dems: Sequence[DemFile], samples: CrossSamples, lon: FloatArray, lat: FloatArray) -> BoolArray:
    """Stations without a height that lie in no file's box."""
    inside = np.zeros(len(lon), dtype=bool)
    for dem in dems:
        west, south, east, north = dem.bounds_lonlat
        inside |= (lon >= west) & (lon <= east) & (lat >= south) & (lat <= north)
    return ~inside & (samples.file < 0)


def _source(dems: Sequence[DemFile], samples: CrossSamples) -> str:
    used = [dems[k] for k in sorted(set(samples.file.tolist()) - {-1})]
    names = ", ".join(dem.name for dem in used[:3])
    more = f" and {len(used) - 3} more" if len(used) > 3 else ""
    cells = sorted({f"{dem.cell_m:.0f} m" for dem in used})
    return f"elevation model {names}{more} ({' and '.join(cells)} cells)"


def _notes(main: NoiseClass, placed: Registered, found: FoundStructures, result: Estimate,
           cell_m: float) -> tuple[str, ...]:
    noise = float(np.median(result.noise_sd_m))
    notes = [f"{main.name[0].upper()}{main.name[1:]}; height noise along the line about {noise:.1f} m.",
             f"A rise of {main.hysteresis_m:.0f} m against the threshold grade ends a sustained downgrade here."]
    share = float(np.mean(placed.bench))
    if cell_m <= FINE_CELL_M:
        moved = float(np.sqrt(np.mean(placed.offset_m[placed.bench] ** 2))) if share else 0.0
        notes.append(f"The line was moved onto the road bench on {100 * share:.0f} % of its length "
                     f"(typically by {moved:.0f} m).")
    inferred = sum(1 for item in found.structures if item.found_from == "found")
    if inferred:
        notes.append(f"{inferred} bridge(s) or tunnel(s) were inferred from the elevation model, not tagged.")
    if found.limit_grade > 0.105:
        notes.append(f"Parts look steeper than 10 %: structures were sought against {100 * found.limit_grade:.0f} %.")
    if main.contrast:
        notes.append(f"Departures from the local mean grade are enlarged by {100 * main.contrast:.0f} % against "
                     "the flattening of steep stretches by any smoothing.")
    return tuple(notes)
