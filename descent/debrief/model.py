# SPDX-License-Identifier: MIT
"""What a debrief is made of and what it says: the drive as found, its brakes with their band, and the plan beside it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from descent.debrief.braking import Braking
from descent.debrief.clock import Happening
from descent.debrief.forces import Intervals
from descent.debrief.gears import IntArray
from descent.debrief.motion import Motion
from descent.physics.march import Cells
from descent.physics.trace import DescentTrace
from descent.plan.model import Solution, Task
from descent.route.line import Route

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Planned:
    """The plan on the best-known grade of the road. trace: the plan driven as written there; None, with no legs, where no
    plan held. The plan's own figures stand on the cautious side of the grade band, so they are hotter than trace's."""

    task: Task
    cells: Cells
    solution: Solution
    trace: DescentTrace | None


@dataclass(frozen=True)
class Drive:
    """What was driven, of the part of the recording that lies on the road. engine_rpm (n + 1,) NaN where not noted;
    gear (n,) index per interval (-1 not known, -2 out of gear), gear_known: by an engine-speed column; stage (n,) as
    planned; happenings in order of time; notes: sentences on what was put right; points, used: fixes of the file, and
    those believed."""

    route: Route
    motion: Motion
    between: Intervals
    engine_rpm: FloatArray
    gear: IntArray
    stage: IntArray
    gear_known: bool
    has_speed: bool
    happenings: tuple[tuple[Happening, float], ...]
    notes: tuple[str, ...]
    points: int
    used: int


@dataclass(frozen=True)
class Band:
    """A central value with its low and high bound: the 5th and 95th percentile of the draws, the centre always inside."""

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class Heat:
    """What the brakes took. temp_c, low_c, high_c (n + 1, n_rows) [C]; energy of all brakes [J]; work_j (n,) over each
    interval, work_draws_j (draws, n); peaks per row [C]; margin: least distance of any brake, one emergency stop added, to
    its limit [K]; energy_in_gear_j, peaks_in_gear_c, margin_in_gear_k: their band were the gear known to be the one taken; force_n (n,): what
    the balance left, before braking was told from noise."""

    braking: Braking
    temp_c: FloatArray
    low_c: FloatArray
    high_c: FloatArray
    energy_j: Band
    work_j: FloatArray
    work_draws_j: FloatArray
    peaks_c: tuple[Band, ...]
    margin_k: Band
    emergency_c: FloatArray
    energy_in_gear_j: Band
    peaks_in_gear_c: tuple[Band, ...]
    margin_in_gear_k: Band
    force_n: FloatArray


@dataclass(frozen=True)
class LegDriven:
    """One leg of the plan as driven; None where it was not driven. share_over: share of its road above the control speed
    beyond the doubt; applications: of the brakes, None where they cannot be told apart; hottest: peak on the leg of the
    hottest row, planned beside it."""

    number: int
    start_m: float
    end_m: float
    moving_s: float
    planned_s: float
    top_mps: float
    share_over: float
    gears: tuple[int, ...]
    applications: int | None
    energy_j: Band
    planned_energy_j: float
    peak_c: Band
    planned_peak_c: float


@dataclass(frozen=True)
class StopDriven:
    """One planned stop, or a stop nobody planned (planned_minutes None). outcome: "kept", "short", "missed", "unplanned",
    or "unseen" where the recording has a gap."""

    kind: str
    station_m: float
    place: str | None
    planned_minutes: float | None
    real_minutes: float | None
    outcome: str
    arrive_c: float | None
    leave_c: float | None


@dataclass(frozen=True)
class Departure:
    """Where the plan was left: kind "over-control", "slower", "gear", "out-of-gear", "stop-missed", "stop-short",
    "stop-unplanned". cost_s, cost_k: by how much time and the hottest brake's temperature moved against the plan on that stretch
    (negative: gained). values: what the words need."""

    kind: str
    start_m: float
    end_m: float
    cost_s: float | None
    cost_k: float | None
    values: dict[str, float | str] = field(default_factory=dict)


@dataclass(frozen=True)
class Debrief:
    """A recorded drive laid over a plan. hottest: index of the hottest row of brakes; well: what went well, as (kind,
    values); start_m, end_m: the part of the road that was driven; seconds: driven and, on the same road, planned."""

    planned: Planned
    drive: Drive
    heat: Heat
    hottest: int
    legs: tuple[LegDriven, ...]
    stops: tuple[StopDriven, ...]
    departures: tuple[Departure, ...]
    well: tuple[tuple[str, dict[str, float | str]], ...]
    start_m: float
    end_m: float
    seconds: float
    planned_seconds: float | None
