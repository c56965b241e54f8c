# SPDX-License-Identifier: MIT
"""The draws of one task on a bench: any of its solutions driven by all of them, on long cells or on the road's own."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from descent.physics.march import Cells, cells_of, reachable_caps
from descent.physics.march_draws import DrawPeaks, march_draws, merged, merged_schedule
from descent.plan.chance import Chance
from descent.plan.draws import Draws, drawn
from descent.plan.model import Solution
from descent.plan.planner import Workshop
from descent.plan.sections import halts
from descent.plan.verify import schedule_of

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
CELL_M = 30.0              # the draws drive the road in cells of about this length
CAP_TOLERANCE = 6.0        # [m2/s2] of squared speed by which a cap may lie off its straight line inside such a cell
STRIP_M = 100.0            # the temperature band is kept at about these distances
PROBES = 48                # draws driven on the road's own cells too, to see what longer ones miss
NEAR_K = 16.0              # draws that come nearer than this to a limit on longer cells are driven on the road's own


@dataclass(frozen=True)
class Bench:
    """The draws of one task, ready to drive any of its solutions: the mean road, nodes of the draws' longer cells, at which
    of them temperatures are kept, and between_k (n_rows,) [K]: how much higher peaks lie between them."""

    shop: Workshop
    chance: Chance
    road: Cells
    nodes: IntArray
    draws: Draws
    keep: IntArray
    between_k: FloatArray

    def drive(self, solution: Solution, *, which: IntArray | None = None) -> DrawPeaks:
        """Every draw, or some of them, under a solution; `between_k` is added to what their peaks pass the limit by."""
        peaks = self._driven(solution, _nodes_of(solution), which)
        return replace(peaks, excess_k=peaks.excess_k + self.between_k, fade_k=peaks.fade_k + self.between_k.max())

    def settled(self, solution: Solution) -> Bench:
        """The same draws with `between_k` taken from one solution: what the peaks of some draws rise by, in the mean of each
        row, on the road's own cells, which see more of the saw-tooth of snubs."""
        which = np.arange(min(PROBES, self.chance.draws))
        fine = self._driven(solution, np.arange(len(self.road.step_m) + 1), which).excess_k
        more = fine - self._driven(solution, _nodes_of(solution), which).excess_k
        sure = np.isfinite(more).all(axis=1)
        return replace(self, between_k=np.clip(more[sure].mean(axis=0), 0.0, None) if sure.any() else self.between_k)

    def coarser(self, cell_m: float) -> Bench:
        """The same draws on cells of about cell_m [m], each with the mean of the errors of grade it covers."""
        nodes = _nodes(self.shop, self.road, cell_m)
        first = np.searchsorted(self.nodes, nodes)
        step_m = np.diff(self.road.station_m[self.nodes])
        return replace(self, nodes=nodes, draws=self.draws.over(first, step_m), keep=_kept(nodes, cell_m))

    def sifted(self, solution: Solution) -> tuple[DrawPeaks, IntArray]:
        """Every draw under a solution, those near their limit or fade onset on these cells, the others on longer ones; and
        the nodes of the road at which temperatures were kept.

        Should the longer cells be wrong by half of what counts as near, every draw is driven on these.
        """
        long = self.coarser(CELL_M)
        here = replace(self, keep=np.searchsorted(self.nodes, long.nodes[long.keep]))
        peaks = long.drive(solution)
        worst = np.maximum(peaks.excess_k.max(axis=1), peaks.fade_k)
        near = np.flatnonzero(worst > -NEAR_K)
        if not len(near):
            return peaks, long.nodes[long.keep]
        close = here.drive(solution, which=near)
        finite = np.isfinite(close.excess_k) & np.isfinite(peaks.excess_k[near])
        if np.abs(close.excess_k - peaks.excess_k[near])[finite].max(initial=0.0) > 0.5 * NEAR_K:
            return here.drive(solution), long.nodes[long.keep]
        return peaks.with_some(near, close), long.nodes[long.keep]

    def _driven(self, solution: Solution, also: IntArray, which: IntArray | None) -> DrawPeaks:
        task, draws = self.shop.task, self.draws if which is None else self.draws.some(which)
        nodes, keep = self.nodes, self.keep
        extra = np.setdiff1d(also, nodes)
        if len(extra):
            finer = np.union1d(nodes, extra)
            parent = np.searchsorted(nodes, finer[:-1], side="right") - 1
            draws = replace(draws, grade_error=np.ascontiguousarray(draws.grade_error[:, parent]))
            keep, nodes = np.searchsorted(finer, nodes[keep]), finer
        schedule = schedule_of(task, self.road, self.shop.tables, solution)
        return march_draws(merged(self.road, nodes), self.shop.tables, merged_schedule(schedule, nodes), draws,
                           start_temp_c=task.day.start_temp_c, keep=keep)


def _nodes_of(solution: Solution) -> IntArray:
    return np.array([node for leg in solution.legs for node in (leg.start, leg.end)]
                    + [stop.node for stop in solution.stops], dtype=np.int64)


def bench(shop: Workshop, chance: Chance, *, cell_m: float = CELL_M) -> Bench:
    """Draw everything for a task, on cells of about cell_m [m].

    The draws drive the road as it was measured, not the steep side of its band: its errors are among what is drawn."""
    task = shop.task
    road = cells_of(task.profile, task.vehicle, task.day, altitude_offset_m=task.altitude_offset_m)
    nodes = _nodes(shop, road, cell_m)
    return Bench(shop, chance, road, nodes, drawn(task, chance, nodes), _kept(nodes, cell_m), np.zeros(len(task.vehicle.rows)))


def _kept(nodes: IntArray, cell_m: float) -> IntArray:
    """Those of the nodes at which temperatures are kept."""
    return np.unique(np.append(np.arange(0, len(nodes), max(1, round(STRIP_M / cell_m))), len(nodes) - 1))


def _nodes(shop: Workshop, road: Cells, cell_m: float) -> IntArray:
    """Nodes about cell_m apart, at every end of a section and every halt, and all where the caps bend between them."""
    task, last = shop.task, len(road.step_m)
    stride = max(1, round(cell_m / task.profile.spacing_m))
    forced = {0, last, *(halt.node for halt in halts(task))}
    for part in shop.parts:
        forced |= {part.start, part.end} | ({part.check.node} if part.check is not None else set())
    nodes = np.array(sorted(forced | set(range(0, last, stride))), dtype=np.int64)
    caps = reachable_caps(np.minimum(task.posted_mps, task.curve_mps), road.step_m, task.driving.approach_mps2) ** 2
    bent = np.abs(caps - np.interp(np.arange(last + 1), nodes, caps[nodes])) > CAP_TOLERANCE
    cell = np.unique(np.searchsorted(nodes, np.flatnonzero(bent), side="right") - 1)
    inside = [np.arange(nodes[at], nodes[min(at + 1, len(nodes) - 1)] + 1) for at in cell]
    return np.unique(np.concatenate([nodes, *inside]).astype(np.int64))
