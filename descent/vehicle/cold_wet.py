# SPDX-License-Identifier: MIT
"""Advice for cold and wet days: moisture and ice in the air, wet and frozen brakes, chains; and when each applies."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

STAGES = ("before moving off", "on the way", "stopped")
WHERE = ("start", "crest", "chain-up", "stops", "road")
SURFACES = ("dry", "wet", "snow", "ice")
EQUIPMENT = ("evaporator", "retarder", "chains")
FROST_MARGIN_C = 3.0      # a pass is colder than its foot, and roads freeze before the air does (assumed)


@dataclass(frozen=True)
class Advice:
    """One piece of advice: its key, when and where (of `WHERE`) it is for, the text, a short one for the card ("": none),
    and the conditions (None: does not matter)."""

    key: str
    when: str
    where: str
    text: str
    short: str = ""
    air_below_c: float | None = None
    surfaces: tuple[str, ...] = ()
    fitted: str | None = None
    missing: str | None = None
    source_keys: tuple[str, ...] = ("practice",)

    @property
    def for_any_day(self) -> bool:
        """Whether neither cold nor a wet or white road is asked for."""
        return self.air_below_c is None and not self.surfaces

    def applies(self, *, coldest_air_c: float, surface: str, fitted: frozenset[str], known: frozenset[str]) -> bool:
        """Whether it holds. Equipment nobody knows of counts as fitted and as missing: both pieces of advice are given."""
        return ((self.air_below_c is None or coldest_air_c < self.air_below_c)
                and (not self.surfaces or surface in self.surfaces)
                and (self.fitted is None or self.fitted in fitted or self.fitted not in known)
                and (self.missing is None or self.missing not in fitted))


@cache
def all_advice() -> tuple[Advice, ...]:
    """Every piece of advice, in the order of the table (read once)."""
    text = (resources.files("descent.vehicle") / "cold_wet.toml").read_text(encoding="utf-8")
    return tuple(_advice(row) for row in tomllib.loads(text)["advice"])


def _advice(row: Mapping[str, Any]) -> Advice:
    rest: dict[str, Any] = dict(row)
    rest["surfaces"] = tuple(row.get("surfaces", ()))
    return Advice(**rest)


def advice_for(*, coldest_air_c: float, surface: str, fitted: frozenset[str] = frozenset(),
               known: frozenset[str] = frozenset(("retarder", "chains"))) -> tuple[Advice, ...]:
    """The advice for a day. coldest_air_c: coldest air on the road [C], the pass included; surface: of `SURFACES`;
    fitted: of `EQUIPMENT`; known: equipment whose absence is known (by default not the evaporator).

    >>> [item.key for item in advice_for(coldest_air_c=25, surface="dry")]
    ['drain-daily', 'no-water-on-hot']
    """
    return tuple(item for item in all_advice()
                 if item.applies(coldest_air_c=coldest_air_c, surface=surface, fitted=fitted, known=known))


def coldest_on_road_c(air_temp_c: float, *, climb_m: float) -> float:
    """Coldest air to expect [C]: the day's, less 6.5 K per 1000 m up to the highest point, less `FROST_MARGIN_C`.

    Lapse rate of the standard atmosphere (key standard_atmosphere, from memory, high).
    """
    return air_temp_c - 0.0065 * max(climb_m, 0.0) - FROST_MARGIN_C
