# SPDX-License-Identifier: MIT
"""The driver's card: in the order of the road, rounded toward caution, never without a plan that holds."""

from __future__ import annotations

from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from descent.report.card import driver_card
from descent.report.card_fit import LARGEST_PT, SMALLEST_PT, RowTexts, card_size_pt
from descent.report.html import render_card
from descent.report.shown import Shown
from descent.report.trip import read_trip
from descent.report.words import Words
from report.twelve_legs import twelve_legs


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
    # posts 212 and 215 stand at 3,300 and 8,130 m: 5,600 m is 212 + 3 * 2,300 / 4,830
    assert leg.where == "milepost 213.4, at Gray Fir Summit"
    assert leg.coordinates == "41.1757\u00a0N, 107.5443\u00a0W"  # as make_document lays the line
    assert leg.text == (
        "At 30 brake firmly to 25, about 3\u00a0s; release. Every 31–47\u00a0s on the steep part."
    )


def with_sign(document: dict[str, Any], speed_mps: float, start_m: float, end_m: float) -> None:
    """Post a limit on a stretch."""
    profile = document["profile"]
    profile["posted_limit_mps"] = [
        speed_mps if start_m <= s <= end_m else v
        for s, v in zip(profile["station_m"], profile["posted_limit_mps"], strict=True)
    ]


def test_a_lower_sign_inside_a_leg_has_a_row_of_its_own(document: dict[str, Any], us: Shown) -> None:
    """A 20 mph sign between stations 8,000 and 9,000 m: the card must not let 30 stand alone."""
    with_sign(document, 20 * 0.44704, 8000.0, 9000.0)
    card = driver_card(read_trip(document), us)
    assert card is not None
    assert [row.kind for row in card.rows][1:4] == ["leg", "lower", "ramp"]
    row = card.rows[2]
    assert (row.speed, row.speed_unit, row.text) == ("20", "mph", "sign, mi\u00a05.0–5.6")


def test_gear_after_a_stop_is_reached_before_the_grade(document: dict[str, Any], us: Shown) -> None:
    """Nobody moves off in gear 9. Station 15,600 m is mile 9.69, 5,450 m 3.39, 18,950 m 11.77: rounded up the
    road."""
    card = driver_card(read_trip(document), us)
    assert card is not None
    assert [row.gear_by for row in card.rows if row.kind == "leg"] == [
        "in by mi\u00a03.3",
        "start low; in 9 by mi\u00a09.6, before the grade; no shift after",
        "in by mi\u00a011.7",
    ]


def test_ramps_across_the_road_or_off_the_downgrades_are_not_recommended(
    document: dict[str, Any], us: Shown
) -> None:
    ramps = [place for place in document["places"] if place["kind"] == "escape-ramp"]
    ramps[0]["side"] = "left"
    card = driver_card(read_trip(document), us)
    assert card is not None
    assert [row.where for row in card.rows if row.kind == "ramp"] == ["Red Bank escape ramp"]
    said = card.blocks[0][1][-1].replace("\u00a0", " ")
    assert said == "One escape ramp: mi 15.9 (leg 3). None before it, none after it."
    ramps[1]["station_m"] = 28310.0 + 1000.1  # the foot of downgrade 2 and a little over 1 km
    card = driver_card(read_trip(document), us)
    assert card is not None and "ramp" not in [row.kind for row in card.rows]
    assert card.blocks[0][1][-1] == "No escape ramp on this descent."


def test_each_ramp_is_told_with_its_mile_and_leg(document: dict[str, Any], us: Shown) -> None:
    card = driver_card(read_trip(document), us)
    assert card is not None
    assert card.blocks[0][1][-1].replace("\u00a0", " ") == (
        "Escape ramps: mi 8.3 (leg 1), mi 15.9 (leg 3). None before mi 8.3, none after mi 15.9."
    )
    assert not any("next escape ramp" in line for _, lines in card.blocks for line in lines)


def test_hot_drums_or_hot_brakes(document: dict[str, Any], us: Shown) -> None:
    card = driver_card(read_trip(document), us)
    assert card is not None and any("on hot drums." in line for line in card.blocks[2][1])
    document["vehicle"]["axles"][0]["brake_kind"] = "air disc"
    card = driver_card(read_trip(document), us)
    assert card is not None
    text = " ".join(card.blocks[2][1])
    assert "drum" not in text and "on hot brakes." in text
    for said in ("second person sets the chocks", "Alone:", "No water", "wheel fire", "unchocked", "Look the"):
        assert said in text


def test_every_bay_is_listed_with_its_use(document: dict[str, Any], us: Shown) -> None:
    """60 m are 196.9 ft, 120 m 393.7 ft, 40 m 131.2 ft: room is rounded down."""
    card = driver_card(read_trip(document), us)
    assert card is not None
    assert [f"{p.at} {p.text} {p.planned}".strip().replace("\u00a0", " ") for p in card.places] == [
        "mi 3.3 Gray Fir brake check area: right, rises 0.4%, 390 ft paved: cool here STOP 10 min",
        "mi 6.2 Upper Bend pull-out: left, falls 5.8%, 190 ft gravel: other side of the road",
        "mi 9.4 Quiet Meadow pull-out: right, falls 0.8%, 290 ft paved: cool here STOP 20 min",
        "mi 14.2 Steep Corner pull-out: right, falls 5.1%, 130 ft: too steep to cool",
        "mi 18.4 Low Ford rest area: right, level, 490 ft paved: cool here",
    ]


def test_a_reversed_route_and_warnings_reach_the_card(document: dict[str, Any], words: Words) -> None:
    document["route"]["reversed"] = True
    document["warnings"] = ["Wet road: <b>slower</b>."]
    page = render_card(document, words=words)
    assert page is not None
    assert "driven against the direction of the route file" in page
    assert "Wet road: &lt;b&gt;slower&lt;/b&gt;." in page


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
    found = [(card.length, card.size_pt) for card in cards if card is not None]
    assert [length for length, _ in found] == ["", "long", "long", "long"]
    sizes = [size for length, size in found if length == "long"]
    assert sizes == sorted(sizes, reverse=True) and sizes[0] > sizes[-1] == SMALLEST_PT


def test_a_card_of_twelve_legs_is_brief_and_readable(us: Shown) -> None:
    """Gear and speed stand 2.4 times as high as the letters: at least 17 pt, seen from 70 cm about 20 arc minutes for
    the capitals; a 6/6 eye needs 5 (ISO 8596's optotype, from memory)."""
    card = driver_card(read_trip(twelve_legs()), us)
    assert card is not None and card.length == "long"
    assert card.size_pt >= 7.2 and 2.4 * card.size_pt >= 17.0
    leg = card.rows[0]
    assert (leg.text, leg.note) == (
        "30 to 25, about 3\u00a0s; every 31–47\u00a0s",
        "Gauge 25\u00a0psi; fade 34\u00a0psi",
    )
    assert len([row for row in card.rows if row.kind == "leg"]) == 12


@given(st.lists(st.sampled_from(["leg", "lower", "stop", "ramp"]), max_size=30), st.text("abc d", max_size=160))
def test_size_stays_readable_and_longer_text_never_enlarges(kinds: list[str], text: str) -> None:
    """Larger only where the small profile gave its room to the letters."""
    size, drawn = card_size_pt([RowTexts(kind, "At the summit") for kind in kinds])
    longer, still_drawn = card_size_pt([RowTexts(kind, "At the summit" + text, text, text, text, text, text)
                                        for kind in kinds])
    assert SMALLEST_PT <= min(longer, size) <= max(longer, size) <= LARGEST_PT
    assert drawn or not still_drawn
    assert longer <= size or (drawn and not still_drawn)
