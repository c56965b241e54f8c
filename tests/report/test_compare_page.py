# SPDX-License-Identifier: MIT
"""The comparison's page, table and CSV: every figure is its plan's; names tell cases apart; a hostile name stays text."""

from __future__ import annotations

import csv
import io
import json
import re
from pathlib import Path

import numpy as np
import pytest

import descent.report
from descent.report.compare_document import CaseGiven, compare_document
from descent.report.compare_labels import case_labels
from descent.report.compare_page import compare_words, comparison_csv, comparison_text, render_comparison
from descent.report.plan_json import plan_json, stable_document
from descent.report.shown import Shown
from report.make_document import make_document, make_infeasible


def made(**more: object) -> dict:
    first, second = make_document(**more), make_document(**more)  # type: ignore[arg-type]
    second["conditions"]["gross_kg"] = 30000.0
    second["time_s"] -= 600.0
    most = {"no_cool_down_kg": 25000.0, "any_stop_kg": None, "rated_kg": 36287.0}
    cases = [(CaseGiven("", "road", "working", heaviest=most, tonne_more={"change_s": 300.0}), first),
             (CaseGiven("", "road", "working", tonne_more={}), second),
             (CaseGiven("", "road", "out"), make_infeasible()),
             (CaseGiven("", "=far", "working", fault="the elevation data cannot carry a plan here"), None)]
    return stable_document(compare_document(cases))


def test_every_figure_is_its_plans() -> None:
    plan, row = stable_document(make_document()), made()["cases"][0]
    assert row["time_s"] == plan["time_s"] and row["gross_kg"] == plan["conditions"]["gross_kg"]
    hot = max(max(line) for line in plan["trace"]["brake_temp_c"].values())
    assert row["peak_brake_temp_c"] == pytest.approx(max(hot, *(leg["peak_brake_temp_c"] for leg in plan["legs"])))
    cooling = [stop for stop in plan["stops"] if stop["kind"] == "cool-down"]
    assert (row["cool_down_stops"], row["cool_down_minutes"]) == (len(cooling), sum(stop["minutes"] for stop in cooling))
    assert [leg["gear"] for leg in row["legs"]] == [leg["gear"] for leg in plan["legs"]]


def test_the_drawn_line_keeps_the_peak_and_lies_on_the_plans() -> None:
    plan, drawn = stable_document(make_document()), made()["cases"][0]["drawn"]
    hottest = np.max(np.array(list(plan["trace"]["brake_temp_c"].values())), axis=0)
    assert max(drawn["brake_temp_c"]) == pytest.approx(hottest.max(), abs=1e-3)
    known = {(round(s, 2), round(t, 2)) for s, t in zip(plan["trace"]["station_m"], hottest.tolist(), strict=True)}
    assert {(round(s, 2), round(t, 2)) for s, t in zip(drawn["station_m"], drawn["brake_temp_c"], strict=True)} <= known


def test_quickest_is_the_quickest_of_those_that_hold() -> None:
    document = made()
    holding = {row["number"]: row["time_s"] for row in document["cases"] if row["feasible"]}
    assert document["quickest"] == min(holding, key=lambda number: holding[number]) == 2


def test_names_say_only_what_differs(us: Shown) -> None:
    document = made()
    labels = case_labels(document["cases"][:2], us, compare_words("en"))
    assert len(set(labels)) == 2 and all("lb" in label and "road" not in label for label in labels)


def test_the_page_says_what_holds_and_what_not() -> None:
    page = render_comparison(made())
    assert "2 of 4 hold" in page and "Elevation data too weak" in page and "none, not even empty" in page
    assert page == render_comparison(made())


def test_a_chance_is_shown_only_where_a_plan_has_one() -> None:
    document = made()
    assert document["cases"][0]["upper_95"] == make_document()["risk"]["upper_95"]
    assert "upper 95" in render_comparison(document)
    for row in document["cases"]:
        row["upper_95"] = None
    assert "upper 95" not in render_comparison(document)


def test_a_hostile_name_stays_text() -> None:
    page = render_comparison(made(name="<script>alert(1)</script>"))
    assert "<script" not in page and "&lt;script&gt;" in page


def test_the_csv_has_a_line_per_case_and_no_formula() -> None:
    rows = list(csv.DictReader(io.StringIO(comparison_csv(made()))))
    assert len(rows) == 4 and rows[3]["route"] == "'=far"
    assert float(rows[0]["heaviest_no_cool_down_kg"]) == 25000.0 and rows[1]["heaviest_no_cool_down_kg"] == ""
    assert float(rows[0]["tonne_more_s"]) == 300.0 and rows[0]["feasible"] == "True"


def test_json_and_terminal() -> None:
    document = made()
    assert json.loads(plan_json(document))["schema"] == "descent-compare/1"
    text = comparison_text(document)
    assert "2 OF 4 HOLD" in text and text.count("Not like this") >= 1
    assert [line for line in text.splitlines() if line != line.rstrip()] == []


def test_every_key_asked_for_has_words_and_none_is_there_for_nothing() -> None:
    folder = Path(descent.report.__file__).parent
    text = "".join(path.read_text(encoding="utf-8") for path in (*folder.glob("compare_*.py"), folder / "templates/compare.html.jinja"))
    asked = set(re.findall(r"""\b(?:w|words)\(\s*"([\w.]+)\"""", text)) | set(re.findall(r"""["']([a-z_]+\.[a-z_.]+)["']""", text))
    table = compare_words("en").table
    built = ("table.compare.", "table.heaviest.", "road.", "answer.", "cell.", "warning.", "label.retarder_")
    assert {key for key in re.findall(r"""\bwords\(\s*"([\w.]+)\"""", text) if key not in table} == set()
    assert {key for key in table if key not in asked and not key.startswith(built)} == set()
