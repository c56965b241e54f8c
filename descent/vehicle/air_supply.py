# SPDX-License-Identifier: MIT
"""The compressed-air supply of a vehicle: reservoirs, compressor, governor, warning, spring brakes, leaks, circuits."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from descent.units import PSI_KPA
from descent.vehicle.model import Vehicle

ATMOSPHERE_KPA = 101.325
TRACTOR_VOLUMES = 12.0   # reservoirs over service chambers at full travel (key fmvss_121, seen)
TRAILER_VOLUMES = 8.0    # the same for a trailer (key fmvss_121_tables, from memory, high confidence)
BUILD_UP_S = 25.0        # 85 to 100 psi at governed speed with reservoirs of the required size (key fmvss_121, seen)
BUILD_UP_KPA = 15 * PSI_KPA
LEAST_CLEARANCE = 0.12   # air space of a chamber before the rod moves, over swept volume; assumed where none follows


class Body(Enum):
    """What limits of the trade apply to: a single vehicle, a vehicle with trailers, a bus."""

    SINGLE = "single vehicle"
    COMBINATION = "combination"
    BUS = "bus"


class Circuit(Enum):
    """Which reservoir an axle group's chambers take their air from; SUPPLY feeds the others."""

    SUPPLY = 0
    PRIMARY = 1
    SECONDARY = 2
    TRAILER = 3


class WarningRule(Enum):
    """Editions of the low-air warning's pressure; they contradict each other, so it is always chosen and named."""

    BEFORE_60 = "60psi"
    BEFORE_55 = "55psi"
    HALF_OF_CUT_OUT = "half-of-cut-out"
    LARGE_BUS = "80psi"

    def pressure_kpa(self, cut_out_kpa: float) -> float:
        """The pressure at or above which the warning must be on [kPa].

        60 psi: the brake standard and older manuals (key fmvss_121_tables, from memory; cdl_manual_air_brakes); 55 psi:
        newer text and the rule on warning devices (key cfr_393_51, from memory, medium); half of cut-out, where lower
        than 55 psi: older vehicles (the same key); 80 psi: large buses (common practice, no source).
        """
        if self is WarningRule.HALF_OF_CUT_OUT:
            return min(cut_out_kpa / 2, 55 * PSI_KPA)
        return {WarningRule.BEFORE_60: 60.0, WarningRule.BEFORE_55: 55.0, WarningRule.LARGE_BUS: 80.0}[self] * PSI_KPA


class SpringControl(Enum):
    """How the parking control lets spring brakes on: all at once, or as much as the driver asks for."""

    ON_OFF = "on or off"
    MODULATING = "modulating"


class Protection(Enum):
    """What keeps the good reservoirs when one is lost.

    CHECK_VALVES: each good one keeps what it holds, but the supply empties into the hole and nothing is refilled.
    PROTECTION_VALVES: the hole is shut off and the compressor goes on filling the rest.
    """

    CHECK_VALVES = "check valves"
    PROTECTION_VALVES = "protection valves"


@dataclass(frozen=True)
class AirSupply:
    """One vehicle's air. Pressures are gauge [kPa].

    tanks_m3: supply, primary, secondary, trailer, in the order of `Circuit` (trailer 0: none). circuits, spring_axles:
    per axle group. compressor_m3ps: free air at compressor_rpm of the engine, in proportion to engine speed
    (compressor_rpm 0: an electric one that runs by itself). spring_on_kpa: spring brakes begin to come on;
    spring_full_kpa: they are on; spring_force_kpa: the service pressure that presses as hard as the springs.
    leak_*_kpaps: fall of every gauge with brakes released and applied.
    """

    body: Body
    tanks_m3: tuple[float, float, float, float]
    circuits: tuple[Circuit, ...]
    compressor_m3ps: float
    compressor_rpm: float
    idle_rpm: float
    cut_in_kpa: float
    cut_out_kpa: float
    safety_valve_kpa: float
    warning_rule: WarningRule
    spring_on_kpa: float
    spring_full_kpa: float
    spring_force_kpa: float
    spring_axles: tuple[bool, ...]
    spring_control: SpringControl
    protection: Protection
    leak_released_kpaps: float
    leak_applied_kpaps: float
    assumptions: tuple[str, ...] = ()
    source_keys: tuple[str, ...] = ()

    @property
    def warning_kpa(self) -> float:
        """Pressure at which the low-air warning comes on [kPa]."""
        return self.warning_rule.pressure_kpa(self.cut_out_kpa)


@dataclass(frozen=True)
class LeakLimits:
    """Most that the gauges may fall in one minute, engine off [kPa]: brakes released, and fully applied."""

    released_kpa: float
    applied_kpa: float


def leak_limits(body: Body) -> LeakLimits:
    """2 and 3 psi for a single vehicle or bus, 3 and 4 psi for a combination (key cdl_manual_air_brakes, seen-2)."""
    if body is Body.COMBINATION:
        return LeakLimits(3 * PSI_KPA, 4 * PSI_KPA)
    return LeakLimits(2 * PSI_KPA, 3 * PSI_KPA)


def body_of(vehicle: Vehicle) -> Body:
    """The kind of vehicle, by its axle groups and its name: trailers and dollies make a combination."""
    if any(_towed(axle.name) for axle in vehicle.axles):
        return Body.COMBINATION
    words = f"{vehicle.name} {vehicle.title}".lower()
    return Body.BUS if "bus" in words or "coach" in words else Body.SINGLE


def _towed(axle_name: str) -> bool:
    return any(word in axle_name.lower() for word in ("trailer", "dolly"))


def chamber_volumes_m3(vehicle: Vehicle) -> tuple[float, ...]:
    """Rated volume of the service chambers of each axle group at full travel [m3]."""
    return tuple(sum(brake.chamber.volume_m3 * brake.count for brake in axle.brakes) for axle in vehicle.axles)


def clearance_m3(area_m2: float, full_stroke_m: float, volume_m3: float) -> float:
    """Air space of one chamber before its rod moves [m3]: rated volume less swept volume.

    Long-stroke chambers are listed with the volume of the short ones; there `LEAST_CLEARANCE` of the swept volume is
    taken (assumed).
    """
    swept = area_m2 * full_stroke_m
    return max(volume_m3 - swept, LEAST_CLEARANCE * swept)


def least_reservoirs_m3(vehicle: Vehicle) -> tuple[float, float]:
    """Least reservoir volume of the motor vehicle (12 x its chambers) and of its trailers (8 x theirs) [m3]."""
    own = towed = 0.0
    for axle, volume in zip(vehicle.axles, chamber_volumes_m3(vehicle), strict=True):
        if _towed(axle.name):
            towed += volume
        else:
            own += volume
    return TRACTOR_VOLUMES * own, TRAILER_VOLUMES * towed


def least_compressor_m3ps(reservoir_m3: float) -> float:
    """Free air [m3/s] of a compressor that just passes: 85 to 100 psi in 25 s at governed speed (key fmvss_121, seen).

    reservoir_m3: the required volume of the motor vehicle; a larger volume may take longer in proportion.
    """
    return reservoir_m3 * BUILD_UP_KPA / ATMOSPHERE_KPA / BUILD_UP_S


def air_supply(vehicle: Vehicle, *, warning_rule: WarningRule | None = None, body: Body | None = None) -> AirSupply:
    """An air supply that just meets the published least, where nothing is known of the vehicle's own.

    Reservoirs by the 12 x and 8 x rules, one third each for supply, primary and secondary (assumed); a compressor that
    just passes; leaks at their published limits (the cautious side). warning_rule: named, or 60 psi (the edition
    that warns first), 80 psi on buses; either way it stands among the assumptions.
    """
    body = body or body_of(vehicle)
    own_m3, towed_m3 = least_reservoirs_m3(vehicle)
    rule = warning_rule or (WarningRule.LARGE_BUS if body is Body.BUS else WarningRule.BEFORE_60)
    circuits = tuple(Circuit.TRAILER if _towed(axle.name) else Circuit.SECONDARY if index == 0 else Circuit.PRIMARY
                     for index, axle in enumerate(vehicle.axles))
    leaks = leak_limits(body)
    electric = vehicle.engine.displacement_m3 <= 0.0
    third = own_m3 / 3
    said = (
        "reservoirs of the least size the brake standard allows: 12 times the chambers, trailers 8 times",
        "supply, primary and secondary reservoir share that volume equally",
        "a compressor that just passes the build-up test",
        "the air system leaks as much as a walk-round lets pass",
        (f"low-air warning by the {rule.value.replace('-', ' ')} rule; editions say 55 or 60 psi, older vehicles half "
         "of cut-out, large buses 80 to 85 psi"),
        "spring brakes press as hard as 60 psi of service pressure",
    )
    return AirSupply(
        body, (third, third, third, towed_m3), circuits, least_compressor_m3ps(own_m3),
        0.0 if electric else vehicle.engine.overrun_limit_rpm, vehicle.engine.idle_rpm,
        (85 if body is Body.BUS else 100) * PSI_KPA, 125 * PSI_KPA, 150 * PSI_KPA, rule, 45 * PSI_KPA, 20 * PSI_KPA,
        60 * PSI_KPA, tuple(circuit is not Circuit.SECONDARY for circuit in circuits),
        SpringControl.MODULATING if body is Body.BUS else SpringControl.ON_OFF, Protection.CHECK_VALVES,
        leaks.released_kpa / 60, leaks.applied_kpa / 60, said,
        ("fmvss_121", "fmvss_121_tables", "cdl_manual_air_brakes", "cfr_393_51", "practice", "assumed"))
