# SPDX-License-Identifier: MIT
"""What an air system is made of: kinds of vehicle, circuits, editions of the warning, controls, and the whole supply."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from descent.units import PSI_KPA


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


class ParkingControls(Enum):
    """One parking control, or two: the second lets air of its own to the spring brakes, to move off a bad place.

    The second springs back: the spring brakes come on again as soon as it is let go (common practice, no source).
    """

    SINGLE = "single"
    DUAL = "dual"


class Protection(Enum):
    """What keeps the good reservoirs when one is lost.

    CHECK_VALVES: each good one keeps what it holds, but the supply empties into the hole and nothing is refilled.
    PROTECTION_VALVES: the hole is shut off and the compressor goes on filling the rest.
    """

    CHECK_VALVES = "check valves"
    PROTECTION_VALVES = "protection valves"


@dataclass(frozen=True)
class Compressor:
    """What a vehicle file says of the compressor: either the time it takes from 85 to 100 psi at governed speed [s], or
    free air per turn of the engine [m3] (None: not said)."""

    build_up_s: float | None
    per_turn_m3: float | None


@dataclass(frozen=True)
class AirFitted:
    """What the vehicle file says of the air system; None: not said, so a published least or a rule stands in.

    Pressures are gauge [kPa]; leaks: fall of every gauge in one minute [kPa]. reservoirs_m3: supply, primary,
    secondary, trailer; emergency_m3: the reservoir of a second parking control (0: none). circuits, spring_axles,
    spring_chambers_m3 (all of a group together [m3]): one per axle group. guessed: what was not said and had to be told
    from names, as sentences.
    """

    body: Body
    reservoirs_m3: tuple[float | None, float | None, float | None, float | None]
    emergency_m3: float
    compressor: Compressor
    cut_in_kpa: float
    cut_out_kpa: float
    safety_valve_kpa: float
    warning_rule: WarningRule
    warning_at_kpa: float | None
    spring_on_kpa: float
    spring_full_kpa: float
    spring_force_kpa: float
    leak_released_kpa: float | None
    leak_applied_kpa: float | None
    circuits: tuple[Circuit, ...]
    spring_axles: tuple[bool, ...]
    spring_chambers_m3: tuple[float, ...]
    spring_control: SpringControl
    parking_controls: ParkingControls
    protection: Protection
    antilock: bool
    evaporator: bool | None
    guessed: tuple[str, ...] = ()


@dataclass(frozen=True)
class AirSupply:
    """One vehicle's air. Pressures are gauge [kPa].

    tanks_m3: supply, primary, secondary, trailer, in the order of `Circuit` (trailer 0: none). circuits, spring_axles,
    spring_chambers_m3: per axle group. compressor_m3ps: free air at compressor_rpm of the engine, in proportion to
    engine speed (compressor_rpm 0: an electric one that runs by itself). warning_at_kpa: the vehicle's own warning
    pressure (None: what the rule says). spring_on_kpa: spring brakes begin to come on; spring_full_kpa: they are on;
    spring_force_kpa: the service pressure that presses as hard as the springs. emergency_m3: reservoir of the second
    parking control (0: none). leak_*_kpaps: fall of every gauge with brakes released and applied.
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
    warning_at_kpa: float | None = None
    spring_chambers_m3: tuple[float, ...] = ()
    parking_controls: ParkingControls = ParkingControls.SINGLE
    emergency_m3: float = 0.0

    @property
    def warning_kpa(self) -> float:
        """Pressure at which the low-air warning comes on [kPa]."""
        return self.warning_rule.pressure_kpa(self.cut_out_kpa) if self.warning_at_kpa is None else self.warning_at_kpa
