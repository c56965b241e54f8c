# SPDX-License-Identifier: MIT
"""What happened on a march: time, speed, pressure, temperatures and energy along the road."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class DescentTrace:
    """What happened: nodes (n + 1,), brakes (n + 1, n_rows); temp_c [C] on arrival, leave_temp_c [C] after any stop.

    station_m [m], time_s [s] of arrival, speed_mps [m/s]; pressure_kpa [kPa] and brake_force_n [N] are the peaks of the
    cell before the node; rise_k (n + 1, n_rows) [K]: what one emergency stop there would add; dwell_s (n + 1,) [s],
    negative where there is no stop; snubs (n, 2): begun [1], seconds braking [s]; work_j (n, 3) [J]: work of service
    brakes, engine and retarder in each cell; energy_j [J] over the whole road; reached: last node. Source: key derived
    (`march`).

    >>> two, brakes = np.zeros(2), np.zeros((2, 1))
    >>> trace = DescentTrace(np.array([0.0, 50.0]), np.array([0.0, 5.0]), two + 10.0, two, two, brakes, brakes, brakes,
    ...                      np.array([-1.0, 30.0]), np.array([[2.0, 1.5]]), np.zeros((1, 3)), {}, 1)
    >>> trace.snub_starts_s.tolist(), trace.total_time_s, trace.complete
    ([0.0, 0.0], 35.0, True)
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
