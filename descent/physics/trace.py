# SPDX-License-Identifier: MIT
"""What happened on a march: time, speed, pressure, temperatures and energy along the road."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class DescentTrace:
    """What happened: nodes (n + 1,), brakes (n + 1, n_rows); temp_c on arrival, leave_temp_c after any stop.

    pressure_kpa and brake_force_n are the peaks of the cell before the node; snubs (n, 2): begun, seconds braking;
    work_j (n, 3): work of service brakes, engine and retarder in each cell.
    """

    station_m: FloatArray
    time_s: FloatArray
    speed_mps: FloatArray
    pressure_kpa: FloatArray
    brake_force_n: FloatArray
    temp_c: FloatArray
    rise_k: FloatArray
    leave_temp_c: FloatArray
    dwell_s: FloatArray
    snubs: FloatArray
    work_j: FloatArray
    energy_j: dict[str, float]
    reached: int

    @property
    def snub_starts_s(self) -> FloatArray:
        """Times at which snubs begin [s], to a cell (n_snubs,)."""
        return np.repeat(self.time_s[:-1], self.snubs[:, 0].astype(int))

    @property
    def total_time_s(self) -> float:
        """Time over the whole road with its stops [s]."""
        return float(self.time_s[-1] + max(self.dwell_s[-1], 0.0))

    @property
    def complete(self) -> bool:
        """The whole road was driven (the vehicle did not stall on a climb), and every number is one."""
        return self.reached == len(self.station_m) - 1 and bool(np.isfinite(self.temp_c).all()
                                                                and np.isfinite(self.time_s).all())
