# SPDX-License-Identifier: MIT
"""A loaded vehicle in SI: what decides how it comes down a grade. It knows nothing of roads."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import Enum

from descent.units import GRAVITY_MPS2
from descent.vehicle.air_model import AirFitted, Circuit

TRACTOR_VOLUMES = 12.0   # reservoirs over service chambers at full travel (key fmvss_121, seen)
TRAILER_VOLUMES = 8.0    # the same for a trailer (key fmvss_121_tables, from memory, high confidence)


class BrakeKind(Enum):
    """How a foundation brake turns chamber force into torque."""

    S_CAM_DRUM = "S-cam drum"
    WEDGE_DRUM = "wedge drum"
    AIR_DISC = "air disc"


class RetarderKind(Enum):
    """What slows the vehicle besides the service brakes and the motored engine."""

    NONE = "none"
    ENGINE_COMPRESSION = "engine compression retarder"
    EXHAUST = "exhaust brake"
    HYDRODYNAMIC = "hydrodynamic retarder"
    ELECTRIC = "electric regeneration"


class LoadKind(Enum):
    """What is carried, where that changes how the vehicle may be driven."""

    GENERAL = "general"
    TANK_BAFFLED = "tank-baffled"
    TANK_SMOOTH = "tank-smooth"
    STANDING_PASSENGERS = "standing-passengers"
    HAZARDOUS = "hazardous"
    LOGS = "logs"


class StopRule(Enum):
    """Where the vehicle may stand with its load."""

    ANY = "anywhere parking is allowed"
    ATTENDED_OFF_ROADWAY = "off the roadway and attended"


class RetarderShaft(Enum):
    """The shaft whose speed sets the retarder's torque."""

    ENGINE = "engine"
    PROPSHAFT = "propshaft"


@dataclass(frozen=True)
class Chamber:
    """A clamp-type brake chamber: effective area, full stroke and the stroke at which it must be readjusted."""

    name: str
    area_m2: float
    full_stroke_m: float
    stroke_limit_m: float
    volume_m3: float


@dataclass(frozen=True)
class FoundationBrake:
    """One foundation brake, or `count` alike, with its chamber.

    Per brake: force_n_per_kpa at the tyre above `crack_kpa`, cold and in adjustment; heat_capacity_jpk; cooling_wpk in
    standing air and cooling_wpk_per_mps. stroke_m: push-rod stroke at a full application of 586 kPa (85 psi), cold;
    it gives by stroke_per_kpa_m and grows by stroke_per_k_m as the drum heats. valve_share: what a front-axle limiting
    valve lets through below valve_open_kpa (1: none). temp_limit_c: for descent temperature plus one emergency stop.
    """

    kind: BrakeKind
    count: int
    chamber: Chamber
    force_n_per_kpa: float
    crack_kpa: float
    heat_capacity_jpk: float
    cooling_wpk: float
    cooling_wpk_per_mps: float
    stroke_m: float
    stroke_per_kpa_m: float
    stroke_per_k_m: float
    valve_share: float
    valve_open_kpa: float
    temp_limit_c: float
    fade_onset_c: float
    fade_end_c: float
    fade_floor: float


@dataclass(frozen=True)
class AxleGroup:
    """Axles that share a load. load_kg: on the road; tare_kg: empty; rating_kg: what axles and
    brakes are rated for. brakes: one
    entry where all are alike, several where adjustment or wear differ."""

    name: str
    axle_count: int
    load_kg: float
    tare_kg: float
    rating_kg: float
    driven: bool
    rolling_coefficient: float
    brakes: tuple[FoundationBrake, ...]

    @property
    def brake_count(self) -> int:
        """Number of brakes on the group."""
        return sum(brake.count for brake in self.brakes)

    @property
    def brake_kind(self) -> BrakeKind:
        """Kind of the group's brakes (the first, where they differ)."""
        return self.brakes[0].kind


@dataclass(frozen=True)
class BrakeRow:
    """Brakes that heat alike: which axle group they are on, which share of its load they carry, and what they are."""

    axle: int
    load_share: float
    brake: FoundationBrake


@dataclass(frozen=True)
class Engine:
    """A Diesel engine on the overrun. drag_constant_kpa: the constant of the motored-pressure formula.

    An electric drive stands as an engine of no displacement: it drags nothing.
    """

    displacement_m3: float
    stroke_m: float
    power_w: float
    idle_rpm: float
    lugging_rpm: float
    overrun_limit_rpm: float
    drag_constant_kpa: float


@dataclass(frozen=True)
class Gearbox:
    """Gears from lowest to highest; names as a driver reads them. efficiencies (per gear) and the axle's count
    one way: on the overrun the loss adds to retardation."""

    kind: str
    names: tuple[str, ...]
    ratios: tuple[float, ...]
    efficiencies: tuple[float, ...]
    final_ratio: float
    final_efficiency: float
    wheel_radius_m: float


@dataclass(frozen=True)
class Battery:
    """What an electric drive may put its energy into.

    capacity_j: usable energy; charge_power_w: most it takes while its charge is below `taper_from`, falling in a
    straight line to nothing at `full_at` (state of charge, 0 to 1); state_of_charge: at the start, unless the day says
    otherwise; charge_efficiency: share of the shaft's energy that arrives (a high one fills it sooner).
    """

    capacity_j: float
    charge_power_w: float
    state_of_charge: float
    taper_from: float
    full_at: float
    charge_efficiency: float


@dataclass(frozen=True)
class Retarder:
    """What a retarder holds back with at full stage, beyond motored drag, by speed of the shaft it acts on.

    Either a table, torque_nm by speeds_rpm (zero below the first speed, its power held above the last), or, where the table is
    empty, torque_per_rpm2_nm x speed^2 up to most_torque_nm (hydrodynamic), or most_torque_nm up to motor_power_w
    (electric), fading out between cut_out_rpm and half of it. stages: (name, fraction of full torque), rising, without
    the off stage. continuous_power_w: what its cooling can carry for long. battery: of an electric one.
    """

    kind: RetarderKind
    shaft: RetarderShaft
    speeds_rpm: tuple[float, ...]
    torque_nm: tuple[float, ...]
    stages: tuple[tuple[str, float], ...]
    continuous_power_w: float
    torque_per_rpm2_nm: float = 0.0
    most_torque_nm: float = math.inf
    motor_power_w: float = math.inf
    cut_out_rpm: float = 0.0
    battery: Battery | None = None


@dataclass(frozen=True)
class Load:
    """What is carried and what it changes.

    rollover_threshold_g: the most that is counted on with it; curve_share: share of the threshold a curve may use;
    greatest_lateral_g: most sideways acceleration it bears (infinite: no limit of its own); greatest_decel_mps2: the
    firmest braking that is planned with it; stops: where it may stand; must_stop_at: what may not be passed without a
    stop; effects: the same as sentences.
    """

    kind: LoadKind
    rollover_threshold_g: float
    curve_share: float
    greatest_lateral_g: float
    greatest_decel_mps2: float
    stops: StopRule
    must_stop_at: tuple[str, ...]
    effects: tuple[str, ...]


@dataclass(frozen=True)
class Vehicle:
    """One vehicle with one load. rollover_threshold_g: the lower of the vehicle's and its load's; assumptions: sentences
    on what was assumed; source_keys: where numbers are from."""

    name: str
    title: str
    gross_kg: float
    rated_gross_kg: float
    tare_kg: float
    length_m: float
    axles: tuple[AxleGroup, ...]
    engine: Engine
    gearbox: Gearbox
    retarder: Retarder
    drag_area_m2: float
    rotating_mass_factor: float
    rollover_threshold_g: float
    emergency_pressure_kpa: float
    load: Load
    air: AirFitted
    assumptions: tuple[str, ...]
    source_keys: tuple[str, ...]

    @property
    def rows(self) -> tuple[BrakeRow, ...]:
        """All brakes, those alike on one axle group as one row: the order of every temperature array."""
        return tuple(BrakeRow(index, brake.count / axle.brake_count, brake)
                     for index, axle in enumerate(self.axles) for brake in axle.brakes)

    def axle_of(self, row: int) -> AxleGroup:
        """The axle group a row of brakes is on."""
        return self.axles[self.rows[row].axle]

    @property
    def weight_n(self) -> float:
        """Gross weight as a force [N]."""
        return self.gross_kg * GRAVITY_MPS2

    @property
    def least_reservoirs_m3(self) -> tuple[float, float]:
        """Least reservoir volume of the motor vehicle (12 x its chambers) and of its trailers (8 x theirs) [m3]."""
        own = towed = 0.0
        for circuit, axle in zip(self.air.circuits, self.axles, strict=True):
            volume = sum(brake.chamber.volume_m3 * brake.count for brake in axle.brakes)
            if circuit is Circuit.TRAILER:
                towed += volume
            else:
                own += volume
        return TRACTOR_VOLUMES * own, TRAILER_VOLUMES * towed

    @property
    def rolling_coefficient(self) -> float:
        """Load-weighted mean rolling resistance coefficient."""
        return sum(axle.load_kg * axle.rolling_coefficient for axle in self.axles) / self.gross_kg


def loaded(vehicle: Vehicle, gross_kg: float, axle_loads_kg: tuple[float, ...] | None = None) -> Vehicle:
    """The same vehicle at another gross weight.

    Axle loads: as given, else between those at tare and those at the rating in proportion to the payload (beyond the
    rating they go on growing alike).
    """
    if axle_loads_kg is None:
        full = (gross_kg - vehicle.tare_kg) / (vehicle.rated_gross_kg - vehicle.tare_kg)
        axle_loads_kg = tuple(axle.tare_kg + full * (axle.rating_kg - axle.tare_kg) for axle in vehicle.axles)
        scale = gross_kg / sum(axle_loads_kg)
        axle_loads_kg = tuple(load * scale for load in axle_loads_kg)
    axles = tuple(replace(axle, load_kg=load) for axle, load in zip(vehicle.axles, axle_loads_kg, strict=True))
    return replace(vehicle, gross_kg=gross_kg, axles=axles)


def without_retarder(vehicle: Vehicle) -> Vehicle:
    """The same vehicle with nothing but engine and service brakes to hold it."""
    return replace(vehicle, retarder=Retarder(RetarderKind.NONE, RetarderShaft.ENGINE, (), (), (), 0.0))
