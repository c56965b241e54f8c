# SPDX-License-Identifier: MIT
"""The page as text: one file, escaped, the same each time, honest about a refusal, small."""

from __future__ import annotations

import base64
import hashlib
import itertools
import re
from html.parser import HTMLParser
from typing import Any

import pytest

from descent.report.html import render_card, render_trip
from descent.report.words import Words
from report.make_document import FakeHillshade, make_document

HOSTILE = '"><script>alert(1)</script><img src=x onerror=alert(2)>{{ 7*7 }}</title>\u2028'


class Reader(HTMLParser):
    """Tags, attributes and visible text of a page."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.scripts: list[str] = []
        self._inside = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        self._inside = tag

    def handle_endtag(self, tag: str) -> None:
        self._inside = ""

    def handle_data(self, data: str) -> None:
        if self._inside == "script":
            self.scripts.append(data)
        elif self._inside != "style":
            self.words.append(data)

    @property
    def text(self) -> str:
        return re.sub(r"\s+", " ", " ".join(self.words))


def test_nothing_is_loaded_from_anywhere(
    document: dict[str, Any], hillshade: FakeHillshade, words: Words
) -> None:
    reader = Reader(render_trip(document, hillshade=hillshade, words=words))
    for tag, attributes in reader.tags:
        assert tag not in ("link", "iframe", "object", "embed", "base")
        for name in ("src", "href", "srcset", "action", "data"):
            value = attributes.get(name) or ""
            assert not value or value.startswith(("#", "data:")), (tag, name, value[:80])


def test_policy_lists_exactly_the_scripts_of_the_page(document: dict[str, Any], words: Words) -> None:
    reader = Reader(render_trip(document, hillshade=None, words=words))
    policy = next(a["content"] or "" for t, a in reader.tags if t == "meta" and "http-equiv" in a)
    assert (
        policy.startswith("default-src 'none'") and "img-src data:" in policy and "unsafe-eval" not in policy
    )
    page = render_trip(document, hillshade=None, words=words)
    bodies = re.findall(r"<script>(.*?)</script>", page, flags=re.DOTALL)
    hashes = {f"'sha256-{base64.b64encode(hashlib.sha256(b.encode()).digest()).decode()}'" for b in bodies}
    assert hashes == set(re.findall(r"'sha256-[^']+'", policy))


@pytest.mark.parametrize("where", ["route", "place", "stop", "axle", "reason", "source", "why", "vehicle"])
def test_text_from_a_file_stays_text(where: str, words: Words) -> None:
    document = make_document()
    harmless = Reader(render_trip(document, hillshade=None, words=words))
    if where == "route":
        document["route"]["name"] = HOSTILE
    elif where == "place":
        document["places"][2]["name"] = document["stops"][0]["place"] = HOSTILE
    elif where == "stop":
        document["stops"][1]["place"] = HOSTILE
    elif where == "axle":
        temps = document["trace"]["brake_temp_c"]
        document["trace"]["brake_temp_c"] = {
            HOSTILE: temps["steer"],
            "drive": temps["drive"],
            "trailer": temps["trailer"],
        }
    elif where == "reason":
        document["verdict_reason"] = HOSTILE
    elif where == "source":
        document["profile"]["source"] = document["sources"][0] = HOSTILE
    elif where == "why":
        document["legs"][0]["why"] = [HOSTILE]
    else:
        document["vehicle"]["name"] = HOSTILE
    reader = Reader(render_trip(document, hillshade=None, words=words, date=HOSTILE))
    assert [t for t, _ in reader.tags].count("script") == [t for t, _ in harmless.tags].count("script")
    assert "img" not in [t for t, _ in reader.tags]
    assert not any("onerror" in a for _, a in reader.tags)
    assert "alert(1)" in reader.text and "{{ 7*7 }}" in reader.text


def test_same_bytes(document: dict[str, Any], hillshade: FakeHillshade, words: Words) -> None:
    assert render_trip(document, hillshade=hillshade, words=words) == render_trip(
        make_document(), hillshade=hillshade, words=words
    )


def test_date_only_when_given(document: dict[str, Any], words: Words) -> None:
    assert "31 May" not in render_trip(document, hillshade=None, words=words)
    assert Reader(render_trip(document, hillshade=None, words=words, date="31 May")).text.count("31 May") == 2


def test_refusal_comes_first_and_names_no_speed_to_hold(refusal: dict[str, Any], words: Words) -> None:
    page = render_trip(refusal, hillshade=None, words=words)
    text = Reader(page).text
    assert (
        text.index("NOT LIKE THIS")
        < text.index("What would change the answer")
        < text.index("Along the road")
    )
    assert refusal["verdict_reason"] in text
    for gone in ("Control speed", "CONTROL SPEED", "Driver’s card", "Brake check,", "cool the brakes"):
        assert gone not in text
    assert 'id="card"' not in page and '"speed":[' not in page
    assert render_card(refusal, words=words) is None


def test_only_what_is_there_is_shown(document: dict[str, Any], words: Words) -> None:
    for key in (
        "risk",
        "failures",
        "severity",
        "energy",
        "alternatives",
        "structures",
        "time_s",
        "lower_bound_s",
        "limits",
        "places",
        "sources",
    ):
        del document[key]
    for name in ("application_kpa", "fade_kpa", "reservoir_kpa", "stopping_distance_m", "emergency_temp_c"):
        del document["trace"][name]
    for leg in document["legs"]:
        del leg["fade_pressure_kpa"], leg["why"]
    text = Reader(render_trip(document, hillshade=None, words=words)).text
    for gone in (
        "What could go wrong",
        "Second opinion",
        "Where the energy goes",
        "Chance of passing",
        "means fade",
    ):
        assert gone not in text
    assert "Application gauge about" in text and "This plan holds" in text


def test_a_bare_refusal_renders(refusal: dict[str, Any], words: Words) -> None:
    bare = {
        key: refusal[key]
        for key in ("schema", "conditions", "route", "profile", "feasible", "verdict_reason")
    }
    assert "NOT LIKE THIS" in render_trip(bare, hillshade=None, words=words)


def test_a_long_route_stays_under_a_megabyte(hillshade: FakeHillshade, words: Words) -> None:
    page = render_trip(make_document(length_m=100_000.0), hillshade=hillshade, words=words)
    assert len(page.encode()) < 1_000_000


def test_headings_step_down_one_at_a_time(document: dict[str, Any], words: Words) -> None:
    levels = [
        int(t[1])
        for t, _ in Reader(render_trip(document, hillshade=None, words=words)).tags
        if re.fullmatch(r"h[1-6]", t)
    ]
    assert levels[0] == 1 and levels.count(1) == 1
    assert all(after - before <= 1 for before, after in itertools.pairwise(levels))


def test_ids_are_unique(document: dict[str, Any], hillshade: FakeHillshade, words: Words) -> None:
    ids = [
        a["id"] for _, a in Reader(render_trip(document, hillshade=hillshade, words=words)).tags if "id" in a
    ]
    assert len(ids) == len(set(ids))
