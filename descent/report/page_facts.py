# SPDX-License-Identifier: MIT
"""The facts under the verdict and the notes at the page's end: how sure, assumptions, cautions, sources."""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from descent.report.cold_wet_words import advice_texts
from descent.report.phrases import hottest, hottest_emergency_c, source_text
from descent.report.shown import Shown
from descent.report.trip import Trip

_SHORTEST_SPAN = 0.1  # of the reader's mile or kilometre; a shorter stretch is not told
_LONG_RUN = 6
# The profile's reasons for doubt, as they come, and the key of the words for them.
_REASONS = (
    ("structure", re.compile(r"^(?P<kind>bridge|tunnel) \((?:tagged|found)")),
    ("useless", re.compile(r"not known well enough")),
    ("wide", re.compile(r"^wide band of the grade")),
    ("moderate", re.compile(r"^moderate band of the grade")),
    ("coarse", re.compile(r"^cells ")),
    ("no_bench", re.compile(r"^no road bench")),
    ("side_slope", re.compile(r"^steep side slope")),
    ("no_heights", re.compile(r"^(?:outside|void in) the elevation model")),
)


@dataclass(frozen=True)
class Fact:
    """A name, a value and a smaller line under it."""

    name: str
    value: str
    note: str = ""


@dataclass(frozen=True)
class Notes:
    """Lists of sentences; an empty list is not shown."""

    conditions: tuple[Fact, ...]
    why: tuple[str, ...]
    sure: tuple[str, ...]
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]
    sources: tuple[str, ...]


def facts(trip: Trip, shown: Shown) -> tuple[Fact, ...]:
    """Time, heat and stops of a plan that holds; nothing where the answer is no."""
    if not trip.feasible:
        return ()
    words, found = shown.words, []
    time_s = trip.document.get("time_s")
    if time_s is not None:
        standing = sum(float(stop["minutes"]) for stop in trip.stops)
        note = words("fact.time_note", minutes=shown.stop_minutes(standing)) if standing else ""
        found.append(Fact(words("fact.time"), shown.minutes(time_s), note))
    heat, limit_c = hottest(trip), trip.limit("brake_temp_c")
    if heat is not None:
        found.append(
            Fact(
                words("fact.hottest"),
                shown.hot(heat[0]),
                words("fact.hottest_note", axle=words.said(heat[1])) if heat[1] else "",
            )
        )
    emergency_c = hottest_emergency_c(trip)
    if emergency_c is not None:
        note = "" if limit_c is None else words("fact.emergency_note", limit=shown.temperature(limit_c))
        found.append(Fact(words("fact.emergency"), shown.hot(emergency_c), note))
    if trip.margin_c is not None:
        found.append(Fact(words("fact.margin"), shown.margin(trip.margin_c), words("fact.margin_note")))
    risk = trip.document.get("risk") or {}
    if risk.get("upper_95") is not None:
        note = (
            words("fact.risk_note", accepted=shown.percent(risk["accepted"]))
            if risk.get("accepted") is not None
            else ""
        )
        found.append(
            Fact(words("fact.risk"), words("fact.risk_value", share=shown.percent_up(risk["upper_95"])), note)
        )
    return tuple(found)


def notes(trip: Trip, shown: Shown) -> Notes:
    """Everything the page says after its tables."""
    document, advised = trip.document, advice_texts(trip, shown)
    return Notes(
        conditions=_conditions(trip, shown),
        why=tuple(
            shown.words("leg.why", number=leg["number"], why=why)
            for leg in trip.legs
            for why in leg.get("why") or ()
        ),
        sure=_sure(trip, shown),
        assumptions=_grouped(tuple(map(str, document.get("assumptions") or ()))),
        cautions=tuple(
            text
            for text in map(str, document.get("cautions") or ())
            if not any(text.endswith(piece) for piece in advised)
        ),
        sources=tuple(source_text(source, shown) for source in document.get("sources") or ()),
    )


def _conditions(trip: Trip, shown: Shown) -> tuple[Fact, ...]:
    conditions, words = trip.document.get("conditions") or {}, shown.words
    show: dict[str, Callable[[Any], str]] = {
        "gross_kg": shown.mass,
        "air_temp_c": shown.temperature,
        "start_temp_c": shown.temperature,
        "min_speed_mps": shown.speed,
        "road": lambda value: words.one_of("road", str(value)),
        "accepted_risk": shown.percent,
        "accept_risk": shown.percent,
        "seed": str,
        "wind_mps": shown.speed,
    }
    found = [
        Fact(words(f"given.{key}"), write(conditions[key]))
        for key, write in show.items()
        if conditions.get(key) is not None
    ]
    vehicle = trip.document.get("vehicle") or {}
    for axle in vehicle.get("axles") or ():
        brakes = words("given.axle_brakes", count=axle["brake_count"], kind=words.said(axle["brake_kind"]))
        found.append(Fact(words("given.axle", name=words.said(axle["name"])), shown.mass(axle["load_kg"]), brakes))
    return tuple(found)


def _sure(trip: Trip, shown: Shown) -> tuple[str, ...]:
    words, found = shown.words, []
    if trip.road.source:
        found.append(words("sure.source", source=words.said(trip.road.source)))
    for span in trip.road.confidence:
        if span.get("level") in (None, "good"):
            continue
        if span["end_m"] - span["start_m"] < _SHORTEST_SPAN * shown.units.distance[1]:
            continue
        reasons = "; ".join(dict.fromkeys(_plainly(str(one), shown) for one in span.get("reasons") or ()))
        found.append(
            words(
                "sure.span",
                span=shown.span(span["start_m"], span["end_m"]),
                level=words.one_of("level", str(span["level"])),
                reasons=reasons or words("sure.no_reason"),
            )
        )
    if trip.feasible:
        found += _risk(trip, shown) + _bound(trip, shown)
    return tuple(found)


def _grouped(sentences: tuple[str, ...]) -> tuple[str, ...]:
    """The sentences, those of one long run with the same opening ("Vehicle: ...") as one entry."""
    found: list[str] = []
    for opening, run in itertools.groupby(sentences, key=lambda one: one.partition(": ")[0]):
        items = list(run)
        if len(items) >= _LONG_RUN:
            listed = "; ".join(item.partition(": ")[2].rstrip(".") for item in items)
            found.append(f"{opening}: {listed}.")
        else:
            found += items
    return tuple(found)


def _plainly(reason: str, shown: Shown) -> str:
    """A reason for doubt in a driver's words; one not known here stays as it is."""
    for key, pattern in _REASONS:
        match = pattern.search(reason)
        if match is not None:
            kinds = {
                name: shown.words.one_of("structure", kind) for name, kind in match.groupdict().items()
            }
            return shown.words(f"doubt.{key}", **kinds)
    return shown.words.said(reason)


def _risk(trip: Trip, shown: Shown) -> list[str]:
    risk, words = trip.document.get("risk") or {}, shown.words
    if risk.get("probability_over_limit") is None or risk.get("upper_95") is None:
        return []
    found = [
        words(
            "sure.risk",
            draws=shown.number(float(risk.get("draws") or 0)),
            share=shown.percent(risk["probability_over_limit"]),
            upper=shown.percent_up(risk["upper_95"]),
        )
    ]
    spread = risk.get("temperature_percentiles_c")
    if isinstance(spread, Mapping) and spread:
        listed = ", ".join(
            words("sure.percentile", rank=rank, temperature=shown.hot(temp))
            for rank, temp in _highest(spread)
        )
        found.append(words("sure.percentiles", listed=listed))
    return found


def _highest(spread: Mapping[str, Any]) -> list[tuple[str, float]]:
    """Each rank with its temperature, or with the highest along the road [C]."""
    found = []
    for rank, temps in spread.items():
        values = [float(t) for t in (temps if isinstance(temps, list | tuple) else [temps]) if t is not None]
        if values:
            found.append((str(rank).removeprefix("p").removeprefix("0"), max(values)))
    return found


def _bound(trip: Trip, shown: Shown) -> list[str]:
    time_s, bound_s = trip.document.get("time_s"), trip.document.get("lower_bound_s")
    if time_s is None or bound_s is None:
        return []
    key = "sure.proven" if trip.document.get("proven") else "sure.bound"
    price = trip.document.get("price_of_simplicity")
    return [shown.words(key, bound=shown.minutes(bound_s), time=shown.minutes(time_s)),
            *([] if price is None else [shown.words("sure.price", free=shown.minutes(price["free_s"]))])]
