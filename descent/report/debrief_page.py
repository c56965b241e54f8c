# SPDX-License-Identifier: MIT
"""A debrief document in, one HTML file out: no network, complete without scripts, the same bytes each time."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from markupsafe import Markup

from descent.report import debrief_view as view
from descent.report.cursor_data import reading
from descent.report.debrief_strip import debrief_strips
from descent.report.map import script_json
from descent.report.page_shell import HEAD_SCRIPT, content_policy, environment, static_text
from descent.report.phrases import condition_words, source_text
from descent.report.plan_json import plan_json, stable_document
from descent.report.shown import Shown, shown_for
from descent.report.thin import thin_rows
from descent.report.trip import read_trip
from descent.report.words import Words
from descent.units import UnitSystem

Document = Mapping[str, Any]
MOST_ROWS = 1500


def debrief_files(document: Document, *, words: Words) -> dict[str, bytes]:
    """debrief.html and debrief.json of a debrief document, as bytes by name."""
    stable = stable_document(document)
    return {"debrief.html": render_debrief(stable, words=words).encode("utf-8"),
            "debrief.json": plan_json(stable).encode("utf-8")}


def render_debrief(document: Document, *, words: Words) -> str:
    """The debrief page of a debrief document (debrief.json's names)."""
    shown = shown_for(str(document["conditions"]["units"]), words)
    script = static_text("page.js")
    styles = "".join(static_text(name) for name in ("base.css", "page.css", "print.css", "debrief.css"))
    title = str(document["route"].get("name") or "") or words("debrief.unnamed")
    return environment().get_template("debrief.html.jinja").render(
        w=words, title=title, csp=content_policy([HEAD_SCRIPT, script]), head_script=Markup(HEAD_SCRIPT),
        script=Markup(script), styles=Markup(styles), given=given_words(document, shown),
        paper="letter" if shown.units.system is UnitSystem.US else "A4", tone=view.tone(document),
        headline=view.headline(document, shown), sentences=view.verdict_sentences(document, shown),
        facts=view.debrief_facts(document, shown), departures=view.departures_table(document, shown),
        well=view.well_words(document, shown), following=view.next_time(document, shown),
        legs=view.legs_table(document, shown), stops=view.stops_table(document, shown),
        axles=view.axles_table(document, shown), strips=debrief_strips(document, shown),
        sure=view.sure_words(document, shown), sources=[source_text(item, shown) for item in document["sources"]],
        data=Markup(script_json(_cursor(document, shown))), sign=lambda kind: "",
        range_max=max(1, round(document["route"]["length_m"] / shown.units.distance[1] * 10)))


def given_words(document: Document, shown: Shown) -> str:
    """Vehicle, weight, day and recording in one line."""
    trip = read_trip({"profile": document["profile"], "conditions": document["conditions"], "vehicle": document["vehicle"],
                      "feasible": False})
    recording = shown.words("debrief.recording", name=document["conditions"]["recording"])
    return f"{condition_words(trip, shown)}; {recording}"


def _cursor(document: Document, shown: Shown) -> dict[str, Any]:
    """What the page's script reads: columns of equal length, and the words of the readout."""
    series, profile, words = document["series"], document["profile"], shown.words
    station = np.array(series["station_m"], dtype=float)
    kept = thin_rows(station, most=MOST_ROWS)
    at = station[kept]
    road = np.array(profile["station_m"], dtype=float)
    distance, height = shown.units.distance, shown.units.height
    axle = document["hottest_axle"]
    known = document["recording"]["has_engine_speed"]
    gears = [words.said(series["gear"][i] or "") for i in kept]

    def along(name: str, scale: float, decimals: int) -> list[float]:
        return [float(v) for v in np.round(np.interp(at, road, np.array(profile[name], dtype=float)) * scale, decimals) + 0.0]

    return {
        "station": [float(v) for v in np.round(at, 1)], "distance": [float(v) for v in np.round(at / distance[1], 2)],
        "lon": along("lon", 1.0, 5), "lat": along("lat", 1.0, 5),
        "height": [int(v) for v in along("elevation_m", 1.0 / height[1], 0)], "grade": along("grade", 100.0, 1),
        "speed": [round(series["speed_mps"][i] / shown.units.speed[1]) for i in kept],
        "gear": [gear if known or not gear else words("debrief.assumed_gear", gear=gear) for gear in gears],
        "axles": {words.said(axle): [int(np.ceil(shown.units.temperature(series["brake_temp_c"][axle][i]) - 1e-6)) for i in kept]},
        **reading(shown)}
