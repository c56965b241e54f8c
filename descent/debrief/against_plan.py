# SPDX-License-Identifier: MIT
"""Time and temperature of drive and plan at any station, so that a stretch's cost is one difference of differences."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from descent.debrief.model import Drive, Heat, Planned

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class AgainstPlan:
    """Drive and plan side by side, for one row of brakes."""

    planned: Planned
    drive: Drive
    heat: Heat
    row: int

    def planned_at(self, station_m: float, *, after_stop: bool) -> tuple[float, float]:
        """Time [s] and temperature [C] of the plan at a station, before or after a stop that is there."""
        trace = self.planned.trace
        assert trace is not None
        node = self.planned.task.profile.index_at(station_m)
        dwell = max(float(trace.dwell_s[node]), 0.0)
        if dwell > 0.0 and abs(float(trace.station_m[node]) - station_m) <= self.planned.task.profile.spacing_m:
            temps = trace.leave_temp_c if after_stop else trace.temp_c
            return float(trace.time_s[node]) + (dwell if after_stop else 0.0), float(temps[node, self.row])
        time = float(np.interp(station_m, trace.station_m, trace.time_s + np.maximum(trace.dwell_s, 0.0)))
        return time, float(np.interp(station_m, trace.station_m, trace.temp_c[:, self.row]))

    def cost(self, first: int, last: int, *, over_stop: bool = False) -> tuple[float | None, float | None]:
        """Seconds and kelvin by which the drive moved against the plan between two samples; None without a plan.

        over_stop: a stop of the plan at the stretch lies inside it.
        """
        if self.planned.trace is None:
            return None, None
        motion = self.drive.motion
        begin = self.planned_at(float(motion.station_m[first]), after_stop=not over_stop)
        end = self.planned_at(float(motion.station_m[last]), after_stop=over_stop)
        driven_s = float(motion.time_s[last] - motion.time_s[first])
        driven_k = float(self.heat.temp_c[last, self.row] - self.heat.temp_c[first, self.row])
        return driven_s - (end[0] - begin[0]), driven_k - (end[1] - begin[1])

    def sample_at(self, station_m: float) -> int:
        """The first sample at or past a station."""
        return int(np.clip(np.searchsorted(self.drive.motion.station_m, station_m), 0, len(self.drive.motion.time_s) - 1))
