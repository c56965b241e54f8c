# SPDX-License-Identifier: MIT
"""Cold and wet advice on page, card, terminal and in plan.json: there when the day calls for it, and only then."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from descent.faces.cli.main import cli
from descent.report.card import driver_card
from descent.report.card_fit import CardTexts, RowTexts, card_size_pt
from descent.report.cold_wet_words import card_advice, page_advice
from descent.report.html import render_card
from descent.report.page_facts import notes
from descent.report.shown import Shown
from descent.report.terminal import trip_text
from descent.report.trip import read_trip
from descent.report.words import Words

ROWS: list[dict[str, Any]] = [
    {"key": "a", "when": "stopped", "where": "stops", "text": "Dry them and park.", "short": "Dry them.",
     "at": [{"station_m": 5310.0, "place": "Top"}]},
    {"key": "b", "when": "on the way", "where": "crest", "text": "Try the brakes.", "short": "Try them.",
     "at": [{"station_m": 5450.0, "place": None}, {"station_m": 15600.0, "place": None}]},
    {"key": "c", "when": "before moving off", "where": "start", "text": "Drain all <tanks>.", "short": "Drain <all>.",
     "at": [{"station_m": 0.0, "place": None}]},
    {"key": "d", "when": "before moving off", "where": "start", "text": "Only in full.", "short": "",
     "at": [{"station_m": 0.0, "place": None}]}]


def plain(text: str) -> str:
    return text.replace("\u00a0", " ")


def test_in_the_order_it_is_needed_long_on_the_page_short_on_the_card(document: dict[str, Any], us: Shown) -> None:
    trip = read_trip(document | {"advice": ROWS})
    assert [(plain(item.where), item.lines) for item in page_advice(trip, us)] == [
        ("Before moving off", ("Drain all <tanks>.", "Only in full.")), ("Before the crest: mi 3.4, mi 9.7", ("Try the brakes.",)),
        ("Before you park: mi 3.3 Top", ("Dry them and park.",))]
    assert [item.lines for item in card_advice(trip, us)] == [("Drain <all>.",), ("Try them.",), ("Dry them.",)]
    card = driver_card(trip, us)
    assert card is not None and card.cold_wet == card_advice(trip, us)


def test_a_plan_without_advice_has_no_such_lines(document: dict[str, Any], us: Shown, words: Words) -> None:
    assert page_advice(read_trip(document), us) == ()
    page = render_card(document, words=words)
    assert page is not None and "Cold and wet" not in page and "Cold and wet" not in trip_text(document, words=words)


def test_the_card_and_the_terminal_say_it(document: dict[str, Any], words: Words) -> None:
    page = render_card(document | {"advice": ROWS}, words=words)
    assert page is not None and "Cold and wet" in page and "Drain &lt;all&gt;." in page and "Only in full" not in page
    text = trip_text(document | {"advice": ROWS}, words=words)
    assert "Before the crest: mi 3.4, mi 9.7: Try them." in text


def test_the_page_does_not_say_it_twice(document: dict[str, Any], us: Shown) -> None:
    cautions = ["A caution.", "Before moving off: Only in full."]
    assert notes(read_trip(document | {"advice": ROWS, "cautions": cautions}), us).cautions == ("A caution.",)


def test_its_lines_count_when_the_letter_size_is_chosen() -> None:
    rows = [RowTexts("leg", "At the summit", "Brake firmly. " * 4)] * 7
    without = card_size_pt(rows, CardTexts())[0]
    assert card_size_pt(rows, CardTexts(cold_wet=("Drain every reservoir until only air comes. " * 3,) * 5))[0] < without


@pytest.fixture(scope="module")
def road(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """A line of about 5.6 km and its grade table: 2 % up, 5 % down, level."""
    folder = tmp_path_factory.mktemp("road")
    line = {"type": "Feature", "properties": {"name": "Marl Bank"}, "geometry": {
        "type": "LineString", "coordinates": [[10.0, 45.0 + 0.0005 * i] for i in range(101)]}}
    route, table = folder / "route.geojson", folder / "grades.csv"
    route.write_text(json.dumps(line), encoding="utf-8")
    table.write_text("length [m],grade [%]\n1000,2\n3500,-5\n1056,0\n", encoding="utf-8")
    return route, table


def planned(road: tuple[Path, Path], air: str, surface: str) -> dict[str, Any]:
    done = CliRunner().invoke(cli, [
        "plan", str(road[0]), "--grades", str(road[1]), "--vehicle", "straight-truck", "--gross", "26000lb", "--air-temp", air,
        "--road", surface, "--json"], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def test_a_frosty_wet_day_reaches_plan_json_and_a_warm_dry_one_does_not(road: tuple[Path, Path]) -> None:
    cold, warm = planned(road, "20F", "wet"), planned(road, "70F", "dry")
    assert warm["advice"] == [] and cold["feasible"]
    keys = {row["key"] for row in cold["advice"]}
    assert {"drain-in-frost", "evaporator", "frozen-on", "before-the-crest-wet", "chains-carried",
            "parking-wet-in-frost"} <= keys
    crest = next(row for row in cold["advice"] if row["key"] == "before-the-crest-wet")["at"][0]["station_m"]
    assert crest == pytest.approx(1000.0, abs=150.0)
    said = [text for text in cold["cautions"] if text not in warm["cautions"]]
    assert len(said) == len(cold["advice"]) and any("alcohol evaporator" in text for text in said)
    assert not any(row["text"] in " ".join(cold["warnings"]) for row in cold["advice"])
