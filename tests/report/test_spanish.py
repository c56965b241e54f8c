# SPDX-License-Identifier: MIT
"""Spanish: the same keys and values as English, and no English sentence left on page, card or terminal."""

from __future__ import annotations

import html
import re
import string
from importlib import resources
from typing import Any

import pytest

from descent.pipeline import vehicles
from descent.report.html import render_card, render_trip
from descent.report.sentences import plan_words
from descent.report.shown import Shown, shown_for
from descent.report.terminal import trip_text
from descent.report.vehicle_assumptions import assumed_values
from descent.report.words import Words, load_words
from descent.sources import TRUST_WORDS, load_sources
from descent.vehicle.air_supply import air_supply
from descent.vehicle.model import BrakeKind
from report.make_document import FakeHillshade, make_document, make_infeasible
from report.twelve_legs import twelve_legs


@pytest.fixture(scope="module")
def spanish() -> Words:
    return load_words("es")


def names(text: str) -> set[str]:
    """The names in braces of a wording."""
    return {name for _, name, _, _ in string.Formatter().parse(text) if name}


@pytest.mark.parametrize("load", [load_words, plan_words])
def test_same_keys_and_values(load: Any) -> None:
    english, spanish = load("en").table, load("es").table
    assert spanish.keys() == english.keys()
    for key, text in spanish.items():
        assert names(text) == names(english[key]), key


@pytest.mark.parametrize("load", [load_words, plan_words])
def test_every_sentence_is_translated(load: Any) -> None:
    """Words that read alike in both are marks and names only: nothing of three words or more."""
    english, spanish = load("en").table, load("es").table
    alike = [key for key in english if english[key] == spanish[key]]
    assert not [key for key in alike if len(re.findall(r"[a-z]{2,}", re.sub(r"{\w+}", "", english[key]))) >= 2]


def pieces(words: Words) -> set[str]:
    """What lies between the filled-in values of each wording of two words or more."""
    found: set[str] = set()
    for text in words.table.values():
        found |= {part.strip() for part in re.split(r"{\w+}", text) if len(part.split()) >= 3}
    return found


def reading(page: str) -> str:
    """The text a reader sees or hears: tags, styles and scripts left out, labels in attributes kept."""
    page = re.sub(r"<script.*?</script>|<style.*?</style>|<!--.*?-->", " ", page, flags=re.DOTALL)
    labels = " ".join(re.findall(r'(?:aria-label|data-head|title)="([^"]*)"', page))
    return html.unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page) + " " + labels))


@pytest.mark.parametrize("make", [make_document, make_infeasible, twelve_legs])
@pytest.mark.parametrize("units", ["us", "metric"])
def test_no_english_sentence_is_left(make: Any, units: str, spanish: Words, hillshade: FakeHillshade) -> None:
    document = make(units=units)
    page = render_trip(document, hillshade=hillshade, words=spanish)
    card = render_card(document, words=spanish) or ""
    seen = f"{reading(page)} {reading(card)} {trip_text(document, words=spanish)}".replace("\u00a0", " ")
    for place in document["places"]:
        seen = seen.replace(place["name"], "")  # names stay as their file has them
    left = [part for part in pieces(load_words("en")) if re.search(rf"\b{re.escape(part)}", seen)]
    assert left == []
    assert '<html lang="es">' in page and "Lea" in "".join(spanish.table.values())


def test_the_check_sees_english(words: Words, hillshade: FakeHillshade) -> None:
    seen = reading(render_trip(make_document(), hillshade=hillshade, words=words))
    assert len([part for part in pieces(words) if re.search(rf"\b{re.escape(part)}", seen)]) > 40


def test_decimal_comma_beside_metric_units_only(spanish: Words) -> None:
    """km and t take the language's comma; miles and pounds are written as on US signs and tickets."""
    assert shown_for("metric", spanish).distance(12_340.0) == "12,3\u00a0km"
    assert shown_for("metric", spanish).height(2345.0) == "2.345\u00a0m"
    assert shown_for("us", spanish).distance(12_340.0) == "7.7\u00a0mi"
    assert shown_for("us", spanish).mass(36287.0) == "80,000\u00a0lb"


def english_left(text: str) -> bool:
    return re.search(r"\b(the|of|and|with|is|are|brakes|axle|below)\b", text.replace("49 CFR", "")) is not None


def test_the_catalogue_speaks_spanish(spanish: Words) -> None:
    """Titles, axles, brakes, load warnings and assumptions of every class: each is in the phrase book."""
    book, known = plan_words("es"), {kind.value for kind in BrakeKind}
    for vehicle in vehicles():
        said = [vehicle.title, *(axle.name for axle in vehicle.axles), *vehicle.load.effects, *known]
        said += air_supply(vehicle).assumptions
        for text in said:
            assert spanish.said(text) != text, text
        for text in assumed_values(vehicle.assumptions, book):
            assert not english_left(text), text


def test_advice_for_a_cold_day_speaks_spanish(spanish: Words) -> None:
    path = resources.files("descent.vehicle").joinpath("cold_wet.toml")
    for text in re.findall(r'^(?:text|short) = "(.+)"$', path.read_text(encoding="utf-8"), flags=re.MULTILINE):
        assert spanish.said(text) != text, text


def test_trust_and_notes_speak_spanish(spanish: Words) -> None:
    for text in TRUST_WORDS.values():
        assert spanish.said(text) != text
    assert spanish.said("Road bench seen in the elevation model; height noise along the line about 0.4 m.") == (
        "La caja del camino se ve en el modelo de elevación; ruido de las alturas a lo largo de la línea, unos 0.4 m."
    )
    for key in ("assumed", "derived", "practice", "fmvss_121", "cdl_manual", "mutcd", "karney_2013"):
        assert spanish.said(load_sources()[key].used_for) != load_sources()[key].used_for


def test_english_needs_no_phrase_book(words: Words) -> None:
    assert words.book == () and words.said("steer") == "steer"


def test_a_spanish_leg(spanish: Words) -> None:
    shown: Shown = shown_for("us", spanish)
    page = reading(render_trip(make_document(), hillshade=None, words=spanish))
    assert "A 30 frene firme hasta 25, unos 3 s; suelte." in page.replace("\u00a0", " ")
    assert shown.percent(0.061) == "6.1\u00a0%"
