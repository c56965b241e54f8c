# SPDX-License-Identifier: MIT
"""Temperature maps: what a section driven under one instruction does to the brakes, as T_out = A + B T_in.

Below fade onset brake heat does not depend on temperature, so the march of a section is affine in the temperature it
starts with: one march gives the offset, and the cooling it gathers on the way the factor. It is allowed when T_in stays
under a threshold. The rise of an emergency stop is taken with the brakes as hot as they may be there, since strokes grow with heat.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from descent.physics import march_kernel as kernel
from descent.physics.brake_heat import packed_rows, rises_along
from descent.physics.foundation_brake import FADE_END, FADE_ON, LIMIT, STROKE_PER_K
from descent.physics.march import TABLE_STEP_MPS, Cells, ForceTables, Setting, reachable_caps, scalars
from descent.plan.model import Instruction, Task

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class SectionMap:
    """time_s; offset_c and factor (n_rows,) of T_out = offset + factor T_in; allowed when T_in <= threshold_c."""

    time_s: float
    offset_c: FloatArray
    factor: FloatArray
    threshold_c: FloatArray

    def out(self, temps_c: FloatArray) -> FloatArray:
        """Temperatures after the section; temps_c (..., n_rows)."""
        return self.offset_c + self.factor * temps_c


@dataclass(frozen=True)
class Stretch:
    """Which nodes, which instruction (None: cruise), the speed it is entered with (0: from a stop; infinite: as fast
    as its caps allow), and the speed it ends with at most (0: a stop)."""

    start: int
    end: int
    instruction: Instruction | None
    entry_mps: float
    end_mps: float


class MapMaker:
    """Makes section maps for one task, with the caps of each instruction worked out once."""

    def __init__(self, task: Task, cells: Cells, tables: ForceTables) -> None:
        self._task, self._cells, self._tables = task, cells, tables
        self._true = packed_rows(task.vehicle)
        self._axles = self._true.copy()                  # without fade and stroke growth: affine in temperature
        self._axles[:, FADE_ON] = 1e9
        self._axles[:, FADE_END] = 2e9
        self._axles[:, STROKE_PER_K] = 0.0
        self._scalars = scalars(task.vehicle, task.day, task.driving)
        self._scalars[kernel.EMERGENCY_PRESSURE] = 0.0   # rises are worked out afterwards
        self._open = np.minimum(task.posted_mps, task.curve_mps)
        self._held: dict[float, FloatArray] = {}

    def held_caps(self, control_mps: float) -> FloatArray:
        """Caps over the whole road when `control_mps` is held everywhere (n_stations,)."""
        if control_mps not in self._held:
            self._held[control_mps] = reachable_caps(np.minimum(self._open, control_mps), self._cells.step_m,
                                                     self._task.driving.approach_mps2)
        return self._held[control_mps]

    def make(self, stretch: Stretch, *, stop_node: int | None = None, stop_s: float = 0.0) -> SectionMap | None:
        """The map of a stretch, or None when the vehicle stalls on it. A cruise may hold one stop inside."""
        a, b = stretch.start, stretch.end
        held = stretch.instruction
        caps = np.array((self._open if held is None else self.held_caps(held.control_mps))[a:b + 1])
        caps[-1] = min(caps[-1], stretch.end_mps)
        dwell = np.full(b - a + 1, -1.0)
        if stop_node is not None:
            caps[stop_node - a] = 0.0
            dwell[stop_node - a] = stop_s
        caps = reachable_caps(caps, self._cells.step_m[a:b], self._task.driving.approach_mps2)
        begin = min(float(caps[0]), stretch.entry_mps)
        run = self._run(stretch, caps, dwell, begin)
        if run is None:
            return None
        time_s, offset, factor, speed = run
        # strokes grow with heat, so an emergency stop's rise depends on temperature: first all brakes at their limit,
        # then all as hot as the first answer lets them come in
        hot = np.broadcast_to(self._true[:, LIMIT], offset.shape).copy()
        for _ in range(2):
            threshold = np.min((self._true[:, LIMIT] - self._rises(stretch, hot, speed) - offset) / factor, axis=0)
            coming = float(np.clip(threshold.min(), self._task.day.air_temp_c, self._true[:, LIMIT].max()))
            hot = offset + factor * coming
        return SectionMap(time_s, offset[-1], factor[-1], threshold)

    def _rises(self, stretch: Stretch, hot_c: FloatArray, speed_mps: FloatArray) -> FloatArray:
        vehicle, rise = self._task.vehicle, np.empty_like(hot_c)
        cast(Any, rises_along)(self._true, hot_c, speed_mps, self._cells.sin_down[stretch.start:stretch.end],
                               vehicle.gross_kg, vehicle.emergency_pressure_kpa, self._task.day.adhesion, rise)
        return rise

    def _run(self, stretch: Stretch, caps: FloatArray, dwell: FloatArray,
             begin_mps: float) -> tuple[float, FloatArray, FloatArray, FloatArray] | None:
        """Time, offset and factor of temperature at every node, and speed there; started at 0 C, so the temperatures
        are the offsets. None when the vehicle stalls."""
        a, b = stretch.start, stretch.end
        n, count = b - a, len(self._axles)
        held = stretch.instruction
        row = 0 if held is None else self._tables.row(Setting(held.gear, held.stage))
        node, snubs = np.zeros((n + 1, 4)), np.zeros((n, 2))
        offset, rise, leave, decay = (np.zeros((n + 1, count)) for _ in range(4))
        c = self._cells
        reached = cast(Any, kernel.march)(
            c.step_m[a:b], c.sin_down[a:b], c.cos_road[a:b], c.k_air[a:b], c.cool[a:b], c.air_temp[a:b], caps**2,
            np.full(n, row), np.ones(n, dtype=np.int64), self._tables.engine_n, self._tables.retarder_n,
            1 / TABLE_STEP_MPS, self._axles, self._scalars, dwell, begin_mps**2, np.zeros(count), node, offset, rise,
            leave, decay, snubs, np.zeros((n, 3)), np.zeros(9))
        if reached < n:
            return None
        return float(node[-1, 0]), offset, np.exp(-decay), node[:, 1]


def cooled(task: Task, temps_c: FloatArray, seconds: NDArray[np.floating[Any]], cool: float) -> FloatArray:
    """Temperatures after standing: temps_c (n, n_rows), seconds (m,) -> (n, m, n_rows) [C]."""
    rate = np.array([row.brake.cooling_wpk / row.brake.heat_capacity_jpk for row in task.vehicle.rows])
    left = np.exp(-rate[None, :] * cool * task.driving.parked_cooling_fraction * seconds[:, None])
    return task.day.air_temp_c + (temps_c[:, None, :] - task.day.air_temp_c) * left[None, :, :]


def tightened(made: SectionMap, margin_c: FloatArray) -> SectionMap:
    """The same map with its limit lowered by `margin_c` (n_rows,) [K]."""
    return replace(made, threshold_c=made.threshold_c - margin_c / made.factor)
