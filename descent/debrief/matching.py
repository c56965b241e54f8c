# SPDX-License-Identifier: MIT
"""Lays fixes onto the planned road: the run of stations that fits positions and travel best, of all candidates."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from descent.route.line import WGS84

FloatArray = NDArray[np.float64]
LIMIT_M = 45.0               # farther from the road's line a fix is not on it
ALIKE_M = 25.0               # a candidate this much farther than the nearest is no other leg of a hairpin
OFFSET_SD_M = 8.0
FASTEST_MPS = 60.0
METRES_PER_DEGREE = 111_195.0
NEVER = 1e12


@dataclass(frozen=True)
class Matched:
    """Station [m] of each fix (n,), NaN where it is off the road, and its distance from the road's line [m]; nearest_m: the
    nearest station, whatever the fixes before and after say."""

    station_m: FloatArray
    offset_m: FloatArray
    nearest_m: FloatArray


def match_to_road(lon: FloatArray, lat: FloatArray, time_s: FloatArray, *, road_lon: FloatArray, road_lat: FloatArray,
                  road_station_m: FloatArray) -> Matched:
    """Stations of fixes (n,) on a road line (m,) [degree, m].

    Each fix has as candidates the nearest points of the stretches of road within `LIMIT_M`; the run of candidates with
    the least sum of squared misfit is taken (Viterbi 1967, from memory): distance from the line, and travel between
    fixes against the distance between them. Going back costs, so that the other leg of a hairpin is not taken.
    """
    from scipy.spatial import cKDTree

    scale = np.cos(np.radians(float(np.mean(road_lat))))
    road = np.column_stack([road_lon * scale, road_lat]) * METRES_PER_DEGREE
    fixes = np.column_stack([lon * scale, lat]) * METRES_PER_DEGREE
    longest = float(np.max(np.diff(road_station_m)))
    tree = cKDTree(road)
    _, _, apart = WGS84.inv(lon[:-1], lat[:-1], lon[1:], lat[1:])
    candidates = [_candidates(fixes[i], road, road_station_m, near)
                  for i, near in enumerate(tree.query_ball_point(fixes, LIMIT_M + longest))]
    return _best_run(candidates, time_s, np.asarray(apart, dtype=float))


def _candidates(fix: FloatArray, road: FloatArray, station_m: FloatArray, near: list[int]) -> tuple[FloatArray, FloatArray]:
    """Station and distance of the nearest point of each stretch of road near a fix."""
    if not near:
        return np.empty(0), np.empty(0)
    at = np.unique(np.concatenate([np.array(near) - 1, near]))
    at = at[(at >= 0) & (at < len(road) - 1)]
    along = road[at + 1] - road[at]
    size = np.sum(along * along, axis=1)
    share = np.clip(np.sum((fix - road[at]) * along, axis=1) / np.where(size > 0, size, 1.0), 0.0, 1.0)
    offset = np.hypot(*(fix - road[at] - share[:, None] * along).T)
    wide = np.concatenate([[np.inf], np.where(np.diff(at) > 1, 0.0, 1.0), [np.inf]])
    left = np.concatenate([[np.inf], offset[:-1]])
    right = np.concatenate([offset[1:], [np.inf]])
    lowest = (offset <= np.where(wide[:-1] == 1.0, left, np.inf)) & (offset < np.where(wide[1:] == 1.0, right, np.inf))
    good = lowest & (offset <= min(LIMIT_M, float(offset.min()) + ALIKE_M))
    station = station_m[at] + share * (station_m[at + 1] - station_m[at])
    ends = ((station <= station_m[0]) | (station >= station_m[-1])) & (offset > OFFSET_SD_M)
    return station[good & ~ends], offset[good & ~ends]


def _best_run(candidates: list[tuple[FloatArray, FloatArray]], time_s: FloatArray, apart: FloatArray) -> Matched:
    n = len(candidates)
    station, offset = np.full(n, np.nan), np.full(n, np.nan)
    nearest = np.array([found[0][np.argmin(found[1])] if len(found[0]) else np.nan for found in candidates])
    on = [i for i in range(n) if len(candidates[i][0])]
    if not on:
        return Matched(station, offset, nearest)
    cost = (candidates[on[0]][1] / OFFSET_SD_M) ** 2
    back: list[NDArray[np.int64]] = []
    for before, now in itertools.pairwise(on):
        seconds = float(time_s[now] - time_s[before])
        straight = float(apart[before:now].sum()) if now - before < 30 else 0.0
        moved = candidates[now][0][None, :] - candidates[before][0][:, None]
        sd = 12.0 + 0.15 * straight + (3.0 * seconds if now - before >= 30 else 0.5 * seconds)
        misfit = np.where(moved < 0, (moved / 8.0) ** 2, 0.0) + (np.maximum(np.abs(moved) - straight, 0.0) / sd) ** 2
        misfit = np.where(moved > FASTEST_MPS * seconds + 150.0, NEVER, misfit)
        total = cost[:, None] + misfit
        best = np.argmin(total, axis=0)
        back.append(best)
        cost = total[best, np.arange(total.shape[1])] + (candidates[now][1] / OFFSET_SD_M) ** 2
        cost = cost - cost.min()
    pick = int(np.argmin(cost))
    for order in range(len(on) - 1, -1, -1):
        station[on[order]], offset[on[order]] = candidates[on[order]][0][pick], candidates[on[order]][1][pick]
        if order:
            pick = int(back[order - 1][pick])
    return Matched(station, offset, nearest)
