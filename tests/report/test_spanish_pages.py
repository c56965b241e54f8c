# SPDX-License-Identifier: MIT
"""Comparison, lesson and debrief in Spanish: the English tables' keys and values, and no English sentence left."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from typing import Any

import pytest

from debrief.made_drives import debrief_of, driven, planned, recorded, with_engine_speed
from descent.report.compare_document import CaseGiven, compare_document
from descent.report.compare_page import compare_words, comparison_csv, comparison_text, render_comparison
from descent.report.debrief_document import OUT_OF_GEAR, debrief_document
from descent.report.debrief_page import render_debrief
from descent.report.debrief_text import debrief_text
from descent.report.debrief_words import debrief_words
from descent.report.lesson_page import render_lesson
from descent.report.lesson_text import lesson_text
from descent.report.lesson_words import lesson_words
from descent.report.plan_json import stable_document
from descent.report.sentences import plan_words
from descent.report.words import Words, load_words
from descent.request import HeightSource, PlanRequest, RoadRequest
from descent.units import UnitSystem
from lesson.lesson_sample import document as lesson_document
from report.make_document import make_document, make_infeasible
from report.test_spanish import names, pieces, reading

TABLES = [compare_words, debrief_words, lesson_words]
UNITS = [UnitSystem.US, UnitSystem.METRIC]


@pytest.mark.parametrize("load", TABLES)
def test_same_keys_and_values(load: Callable[[str], Words]) -> None:
    english, spanish = load("en").table, load("es").table
    assert spanish.keys() == english.keys()
    for key, text in spanish.items():
        assert names(text) == names(english[key]), key


@pytest.mark.parametrize("load", TABLES)
def test_every_sentence_is_translated(load: Callable[[str], Words]) -> None:
    """Words that read alike in both are marks and names only."""
    english, spanish = load("en").table, load("es").table
    alike = [key for key in english if english[key] == spanish[key]]
    assert not [key for key in alike if len(re.findall(r"[a-z]{2,}", re.sub(r"{\w+}", "", english[key]))) >= 2]


def comparison(system: UnitSystem) -> dict[str, Any]:
    """Two cases that hold, one that does not and one without heights; what the plan itself says is left out here."""
    first, second = (make_document(units=system.value) for _ in range(2))
    second["conditions"]["gross_kg"] = 30000.0
    most = {"no_cool_down_kg": 25000.0, "any_stop_kg": None, "rated_kg": 36287.0}
    refused = {**make_infeasible(), "verdict_reason": ""}
    for plan in (first, second, refused):
        plan |= {"warnings": [], "assumptions": [], "cautions": [], "alternatives": []}
    fault = plan_words("es").said(FAULTS[0])
    cases = [(CaseGiven("", "road", "working", heaviest=most, tonne_more={"change_s": 300.0}), first),
             (CaseGiven("", "road", "out", tonne_more={}), second), (CaseGiven("", "road", "out"), refused),
             (CaseGiven("", "far", "working", fault=fault), None)]
    return stable_document(compare_document(cases))


def drive(system: UnitSystem, *, engine: bool) -> dict[str, Any]:
    """A drive with departures of every kind, notes and events."""
    vehicle = ("tractor-semitrailer-retarder", 36287.0)
    plan = planned(*vehicle)
    truth = driven(plan, faster_mps=1.6)
    debrief = debrief_of(plan, with_engine_speed(plan, truth, recorded(plan, truth, 1)), engine=engine, draws=20)
    request = PlanRequest(RoadRequest("road.geojson", HeightSource.DEM), None, *vehicle, 20.0, 65.6, system=system)
    document = stable_document(debrief_document(debrief, request, recording="drive.csv", plan=None, seed=1))
    at = {"start_m": 3000.0, "end_m": 3200.0, "cost_s": 20.0, "cost_c": 6.0}
    document["departures"] += [
        at | {"kind": "slower", "leg": 1}, at | {"kind": "gear", "gear": "9", "planned": "8"}, at | {"kind": "out-of-gear"},
        *(at | {"kind": f"stop-{kind}", "place": None, "planned": 30.0, "real": 10.0} for kind in ("missed", "short", "unplanned"))]
    document["legs"][0]["gears"] = [OUT_OF_GEAR, "8"]
    document["recording"]["notes"] = NOTES
    document["recording"]["events"] = [
        {"kind": kind, "time_s": 1.0, "seconds": seconds, "station_m": 500.0}
        for kind, seconds in (("clock-jump", 60.0), ("clock-jump", -60.0), ("gap", 30.0), ("pause", 400.0), ("gps-jump", 5.0),
                              ("off-road", 8.0), ("gap", 9.0), ("gap", 8.0), ("gap", 7.0))]
    return document


NOTES = ["3 points without a time were left out", "3 points before the planned road were left out",
         "2 points after the planned road were left out", "4 points of the recording have no position and were left out",
         "the speed column reads 2.0 % high against the positions and was put right",
         "the speed column reads 2.0 % low against the positions and was put right",
         "the file holds tracks and routes: the tracks are used"]
PLACE = "route lon 1.0000 to 2.0000, lat 3.0000 to 4.0000"
REMEDY = ("Check the coordinate system and corner coordinates of the elevation files against their maker's, or leave the wrong "
          "one out")
FAULTS = [
    ("km 1.2 to 3.4 (0.7 to 2.1 mi): the elevation data cannot carry a plan here: void in the elevation model, cells too coarse to "
    "show the road (90 m), bridge (tagged): the grade is interpolated. Use a finer or complete elevation model, tag bridges and "
    "tunnels, or give a grade table"),
    f"{PLACE}: the elevation files have no heights along the route. Use an elevation model without voids here",
    (f"{PLACE}: the elevation files do not cover the route (got a.tif: lon 5.0 to 6.0, lat 7.0 to 8.0). Give files that cover the "
    "whole route"),
    "Larch: no usable height is left along the route. Use an elevation model that covers open road on this route",
    "Larch: the route file has no heights. Give an elevation model with --dem or a table with --grades",
    "a.tif: around km 3.1 a.tif and a finer file differ by 90 m where both have heights: they do not show the same ground. " + REMEDY,
    "lon 1.0, lat 2.0: the tiles a.tif and b.tif do not fit along their common edge (got 80 m apart). " + REMEDY,
    ("Larch: the elevation model and the heights recorded in the route file do not show the same ground (got 70 m apart). "
    f"{REMEDY}. If it is the recorded heights that are wrong, take them out of the route file")]


@pytest.mark.parametrize("text", [*NOTES, *FAULTS])
def test_what_other_layers_say_is_said_in_spanish(text: str) -> None:
    said = plan_words("es").said(text)
    assert not re.search(r"\b(the|of|and|with|is|are|to|out|show|heights|points|void)\b", said), said


def seen(kind: str, system: UnitSystem, language: str) -> tuple[str, str]:
    """The page, and all a reader meets on page and terminal; what the lesson's script says counts as well."""
    words = load_words(language)
    if kind == "compare":
        document = comparison(system)
        page = render_comparison(document, language=language)
        told = comparison_text(document, language=language)
    elif kind == "lesson":
        document = lesson_document(system)
        page = render_lesson(document, words=words, say=lesson_words(language))
        data = re.search(r'id="lesson-data">(.*?)</script>', page, flags=re.DOTALL)
        assert data is not None
        script = json.loads(data[1])
        told = lesson_text(document, words=words, own=lesson_words(language)) + " ".join([*script["words"].values(), *script["stage"]])
    else:
        document = drive(system, engine=kind == "drive")
        page = render_debrief(document, words=debrief_words(language))
        told = debrief_text(document, words=debrief_words(language))
    return page, f"{reading(page)} {' '.join(told.split())}".replace("\u00a0", " ")


ENGLISH = pieces(compare_words("en")) | pieces(debrief_words("en")) | pieces(lesson_words("en"))
ALONE = (r"brakes?|gear|retarder|limit|crest|foot|snub|drag|hottest|plan as written|steer|drive|trailer|recording|between|"
         r"planned|holds|dry road|out of gear|the|with|from")


@pytest.mark.parametrize("system", UNITS)
@pytest.mark.parametrize("kind", ["compare", "lesson", "drive", "drive-unknown-gear"])
def test_no_english_is_left(kind: str, system: UnitSystem) -> None:
    page, text = seen(kind, system, "es")
    assert '<html lang="es">' in page
    assert [part for part in ENGLISH if re.search(rf"\b{re.escape(part)}", text)] == []
    bare = text.split("Fuentes")[0] if kind != "drive" and kind != "drive-unknown-gear" else text.split("En qué se apoya")[0]
    for name in [*(place["name"] for place in make_document()["places"]), "tractor-semitrailer-retarder", "tractor-semitrailer",
                 "drive.csv", "Hecho con descent", "Leeward Shelf pull-out", "Upper Larch check area"]:
        bare = bare.replace(name, "")                        # names stay as their file has them
    assert re.findall(rf"\b(?:{ALONE})\b", bare) == []


@pytest.mark.parametrize("kind", ["compare", "lesson", "drive"])
def test_the_check_sees_english(kind: str) -> None:
    page, text = seen(kind, UnitSystem.US, "en")
    assert '<html lang="en">' in page
    assert len([part for part in ENGLISH if re.search(rf"\b{re.escape(part)}", text)]) > 15
    assert len(re.findall(rf"\b(?:{ALONE})\b", text)) > 15


def test_numbers_are_written_as_on_the_trip_page() -> None:
    """Decimal comma and a space before the percent sign beside metric units; marks of US signs and tickets beside US units."""
    for kind in ("compare", "lesson", "drive"):
        metric, us = seen(kind, UnitSystem.METRIC, "es")[1], seen(kind, UnitSystem.US, "es")[1]
        metric = re.sub(r"km 1\.2 a 3\.4 \(.*? mi\)", "", metric)       # an elevation fault, as its layer writes it
        assert re.search(r"\d,\d (?:km|t|%)", metric) and not re.search(r"\d\.\d (?:km|t|%|mi)\b", metric), kind
        assert re.search(r"\d\.\d (?:mi|%)|\d,\d{3} lb", us), kind
        assert not re.search(r"\d%", metric + us), kind


def test_the_lessons_script_counts_in_the_same_marks() -> None:
    for system, marks in ((UnitSystem.US, [",", "."]), (UnitSystem.METRIC, [".", ","])):
        page = render_lesson(lesson_document(system), words=load_words("es"), say=lesson_words("es"))
        data = json.loads(page.split('id="lesson-data">')[1].split("</script>")[0])
        assert data["marks"] == marks and data["percent"] == "\u00a0%"


def test_csv_and_document_keep_their_names() -> None:
    document = comparison(UnitSystem.METRIC)
    assert comparison_csv(document).splitlines()[0].startswith("number,unit,route,vehicle,gross_kg,retarder_out,")
    assert document["cases"][0]["peak_axle"] in {"steer", "drive", "trailer"}


def test_vehicle_and_air_are_left_to_the_trip_page_in_spanish_too() -> None:
    document = comparison(UnitSystem.US)
    words = plan_words("es")
    document["assumptions"] = [words("assumption.vehicle", text="uno"), words("assumption.air_supply", text="dos"), "Tres."]
    page = reading(render_comparison(document, language="es"))
    assert "Tres." in page and "Vehículo: uno" not in page and "Aire comprimido: dos" not in page
