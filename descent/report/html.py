# SPDX-License-Identifier: MIT
"""A plan document in, one HTML file out: no network, complete without scripts, the same bytes each time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from markupsafe import Markup

from descent.report.card import driver_card
from descent.report.cold_wet_words import page_advice
from descent.report.contour_lines import ContourLine, contour_words
from descent.report.cursor_data import cursor_data
from descent.report.failure_groups import failure_groups
from descent.report.grade_class import COLOURS, WIDTHS_PX, class_labels
from descent.report.leaflet_assets import leaflet_assets
from descent.report.map import live_map, script_json
from descent.report.map_features import map_points
from descent.report.markers import drawing, icon
from descent.report.page_facts import facts, notes
from descent.report.page_shell import HEAD_SCRIPT, content_policy, environment, static_text
from descent.report.phrases import condition_words, defer_words, verdict_headline, verdict_sentence
from descent.report.ramps import ramp_sentence
from descent.report.second_opinion import severity_table
from descent.report.sensitivities_table import sensitivities_table
from descent.report.shown import Shown, shown_for
from descent.report.static_map import static_map
from descent.report.strip import strips
from descent.report.tables import (
    alternatives_table,
    downgrades_table,
    energy_parts,
    legs_table,
    standing_table,
    stops_table,
)
from descent.report.tiles import TileSource
from descent.report.trip import Hillshade, Trip, read_trip
from descent.report.words import Words
from descent.units import UnitSystem


def render_trip(
    document: Mapping[str, Any],
    *,
    hillshade: Hillshade | None,
    words: Words,
    date: str = "",
    contours: Sequence[ContourLine] = (),
    tiles: TileSource | None = None,
) -> str:
    """The trip page of a plan document (plan.json's names): report, map, strip and card in one HTML text.

    tiles: map pictures of a server the reader may turn on; without it the page can ask nobody for anything.
    Missing parts of the document are not shown. Where `feasible` is false there are no legs, stops or card.
    """
    trip = read_trip(document)
    shown = _shown(document, words)
    chart = live_map(trip, shown, hillshade)
    leaflet = leaflet_assets()
    scripts = [leaflet.js, _guarded(chart.script), static_text("page.js")]
    page = environment().get_template("page.html.jinja")
    return page.render(
        **_card_context(trip, shown, date),
        csp=content_policy([HEAD_SCRIPT, *scripts], pictures="" if tiles is None else tiles.origin),
        tiles=tiles,
        head_script=Markup(HEAD_SCRIPT),
        scripts=[Markup(script) for script in scripts],
        leaflet_licence=Markup(leaflet.licence),
        styles=Markup(
            leaflet.css
            + static_text("base.css")
            + static_text("page.css")
            + static_text("card.css")
            + static_text("print.css")
        ),
        data=Markup(script_json(cursor_data(trip, shown))),
        chart=chart,
        still=static_map(trip, shown, hillshade, contours),
        contour_words=contour_words(contours, shown),
        strip=strips(trip, shown),
        headline=verdict_headline(trip, shown),
        sentence=verdict_sentence(trip, shown),
        reason=str(document.get("verdict_reason") or ""),
        defer=defer_words(trip, shown),
        facts=facts(trip, shown),
        ramps=ramp_sentence(trip, shown),
        tables={
            table.name: table
            for table in (
                legs_table(trip, shown),
                stops_table(trip, shown),
                standing_table(trip, shown),
                downgrades_table(trip, shown),
                severity_table(trip, shown),
                alternatives_table(trip, shown),
                sensitivities_table(trip, shown),
            )
        },
        failures=failure_groups(trip, shown) if trip.feasible else (),
        energy=energy_parts(trip, shown),
        notes=notes(trip, shown),
        cold_wet=page_advice(trip, shown),
        grade_key=list(zip(COLOURS, WIDTHS_PX, class_labels(shown), strict=True)),
        sign_key=_sign_key(trip, shown),
        range_max=max(1, round(trip.road.length_m / shown.units.distance[1] * 10)),
    )


def render_card(document: Mapping[str, Any], *, words: Words, date: str = "") -> str | None:
    """The card alone as an HTML page for a PDF writer; None where the plan does not hold."""
    trip = read_trip(document)
    shown = _shown(document, words)
    context = _card_context(trip, shown, date)
    if context["card"] is None:
        return None
    return (
        environment()
        .get_template("card_page.html.jinja")
        .render(**context, styles=Markup(static_text("base.css") + static_text("card.css") + static_text("print.css")))
    )


def _shown(document: Mapping[str, Any], words: Words) -> Shown:
    return shown_for(str((document.get("conditions") or {}).get("units") or "metric"), words)


def _card_context(trip: Trip, shown: Shown, date: str) -> dict[str, Any]:
    us = shown.units.system is UnitSystem.US
    return {
        "w": shown.words,
        "trip": trip,
        "card": driver_card(trip, shown),
        "date": date,
        "conditions": condition_words(trip, shown),
        "paper": "letter" if us else "A4",
        "sign": lambda kind: icon(drawing(kind), size=20),
        "title": trip.name or shown.words("page.unnamed"),
    }


def _guarded(script: str) -> str:
    """The map's script; should it fail, the still map comes back."""
    return (
        'document.documentElement.classList.add("live-map");\ntry{\n'
        + script
        + '}catch(fault){document.documentElement.classList.remove("live-map");}\n'
    )


def _sign_key(trip: Trip, shown: Shown) -> list[tuple[Markup, str]]:
    """The signs on this map with their words, each kind once."""
    words, found = shown.words, {}
    for point in reversed(map_points(trip, shown)):
        if point.kind not in found:
            found[point.kind] = (icon(point.shapes, size=20), words.one_of("sign", point.kind))
    return list(found.values())
