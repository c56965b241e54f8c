# SPDX-License-Identifier: MIT
"""The lesson's data: the hill, the choices a class can make, what each leads to, and how far reading between is off."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from descent.physics.march import Braking, Day, Driving
from descent.terrain.road_profile import RoadProfile
from descent.vehicle.model import Vehicle

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


class Adjustment(Enum):
    """How the brakes are adjusted. PAST_LIMIT is a vehicle that may not move; it is shown for what it teaches."""

    AS_BUILT = "in-adjustment"
    AT_LIMIT = "at-limit"
    PAST_LIMIT = "past-limit"


class State(Enum):
    """What becomes of a descent, by rising severity.

    HOLDS: brakes plus one emergency stop stay under their limit. HOT: past the limit, yet a stop is possible all the
    way in every case looked at. DOUBTFUL: the linings as assumed can stop it all the way, some case cannot, or only so
    weakly that no stop is to be relied on. RUNAWAY:
    with the linings as assumed a place is reached from which no full stop is possible, or the speed is lost.
    """

    HOLDS = 0
    HOT = 1
    DOUBTFUL = 2
    RUNAWAY = 3


@dataclass(frozen=True)
class Hill:
    """The lesson's hill: a profile that begins before the crest and ends after the foot, stations [m] of both, and
    what was said of it. altitude_offset_m [m] is added to heights that count from the start."""

    name: str
    profile: RoadProfile
    crest_m: float
    foot_m: float
    altitude_offset_m: float
    invented: bool

    @property
    def length_m(self) -> float:
        """From crest to foot [m]."""
        return self.foot_m - self.crest_m

    @property
    def mean_grade(self) -> float:
        """Mean grade from crest to foot [1], negative."""
        heights = np.interp([self.crest_m, self.foot_m], self.profile.station_m, self.profile.elevation_m)
        return float(heights[1] - heights[0]) / self.length_m


@dataclass(frozen=True)
class Choice:
    """What is chosen: gear index, retarder stage (0 = off), adjustment, how the brakes are used, speed and weight."""

    gear: int
    stage: int
    adjustment: Adjustment
    braking: Braking
    speed_mps: float
    gross_kg: float


@dataclass(frozen=True)
class Ground:
    """What every run of a lesson shares. ends_m: ends of the stretches (n_stretches,) the curves are given in [m]."""

    hill: Hill
    vehicle: Vehicle
    day: Day
    driving: Driving
    ends_m: FloatArray


@dataclass(frozen=True)
class Curve:
    """One march read in stretches (n_stretches,): the greatest brake temperature [C], application pressure [kPa] and
    speed [m/s] in the stretch that ends there."""

    temp_c: FloatArray
    pressure_kpa: FloatArray
    speed_mps: FloatArray


@dataclass(frozen=True)
class Story:
    """Where a descent went wrong: stations [m], NaN where it did not come to that.

    limit_m: a brake plus one emergency stop passes its limit; fade_m: a brake begins to fade; full_m: the application
    is the highest there is; stop_earliest_m, stop_latest_m: the last full stop in the worst and in the best case of
    linings and adjustment (equal to the end of the road: possible all the way); stop_assumed_m: in the case that the
    curve shows; left_m: the speed leaves what was held by more than a snub; governed_m: the engine passes the speed it
    is made for. foot_mps [m/s]: the highest just above the foot; foot_worst_mps: with the worst linings of the range; foot_free_mps: rolling
    without gear and brakes from the earliest last stop (NaN: a stop is possible all the way in every case). ramp_low_m,
    ramp_high_m: length of a level escape ramp of pea gravel at the foot for the lowest and the highest of these speeds, and
    ramp_up_m: for the highest on a ramp that climbs 10 % (NaN like foot_free_mps).
    """

    limit_m: float
    fade_m: float
    full_m: float
    stop_earliest_m: float
    stop_latest_m: float
    stop_assumed_m: float
    left_m: float
    left_worst_m: float
    governed_m: float
    foot_mps: float
    foot_worst_mps: float
    foot_free_mps: float
    ramp_low_m: float
    ramp_high_m: float
    ramp_up_m: float


@dataclass(frozen=True)
class Outcome:
    """What a choice leads to. curve: with the linings as the vehicle's table has them; worst: with those that fade most.

    peak_c: hottest brake [C]; with_stop_c: the most any brake would reach with one emergency stop on top (infinite:
    no stop to be relied on); energy_j: over the whole road; fade_kpa: the reading that means fade for the firmest
    application of the descent [kPa], brakes as hot as they are there.
    """

    state: State
    curve: Curve
    worst: Curve
    peak_c: float
    with_stop_c: float
    peak_kpa: float
    cold_kpa: float
    fade_kpa: float
    time_s: float
    energy_j: dict[str, float]
    story: Story


@dataclass(frozen=True)
class Axes:
    """The choices there are. speeds_mps: per gear, rising; the others alike for all gears; gears are indices."""

    gears: tuple[int, ...]
    speeds_mps: tuple[tuple[float, ...], ...]
    stages: tuple[int, ...]
    weights_kg: tuple[float, ...]
    adjustments: tuple[Adjustment, ...] = tuple(Adjustment)
    brakings: tuple[Braking, ...] = (Braking.SNUB, Braking.DRAG)


@dataclass(frozen=True)
class Preset:
    """A named choice."""

    name: str
    choice: Choice


@dataclass(frozen=True)
class Accuracy:
    """The greatest error of reading between grid points, in the cells that may be read: `points` choices were marched
    directly as well; `cells`: all cells of the grid."""

    cells: int
    points: int
    temp_k: float
    pressure_kpa: float
    energy_share: float


@dataclass(frozen=True)
class Lesson:
    """A whole lesson. outcomes: by (gear, stage, adjustment, braking, speed, weight) index into the axes; right_gear:
    index into axes.gears, None where no gear holds; basis_stage: index into axes.stages, at which gears are compared;
    readable: the cells one may read between, by their lowest corner."""

    ground: Ground
    axes: Axes
    outcomes: dict[tuple[int, int, int, int, int, int], Outcome]
    presets: tuple[Preset, ...]
    right_gear: int | None
    basis_stage: int
    readable: frozenset[tuple[int, int, int, int, int, int]]
    accuracy: Accuracy
