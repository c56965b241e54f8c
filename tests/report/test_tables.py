# SPDX-License-Identifier: MIT
"""The page's tables and sentences say what the document says, in the reader's units."""

from __future__ import annotations

from typing import Any

import pytest

from descent.report.page_facts import facts, notes
from descent.report.phrases import source_text, verdict_sentence
from descent.report.second_opinion import severity_table
from descent.report.shown import Shown
from descent.report.tables import (
    downgrades_table,
    energy_parts,
    legs_table,
    standing_table,
    stops_table,
)
from descent.report.trip import read_trip


def test_rows_are_as_wide_as_heads(document: dict[str, Any], us: Shown) -> None:
    trip = read_trip(document)
    for make in (legs_table, stops_table, standing_table, downgrades_table, severity_table):
        table = make(trip, us)
        assert table.rows and all(len(row) == len(table.heads) for row in table.rows)


def test_verdict_can_be_read_aloud(document: dict[str, Any], us: Shown) -> None:
    assert verdict_sentence(read_trip(document), us).replace("\u00a0", " ") == (
        "Go down in gear 6 at no more than 30 mph, then from mi 9.4 gear 9 at no more than 45 mph, then "
        "from mi 11.9 gear 7 at no more than 35 mph; stop for a brake check at mi 3.3 and stop 20 min to cool the brakes at mi 9.4."
    )


def test_many_legs_make_a_short_sentence(document: dict[str, Any], us: Shown) -> None:
    document["legs"] = document["legs"] * 3
    assert "in 9 legs" in verdict_sentence(read_trip(document), us)


def test_severity_says_why_the_plan_is_faster(document: dict[str, Any], us: Shown) -> None:
    """Shares by hand: 8.8e7 of (8.8e7 + 3.1e7) J is 74 %."""
    rows = severity_table(read_trip(document), us).rows
    assert "74%" in rows[0][4].text and "stage 2" in rows[0][4].text
    assert "stood" not in rows[0][4].text  # the cool-down stop lies past the foot of downgrade 1
    assert "stood 20\u00a0min to cool" in rows[1][4].text


def test_published_speeds_are_capped_at_the_posted_limit(document: dict[str, Any], us: Shown) -> None:
    """50 mph is posted on both downgrades; the updated equations give none below 90 on the second."""
    rows = severity_table(read_trip(document), us).rows
    assert [(c.text.replace("\u00a0", " "), c.note) for c in rows[1][2:4]] == [
        ("30 mph", ""),
        ("50 mph", "the posted limit; the equations give more"),
    ]
    del document["profile"]["posted_limit_mps"]
    assert severity_table(read_trip(document), us).rows[1][3].text.replace("\u00a0", " ") == "none below 90 mph"


def test_severity_takes_the_fastest_leg_on_the_downgrade(document: dict[str, Any], us: Shown) -> None:
    """A leg that starts on downgrade 1 and runs on over 2 counts for both."""
    document["legs"] = [{**document["legs"][0], "end_m": 28000.0}]
    rows = severity_table(read_trip(document), us).rows
    assert [row[1].text.replace("\u00a0", " ") for row in rows] == ["30 mph", "30 mph"]


def test_energy_shares_add_up(document: dict[str, Any], us: Shown) -> None:
    """gravity + drive = the rest: the contract's closure, so shares of the shown parts make one."""
    parts = energy_parts(read_trip(document), us)
    assert sum(part.share for part in parts) == pytest.approx(1.0, abs=0.005)
    assert [part.key for part in parts] == ["rolling_j", "air_j", "engine_j", "retarder_j", "brakes_j"]


def test_no_energy_for_a_refusal(refusal: dict[str, Any], us: Shown) -> None:
    assert energy_parts(read_trip(refusal), us) == ()
    assert facts(read_trip(refusal), us) == ()


def test_doubtful_data_is_said(document: dict[str, Any], us: Shown) -> None:
    sure = notes(read_trip(document), us).sure
    assert any("fair data" in line and "cross slope" in line for line in sure)
    assert not any("good data" in line for line in sure)


def test_doubt_is_said_plainly_and_not_of_a_few_yards(document: dict[str, Any], us: Shown) -> None:
    """0.1 mi is 160.9 m."""
    document["profile"]["confidence"] = [
        {"start_m": 0.0, "end_m": 160.0, "level": "poor", "reasons": ["wide band of the grade"]},
        {
            "start_m": 500.0,
            "end_m": 700.0,
            "level": "fair",
            "reasons": ["bridge (tagged): the grade is interpolated", "odd"],
        },
    ]
    spans = [line for line in notes(read_trip(document), us).sure if line.startswith("mi")]
    assert [line.replace("\u00a0", " ") for line in spans] == [
        "mi 0.3–0.4: fair data (bridge: grade taken from the road on both sides of it; odd)."
    ]


def test_a_long_run_of_assumptions_is_one_entry(document: dict[str, Any], us: Shown) -> None:
    document["assumptions"] = ["Minimum: 15."] + [f"Vehicle: value {n}." for n in range(6)] + ["Vehicles: few."]
    assert notes(read_trip(document), us).assumptions == (
        "Minimum: 15.",
        "Vehicle: value 0; value 1; value 2; value 3; value 4; value 5.",
        "Vehicles: few.",
    )


def test_an_emergency_stop_is_never_shown_cooler_than_none(document: dict[str, Any], us: Shown) -> None:
    document["legs"][0]["peak_brake_temp_c"] = 251.0
    document["trace"]["emergency_temp_c"] = [200.0] * len(document["trace"]["station_m"])
    shown = {fact.name: fact.value for fact in facts(read_trip(document), us)}
    assert shown["Hottest brake"] == shown["With one emergency stop"] == "484\u00a0°F"  # 483.8, rounded up


def test_margin_only_when_given(document: dict[str, Any], us: Shown) -> None:
    """2.3 K are 4.14 degrees Fahrenheit, rounded down."""
    assert not any("distance" in fact.name for fact in facts(read_trip(document), us))
    document["margin_c"] = 2.3
    assert any(fact.value == "4\u00a0°F" for fact in facts(read_trip(document), us))


def test_energy_without_megajoules_for_us_readers(
    document: dict[str, Any], us: Shown, metric: Shown
) -> None:
    trip = read_trip(document)
    assert not any(part.amount for part in energy_parts(trip, us))
    assert all("MJ" in part.amount for part in energy_parts(trip, metric))


def test_lower_numbers_stand_in_rows_of_their_own(document: dict[str, Any], metric: Shown) -> None:
    """20 mph is 32.19 km/h; the sign itself reads 20 mph, which a metric reader is told too."""
    profile = document["profile"]
    profile["curve_limit_mps"] = [9.0 if 10000 <= s <= 10400 else None for s in profile["station_m"]]
    profile["posted_limit_mps"] = [20 * 0.44704 if 8000 <= s <= 9000 else 22.0 for s in profile["station_m"]]
    sign = {**document["places"][1], "kind": "truck-speed-limit", "name": "Limit", "value": "20 mph"}
    document["places"].append({**sign, "station_m": 7990.0})
    rows = legs_table(read_trip(document), metric).rows
    assert [row[0].text for row in rows] == ["1", "in leg 1", "in leg 1", "2", "3"]
    told = [(row[4].text, row[4].style, row[6].text) for row in rows[1:3]]
    assert [tuple(part.replace("\u00a0", " ") for part in row) for row in told] == [
        ("32 km/h", "big", "sign (it reads 20 mph), km 8.0–9.0"),
        ("32 km/h", "big", "in the curves, km 10.0–10.4"),
    ]


def test_where_you_can_stop(document: dict[str, Any], us: Shown) -> None:
    rows = standing_table(read_trip(document), us).rows
    assert [row[7].text for row in rows] == [
        "good for cooling",
        "no: other side of the road",
        "good for cooling",
        "not for cooling: too steep",
        "good for cooling",
    ]
    assert rows[2][2].note == "PLANNED: Cool down, 20\u00a0min"
    assert [row[4].text for row in rows] == [
        "rises 0.4%",
        "falls 5.8%",
        "falls 0.8%",
        "falls 5.1%",
        "level",
    ]


def test_if_a_place_is_taken_the_next_usable_one_is_named(document: dict[str, Any], us: Shown) -> None:
    """After Quiet Meadow the steep pull-out is passed over; after the last usable place none is invented."""
    taken = [row[2].note.replace("\u00a0", " ") for row in stops_table(read_trip(document), us).rows]
    assert taken[0].endswith("the next usable place is Quiet Meadow pull-out, mi 9.4.")
    assert "the plan does not hold" in taken[1] and "Missed: stop at Low Ford rest area, mi 18.4," in taken[1]
    document["places"] = [p for p in document["places"] if p["name"] != "Low Ford rest area"]
    assert stops_table(read_trip(document), us).rows[1][2].note.count("there is no usable place after it") == 1


def test_bays_without_a_judgement_say_so(document: dict[str, Any], us: Shown) -> None:
    for place in document["places"]:
        place.pop("usable", None), place.pop("room_m", None), place.pop("surface", None)
    rows = standing_table(read_trip(document), us).rows
    assert rows[0][7].text == "not judged for cooling" and rows[0][5].text == "not known"
    assert rows[1][7].text == "no: other side of the road"  # the place lies on the left: no judgement needed


def test_unknown_values_are_said(document: dict[str, Any], us: Shown) -> None:
    document["stops"][0]["place"] = None
    document["stops"][0]["arrive_temp_c"] = None
    row = stops_table(read_trip(document), us).rows[0]
    assert row[2].text == "no named place" and row[5].text == "not known"


def test_sources_as_text_or_record(us: Shown) -> None:
    assert source_text("A book.", us) == "A book."
    record = {
        "key": "k",
        "citation": "A. Writer (1989), Grades",
        "used_for": "speeds",
        "trust": "from memory",
    }
    assert source_text(record, us) == "A. Writer (1989), Grades. For: speeds (from memory)."
    assert source_text({"key": "k"}, us) == "k"
