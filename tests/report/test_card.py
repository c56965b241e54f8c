# SPDX-License-Identifier: MIT
"""The driver's card: in the order of the road, rounded toward caution, never without a plan that holds."""

from __future__ import annotations

from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from descent.report.card import driver_card
from descent.report.card_fit import LARGEST_PT, SMALLEST_PT, RowTexts, card_size_pt
from descent.report.shown import Shown
from descent.report.trip import read_trip


def test_rows_in_the_order_they_are_met(document: dict[str, Any], us: Shown) -> None:
    card = driver_card(read_trip(document), us)
    assert card is not None
    assert [row.kind for row in card.rows] == ["stop", "leg", "ramp", "stop", "leg", "leg", "ramp"]
    stations = [row.station_m for row in card.rows]
    assert stations == sorted(stations)


def test_orders_of_a_leg(document: dict[str, Any], us: Shown) -> None:
    card = driver_card(read_trip(document), us)
    assert card is not None
    leg = next(row for row in card.rows if row.kind == "leg")
    assert (leg.gear, leg.speed, leg.speed_unit, leg.retarder) == ("6", "30", "mph", "stage 2")
    assert leg.where == "at Gray Fir Summit"
    assert "At 30 brake firmly to 25, about 3\u00a0s; release." in leg.text


def test_a_lower_sign_inside_a_leg_is_said(document: dict[str, Any], us: Shown) -> None:
    """A 20 mph sign between stations 8,000 and 9,000 m: the card must not let 30 stand alone."""
    profile = document["profile"]
    profile["posted_limit_mps"] = [
        20 * 0.44704 if 8000 <= s <= 9000 else v
        for s, v in zip(profile["station_m"], profile["posted_limit_mps"], strict=True)
    ]
    card = driver_card(read_trip(document), us)
    assert card is not None
    leg = next(row for row in card.rows if row.kind == "leg")
    assert leg.slower == "Signs: 20\u00a0mph at mi\u00a05.0–5.6."


def test_gear_before_moving_off_from_a_stop(document: dict[str, Any], us: Shown) -> None:
    card = driver_card(read_trip(document), us)
    assert card is not None
    assert [row.gear_by for row in card.rows if row.kind == "leg"] == [
        "in by mi\u00a03.3",
        "before moving off",
        "in by mi\u00a011.7",
    ]


def test_no_card_without_a_plan_that_holds(
    refusal: dict[str, Any], document: dict[str, Any], us: Shown
) -> None:
    assert driver_card(read_trip(refusal), us) is None
    document["legs"] = []
    assert driver_card(read_trip(document), us) is None


def test_no_retarder_fitted(document: dict[str, Any], us: Shown) -> None:
    document["vehicle"]["retarder_stages"] = []
    document["legs"][0]["retarder_stage"] = 0
    card = driver_card(read_trip(document), us)
    assert card is not None and card.rows[1].retarder == "none fitted"


def test_more_rows_smaller_letters(document: dict[str, Any], us: Shown) -> None:
    ramp = next(place for place in document["places"] if place["kind"] == "escape-ramp")
    cards = []
    for extra in (0, 3, 9, 60):
        document["places"] += [{**ramp, "name": f"Ramp {n}", "station_m": 20000.0 + n} for n in range(extra)]
        cards.append(driver_card(read_trip(document), us))
    sizes = [card.size_pt for card in cards if card is not None]
    assert sizes == sorted(sizes, reverse=True) and sizes[0] > 9.0
    assert sizes[-1] == SMALLEST_PT
    assert [card.length for card in cards if card is not None] == ["", "", "long", "long"]


@given(st.lists(st.sampled_from(["leg", "stop", "ramp"]), max_size=30), st.text("abc d", max_size=160))
def test_size_stays_readable_and_longer_text_never_enlarges(kinds: list[str], text: str) -> None:
    size = card_size_pt([RowTexts(kind, "At the summit") for kind in kinds])[0]
    longer = card_size_pt([RowTexts(kind, "At the summit" + text, text, text, text) for kind in kinds])[0]
    assert SMALLEST_PT <= longer <= size <= LARGEST_PT
