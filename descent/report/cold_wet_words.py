# SPDX-License-Identifier: MIT
"""The advice for a cold or wet day in the reader's words: grouped by where on the road, long for the page, short for the card."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from descent.report.shown import Shown
from descent.report.trip import Trip

_ORDER = ("start", "chain-up", "chain-up-unknown", "crest", "road", "stops")


@dataclass(frozen=True)
class Advised:
    """What to do at one kind of place: the place in words, and the pieces of advice."""

    where: str
    lines: tuple[str, ...]


def page_advice(trip: Trip, shown: Shown) -> tuple[Advised, ...]:
    """The advice in full, in the order in which it is needed; empty on a warm dry day."""
    return _grouped(trip, shown, "text")


def card_advice(trip: Trip, shown: Shown) -> tuple[Advised, ...]:
    """The advice in short, in the order in which it is needed; empty on a warm dry day."""
    return _grouped(trip, shown, "short")


def advice_texts(trip: Trip, shown: Shown) -> frozenset[str]:
    """The full texts, to tell the cautions that repeat them."""
    return frozenset(shown.words.said(row["text"]) for row in trip.rows("advice"))


def _grouped(trip: Trip, shown: Shown, column: str) -> tuple[Advised, ...]:
    groups: dict[tuple[int, str], list[str]] = {}
    for row in trip.rows("advice"):
        if row[column]:
            key = (_ORDER.index(str(row["where"])), _place_words(row, shown))
            groups.setdefault(key, []).append(shown.words.said(row[column]))
    return tuple(Advised(where, tuple(dict.fromkeys(lines))) for (_, where), lines in sorted(groups.items()))


def _place_words(row: Mapping[str, Any], shown: Shown) -> str:
    words, where = shown.words, str(row["where"])
    if where in ("start", "road"):
        return words(f"cold_wet.{where}")
    named = [words("cold_wet.named", at=shown.at(at["station_m"]), place=at["place"]) if at.get("place")
             else shown.at(at["station_m"]) for at in row["at"]]
    return words(f"cold_wet.{where}", listed=", ".join(named))
