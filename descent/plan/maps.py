# SPDX-License-Identifier: MIT
"""Temperature maps of a section, made all at once: what it does to time, brakes and the state it ends with."""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass, replace
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from descent.physics.brake_heat import alike_rows, emergency_rise_k, packed_rows, parked_c
from descent.physics.cell_kernel import ADHESION, EMERGENCY_PRESSURE, MASS
from descent.physics.foundation_brake import (
    FADE_END,
    FADE_ON,
    FREE_STROKE,
    LIMIT,
    STROKE_LIMIT,
    STROKE_PER_K,
    STROKE_PER_KPA,
    VALVE_SHARE,
)
from descent.physics.march import TABLE_STEP_MPS, Cells, ForceTables, Setting, scalars
from descent.plan import section_kernel as kernel
from descent.plan.actions import holding_force_n
from descent.plan.entries import Entries, at_cap
from descent.plan.grip import grip_kpa
from descent.plan.layout import Lane, Layout
from descent.plan.model import Instruction, Task

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
COLD_C = 25.0
SAMPLES = 6


@dataclass(frozen=True)
class SectionMaps:
    """All maps of a section. Map e * widest + j leads from entry e to exit j of its instruction. ok (m,); numbers (m, 5 +
    4 n_rows): as `section_kernel.advance` records them; span (m, 2) into nodes: where T_in must be looked at closely;
    peak_kpa: highest application met, in maps that failed too."""

    widest: int
    ok: IntArray
    numbers: FloatArray
    span: IntArray
    nodes: FloatArray
    peak_kpa: float


def guards_of(task: Task, held: tuple[Instruction | None, ...], governed: tuple[Instruction, ...]) -> tuple[
        tuple[int, ...], ...]:
    """For each instruction the governed speeds of lower gears that hold back at least as much and so must hold too.

    Brakes may again be cooler far above a forbidden band of speeds, since air drag grows and time shrinks. Such an island
    is no place to send a driver: the first crossing from below counts. A retarder on the propeller shaft fades at low
    speed: gears that hold less are no measure.
    """
    hold = {item: holding_force_n(task, item) for item in {*governed, *(one for one in held if one is not None)}}
    return tuple(() if item is None else tuple(
        held.index(lower) for lower in governed if lower.gear < item.gear and hold[lower] >= hold[item]) for item in held)


class MapMaker:
    """Makes section maps for one task: everything the kernel needs, packed once. Rows of brakes that are alike are one row
    here (n_groups of them): they are always equally hot."""

    def __init__(self, task: Task, cells: Cells, tables: ForceTables, layout: Layout,
                 guards: tuple[tuple[int, ...], ...]) -> None:
        self.layout, self.guards_of = layout, guards
        self.grip_kpa = grip_kpa(task, layout.held)
        self.scalars = scalars(task.vehicle, task.day, task.driving)
        self.group_of, self.rows = alike_rows(packed_rows(task.vehicle), emergency_kpa=task.vehicle.emergency_pressure_kpa,
                                             adhesion=task.day.adhesion)
        self.flat = self.rows.copy()                   # without fade and stroke growth: affine in temperature
        self.flat[:, FADE_ON] = 1e9
        self.flat[:, FADE_END] = 2e9
        self.flat[:, STROKE_PER_K] = 0.0
        self.cells = np.column_stack([cells.step_m, cells.sin_down, cells.cos_road, cells.k_air, cells.cool,
                                       cells.air_temp])
        self._tables, self._task = tables, task
        self._samples = SAMPLES
        self._rows_of = np.array([0 if item is None else tables.row(Setting(item.gear, item.stage))
                                  for item in layout.held])

    def make(self, lane: Lane, entries: Entries, limit_c: FloatArray, least_c: FloatArray) -> SectionMaps:
        """Every map of a section from these entries, with limits (n_groups,) [C]; least_c (n_entries, n_groups) [C]: no
        label of an entry is cooler."""
        exits = lane.exit_table
        made = self._made(lane, entries, limit_c, least_c, exits.first, exits.end_u, exits.way)
        most = np.repeat(self.grip_kpa[entries.x], made.widest)
        return replace(made, ok=np.where(made.numbers[:, 4] <= most, made.ok, 0))

    def guards(self, lane: Lane, wanted: list[int], limit_c: FloatArray, least_c: FloatArray) -> SectionMaps:
        """Maps of a section driven at these governed speeds from cap to cap, one for each; least_c (n_groups,) [C]."""
        entries = at_cap(wanted, [0] * len(wanted), [float(self.layout.caps_u[x, lane.part.start]) for x in wanted])
        count = len(self.layout.held)
        return self._made(lane, entries, limit_c, np.tile(least_c, (len(entries), 1)), np.arange(count + 1),
                          np.full(count, np.inf), np.zeros(count, dtype=np.int64))

    def _made(self, lane: Lane, entries: Entries, limit_c: FloatArray, least_c: FloatArray, first: IntArray,
              end_u: FloatArray, way: IntArray) -> SectionMaps:
        return self._with(self.flat, lane, entries, limit_c, least_c, first, end_u, way)

    def _with(self, flat: FloatArray, lane: Lane, entries: Entries, limit_c: FloatArray, least_c: FloatArray,
              first: IntArray, end_u: FloatArray, way: IntArray) -> SectionMaps:
        a, b = lane.part.start, lane.part.end
        caps = np.ascontiguousarray(self.layout.caps_u[:, a:b + 1])
        stop, stop_s = self.stop_inside(lane, caps)
        widest = int(np.diff(first).max(initial=1))
        ok, numbers, span, nodes, peak = cast(Any, kernel.section_maps)(
            self.cells, a, self.layout.along_m[a:b + 1], self._task.driving.approach_mps2,
            caps, self._rows_of, entries.x, entries.way, entries.begin, first, end_u, way, widest,
            self._tables.held_n, 1 / TABLE_STEP_MPS, flat, self.rows, self.scalars,
            limit_c, least_c, stop, stop_s, self._samples, np.empty((64, 2 + 2 * len(self.rows))))
        return SectionMaps(widest, ok, numbers, span, nodes, peak)

    def stop_inside(self, lane: Lane, caps_u: FloatArray) -> tuple[int, float]:
        """Where a section stops inside for a brake check (-1: nowhere) and for how long [s]; caps_u (..., n + 1) [m2/s2] are
        lowered so that it is reached."""
        a, check = lane.part.start, lane.part.check
        if check is None or check.node <= a:
            return -1, 0.0
        stop = check.node - a
        ahead = self.layout.along_m[check.node] - self.layout.along_m[a:check.node + 1]
        caps_u[..., :stop + 1] = np.minimum(caps_u[..., :stop + 1], 2.0 * self._task.driving.approach_mps2 * ahead)
        return stop, 60.0 * self._task.rules.brake_check_minutes

    def limits_c(self, reserve_k: FloatArray) -> FloatArray:
        """Limits of the maps' rows (n_groups,) [C], less the largest reserve of the vehicle's rows in each, (n_rows,) [K]."""
        return np.array([self.rows[group, LIMIT] - reserve_k[self.group_of == group].max() for group in range(len(self.rows))])

    def rise_at_start(self, speed_mps: float, temps_c: FloatArray) -> FloatArray:
        """What an emergency stop at the first node of the road adds (n_groups,) [K], from temps_c (n_groups,) [C]."""
        out = np.empty(len(self.rows))
        cast(Any, emergency_rise_k)(self.rows, temps_c, speed_mps, self.scalars[MASS], float(self.cells[0, 1]),
                                    self.scalars[EMERGENCY_PRESSURE], self.scalars[ADHESION], out)
        return out

    def cooled(self, temps_c: FloatArray, seconds: NDArray[np.floating[Any]], cool: float) -> FloatArray:
        """Temperatures after standing where `cool` [1] of the cooling at sea level is left: temps_c (n, n_groups), seconds
        (m,) -> (n, m, n_groups) [C]."""
        return parked_c(self.rows, temps_c, np.asarray(seconds, dtype=float), share=cool * self._task.driving.parked_cooling_fraction,
                        air_temp_c=self._task.day.air_temp_c)

    def looking_everywhere(self) -> MapMaker:
        """The same, with every node that may bind looked at, not only those that bind first by sampling."""
        other = copy(self)
        other._samples = 0
        return other

    def straight_to_kpa(self) -> float:
        """Application pressure up to which heat changes no row's share, whatever its temperature within its limit [kPa].

        Strokes stay short of the readjustment limit with the drum at its temperature limit, and the limit lies below
        fade onset (derived). -inf where a limit lies above fade onset.
        """
        rows = self.rows
        if np.any(rows[:, LIMIT] > rows[:, FADE_ON]):
            return -np.inf
        room = rows[:, STROKE_LIMIT] - rows[:, FREE_STROKE] - rows[:, STROKE_PER_K] * (rows[:, LIMIT] - COLD_C)
        with np.errstate(divide="ignore"):
            at = np.where(rows[:, STROKE_PER_K] > 0, room / rows[:, STROKE_PER_KPA], np.inf)
        behind = rows[:, VALVE_SHARE] < 1.0
        return float(np.where(behind & (at < 0), -np.inf, at).min())

