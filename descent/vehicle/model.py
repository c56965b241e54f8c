# SPDX-License-Identifier: MIT
"""A loaded vehicle in SI: what decides how it comes down a grade. It knows nothing of roads."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import Enum

from descent.units import GRAVITY_MPS2


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


class RetarderShaft(Enum):
    """The shaft whose speed sets the retarder's torque."""

    ENGINE = "engine"
    PROPSHAFT = "propshaft"


@dataclass(frozen=True)
class AxleGroup:
    """Axles that share a load and a kind of brake.

    load_kg on the road; brake_force_n_per_kpa: retarding force at the tyre of the whole group per kPa above
    `crack_kpa`, cold; heat_capacity_jpk, cooling_wpk (standing air) and cooling_wpk_per_mps of the whole group;
    temp_limit_c for descent temperature plus one emergency stop.
    """

    name: str
    axle_count: int
    load_kg: float
    rating_kg: float
    driven: bool
    brake_kind: BrakeKind
    brake_count: int
    brake_force_n_per_kpa: float
    crack_kpa: float
    heat_capacity_jpk: float
    cooling_wpk: float
    cooling_wpk_per_mps: float
    rolling_coefficient: float
    temp_limit_c: float
    fade_onset_c: float
    fade_end_c: float
    fade_floor: float


@dataclass(frozen=True)
class Engine:
    """A Diesel engine on the overrun. drag_constant_kpa: the constant of the motored-pressure formula."""

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
class Retarder:
    """Full-stage torque [N m] by speed [rpm] of the shaft it acts on, beyond motored drag; zero outside the table.

    stages: (name, fraction of full torque), rising, without the off stage. continuous_power_w: what its cooling
    can carry for long.
    """

    kind: RetarderKind
    shaft: RetarderShaft
    speeds_rpm: tuple[float, ...]
    torque_nm: tuple[float, ...]
    stages: tuple[tuple[str, float], ...]
    continuous_power_w: float


@dataclass(frozen=True)
class Vehicle:
    """One vehicle with one load. assumptions: sentences on what was assumed; source_keys: where numbers are from."""

    name: str
    title: str
    gross_kg: float
    rated_gross_kg: float
    tare_kg: float
    axles: tuple[AxleGroup, ...]
    engine: Engine
    gearbox: Gearbox
    retarder: Retarder
    drag_area_m2: float
    rotating_mass_factor: float
    rollover_threshold_g: float
    emergency_pressure_kpa: float
    assumptions: tuple[str, ...]
    source_keys: tuple[str, ...]

    @property
    def weight_n(self) -> float:
        """Gross weight as a force [N]."""
        return self.gross_kg * GRAVITY_MPS2

    @property
    def rolling_coefficient(self) -> float:
        """Load-weighted mean rolling resistance coefficient."""
        return sum(axle.load_kg * axle.rolling_coefficient for axle in self.axles) / self.gross_kg


def loaded(vehicle: Vehicle, gross_kg: float, axle_loads_kg: tuple[float, ...] | None = None) -> Vehicle:
    """The same vehicle at another gross weight.

    Axle loads: as given, else in the proportions they had.
    """
    if axle_loads_kg is None:
        share = gross_kg / vehicle.gross_kg
        axle_loads_kg = tuple(axle.load_kg * share for axle in vehicle.axles)
    axles = tuple(replace(axle, load_kg=load) for axle, load in zip(vehicle.axles, axle_loads_kg, strict=True))
    return replace(vehicle, gross_kg=gross_kg, axles=axles)
