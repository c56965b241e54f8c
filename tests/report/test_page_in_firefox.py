# SPDX-License-Identifier: MIT
"""The page in a real Firefox, where one is installed: it must do there what it does in Chromium."""

from __future__ import annotations

import contextlib
import re
import zlib
from collections.abc import Iterator
from pathlib import Path

import pytest

from descent.report.html import render_trip
from descent.report.words import Words, load_words
from report.firefox import PROGRAM, Firefox, running_firefox
from report.make_document import FakeHillshade, make_document
from report.twelve_legs import twelve_legs

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(PROGRAM is None, reason="Firefox is not installed: sudo apt install firefox-esr"),
]


@pytest.fixture(scope="module")
def firefox() -> Iterator[Firefox]:
    with running_firefox() as browser:
        yield browser


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory, hillshade: FakeHillshade, words: Words) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("firefox")
    for name, document, spoken in (
        ("plan", make_document(), words),
        ("twelve", twelve_legs(units="metric"), load_words("es")),
    ):
        page = render_trip(document, hillshade=hillshade, words=spoken)
        (folder / f"{name}.html").write_text(page, encoding="utf-8")
    return {path.stem: path for path in folder.glob("*.html")}


@pytest.mark.parametrize("width", [500, 768, 1280])
@pytest.mark.parametrize("name", ["plan", "twelve"])
def test_live_map_and_no_request(firefox: Firefox, pages: dict[str, Path], name: str, width: int) -> None:
    """500 px is the narrowest window Firefox makes."""
    firefox.open(pages[name], width=width)
    asked = firefox.run("return performance.getEntriesByType('resource').map(e => e.name)")
    assert [url for url in asked if not url.startswith("data:")] == []
    assert firefox.run("return document.querySelectorAll('.map-sign').length") > 10
    assert firefox.run("return getComputedStyle(document.querySelector('.map-box')).display") == "block"
    assert firefox.run("return document.documentElement.scrollWidth - window.innerWidth") <= 0


def test_keyboard_moves_the_cursor(firefox: Firefox, pages: dict[str, Path]) -> None:
    firefox.open(pages["plan"])
    firefox.press("#place", "\ue010")  # End
    assert firefox.run("return document.getElementById('readout').textContent").startswith("mi 20.5,")
    moved = firefox.run("return document.querySelector('.strip.wide .cursor').getAttribute('transform')")
    assert float(re.findall(r"[\d.]+", moved)[0]) > 900.0
    assert firefox.run("return document.querySelectorAll(\".leaflet-overlay-pane path[fill='#fff']\").length") == 1


def test_rows_can_be_left_out(firefox: Firefox, pages: dict[str, Path]) -> None:
    firefox.open(pages["plan"])
    height = "return document.querySelector('.strip.wide').getBoundingClientRect().height"
    before = firefox.run(height)
    firefox.press("[data-shows=speed]", " ")
    assert firefox.run(height) < before - 100


def paper_sizes(pdf: bytes) -> list[tuple[float, float]]:
    """Width and height of each page [pt]; Firefox packs its page objects into compressed streams."""
    text = pdf
    for stream in re.findall(rb"stream\r?\n(.*?)endstream", pdf, flags=re.DOTALL):
        with contextlib.suppress(zlib.error):
            text += zlib.decompressobj().decompress(stream)
    boxes = re.findall(rb"/Type /Page\b(?!s).*?/MediaBox \[ 0 0 ([\d.]+) ([\d.]+) \]", text, flags=re.DOTALL)
    return [(float(width), float(height)) for width, height in boxes]


@pytest.mark.parametrize("name", ["plan", "twelve"])
def test_the_card_prints_on_one_lying_page(firefox: Firefox, pages: dict[str, Path], name: str) -> None:
    firefox.open(pages[name])
    sizes = paper_sizes(firefox.printed())
    lying = [size for size in sizes if size[0] > size[1]]
    assert len(lying) == 1 and sizes[-1] == lying[0] and 3 <= len(sizes) <= 9
