# SPDX-License-Identifier: MIT
"""A lesson document in, one HTML file out: no network, complete without scripts, the same bytes each time."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np
from markupsafe import Markup

from descent.report.lesson_pack import (
    ALPHABET,
    CURVES,
    FIGURES,
    STATES,
    STORY,
    outcomes_by_key,
    packed_cells,
    packed_outcomes,
)
from descent.report.lesson_plots import gears_picture
from descent.report.lesson_script import questions
from descent.report.lesson_tables import COLUMNS, gear_lines, gear_rows, sheets
from descent.report.lesson_tell import SINKS, Teller
from descent.report.map import script_json
from descent.report.page_shell import HEAD_SCRIPT, content_policy, environment, static_text
from descent.report.plan_json import plan_json
from descent.report.sentences import plan_words
from descent.report.shown import Shown, marks, shown_for
from descent.report.vehicle_assumptions import assumed_values
from descent.report.words import Words
from descent.units import UnitSystem

STATED_ERROR = (6.0, 25.0, 0.01)        # [K], [kPa], share of energy: lesson.accuracy.STATED, equal by test


def lesson_files(document: Mapping[str, Any], *, words: Words, say: Words) -> dict[str, bytes]:
    """lesson.html and lesson.json as bytes, by name."""
    return {"lesson.html": render_lesson(document, words=words, say=say).encode("utf-8"),
            "lesson.json": plan_json(document).encode("utf-8")}


def render_lesson(document: Mapping[str, Any], *, words: Words, say: Words) -> str:
    """The page of a lesson document (lesson.json's names)."""
    shown = shown_for(str(document["conditions"]["units"]), words)
    tell = Teller(document, outcomes_by_key(dict(document)), shown, say)
    script = static_text("lesson.js")
    lines, wrong = gear_lines(tell), tell.preset("everything-wrong")
    weight = tell.shown.mass(document["axes"]["gross_kg"][-1])
    return environment().get_template("lesson.html.jinja").render(
        t=say, language=say.language, csp=content_policy([HEAD_SCRIPT, script]), head_script=Markup(HEAD_SCRIPT),
        script=Markup(script), styles=Markup(static_text("base.css") + static_text("lesson.css")),
        data=Markup(script_json(_page_data(document, shown, say))), hill=_hill_words(document, shown, say),
        conditions=say("page.conditions", vehicle=say.said(document["vehicle"]["title"]), gross=weight,
                       air=shown.temperature(document["conditions"]["air_temp_c"]),
                       start=shown.temperature(document["conditions"]["start_temp_c"])),
        gear_names=[gear["name"] for gear in document["vehicle"]["gears"]],
        stages=[say("play.off"), *document["vehicle"]["stages"]],
        adjustments=[(item, say(f"adjustment.{item}")) for item in document["axes"]["adjustment"]],
        brakings=[(item, say(f"braking.{item}")) for item in document["axes"]["braking"]],
        presets=[(_preset_word(item["name"], document, say), item["at"]) for item in document["presets"]],
        keys=_keys(document, shown, say),
        sinks=[(name, say(f"energy.{name}")) for name in SINKS if name != "retarder_j" or len(document["axes"]["stage"]) > 1],
        pictures=(gears_picture(dict(document), lines, shown, say),
                  gears_picture(dict(document), lines, shown, say, width=520.0, size=17.0)),
        gears_lead=say("gears.lead", gross=weight, stage=tell.stage(document["basis_stage"])),
        columns=[(name, say(f"gears.{name}")) for name in COLUMNS], rows=gear_rows(tell), script_questions=questions(tell),
        story=tell.story(wrong),
        wrong=say("gears.wrong", gear=tell.gear(wrong), speed=tell.speed(wrong), weight=tell.weight(wrong)), sheets=sheets(tell), weight=weight,
        notes=_notes(document, shown, say), assumed=assumed_values(document["vehicle_assumptions"], plan_words(say.language)),
        sources=[f"{say.said(item['citation'])} ({say.said(item['trust'])})" for item in document["sources"]],
        paper="letter" if shown.units.system is UnitSystem.US else "A4")


def _preset_word(name: str, document: Mapping[str, Any], say: Words) -> str:
    if name == "right-gear" and document["right_gear"] is None:
        name = "lowest-gear"
    return say(f"preset.{name}")


def _hill_words(document: Mapping[str, Any], shown: Shown, say: Words) -> str:
    hill = document["hill"]
    grade, length = shown.grade(hill["mean_grade"]), shown.distance(hill["length_m"])
    if hill["invented"]:
        return say("page.invented", grade=grade, length=length)
    return say("page.road", name=hill["name"], grade=grade, length=length)


def _keys(document: Mapping[str, Any], shown: Shown, say: Words) -> list[str]:
    limits = document["limits"]
    stretch = document["stretch_ends_m"][0]
    return [say("play.key_line", floor=shown.percent(limits["fade_floor"], 0)),
            say("play.key_worst", worst=shown.percent(0.2, 0)),
            say("play.key_limit", limit=shown.temperature(limits["brake_temp_c"]),
                fade=shown.temperature(limits["fade_onset_c"])),
            say("play.key_stretch", stretch=shown.short(stretch))]


def _notes(document: Mapping[str, Any], shown: Shown, say: Words) -> dict[str, Any]:
    accuracy, hill = document["accuracy"], document["hill"]
    found = {"temp": shown.rise(accuracy["temp_k"]), "pressure": _pressure_up(accuracy["pressure_kpa"], shown),
             "share": shown.percent_up(accuracy["energy_share"]), "temp_stated": shown.rise(STATED_ERROR[0]),
             "pressure_stated": _pressure_up(STATED_ERROR[1], shown), "share_stated": shown.percent(STATED_ERROR[2])}
    if hill["invented"]:
        road = say("notes.hill_invented", grade=shown.grade(hill["mean_grade"]), length=shown.distance(hill["length_m"]),
                   top=shown.height(hill["altitude_offset_m"]))
    else:
        road = say("notes.hill_road", name=hill["name"], before=shown.short(hill["crest_m"]),
                   after=shown.short(hill["station_m"][-1] - hill["foot_m"]),
                   step=shown.short(hill["station_m"][1] - hill["station_m"][0]))
    return {"accuracy": say("notes.accuracy", outcomes=shown.number(len(document["outcomes"]))),
            "error": say("notes.error", points=shown.number(accuracy["points"]), **found),
            "refused": say("notes.refused", readable=shown.number(accuracy["readable_cells"]),
                           cells=shown.number(accuracy["cells"])),
            "models": [text for key, text in say.table.items() if key.startswith("notes.models.")], "hill": road}


def _pressure_up(pressure_kpa: float, shown: Shown) -> str:
    symbol, size = shown.units.pressure
    return shown.unit(symbol, shown.number(math.ceil(pressure_kpa / size * 10 - 1e-6) / 10, 1))


def _page_data(document: Mapping[str, Any], shown: Shown, say: Words) -> dict[str, Any]:
    """What the page's script reads: the packed grid, axes, units and words."""
    hill, units, axes = document["hill"], shown.units, document["axes"]
    thin = np.linspace(0.0, hill["station_m"][-1], 61)
    heights = np.interp(thin, hill["station_m"], hill["elevation_m"])
    us = units.system is UnitSystem.US
    step = (1000.0 if us else 0.5) * units.mass[1]
    return {
        "alphabet": ALPHABET, "curves": CURVES, "figures": FIGURES, "storyNames": STORY, "states": STATES, "sinks": SINKS,
        "pack": packed_outcomes(dict(document)), "cells": packed_cells(dict(document)),
        "ends": [round(value, 1) for value in document["stretch_ends_m"]], "crest": hill["crest_m"], "foot": hill["foot_m"],
        "heights": [round(float(value), 1) for value in heights],
        "gears": document["vehicle"]["gears"], "speeds": axes["speed_mps"], "weights": axes["gross_kg"],
        "counts": [len(axes["stage"]), len(axes["adjustment"]), len(axes["braking"])], "weightStep": step,
        "limits": document["limits"], "start": document["conditions"]["start_temp_c"],
        "presets": [item["at"] for item in document["presets"]],
        "units": {"us": us, "distance": units.distance, "short": units.short, "speed": units.speed, "mass": units.mass,
                  "pressure": units.pressure, "temperature": units.temperature_symbol},
        "marks": marks(shown.words, units.system), "percent": shown.words("number.percent", number=""),
        "stage": [say("play.off"), *(say("play.stage_name", name=name) for name in document["vehicle"]["stages"])],
        "words": {key: text for key, text in say.table.items() if key.split(".")[0] in ("js", "story", "where", "energy")},
    }

