# SPDX-License-Identifier: MIT
"""What is not known exactly, drawn: weight, axles, adjustment, retarder, friction, air and the grade of the whole road."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, cast

import numba
import numpy as np
from numpy.typing import NDArray

from descent.physics.brake_heat import packed_rows
from descent.physics.cell_kernel import DRIVE_FORCE, MASS, MASS_EFF
from descent.physics.foundation_brake import FREE_STROKE, GAIN, LOAD, STROKE_LIMIT, STROKE_PER_KPA
from descent.physics.march import scalars
from descent.physics.retarder import BREATHING
from descent.plan.chance import Chance
from descent.plan.model import Task
from descent.terrain.road_profile import RoadProfile
from descent.units import PSI_KPA

FloatArray = NDArray[np.float64]
BLOCK = 256           # cells whose errors are drawn at once
FARTHEST = 3.0        # normal variates are held inside this many standard deviations
ABSOLUTE_ZERO_C = -273.15
FULL_APPLICATION_KPA = 85 * PSI_KPA


@dataclass(frozen=True)
class Draws:
    """n draws of one truck and day, the same for every plan that is tried.

    rows (n, n_rows, 17) and scalars (n, 14) as the march takes them; retarder_share, air_share (n,): factors on the
    retarder's force and the air's drag; air_temp_c (n,); grade_error (n, n_cells): added to the grade of each cell.
    """

    rows: FloatArray
    scalars: FloatArray
    retarder_share: FloatArray
    air_share: FloatArray
    air_temp_c: FloatArray
    grade_error: NDArray[np.float32]

    @property
    def count(self) -> int:
        """Number of draws."""
        return len(self.air_temp_c)

    def some(self, which: NDArray[np.int64]) -> Draws:
        """A part of the draws, by index."""
        return Draws(self.rows[which], self.scalars[which], self.retarder_share[which], self.air_share[which],
                     self.air_temp_c[which], self.grade_error[which])

    def over(self, first: NDArray[np.int64], step_m: FloatArray) -> Draws:
        """The same on fewer cells, of which each covers those from `first` (m + 1,) to the next: mean errors by length."""
        errors = np.empty((self.count, len(first) - 1), dtype=np.float32)
        cast(Any, _means)(self.grade_error, first, step_m, errors)
        return replace(self, grade_error=errors)


def drawn(task: Task, chance: Chance, nodes: NDArray[np.int64]) -> Draws:
    """Draw n trucks, days and roads for a task; grade errors on the cells between `nodes` (station indices, rising).

    Each kind has its own stream of the seed (PCG64), so that widening one leaves the others as they were. Grade errors
    of the profile are normal with its own standard deviation at every station and correlated with
    exp(-distance / grade_correlation_m), beside one error common to the whole road: the profile's own statement of
    itself. Normal variates end at 3 standard deviations; a stroke is never drawn past its readjustment limit (such a
    vehicle may not go) nor a weight below the empty vehicle.
    """
    spread, count = chance.spread, chance.draws
    streams = [np.random.Generator(np.random.PCG64(child)) for child in np.random.SeedSequence(chance.seed).spawn(8)]
    base = packed_rows(task.vehicle)
    n_rows = len(base)

    def normal(stream: int, *more: int) -> FloatArray:
        return np.clip(streams[stream].standard_normal((count, *more)), -FARTHEST, FARTHEST)

    gross = np.maximum(1.0 + spread.gross_sd * normal(0), task.vehicle.tare_kg / task.vehicle.gross_kg)
    rows = np.repeat(base[None], count, axis=0)
    load = base[:, LOAD] * np.exp(spread.axle_load_sd * normal(1, n_rows))
    rows[:, :, LOAD] = load * (base[:, LOAD].sum() / load.sum(axis=1) * gross)[:, None]
    friction = np.maximum(1.0 + spread.friction_sd * normal(3), 0.3)
    rows[:, :, GAIN] *= np.exp(spread.brake_share_sd * normal(2, n_rows)) * friction[:, None]
    longest = np.maximum(base[:, STROKE_LIMIT] - base[:, STROKE_PER_KPA] * FULL_APPLICATION_KPA, base[:, FREE_STROKE])
    rows[:, :, FREE_STROKE] = np.clip(base[:, FREE_STROKE] + spread.stroke_sd_m * normal(4, n_rows), 0.0, longest)
    packed = np.repeat(scalars(task.vehicle, task.day, task.driving)[None], count, axis=0)
    packed[:, [MASS, MASS_EFF, DRIVE_FORCE]] *= gross[:, None]
    air = task.day.air_temp_c + spread.air_temp_sd_k * normal(6)
    thinner = (task.day.air_temp_c - ABSOLUTE_ZERO_C) / (air - ABSOLUTE_ZERO_C)
    retarder = np.maximum(1.0 + spread.retarder_sd * normal(5), 0.0)
    if task.vehicle.retarder.kind in BREATHING:
        retarder = retarder * np.minimum(thinner, 1.0)
    return Draws(rows, packed, retarder, thinner, air,
                 grade_errors(task.profile, nodes, streams[7], count=count, scale=spread.grade_scale))


def grade_errors(profile: RoadProfile, nodes: NDArray[np.int64], stream: np.random.Generator, *, count: int,
                 scale: float) -> NDArray[np.float32]:
    """Errors of grade (count, len(nodes) - 1) [1] of whole roads, for the cells between nodes.

    A cell takes the profile's standard deviation at its middle; neighbours are tied as points at their middles are, which
    is on the cautious side of a mean over the cell.
    """
    station = profile.station_m
    middle = 0.5 * (station[nodes[1:]] + station[nodes[:-1]])
    sd = scale * np.interp(middle, station, profile.grade_sd)
    tie = np.exp(-np.diff(middle) / profile.grade_correlation_m)
    out = np.empty((count, len(middle)), dtype=np.float32)
    last = np.zeros(count)
    for begin in range(0, len(middle), BLOCK):
        part = slice(begin, begin + BLOCK)
        fresh = stream.standard_normal((len(middle[part]), count), dtype=np.float32)
        cast(Any, _tied)(fresh, np.append(0.0, tie)[part], sd[part], last, out[:, part])
    out += (scale * profile.common_grade_sd * stream.standard_normal(count)).astype(np.float32)[:, None]
    return out


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _tied(fresh: NDArray[np.float32], tie: FloatArray, sd: FloatArray, last: FloatArray, out: NDArray[np.float32]) -> None:
    """Normal variates, fresh (n_cells, n), tied along the road to what stands in `last` (n,) -> `out` (n, n_cells)."""
    for d in range(fresh.shape[1]):
        now = last[d]
        for cell in range(fresh.shape[0]):
            own = min(max(fresh[cell, d], -FARTHEST), FARTHEST)
            now = tie[cell] * now + np.sqrt(1.0 - tie[cell] * tie[cell]) * own
            out[d, cell] = now * sd[cell]
        last[d] = now


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _means(errors: NDArray[np.float32], first: NDArray[np.int64], step_m: FloatArray, out: NDArray[np.float32]) -> None:
    """Means of errors (n, n_cells) by length over the cells from each `first` to the next -> `out` (n, n_first - 1)."""
    for d in range(errors.shape[0]):
        for cell in range(out.shape[1]):
            total, length = 0.0, 0.0
            for inner in range(first[cell], first[cell + 1]):
                total += errors[d, inner] * step_m[inner]
                length += step_m[inner]
            out[d, cell] = total / length
