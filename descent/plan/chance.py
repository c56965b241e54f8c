# SPDX-License-Identifier: MIT
"""What chance of passing the limit is accepted, and how far the truth may lie from what the plan takes for it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from scipy.special import betaincinv

CONFIDENCE = 0.95


class WeightFrom(Enum):
    """Where the gross weight was read: it decides how far the truth may lie from it."""

    TICKET = "ticket"
    PAPERS = "papers"


@dataclass(frozen=True)
class Spread:
    """How far the truth may lie from the plan's values: one standard deviation each.

    gross_sd: share of the gross weight (1 % with a scale ticket, 5 % by papers alone); axle_load_sd: log of how the
    weight lies on the axle groups; brake_share_sd: log of one axle group's brake torque against the others';
    friction_sd: share of all lining friction together; stroke_sd_m: push-rod stroke of one row of brakes [m];
    retarder_sd: share of the retarder's output; air_temp_sd_k: air temperature [K]; grade_scale: multiple of the profile's
    own error of grade, which is drawn for the whole road as it is correlated along it.
    """

    gross_sd: float = 0.01
    axle_load_sd: float = 0.05
    brake_share_sd: float = 0.10
    friction_sd: float = 0.10
    stroke_sd_m: float = 0.003
    retarder_sd: float = 0.08
    air_temp_sd_k: float = 4.0
    grade_scale: float = 1.0

    @property
    def sources(self) -> tuple[tuple[str, float, str], ...]:
        """Each input's name, value and source key; none of the widths was found published."""
        names = ("gross_sd", "axle_load_sd", "brake_share_sd", "friction_sd", "stroke_sd_m", "retarder_sd",
                 "air_temp_sd_k")
        return (*((name, float(getattr(self, name)), "assumed") for name in names),
                ("grade_scale", self.grade_scale, "derived"))


def spread_for(weight_from: WeightFrom) -> Spread:
    """The default spread for a weight read from a scale ticket, or only from papers."""
    return Spread() if weight_from is WeightFrom.TICKET else Spread(gross_sd=0.05)


@dataclass(frozen=True)
class Chance:
    """What chance of passing the limit is accepted [1], on how many draws it is judged, from which seed, and how wide
    the draws are."""

    accepted: float = 0.05
    draws: int = 1000
    seed: int = 1
    spread: Spread = Spread()

    @property
    def allowed(self) -> int:
        """Most draws that may pass the limit, -1 where not even none would do: too few draws for so small a chance."""
        count = -1
        while count < self.draws and upper_bound(count + 1, self.draws) <= self.accepted:
            count += 1
        return count


def upper_bound(over: int, draws: int, confidence: float = CONFIDENCE) -> float:
    """One-sided upper bound (of 95 %, or another confidence) of a chance [1] of which `over` of `draws` draws came true.

    Clopper and Pearson's exact bound, that quantile of Beta(over + 1, draws - over) (key clopper_pearson_1934, from
    memory, high confidence); 1 - 0.05^(1 / draws) for none, 1 for all.

    >>> round(upper_bound(0, 1000), 6), round(1 - 0.05 ** (1 / 1000), 6), upper_bound(10, 10)
    (0.002991, 0.002991, 1.0)
    """
    return 1.0 if over >= draws else float(betaincinv(over + 1, draws - over, confidence))
