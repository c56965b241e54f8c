# SPDX-License-Identifier: MIT
"""The published limits of a walk-round: strokes, leaks, pressures, lining, cracks; which edition, which source."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from descent.units import INCH_M, PSI_KPA
from descent.vehicle.air_supply import Body, LeakLimits, WarningRule, leak_limits
from descent.vehicle.brakes import chambers
from descent.vehicle.model import BrakeKind

UNLISTED_SHARE = 0.8            # of rated stroke, chambers no table lists (key cfr_396_appendix_a, seen)
OUT_OF_SERVICE_SHARE = 0.2      # of all brakes (key roadside_out_of_service, from memory, high)
STROKE_CARE_M = INCH_M / 8      # this near the limit a brake is watched (assumed)
STROKE_SPREAD_M = INCH_M / 4    # left and right of an axle group that differ by more pull to one side (assumed)


class Verdict(Enum):
    """What a finding means, from good to bad."""

    GO = "go"
    CARE = "go with care"
    NO_GO = "do not go"

    @property
    def rank(self) -> int:
        """0 for go, 2 for do not go."""
        return list(Verdict).index(self)


def stroke_limit_m(chamber: str, *, rated_stroke_m: float | None = None) -> float | None:
    """Longest push-rod stroke of a clamp-type chamber [m], or 80 % of its rated stroke where no table lists it.

    Key cfr_393_47 (seen second hand, from memory high) and cfr_396_appendix_a (seen). None: neither is known.

    >>> [round(stroke_limit_m(name) / INCH_M, 2) for name in ("30", "30LS", "24")]
    [2.0, 2.5, 1.75]
    >>> round(stroke_limit_m("bespoke", rated_stroke_m=2.25 * INCH_M) / INCH_M, 2)
    1.8
    """
    known = chambers().get(chamber)
    if known is not None:
        return known.stroke_limit_m
    return None if rated_stroke_m is None else UNLISTED_SHARE * rated_stroke_m


def out_of_service(defective: int, brakes: int) -> bool:
    """A fifth of the brakes defective puts a vehicle out of service at the roadside.

    >>> [out_of_service(3, 10), out_of_service(2, 10), out_of_service(1, 10)]
    [True, True, False]
    """
    return defective >= OUT_OF_SERVICE_SHARE * brakes - 1e-9 and defective > 0


def least_lining_m(kind: BrakeKind, *, steer_axle: int) -> float:
    """Thinnest lining [m]: drums 1/4 in, on a steering axle (steer_axle 1) 3/16 in; discs 1/8 in.

    Key cfr_393_47_text (seen); the steering axle's value is for a lining in one strip, a two-pad lining needs 1/4 in.
    """
    if kind is BrakeKind.AIR_DISC:
        return INCH_M / 8
    return (3 / 16 if steer_axle else 1 / 4) * INCH_M


def two_pad_lining_m() -> float:
    """Thinnest drum lining made of two pads, on any axle [m]: 1/4 in (key cfr_393_47_text, seen)."""
    return INCH_M / 4


@dataclass(frozen=True)
class PressureLimits:
    """Limits of pressures [kPa] and times [s] for one body and edition of the warning rule (None: not named)."""

    body: Body
    warning_rule: WarningRule | None

    @property
    def leaks(self) -> LeakLimits:
        """Most the gauges may fall in a minute."""
        return leak_limits(self.body)

    @property
    def least_cut_in_kpa(self) -> float:
        """100 psi, buses 85 psi (key fmvss_121, seen)."""
        return (85 if self.body is Body.BUS else 100) * PSI_KPA

    @property
    def cut_out_kpa(self) -> tuple[float, float]:
        """120 to 140 psi (key cdl_manual, seen); about 125 is typical (common practice, no source)."""
        return 120 * PSI_KPA, 140 * PSI_KPA

    @property
    def safety_valve_kpa(self) -> float:
        """150 psi (common practice, no source)."""
        return 150 * PSI_KPA

    @property
    def spring_kpa(self) -> tuple[float, float]:
        """Spring brakes come on by themselves between 20 and 45 psi (key cdl_manual_air_brakes, seen-2)."""
        return 20 * PSI_KPA, 45 * PSI_KPA

    @property
    def build_up_s(self) -> float:
        """85 to 100 psi within 45 s, a dual system (key cdl_manual_air_brakes, seen-2).

        The brake standard's own test is 25 s with reservoirs of the least size and longer in proportion (fmvss_121).
        """
        return 45.0

    @property
    def ready_kpa(self) -> float:
        """Both circuits before moving off: 100 psi (common practice, no source); buses their least cut-in."""
        return self.least_cut_in_kpa

    def warning_kpa(self, cut_out_kpa: float) -> tuple[float, float]:
        """The warning must be on (lower, upper) [kPa]: alike where the edition is named, else what editions disagree on."""
        if self.warning_rule is not None:
            at = self.warning_rule.pressure_kpa(cut_out_kpa)
            return at, at
        if self.body is Body.BUS:
            return 60 * PSI_KPA, 80 * PSI_KPA
        return 55 * PSI_KPA, 60 * PSI_KPA
