# SPDX-License-Identifier: MIT
"""The compressed-air supply of a vehicle: what its file says, and the published least where it says nothing."""

from __future__ import annotations

from dataclasses import dataclass

from descent.units import PSI_KPA
from descent.vehicle.air_model import (
    AirFitted,
    AirSupply,
    Body,
    Circuit,
    Compressor,
    ParkingControls,
    Protection,
    SpringControl,
    WarningRule,
)
from descent.vehicle.model import Vehicle

__all__ = ["ATMOSPHERE_KPA", "BUILD_UP_KPA", "AirFitted", "AirSupply", "Body", "Circuit", "Compressor", "LeakLimits",
           "ParkingControls", "Protection", "SpringControl", "WarningRule", "air_supply", "body_of", "clearance_m3",
           "leak_limits", "least_compressor_m3ps", "least_reservoirs_m3"]

ATMOSPHERE_KPA = 101.325
BUILD_UP_S = 25.0        # 85 to 100 psi at governed speed with reservoirs of the required size (key fmvss_121, seen)
BUILD_UP_KPA = 15 * PSI_KPA
LEAST_CLEARANCE = 0.12   # air space of a chamber before the rod moves, over swept volume; assumed where none follows


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
    """The kind of vehicle, as its file says."""
    return vehicle.air.body


def clearance_m3(area_m2: float, full_stroke_m: float, volume_m3: float) -> float:
    """Air space of one chamber before its rod moves [m3]: rated volume less swept volume.

    Long-stroke chambers are listed with the volume of the short ones; there `LEAST_CLEARANCE` of the swept volume is
    taken (assumed).
    """
    swept = area_m2 * full_stroke_m
    return max(volume_m3 - swept, LEAST_CLEARANCE * swept)


def least_reservoirs_m3(vehicle: Vehicle) -> tuple[float, float]:
    """Least reservoir volume of the motor vehicle (12 x its chambers) and of its trailers (8 x theirs) [m3]."""
    return vehicle.least_reservoirs_m3


def least_compressor_m3ps(reservoir_m3: float) -> float:
    """Free air [m3/s] of a compressor that just passes: 85 to 100 psi in 25 s at governed speed (key fmvss_121, seen).

    reservoir_m3: the required volume of the motor vehicle; a larger volume may take longer in proportion.
    """
    return reservoir_m3 * BUILD_UP_KPA / ATMOSPHERE_KPA / BUILD_UP_S


def air_supply(vehicle: Vehicle, *, warning_rule: WarningRule | None = None) -> AirSupply:
    """The air supply as the vehicle's file gives it, and the published least where it says nothing.

    Reservoirs by the 12 x and 8 x rules, one third each for supply, primary and secondary (assumed); a compressor that
    just passes; leaks at their published limits (the cautious side). warning_rule: another edition than the file's;
    the one in force stands among the assumptions.
    """
    fitted, said = vehicle.air, list(vehicle.air.guessed)
    tanks = _tanks_m3(vehicle, said)
    leaks = leak_limits(fitted.body)
    if fitted.leak_released_kpa is None or fitted.leak_applied_kpa is None:
        said.append("the air system leaks as much as a walk-round lets pass")
    electric = vehicle.engine.displacement_m3 <= 0.0
    return AirSupply(
        fitted.body, tanks, fitted.circuits, _compressor_m3ps(vehicle, tanks, said),
        0.0 if electric else vehicle.engine.overrun_limit_rpm, vehicle.engine.idle_rpm, fitted.cut_in_kpa,
        fitted.cut_out_kpa, fitted.safety_valve_kpa, warning_rule or fitted.warning_rule, fitted.spring_on_kpa,
        fitted.spring_full_kpa, fitted.spring_force_kpa, fitted.spring_axles, fitted.spring_control, fitted.protection,
        (leaks.released_kpa if fitted.leak_released_kpa is None else fitted.leak_released_kpa) / 60,
        (leaks.applied_kpa if fitted.leak_applied_kpa is None else fitted.leak_applied_kpa) / 60,
        (*said, _warning_said(fitted, warning_rule)),
        ("fmvss_121", "fmvss_121_tables", "cdl_manual_air_brakes", "cfr_393_51", "practice", "assumed"),
        fitted.warning_at_kpa if warning_rule is None else None, fitted.spring_chambers_m3, fitted.parking_controls,
        fitted.emergency_m3)


def _tanks_m3(vehicle: Vehicle, said: list[str]) -> tuple[float, float, float, float]:
    """The reservoirs as given; those that are not share what the given ones leave of the least volume, and no less than a
    third of it each where nothing is left."""
    own_m3, towed_m3 = least_reservoirs_m3(vehicle)
    given = vehicle.air.reservoirs_m3
    missing = sum(tank is None for tank in given[:3])
    if missing:
        left = (own_m3 - sum(tank or 0.0 for tank in given[:3])) / missing
        share = left if left > 0.0 else own_m3 / 3
        said += ["reservoirs of the least size the brake standard allows: 12 times the chambers",
                 "supply, primary and secondary reservoir share that volume equally" if missing == 3 else
                 "the reservoirs that are not named share what the others leave of it equally"]
    else:
        share = 0.0
    if given[3] is None and towed_m3 > 0.0:
        said.append("trailer reservoirs of the least size the brake standard allows: 8 times the chambers")
    supply, primary, secondary = (share if tank is None else tank for tank in given[:3])
    return supply, primary, secondary, towed_m3 if given[3] is None else given[3]


def _compressor_m3ps(vehicle: Vehicle, tanks: tuple[float, ...], said: list[str]) -> float:
    """Free air [m3/s] at governed speed."""
    compressor = vehicle.air.compressor
    if compressor.per_turn_m3 is not None:
        return compressor.per_turn_m3 * vehicle.engine.overrun_limit_rpm / 60
    if compressor.build_up_s is not None:
        return sum(tanks[:3]) * BUILD_UP_KPA / ATMOSPHERE_KPA / compressor.build_up_s
    said.append("a compressor that just passes the build-up test")
    return least_compressor_m3ps(least_reservoirs_m3(vehicle)[0])


def _warning_said(fitted: AirFitted, warning_rule: WarningRule | None) -> str:
    rule = warning_rule or fitted.warning_rule
    editions = "editions say 55 or 60 psi, older vehicles half of cut-out, large buses 80 to 85 psi"
    if warning_rule is None and fitted.warning_at_kpa is not None:
        return f"low-air warning at {fitted.warning_at_kpa / PSI_KPA:.0f} psi, as the vehicle file says; {editions}"
    return f"low-air warning by the {rule.value.replace('-', ' ')} rule; {editions}"
