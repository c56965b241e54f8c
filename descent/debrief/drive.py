# SPDX-License-Identifier: MIT
"""From fixes to a drive: on the road, in time, with speed, gear, and what befell the recording."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from descent.debrief.clock import Happening, Timed
from descent.debrief.forces import intervals_of
from descent.debrief.gears import gears_by_engine_speed
from descent.debrief.matching import Matched, match_to_road
from descent.debrief.model import Drive, Planned
from descent.debrief.motion import Motion, smooth_motion
from descent.debrief.planned import ordered
from descent.debrief.recording import Recording
from descent.errors import RouteError
from descent.route.faultbook import one_fault
from descent.route.line import Route, stations_along

FloatArray = NDArray[np.float64]
FASTEST_MPS = 60.0
LEAST_ROAD_M = 500.0
SAID_GAP_S = 10.0
SAID_SCALE = 0.01
SCALED_FROM_MPS = 3.0


def own_line(timed: Timed, where: str) -> Route:
    """The recording's own line as a route: fixes nobody can have driven to left out, standing thinned.

    Raises RouteError recording-off-road when it covers next to no road.
    """
    fixes = timed.recording
    step = 111_195.0
    east, north = fixes.lon * step * np.cos(np.radians(fixes.lat)), fixes.lat * step
    kept = [0]
    for index in range(1, len(fixes.lon)):
        last = kept[-1]
        apart = float(np.hypot(east[index] - east[last], north[index] - north[last]))
        if 4.0 <= apart <= FASTEST_MPS * float(fixes.clock_s[index] - fixes.clock_s[last]) + 30.0:
            kept.append(index)
    lon, lat = fixes.lon[kept], fixes.lat[kept]
    station = stations_along(lon, lat) if len(kept) > 1 else np.zeros(1)
    if station[-1] < LEAST_ROAD_M:
        raise one_fault(RouteError, where, "recording-off-road", "the recording covers next to no road",
                        f"Give a drive of at least {LEAST_ROAD_M:.0f} m", value=f"{station[-1]:.0f} m")
    elevation = fixes.elevation_m[kept]
    return Route(fixes.name, lon, lat, station, None if np.isnan(elevation).any() else elevation)


def driven_on(timed: Timed, planned: Planned, route: Route, where: str) -> Drive:
    """The part of a recording that lies on the planned road, as a drive.

    Raises RouteError: recording-off-road (hardly a fix on the road, or hardly any road), recording-other-way (driven
    against the plan's direction).
    """
    profile, fixes = planned.task.profile, timed.recording
    matched = match_to_road(fixes.lon, fixes.lat, fixes.clock_s, road_lon=profile.lon, road_lat=profile.lat,
                            road_station_m=profile.station_m)
    first, last = _on_road(matched, fixes, profile.station_m, where)
    notes = list(fixes.notes)
    for count, side in ((first, "before"), (len(fixes.lon) - 1 - last, "after")):
        if count:
            notes.append(f"{count} points {side} the planned road were left out")
    part = slice(first, last + 1)
    station, clock = matched.station_m[part], fixes.clock_s[part]
    speed, scaled = _scaled(fixes.speed_mps[part], station, clock)
    notes += scaled
    motion = smooth_motion(clock, station, speed)
    motion = replace(motion, station_m=np.clip(np.maximum.accumulate(motion.station_m), 0.0, profile.length_m))
    between = intervals_of(planned.cells, motion.time_s, motion.station_m, motion.speed_mps)
    rpm = _at_samples(motion.time_s, clock, fixes.engine_rpm[part])
    gear, stage = ordered(planned, between.station_m)
    known = fixes.has_engine_speed
    if known:
        gear = gears_by_engine_speed(planned.task.vehicle, motion.time_s, motion.speed_mps, rpm)[:-1]
    return Drive(route, motion, between, rpm, gear, stage, known, bool(np.isfinite(speed).mean() > 0.5),
                 _happenings(timed, motion, matched.station_m[part], clock), tuple(notes), len(fixes.lon),
                 int((np.isfinite(station) & ~motion.refused).sum()))


def _on_road(matched: Matched, fixes: Recording, road_m: FloatArray, where: str) -> tuple[int, int]:
    on = np.flatnonzero(np.isfinite(matched.station_m))
    if len(on) < 10:
        raise one_fault(RouteError, where, "recording-off-road", "the recording does not lie on the planned road",
                        "Give the recording of this road, or the plan of the road that was driven",
                        value=f"{len(on)} of {len(fixes.lon)} points within 45 m of it")
    third = max(len(on) // 3, 1)
    begin, end = (float(np.median(matched.nearest_m[part])) for part in (on[:third], on[-third:]))
    if begin - end > 0.3 * float(road_m[-1]):
        raise one_fault(RouteError, where, "recording-other-way", "the drive goes against the plan's direction",
                        "Plan the road this way (--reverse), or give the drive the other way")
    covered = float(np.nanmax(matched.station_m) - np.nanmin(matched.station_m))
    if covered < min(LEAST_ROAD_M, 0.5 * float(road_m[-1])):
        raise one_fault(RouteError, where, "recording-off-road", "the recording covers next to nothing of the planned road",
                        "Give the recording of this road, or the plan of the road that was driven",
                        value=f"{covered:.0f} m of it")
    # from the last fix at the start to the first at the end: waiting beside the road before and after is no drive
    return int(on[0]), int(on[-1])


def _scaled(speed: FloatArray, station: FloatArray, clock: FloatArray) -> tuple[FloatArray, list[str]]:
    """A speed column against the road driven: put right where it reads high or low by more than a hundredth."""
    good = np.isfinite(speed[1:]) & np.isfinite(speed[:-1]) & np.isfinite(np.diff(station)) & (np.diff(clock) <= 3.0)
    good[good] = speed[1:][good] > SCALED_FROM_MPS            # at rest a receiver's noise is never negative
    road = float(np.diff(station)[good].sum())
    told = float((0.5 * (speed[1:] + speed[:-1]) * np.diff(clock))[good].sum())
    if road < 2000.0 or not 0.5 < told / road < 2.0 or abs(told / road - 1.0) < SAID_SCALE:
        return speed, []
    side = "high" if told > road else "low"
    return speed * road / told, [(f"the speed column reads {100 * abs(told / road - 1):.1f} % {side} against the positions "
                                 "and was put right")]


def _at_samples(times: FloatArray, clock: FloatArray, values: FloatArray) -> FloatArray:
    """Values at the samples' times, NaN where none is near."""
    good = np.isfinite(values)
    if not good.any():
        return np.full(len(times), np.nan)
    at = np.clip(np.searchsorted(clock[good], times), 1, max(int(good.sum()) - 1, 1)) if good.sum() > 1 else None
    if at is None:
        return np.full(len(times), np.nan)
    near = np.minimum(np.abs(times - clock[good][at - 1]), np.abs(clock[good][at] - times))
    return np.where(near <= 3.0, np.interp(times, clock[good], values[good]), np.nan)


def _happenings(timed: Timed, motion: Motion, station: FloatArray, clock: FloatArray) -> tuple[tuple[Happening, float], ...]:
    """What befell the recording on the road, each with the station where it began."""
    found = [item for item in timed.happenings if clock[0] <= item.time_s <= clock[-1]]
    for index in np.flatnonzero(np.diff(clock) > SAID_GAP_S):
        seconds = float(clock[index + 1] - clock[index])
        middle = float(np.interp(clock[index] + 0.5 * seconds, motion.time_s, motion.standing.astype(float)))
        found.append(Happening("pause" if middle > 0.5 else "gap", float(clock[index]), seconds))
    lost = np.isnan(station)
    for kind, flags, least in (("off-road", lost, 1), ("gps-jump", motion.refused & ~lost, 1)):
        edges = np.flatnonzero(np.diff(np.concatenate([[0], flags.astype(int), [0]])))
        for start, end in zip(edges[::2], edges[1::2], strict=True):
            seconds = float(clock[min(end, len(clock) - 1)] - clock[start])
            named = "gps-jump" if kind == "off-road" and seconds < SAID_GAP_S else kind
            if end - start >= least:
                found.append(Happening(named, float(clock[start]), seconds))
    return tuple((item, float(np.interp(item.time_s, motion.time_s, motion.station_m)))
                 for item in sorted(found, key=lambda item: (item.time_s, item.kind)))
