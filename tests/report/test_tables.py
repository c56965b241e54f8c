# SPDX-License-Identifier: MIT
"""The page's tables and sentences say what the document says, in the reader's units."""

from __future__ import annotations

from typing import Any

import pytest

from descent.report.page_facts import facts, notes
from descent.report.phrases import source_text, verdict_sentence
from descent.report.shown import Shown
from descent.report.tables import (
    downgrades_table,
    energy_parts,
    failures_table,
    legs_table,
    severity_table,
    stops_table,
)
from descent.report.trip import read_trip


def test_rows_are_as_wide_as_heads(document: dict[str, Any], us: Shown) -> None:
    trip = read_trip(document)
    for make in (legs_table, stops_table, downgrades_table, severity_table, failures_table):
        table = make(trip, us)
        assert table.rows and all(len(row) == len(table.heads) for row in table.rows)


def test_verdict_can_be_read_aloud(document: dict[str, Any], us: Shown) -> None:
    assert verdict_sentence(read_trip(document), us).replace("\u00a0", " ") == (
        "Go down in gear 6 at no more than 30 mph, then gear 9 at no more than 45 mph, then gear 7 at no "
        "more than 35 mph; stop for a brake check at mi 3.3 and stop 20 min to cool the brakes at mi 9.4."
    )


def test_many_legs_make_a_short_sentence(document: dict[str, Any], us: Shown) -> None:
    document["legs"] = document["legs"] * 3
    assert "in 9 legs" in verdict_sentence(read_trip(document), us)


def test_severity_says_why_the_plan_is_faster(document: dict[str, Any], us: Shown) -> None:
    """Shares by hand: 8.8e7 of (8.8e7 + 3.1e7) J is 74 %."""
    rows = severity_table(read_trip(document), us).rows
    assert "74%" in rows[0][4].text and "stage 2" in rows[0][4].text
    assert rows[1][3].text.replace("\u00a0", " ") == "none below 90 mph"


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
