# SPDX-License-Identifier: MIT
"""What a driver is told of a leg: a snub's rhythm, the retarder, the gear after a stop, the gauge."""

from __future__ import annotations

from typing import Any

import pytest

from descent.report.leg_words import gauge_words, gear_by_words, retarder_order, snub_words
from descent.report.shown import Shown
from descent.report.trip import read_trip

MPH = 0.44704


def told(document: dict[str, Any], shown: Shown, **changes: Any) -> tuple[str, str]:
    """Service brakes and retarder of the first leg with some values changed."""
    document["legs"][0].update(changes)
    trip = read_trip(document)
    leg = trip.legs[0]
    return snub_words(leg, trip, shown).replace("\u00a0", " "), retarder_order(leg, trip, shown)


def snubs(**changes: Any) -> dict[str, Any]:
    whole = {"count": 75, "from_mps": 19 * MPH, "to_mps": 14 * MPH, "duration_s": 3.0, "interval_s": 9.0}
    return whole | changes


@pytest.mark.parametrize(
    ("low_s", "high_s", "said"),
    [
        (8.2, 10.9, "Every 8–11 s on the steep part."),
        (8.0, 8.0, "Every 8 s on the steep part."),
        (35.0, 344.0, "Every 35 s to 6 min on the steep part."),
        (130.0, 344.0, "Every 2–6 min on the steep part."),
        (None, None, "About every 9 s."),
    ],
)
def test_rhythm_of_snubs(
    document: dict[str, Any], us: Shown, low_s: float | None, high_s: float | None, said: str
) -> None:
    pattern, _ = told(document, us, snubs=snubs(interval_low_s=low_s, interval_high_s=high_s))
    assert pattern == f"At 19 brake firmly to 14, about 3 s; release. {said}"


@pytest.mark.parametrize("few", [snubs(count=4), snubs(count=1, interval_s=None), snubs(interval_s=None)])
def test_few_snubs_have_no_rhythm(document: dict[str, Any], us: Shown, few: dict[str, Any]) -> None:
    text, _ = told(document, us, snubs=few, balance_speed_mps=None)
    assert text == "Snubs rarely needed. At 19 brake firmly to 14, about 3 s; release."


def test_a_snub_of_a_second_is_not_timed(document: dict[str, Any], us: Shown) -> None:
    text, _ = told(document, us, snubs=snubs(count=1, interval_s=None, duration_s=0.762))
    assert "about" not in text.split("release")[0] and "1 s" not in text


def test_held_by_engine_and_retarder(document: dict[str, Any], us: Shown) -> None:
    text, stage = told(
        document,
        us,
        snubs=None,
        control_speed_mps=47 * MPH,
        balance_speed_mps=27.7 * MPH,
        retarder_stage=3,
    )
    assert text.startswith(
        "Engine and retarder hold it: use up to stage 3 as needed to stay at 47. "
        "Left on, stage 3 would settle near 28."
    )
    assert stage == "up to stage 3"


def test_held_by_the_engine_alone(document: dict[str, Any], us: Shown) -> None:
    text, stage = told(document, us, snubs=None, balance_speed_mps=25 * MPH, retarder_stage=0)
    assert text.startswith("The engine holds it at 30 without the brakes; it would settle near 25.")
    assert stage == "off"


def test_a_balance_above_the_control_speed_is_no_hold(document: dict[str, Any], us: Shown) -> None:
    text, stage = told(document, us, snubs=None, balance_speed_mps=40 * MPH)
    assert text.startswith("Holds 30 without the brakes.") and stage == "stage 2"


def test_gear_when_the_stop_is_where_the_grade_begins(document: dict[str, Any], us: Shown) -> None:
    document["legs"][1]["gear_by_m"] = document["legs"][1]["start_m"]
    trip = read_trip(document)
    assert gear_by_words(trip.legs[1], trip, us) == "start low; in 9 before the grade, no shift after"


def test_gauge_only_with_snubs_and_its_limit_only_when_given(document: dict[str, Any], us: Shown) -> None:
    """173 kPa are 25.1 psi, 237 kPa 34.4 psi."""
    leg = document["legs"][0]
    assert gauge_words(leg, us).replace("\u00a0", " ") == (
        "Application gauge about 25 psi; 34 psi or more means fade."
    )
    del leg["fade_pressure_kpa"]
    assert gauge_words(leg, us).replace("\u00a0", " ") == "Application gauge about 25 psi."
    assert gauge_words({**leg, "snubs": None}, us) == ""
