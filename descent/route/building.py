# SPDX-License-Identifier: MIT
"""Builds the `Route` from the parts of a file: checked, joined, cleaned, with tags, heights and times in place."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from descent.errors import RouteError
from descent.route.cleaning import clean_line
from descent.route.faultbook import FaultBook
from descent.route.features import Features, Part, check_coordinates
from descent.route.heights import settle_heights
from descent.route.joining import GAP_LIMIT_M, MEETING_M, Turned, distance_m, join_parts
from descent.route.line import Direction, Route, TaggedSpan, stations_along
from descent.route.tags import merge_spans, spans_of
from descent.route.text import length_text, place_text

FloatArray = NDArray[np.float64]
SHORTEST_M = 200.0
LONGEST_M = 3_000_000.0
LONGEST_STEP_M = 5_000.0
SAID_STEP_M = 1_000.0
MAX_NOTES = 30


@dataclass(frozen=True)
class RawLine:
    """The points of all parts in travel order, before cleaning. Arrays (n,); part: index of each point's part."""

    lon: FloatArray
    lat: FloatArray
    elevation_m: FloatArray
    time_s: FloatArray
    part: NDArray[np.int64]


def build_route(features: Features, *, where: str, name: str, direction: Direction = Direction.AS_DRAWN,
                gap_limit_m: float = GAP_LIMIT_M) -> Route:
    """One route from everything line-like in a file.

    Raises RouteError with all faults: no-line, coordinate-not-finite, latitude-out-of-range,
    longitude-out-of-range, too-near-pole, too-few-points, parts-apart, parts-branch, route-jump, route-too-short,
    route-too-long.
    """
    faults = FaultBook(where)
    faults.take(features.faults)
    mended = list(features.notes)
    parts = _usable_parts(features, faults, mended)
    faults.raise_if_any(RouteError)
    line = join_parts(parts, features.order, faults, mended, gap_limit_m=gap_limit_m)
    faults.raise_if_any(RouteError)
    if direction is Direction.REVERSED:
        line = [Turned(part.part, not part.turned, part.number) for part in reversed(line)]
    raw = _concatenate(line)
    kept = clean_line(raw.lon, raw.lat, raw.time_s, mended)
    lon, lat = np.unwrap(raw.lon[kept], period=360.0), raw.lat[kept]
    if len(kept) < 2:
        faults.add("too-few-points", "all points of the line are in one place", "Draw the road as a line")
        raise faults.error(RouteError)
    station = stations_along(lon, lat)
    _check_steps(lon, lat, station, faults, mended)
    faults.raise_if_any(RouteError)
    elevation = settle_heights(station, raw.elevation_m[kept], mended)
    spans = _spans(line, raw.part[kept], station, mended)
    time_s = _times(raw.time_s[kept], mended) if direction is Direction.AS_DRAWN else None
    return Route(name, lon, lat, station, elevation, spans, tuple(_limited(mended)),
                 direction is Direction.REVERSED, time_s)


def _limited(notes: list[str]) -> list[str]:
    notes = list(dict.fromkeys(notes))
    if len(notes) <= MAX_NOTES:
        return notes
    return [*notes[:MAX_NOTES], f"{len(notes) - MAX_NOTES} more things were put right and are not listed"]


def _usable_parts(features: Features, faults: FaultBook, mended: list[str]) -> list[Part]:
    parts = []
    for part in features.parts:
        check_coordinates(part.lon, part.lat, faults, place=part.place)
        if len(part.lon) >= 2:
            parts.append(part)
        elif len(features.parts) > 1:
            mended.append(f"{part.place} has {'one point' if len(part.lon) else 'no points'} and was left out")
    if parts or faults:
        return parts
    if features.parts:
        faults.add("too-few-points", "the line has fewer than two points",
                   "Draw the road as a line of at least two points", value=len(features.parts[0].lon))
    else:
        held = ", ".join(sorted({*features.other_shapes, *(["points"] if features.spots else [])}))
        faults.add("no-line", "the file holds no line that could be a road",
                   "Export the road as a line or a track", value=f"only {held}" if held else "nothing")
    return parts


def _concatenate(line: list[Turned]) -> RawLine:
    """All points in travel order; where two parts meet, the second's first point is left out."""
    columns: list[list[FloatArray]] = [[], [], [], []]
    owner = []
    last: tuple[float, float] | None = None
    for index, turned in enumerate(line):
        part = turned.part
        step = -1 if turned.turned else 1
        missing = np.full(len(part.lon), np.nan)
        values = [(missing if array is None else array)[::step]
                  for array in (part.lon, part.lat, part.elevation_m, part.time_s)]
        if last and distance_m(*last, float(values[0][0]), float(values[1][0])) <= MEETING_M:
            values = [array[1:] for array in values]
        last = float(values[0][-1]), float(values[1][-1])
        for column, array in zip(columns, values, strict=True):
            column.append(array)
        owner.append(np.full(len(values[0]), index))
    lon, lat, elevation, time_s = (np.concatenate(column) for column in columns)
    return RawLine(lon, lat, elevation, time_s, np.concatenate(owner))


def _check_steps(lon: FloatArray, lat: FloatArray, station: FloatArray, faults: FaultBook,
                 mended: list[str]) -> None:
    steps = np.diff(station)
    for index in np.flatnonzero(steps > LONGEST_STEP_M):
        faults.add("route-jump", f"the line jumps from {place_text(lon[index], lat[index])} to "
                   f"{place_text(lon[index + 1], lat[index + 1])}, more than {length_text(LONGEST_STEP_M)}, "
                   "without a point between", "Remove the stray point or draw the road in between",
                   place=f"after {length_text(station[index])}", value=length_text(steps[index]))
    if not faults and station[-1] < SHORTEST_M:
        faults.add("route-too-short", f"the line is shorter than {SHORTEST_M:.0f} m, too short to plan",
                   "Draw the whole road from before the crest to past the foot", value=f"{station[-1]:.1f} m")
    if station[-1] > LONGEST_M:
        faults.add("route-too-long", f"the line is longer than {length_text(LONGEST_M)}",
                   "Cut out the stretch with the mountains", value=length_text(station[-1]))
    longest = int(np.argmax(steps))
    if steps[longest] > SAID_STEP_M:
        mended.append(f"between two points at {place_text(lon[longest], lat[longest])} the line runs straight for "
                      f"{length_text(steps[longest])}: if the road bends there, its grades are wrong")


def _spans(line: list[Turned], owner: NDArray[np.int64], station: FloatArray,
           mended: list[str]) -> tuple[TaggedSpan, ...]:
    spans: list[TaggedSpan] = []
    for index, turned in enumerate(line):
        points = np.flatnonzero(owner == index) if turned.part.attributes else owner[:0]
        if not points.size:
            continue
        first, last = int(points[0]), int(points[-1])
        start = first - 1 if first and _from_part_before_m(turned, line, index) <= MEETING_M else first
        notes: list[str] = []
        if station[last] > station[start]:
            spans += spans_of(turned.part.attributes, float(station[start]), float(station[last]),
                              turned=turned.turned, notes=notes)
        mended += [f"{turned.part.place}: {note}" for note in notes]
    return merge_spans(spans)


def _from_part_before_m(turned: Turned, line: list[Turned], index: int) -> float:
    """From the end of the part before to the start of this one [m]; infinite for the first."""
    if index == 0:
        return float("inf")
    _, _, lon, lat = line[index - 1].ends()
    start_lon, start_lat, _, _ = turned.ends()
    return distance_m(lon, lat, start_lon, start_lat)


def _times(time_s: FloatArray, mended: list[str]) -> FloatArray | None:
    """Seconds from the first point; None where the file has no times for all points or they run backwards."""
    if np.isnan(time_s).all():
        return None
    if np.isnan(time_s).any():
        mended.append(f"{int(np.isnan(time_s).sum())} of {len(time_s)} points have no time, so times are not used")
        return None
    if (np.diff(time_s) < 0).any():
        mended.append("the times of the recording run backwards in places, so times are not used")
        return None
    return np.asarray(time_s - time_s[0])
