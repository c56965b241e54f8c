# SPDX-License-Identifier: MIT
"""The plan as a short text a dispatcher can read aloud from a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping
from typing import Any

from descent.report.cold_wet_words import card_advice
from descent.report.leg_words import retarder_order, snub_words
from descent.report.lower_speeds import lower_speeds
from descent.report.phrases import (
    condition_words,
    defer_words,
    hottest,
    hottest_emergency_c,
    stop_sentence,
    verdict_headline,
    verdict_sentence,
)
from descent.report.ramps import ramp_sentence
from descent.report.shown import Shown, shown_for
from descent.report.trip import Row, Trip, read_trip
from descent.report.words import Words


def trip_text(document: Mapping[str, Any], *, words: Words, width: int = 88) -> str:
    """Verdict, legs, stops, hottest brake and time in plain lines no wider than `width`."""
    trip = read_trip(document)
    shown = shown_for(str((document.get("conditions") or {}).get("units") or "metric"), words)
    name = trip.name or words("page.unnamed")
    reason = str(document.get("verdict_reason") or "")
    blocks = [
        f"{name}: {condition_words(trip, shown)}",
        *([words("page.reversed").capitalize() + "."] if trip.reversed else []),
        *(words("terminal.warning", warning=warning) for warning in trip.warnings),
        "",
        f"{verdict_headline(trip, shown).upper()}. {reason}".strip(),
    ]
    blocks += _plan(trip, shown) if trip.feasible else _refusal(trip, shown)
    advised = card_advice(trip, shown)
    if advised:
        blocks += ["", words("cold_wet.title")]
        blocks += [f"  {place.where}: {' '.join(place.lines)}" for place in advised]
    blocks += ["", defer_words(trip, shown)]
    lines = [line for block in blocks for line in _wrapped(block, width)]
    return "\n".join(lines).replace("\u00a0", " ") + "\n"


def _plan(trip: Trip, shown: Shown) -> list[str]:
    words = shown.words
    lines = [verdict_sentence(trip, shown)]
    if trip.legs:
        lines += ["", words("terminal.legs")]
        for leg in trip.legs:
            lines += _leg(leg, trip, shown)
    if trip.stops:
        lines += [
            "",
            words("terminal.stops"),
            *("  " + stop_sentence(stop, trip, shown) for stop in trip.stops),
        ]
    lines += ["", ramp_sentence(trip, shown), ""]
    heat, emergency_c, limit_c = hottest(trip), hottest_emergency_c(trip), trip.limit("brake_temp_c")
    if heat is not None and emergency_c is not None and limit_c is not None:
        lines.append(
            words(
                "terminal.hottest",
                temperature=shown.hot(heat[0]),
                axle=words.said(heat[1]),
                emergency=shown.hot(emergency_c),
                limit=shown.temperature(limit_c),
            )
        )
    lines += _risk(trip, shown)
    if trip.document.get("time_s") is not None:
        lines.append(words("terminal.time", time=shown.minutes(trip.document["time_s"])))
    return lines


def _risk(trip: Trip, shown: Shown) -> list[str]:
    """How sure the plan is, and what that costs."""
    risk, words = trip.document.get("risk") or {}, shown.words
    if risk.get("upper_95") is None or risk.get("accepted") is None:
        return []
    line = words("terminal.risk", upper=shown.percent_up(risk["upper_95"]), draws=shown.number(float(risk["draws"])),
                 accepted=shown.percent(risk["accepted"]))
    if risk.get("cost_s") is None:
        return [line]
    cost = float(risk["cost_s"])
    return [line + " " + (words("terminal.risk_cost", minutes=shown.minutes(cost)) if cost >= 30.0
                          else words("terminal.risk_free"))]


def _leg(leg: Row, trip: Trip, shown: Shown) -> list[str]:
    """A leg's orders, and a line of its own for each lower number on it."""
    words = shown.words
    orders = words(
        "terminal.leg",
        number=leg["number"],
        at=shown.at(leg["start_m"]),
        gear=leg["gear"],
        speed=shown.speed(leg["control_speed_mps"]),
        brakes=snub_words(leg, trip, shown),
        retarder=retarder_order(leg, trip, shown),
    )
    lower = [
        "     " + words("slower.listed", speed=one.speed, why=one.why) for one in lower_speeds(leg, trip, shown)
    ]
    return ["  " + orders, *lower]


def _refusal(trip: Trip, shown: Shown) -> list[str]:
    words = shown.words
    lines = [verdict_sentence(trip, shown)]
    if trip.rows("alternatives"):
        lines += ["", words("terminal.would_hold")]
        lines += [
            "  " + words("terminal.change", change=row["change"], effect=row["effect"])
            for row in trip.rows("alternatives")
        ]
    return lines


def _wrapped(block: str, width: int) -> list[str]:
    indent = len(block) - len(block.lstrip(" "))
    return textwrap.wrap(
        block.strip(),
        width,
        initial_indent=" " * indent,
        subsequent_indent=" " * (indent + 3 if indent else 0),
        break_on_hyphens=False,
    ) or [""]
