# SPDX-License-Identifier: MIT
"""What every map of a search asks of the air: its cells in full, and the few numbers that bound what it leaves."""

from __future__ import annotations

from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from descent.physics.air_system import compressor_share, packed_air
from descent.physics.brake_heat import packed_rows
from descent.physics.driveline import engine_rpm_per_mps
from descent.physics.foundation_brake import LIMIT
from descent.physics.march import TABLE_STEP_MPS, Setting
from descent.plan import air_bound_kernel as bounds
from descent.plan import air_label_kernel as kernel
from descent.plan.air_check import counted_on
from descent.plan.maps import MapMaker
from descent.plan.shop import Workshop
from descent.plan.stage import Stage
from descent.vehicle.air_supply import AirSupply

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


class AirLogs:
    """The air of one vehicle on the maps of one maker: its packed numbers, bounds and section logs; only
    what may be counted on."""

    def __init__(self, shop: Workshop, maker: MapMaker, air: AirSupply) -> None:
        self._shop, self._maker, self.air = shop, maker, counted_on(air)
        self.packed = packed_air(shop.task.vehicle, self.air)
        self.most_kpa = self.air.cut_out_kpa
        self.space_m3 = bounds.SETS @ self.packed.tanks_m3
        least = min(shop.task.day.air_temp_c, shop.task.day.start_temp_c)
        self.rows = packed_rows(shop.task.vehicle)
        self._at_c = 0.5 * (least + self.rows[:, LIMIT])
        self._bounds: dict[int, FloatArray] = {}
        self._logs: dict[int, dict[int, tuple[FloatArray, FloatArray]]] = {}

    def by_row(self, temps_c: FloatArray) -> FloatArray:
        """Temperatures (..., n_rows) [C] of the vehicle's rows, from those of the maps' (..., n_groups): rows of one group draw
        their air from reservoirs of their own."""
        return np.ascontiguousarray(temps_c[..., self._maker.group_of])

    def bounds_of(self, stage: Stage) -> FloatArray:
        """Bounds of every map of a section (m, sets, 4, 1 + n_rows) as `air_bound_kernel.air_maps` makes them; zeros where a
        map cannot be driven."""
        start = stage.lane.part.start
        if start not in self._bounds:
            made = np.zeros((len(stage.maps.ok), len(bounds.SETS), 4, 1 + len(self.rows)))
            for entry in range(len(stage.entries)):
                numbers = entry * stage.maps.widest + np.arange(stage.maps.widest)
                numbers = numbers[stage.maps.ok[numbers] > 0]
                if not len(numbers):
                    continue
                log, share = self._driven(stage, entry, numbers % stage.maps.widest)
                own = np.zeros((len(numbers), *made.shape[1:]))
                cast(Any, bounds.air_maps)(
                    log, share, self.rows, self.packed.chambers, self.packed.tanks_m3, self.packed.parameters,
                    self.air.warning_kpa, self.most_kpa, self._at_c, own)
                made[numbers] = own
            self._bounds[start] = made
        return self._bounds[start]

    def logs_of(self, stage: Stage, used: IntArray) -> tuple[FloatArray, FloatArray]:
        """Logs (k, n, 6 + 2 n_rows) of the maps used (k,) of a section, and the compressor's share in every cell (k, n)."""
        known = self._logs.setdefault(stage.lane.part.start, {})
        for number in used:
            if int(number) not in known:
                log, share = self._driven(stage, int(number) // stage.maps.widest, np.array([number % stage.maps.widest]))
                known[int(number)] = (log[0], share[0])
        logs, shares = zip(*(known[int(number)] for number in used), strict=True)
        return np.stack(logs), np.stack(shares)

    def _driven(self, stage: Stage, number: int, exits: IntArray) -> tuple[FloatArray, FloatArray]:
        """One entry driven to some of its exits by the very march that made the maps: logs and compressor's share."""
        lane, x, begin = stage.lane, int(stage.entries.x[number]), stage.entries.begin[number]
        held, tables, count, group = self._maker.layout.held[x], self._shop.tables, len(self._maker.rows), self._maker.group_of
        a, b = lane.part.start, lane.part.end
        cap = self._maker.layout.caps_u[x, a:b + 1].copy()
        stop, stop_s = self._maker.stop_inside(lane, cap)
        cap[0] = min(cap[0], float(begin[3]))
        out = np.zeros((len(exits), b - a, kernel.TEMPS + 2 * count))
        cast(Any, kernel.section_logs)(
            self._maker.cells, a, self._maker.layout.along_m[a:b + 1], cap,
            np.array([lane.exits[x][leaving].end_u for leaving in exits]),
            2.0 * self._shop.task.driving.approach_mps2, 0 if held is None else tables.row(Setting(held.gear, held.stage)),
            tables.held_n, 1 / TABLE_STEP_MPS, self._maker.flat, self._maker.scalars, begin[:3].copy(), stop, stop_s, out)
        columns = [*range(kernel.TEMPS), *(kernel.TEMPS + group), *(kernel.TEMPS + count + group)]
        return np.ascontiguousarray(out[:, :, columns]), self._share(x, out[:, :, kernel.SPEED_MPS])

    def _share(self, x: int, speed_mps: FloatArray) -> FloatArray:
        """Share of the compressor's rated speed in cells begun at such speeds [1]."""
        held, task = self._maker.layout.held[x], self._shop.task
        if held is None:
            return compressor_share(self.air, np.full(speed_mps.shape, task.driving.cruise_rpm))
        rpm = speed_mps * engine_rpm_per_mps(task.vehicle.gearbox, held.gear)
        return compressor_share(self.air, np.maximum(rpm, task.vehicle.engine.idle_rpm))
