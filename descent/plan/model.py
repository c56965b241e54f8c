# SPDX-License-Identifier: MIT
"""The plan: legs with one gear, one control speed and one retarder stage; stops; and what they lead to."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from descent.downgrades.model import Downgrade
from descent.physics.air_system import ReservoirHistory
from descent.physics.march import Braking, Day, Driving
from descent.physics.road_load import density_ratio
from descent.physics.trace import DescentTrace
from descent.plan.chance import Chance
from descent.plan.doubt import Failure, ReplanTable, Risk, Sensitivity
from descent.route.places import Place
from descent.terrain.road_profile import RoadProfile
from descent.vehicle.air_supply import AirSupply
from descent.vehicle.condition import Findings
from descent.vehicle.model import Vehicle

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Rules:
    """What a plan must keep to. Speeds [m/s]; minutes whole; each default assumed unless docs name a source.

    speed_step_mps: 5 mph or 5 km/h; speed_unit_mps: one mph or km/h, to which governed speeds are rounded down;
    gear_lead_m: how far before the crest the gear must be in; flat_grade and flat_length_m: a real flat, where a
    gear may be changed on the move; park_grade: the steepest place for hot brakes; grip_share: of adhesion the
    retarding driven axles may use.
    """

    min_speed_mps: float
    speed_step_mps: float
    speed_unit_mps: float
    default_posted_mps: float = 55 * 0.44704
    gear_lead_m: float = 150.0
    flat_grade: float = -0.01
    flat_length_m: float = 300.0
    connector_m: float = 2000.0
    run_out_m: float = 4000.0
    park_grade: float = 0.03
    brake_check_minutes: int = 5
    brake_check_reach_m: float = 5000.0
    chosen_at_check_m: float = 1500.0
    stop_step_minutes: int = 5
    gentle_grade: float = -0.015
    gentle_length_m: float = 2000.0
    shortest_stop_minutes: int = 5
    longest_stop_minutes: int = 120
    grip_share: float = 0.5


@dataclass(frozen=True)
class Task:
    """Everything a plan is made for: the road, what is beside it, the vehicle, the day and the rules.

    posted_mps and curve_mps: (n_stations,); steep_grade: (n_stations,) the cautious side of the grade band; notes: what
    was put right or left out while reading, as sentences; altitude_offset_m: to be
    added to heights that count from the start of the road; air: the air supply (None: not looked at); findings: of the
    walk-round, if one was made; chance: what is accepted and how wide the draws are (None: the plan is made for
    the values as given, and nothing is said of its chance).
    """

    profile: RoadProfile
    downgrades: tuple[Downgrade, ...]
    places: tuple[Place, ...]
    vehicle: Vehicle
    day: Day
    driving: Driving
    rules: Rules
    posted_mps: FloatArray
    posted_known: NDArray[np.bool_]
    curve_mps: FloatArray
    steep_grade: FloatArray
    notes: tuple[str, ...] = ()
    altitude_offset_m: float = 0.0
    air: AirSupply | None = None
    findings: Findings | None = None
    chance: Chance | None = None

    @property
    def density_ratio(self) -> float:
        """Air density over sea level at the highest place of the road, where engine and retarder hold back least."""
        top = float(np.nanmax(self.profile.elevation_m)) + self.altitude_offset_m
        return float(density_ratio(np.array([max(top, 0.0)]), self.day.air_temp_c)[0])

    def local_grade(self, place: Place) -> float:
        """Grade a vehicle parked at a place stands on: the place's own if it is known, else the road's there."""
        if place.grade is not None:
            return place.grade
        return float(self.profile.grade[self.profile.index_at(place.station_m)])


@dataclass(frozen=True)
class Instruction:
    """What a driver does on a leg: gear index (0 = lowest), control speed [m/s], retarder stage (0 = off)."""

    gear: int
    control_mps: float
    stage: int


COOLING_STOPS = ("cool-down", "cool-and-air")      # kinds of stops at which the brakes cool


@dataclass(frozen=True)
class PlannedStop:
    """A stop on the way. kind: "brake-check", "cool-down", "build-air", "cool-and-air" or "gear-change";
    node: station index; minutes whole."""

    kind: str
    node: int
    minutes: int
    place: Place | None
    local_grade: float


@dataclass(frozen=True)
class LegSpan:
    """A leg between nodes, its instruction, the number of the downgrade it starts on and how the brakes are used."""

    start: int
    end: int
    gear_by: int
    downgrade: int
    instruction: Instruction
    braking: Braking = Braking.SNUB


@dataclass(frozen=True)
class Solution:
    """Legs and stops in travel order, as found by the search and checked by the march."""

    legs: tuple[LegSpan, ...]
    stops: tuple[PlannedStop, ...]


@dataclass(frozen=True)
class Reason:
    """One reason as data: the limit that binds, where, the value and the limit; words are made in the report."""

    kind: str
    values: dict[str, float | str] = field(default_factory=dict)


@dataclass(frozen=True)
class Alternative:
    """A change and its effect, each as data for the report's words."""

    kind: str
    values: dict[str, float | str] = field(default_factory=dict)


@dataclass(frozen=True)
class LegFacts:
    """What a leg's instruction means for engine and brakes: engine speed at the control speed [rpm], and the speed
    held without service brakes on the leg's steepest 300 m [m/s] (None: there is none)."""

    engine_rpm: float
    balance_mps: float | None


@dataclass(frozen=True)
class GaugeReadings:
    """Application pressure at every station (n,) [kPa] for the brake force used there: with cold brakes, and the one that
    means fade; the planned one is the trace's."""

    cold_kpa: FloatArray
    fade_kpa: FloatArray


@dataclass(frozen=True)
class SecondOpinion:
    """The published grade-severity speeds for one downgrade [m/s]; None: no limit below 90 mph."""

    downgrade: int
    original_mps: float | None
    updated_mps: float | None


@dataclass(frozen=True)
class Price:
    """The price of simplicity. simple_s: the best way with one gear and one speed on each chain of downgrades takes [s];
    free_s: about what one takes with gear and speed chosen anew every 600 m [s]."""

    free_s: float
    simple_s: float

    @property
    def share(self) -> float:
        """Time the simple instruction costs, as a share of the free one [1]."""
        return self.simple_s / self.free_s - 1.0


@dataclass(frozen=True)
class DescentPlan:
    """The answer. solution and trace are None when nothing holds; the trace is the march on the steep side of the
    grade band, from which every figure is taken. margin_k: least distance of any brake, one
    emergency stop included, to its limit; leg_reasons and leg_facts: one per leg; engine_rpm (n_stations,): NaN
    where the gear is the driver's choice; reservoirs and stopping_m (n_stations,):
    along the trace; warnings: what must be read first; usable:
    for each place of the task, what it is good for; risk: how sure the plan is (of a refused one: the best that was
    tried); failures: what is left when something goes wrong, downgrade by downgrade;
    replan: how to go on from any place; sensitivities: what small changes of the inputs do; lower_bound_s: least time of any way
    down within these instructions and the reserve kept [s]; proven: whether this one takes no longer; price: of simplicity."""

    task: Task
    feasible: bool
    verdict: Reason
    solution: Solution | None
    trace: DescentTrace | None
    margin_k: float | None
    leg_reasons: tuple[tuple[Reason, ...], ...]
    leg_facts: tuple[LegFacts, ...]
    engine_rpm: FloatArray | None
    gauge: GaugeReadings | None
    reservoirs: ReservoirHistory | None
    stopping_m: FloatArray | None
    second_opinions: tuple[SecondOpinion, ...]
    alternatives: tuple[Alternative, ...]
    warnings: tuple[Reason, ...]
    usable: tuple[str | None, ...]
    risk: Risk | None = None
    failures: tuple[Failure, ...] = ()
    replan: ReplanTable | None = None
    sensitivities: tuple[Sensitivity, ...] = ()
    lower_bound_s: float | None = None
    proven: bool = False
    price: Price | None = None
