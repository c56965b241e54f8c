# SPDX-License-Identifier: MIT
"""March one schedule under many draws of vehicle, day and road, keeping only peaks and temperatures at some places."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any, Protocol, cast

import numba
import numpy as np
from numpy.typing import NDArray

from descent.physics.borrowed import borrowed
from descent.physics.cell_kernel import (
    ADHESION,
    EMERGENCY_PRESSURE,
    MASS,
    MAX_PRESSURE,
    PARKED_FRACTION,
    cross,
    lower_cap,
    stand,
)
from descent.physics.foundation_brake import FADE_ON, LIMIT
from descent.physics.march import TABLE_STEP_MPS, Cells, ForceTables, Schedule
from descent.physics.quick_brakes import COLUMNS, quick_rise_k, quick_table

FloatArray = NDArray[np.float64]


class Varied(Protocol):
    """What differs from draw to draw: see `descent.plan.draws.Draws`; arrays with the draws first."""

    @property
    def rows(self) -> FloatArray: ...
    @property
    def scalars(self) -> FloatArray: ...
    @property
    def retarder_share(self) -> FloatArray: ...
    @property
    def air_share(self) -> FloatArray: ...
    @property
    def air_temp_c(self) -> FloatArray: ...
    @property
    def grade_error(self) -> NDArray[np.float32]: ...


@dataclass(frozen=True)
class DrawPeaks:
    """Per draw: excess_k (n, n_rows) [K], most by which a row's temperature plus one emergency stop passes its limit
    (infinite where no stop is possible or the vehicle stalls); fade_k (n,) [K], most by which any row passes its fade
    onset; time_s (n,) [s]; hottest_c (n, n_places) [C], hottest row on arrival at the places kept."""

    excess_k: FloatArray
    fade_k: FloatArray
    time_s: FloatArray
    hottest_c: NDArray[np.float32]

    @property
    def over(self) -> NDArray[np.bool_]:
        """Draws that pass the limit anywhere (n,)."""
        return np.asarray(self.excess_k.max(axis=1) > 0.0)

    @property
    def fading(self) -> NDArray[np.bool_]:
        """Draws that reach fade onset anywhere (n,)."""
        return np.asarray(self.fade_k >= 0.0)


    def and_others(self, others: DrawPeaks) -> DrawPeaks:
        """These draws and others of the same places."""
        return DrawPeaks(np.concatenate([self.excess_k, others.excess_k]), np.concatenate([self.fade_k, others.fade_k]),
                         np.concatenate([self.time_s, others.time_s]), np.concatenate([self.hottest_c, others.hottest_c]))

    def with_some(self, which: NDArray[np.int64], others: DrawPeaks) -> DrawPeaks:
        """These draws with some of them, by index, replaced."""
        excess_k, fade_k, time_s = self.excess_k.copy(), self.fade_k.copy(), self.time_s.copy()
        hottest_c = self.hottest_c.copy()
        excess_k[which], fade_k[which] = others.excess_k, others.fade_k
        time_s[which], hottest_c[which] = others.time_s, others.hottest_c
        return DrawPeaks(excess_k, fade_k, time_s, hottest_c)


def merged(cells: Cells, nodes: NDArray[np.int64]) -> Cells:
    """The cells between fewer nodes (m + 1,), rising, first 0 and last n: lengths [m] and falls add up, the rest are means
    by length. Source: key derived.

    >>> cells = Cells(np.arange(5) * 10.0, *(np.full(4, x) for x in (10.0, 0.06, 0.998, 3.0, 1.0, 15.0)))
    >>> merged(cells, np.array([0, 3, 4])).step_m.tolist()
    [30.0, 10.0]
    """
    step = np.add.reduceat(cells.step_m, nodes[:-1])

    def mean(values: FloatArray) -> FloatArray:
        return np.asarray(np.add.reduceat(values * cells.step_m, nodes[:-1]) / step)

    return Cells(cells.station_m[nodes], step, mean(cells.sin_down), mean(cells.cos_road), mean(cells.k_air),
                 mean(cells.cool), mean(cells.air_temp))


def merged_schedule(schedule: Schedule, nodes: NDArray[np.int64]) -> Schedule:
    """The schedule on fewer nodes; every stop [s] and change of force row must lie on one of them. Range and source as in
    `merged` (key derived).

    >>> plan = Schedule(np.full(4, 10.0), *np.zeros((2, 3), dtype=int), np.full(4, -1.0))
    >>> merged_schedule(plan, np.array([0, 3])).cap_mps.tolist()
    [10.0, 10.0]
    """
    return Schedule(schedule.cap_mps[nodes], schedule.row[nodes[:-1]], schedule.snubbed[nodes[:-1]],
                    schedule.dwell_s[nodes])


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _some(first: int, last: int, step_m: FloatArray, sin_down: FloatArray, cos_road: FloatArray, k_air: FloatArray,
          cool: FloatArray, cap_u: FloatArray, row_of: NDArray[np.int64], snubbed: NDArray[np.int64], engine: FloatArray,
          ret: FloatArray, inv_step: float, dwell_s: FloatArray, start_c: float, rows: FloatArray, scal: FloatArray,
          ret_share: FloatArray, air_share: FloatArray, air_temp_c: FloatArray, grade_error: NDArray[np.float32],
          kept: NDArray[np.int64], excess: FloatArray, fading: FloatArray, time_s: FloatArray,
          hottest: NDArray[np.float32], by_node: FloatArray, by_row: FloatArray, held: FloatArray, quick: FloatArray,
          carried: FloatArray) -> None:
    """Draws first to last, one after the other; what a march passes at each node is looked at there and forgotten.

    by_node (2, n + 1), by_row (5, n_rows), held (n_settings, n_speeds), quick (n_rows + 1, 11), carried (20,): scratch.
    """
    step_m, sin_down, cos_road = borrowed(step_m), borrowed(sin_down), borrowed(cos_road)
    k_air, cool, cap_u, dwell_s = borrowed(k_air), borrowed(cool), borrowed(cap_u), borrowed(dwell_s)
    row_of, snubbed, ret, held, quick = borrowed(row_of), borrowed(snubbed), borrowed(ret), borrowed(held), borrowed(quick)
    rows, scal, grade_error = borrowed(rows), borrowed(scal), borrowed(grade_error)
    kept, hottest, by_node, by_row, carried = (borrowed(kept), borrowed(hottest), borrowed(by_node), borrowed(by_row),
                                               borrowed(carried))
    n, count = step_m.shape[0], rows.shape[1]
    low, cubed = by_node[0], by_node[1]
    temps, decay, share, rise, most = by_row[0], by_row[1], by_row[2], by_row[3], by_row[4]
    state, log, energy = carried[:4], carried[4:11], carried[11:]
    for i in range(n + 1):
        low[i] = lower_cap(cap_u[i], scal[first])
        cubed[i] = cos_road[min(i, n - 1)] ** 3
    for d in range(first, last):
        own, sc, air = rows[d], scal[d], air_temp_c[d]
        for m in range(ret.shape[0]):
            for q in range(ret.shape[1]):
                held[m, q] = engine[m, q] + ret[m, q] * ret_share[d]
        quick_table(own, sc[MAX_PRESSURE], sc[EMERGENCY_PRESSURE], sc[ADHESION], quick)
        state[0], state[1], state[2], state[3] = cap_u[0], 0.0, 1.0, 0.0
        for r in range(count):
            temps[r] = max(start_c, air)
            most[r] = -np.inf
        fade, place, sine = -np.inf, 0, 0.0
        for i in range(n + 1):
            if i < n:
                sine = sin_down[i] - grade_error[d, i] * cubed[i]
            quick_rise_k(own, quick, temps, np.sqrt(state[0]), sc[MASS], sine, sc[EMERGENCY_PRESSURE], rise)
            for r in range(count):
                over = temps[r] + rise[r] - own[r, LIMIT]
                if not over <= most[r]:
                    most[r] = over
                fade = max(fade, temps[r] - own[r, FADE_ON])
            while place < kept.shape[0] and kept[place] == i:
                hottest[d, place] = temps.max()
                place += 1
            if dwell_s[i] >= 0.0:
                stand(temps, own, dwell_s[i], cool[min(i, n - 1)] * sc[PARKED_FRACTION], air, decay, energy)
                state[1] = 0.0
                state[2] = 1.0
                state[3] += dwell_s[i]
            if i < n and not cross(step_m[i], sine, cos_road[i], k_air[i] * air_share[d], cool[i], air, cap_u[i],
                                   cap_u[i + 1], low[i], low[i + 1], row_of[i], snubbed[i], held, ret, inv_step, own,
                                   quick, sc, state, temps, decay, share, log, None):
                most[:] = np.inf
                hottest[d, place:] = np.inf
                break
        time_s[d] = state[3]
        fading[d] = fade
        for r in range(count):
            excess[d, r] = np.inf if np.isnan(most[r]) else most[r]


def march_draws(cells: Cells, tables: ForceTables, schedule: Schedule, draws: Varied, *, start_temp_c: float,
                keep: NDArray[np.int64], threads: int = 2) -> DrawPeaks:
    """Drive n draws of one schedule, from its first cap and `start_temp_c` [C] (the air's own where that is warmer).

    cells: the mean road, to whose grade each draw adds its own error (n, n_cells); keep (n_places,): nodes whose hottest
    temperature is kept. Draws are independent, so the number of threads changes nothing but time. Range and source as
    `march` (key derived).

    >>> from types import SimpleNamespace
    >>> from descent.physics.brake_heat import packed_rows
    >>> from descent.physics.march import Day, Driving, force_tables, scalars
    >>> from descent.vehicle.catalogue import load_vehicle
    >>> truck, day, n = load_vehicle("tractor-semitrailer"), Day(15.0, 65.0, 0.6), 100
    >>> cells = Cells(np.arange(n + 1) * 10.0, *(np.full(n, x) for x in (10.0, 0.06, 0.998, 3.0, 1.0, 15.0)))
    >>> plan = Schedule(np.full(n + 1, 10.0), *np.zeros((2, n), dtype=int), np.full(n + 1, -1.0))
    >>> two = SimpleNamespace(rows=np.repeat(packed_rows(truck)[None], 2, axis=0), air_temp_c=np.full(2, 15.0),
    ...     scalars=np.repeat(scalars(truck, day, Driving())[None], 2, axis=0), retarder_share=np.ones(2),
    ...     air_share=np.ones(2), grade_error=np.array([[0.0], [-0.01]], dtype=np.float32) * np.ones(n, dtype=np.float32))
    >>> peaks = march_draws(cells, force_tables(truck, (), Driving()), plan, two, start_temp_c=65.0, keep=np.array([0, n]))
    >>> peaks.hottest_c.shape, bool(peaks.hottest_c[1, 1] > peaks.hottest_c[0, 1]), peaks.over.tolist()
    ((2, 2), True, [False, False])
    """
    n = len(draws.air_temp_c)
    used, row = np.unique(schedule.row, return_inverse=True)
    excess, fading, time_s = np.empty((n, draws.rows.shape[1])), np.empty(n), np.empty(n)
    hottest = np.empty((n, len(keep)), dtype=np.float32)
    road = (np.ascontiguousarray(column) for column in (cells.step_m, cells.sin_down, cells.cos_road, cells.k_air, cells.cool))
    fixed = (*road, schedule.cap_mps**2, row.astype(np.int64), np.ascontiguousarray(schedule.snubbed), tables.engine_n[used], tables.retarder_n[used], 1 / TABLE_STEP_MPS,
             np.ascontiguousarray(schedule.dwell_s), start_temp_c, draws.rows, draws.scalars, draws.retarder_share, draws.air_share,
             draws.air_temp_c, draws.grade_error, keep, excess, fading, time_s, hottest)
    parts = max(1, min(threads, n // 8))
    bounds = [n * part // parts for part in range(parts + 1)]

    def run(part: int) -> None:
        count = draws.rows.shape[1]
        cast(Any, _some)(bounds[part], bounds[part + 1], *fixed, np.empty((2, len(schedule.cap_mps))), np.zeros((5, count)),
                         np.empty_like(fixed[9]), np.empty((count + 1, COLUMNS)), np.zeros(20))

    if parts == 1:
        run(0)
    else:
        with ThreadPoolExecutor(parts) as pool:
            list(pool.map(run, range(parts)))
    return DrawPeaks(excess, fading, time_s, hottest)
