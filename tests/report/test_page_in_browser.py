# SPDX-License-Identifier: MIT
"""The page in a real browser: requests, complaints, widths, keyboard, no scripts, print, accessibility."""

from __future__ import annotations

import base64
import http.server
import re
import threading
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from descent.report.compare_document import CaseGiven, compare_document
from descent.report.compare_page import render_comparison
from descent.report.html import render_trip
from descent.report.plan_json import stable_document
from descent.report.tiles import tile_source
from descent.report.words import Words, load_words
from report.make_document import FakeHillshade, make_document, make_infeasible
from report.twelve_legs import twelve_legs
from report.visit import WIDTHS, Browser, Visit

pytestmark = pytest.mark.browser
DOT = ".leaflet-overlay-pane path[fill='#fff'][stroke='#15191d']"


def demo_like() -> dict[str, Any]:
    """Like the demonstration: no retarder, a leg after each stop, lower numbers on the legs, few snubs, a
    warning."""
    document = make_document()
    document["warnings"] = ["Heavier than the vehicle is rated for: 82,000 lb against 80,000 lb."]
    document["margin_c"] = 2.3
    document["vehicle"]["retarder_stages"] = []
    profile = document["profile"]
    profile["curve_limit_mps"] = [8.1 if 10000 <= s <= 11500 else None for s in profile["station_m"]]
    for leg in document["legs"]:
        leg |= {"retarder_stage": 0, "balance_speed_mps": None, "gear": "10L"}
    document["legs"][2]["snubs"] |= {"count": 1, "interval_s": None, "duration_s": 0.7}
    return document


def reverse_like(*, units: str = "us") -> dict[str, Any]:
    """Like a road driven the other way: one long leg held by the retarder, curves and a sign below its speed."""
    document = make_document(units=units)
    document["route"]["reversed"] = True
    document["legs"] = [{**document["legs"][0], "end_m": 28000.0, "snubs": None, "retarder_stage": 3}]
    document["stops"] = []
    profile = document["profile"]
    profile["curve_limit_mps"] = [
        8.1 if 9000 <= s <= 9400 or 12000 <= s <= 12400 else None for s in profile["station_m"]
    ]
    profile["posted_limit_mps"] = [8.95 if 24000 <= s <= 24500 else 22.0 for s in profile["station_m"]]
    return document


def many_bays(*, units: str = "us") -> dict[str, Any]:
    """Like the demonstration with three stops, lower numbers on each leg and bays enough for six lines."""
    document = demo_like()
    document["conditions"]["units"] = units
    bay = document["places"][8]
    document["places"] += [
        {**bay, "name": f"Long Shelf pull-out {n}", "station_m": 1500.0 + 4100.0 * n} for n in range(7)
    ]
    document["stops"] += [{**document["stops"][1], "station_m": 18000.0 + 900.0 * n, "place": None} for n in range(2)]
    profile = document["profile"]
    profile["curve_limit_mps"] = [
        8.1 if 9000 <= s <= 9400 or 20000 <= s <= 20400 else None for s in profile["station_m"]
    ]
    return document


@dataclass(frozen=True)
class Ring:
    """A closed contour."""

    height_m: float
    lonlat: Any


def ring_contours(document: dict[str, Any]) -> list[Ring]:
    """Rings around the middle of the road, as on a cone."""
    lon, lat = np.array(document["profile"]["lon"]), np.array(document["profile"]["lat"])
    turn = np.linspace(0.0, 2.0 * np.pi, 90)
    size = np.ptp(lon)
    return [
        Ring(30.48 * k, np.column_stack([lon.mean() + (0.5 - 0.03 * k) * size * np.cos(turn),
                                         lat.mean() + (0.4 - 0.024 * k) * size * np.sin(turn)]))
        for k in range(15)
    ]


@pytest.fixture(scope="module")
def pages(
    tmp_path_factory: pytest.TempPathFactory, hillshade: FakeHillshade, words: Words
) -> dict[str, Path]:
    """Written pages: a plan, a refusal, a plan with many rows on its card, and one with a hostile name."""
    folder = tmp_path_factory.mktemp("pages")
    crowded = make_document()
    ramp = next(place for place in crowded["places"] if place["kind"] == "escape-ramp")
    crowded["places"] += [
        {**ramp, "name": f"Escape ramp of the {n}th mile", "station_m": 20000.0 + 900 * n} for n in range(6)
    ]
    hostile = make_document(name="<img src=x onerror=\"document.title='hit'\"><b>Pass</b>" + "w" * 90)
    documents = {
        "plan": make_document(),
        "refusal": make_infeasible(),
        "crowded": crowded,
        "hostile": hostile,
        "metric": make_document(units="metric"),
        "demo-like": demo_like(),
        "reverse-like": reverse_like(),
        "reverse-metric": reverse_like(units="metric"),
        "twelve": twelve_legs(),
        "long": make_document(length_m=100_000.0),
        "twelve-metric": twelve_legs(units="metric"),
        "bays": many_bays(),
        "bays-metric": many_bays(units="metric"),
    }
    for name, document in documents.items():
        (folder / f"{name}.html").write_text(
            render_trip(document, hillshade=hillshade, words=words), encoding="utf-8"
        )
    (folder / "contours.html").write_text(
        render_trip(make_document(), hillshade=hillshade, words=words, contours=ring_contours(documents["plan"])),
        encoding="utf-8",
    )
    (folder / "spanish.html").write_text(
        render_trip(make_document(), hillshade=hillshade, words=load_words("es")), encoding="utf-8"
    )
    (folder / "bays-spanish.html").write_text(
        render_trip(many_bays(), hillshade=hillshade, words=load_words("es")), encoding="utf-8"
    )
    (folder / "spanish-twelve.html").write_text(
        render_trip(twelve_legs(units="metric"), hillshade=hillshade, words=load_words("es")), encoding="utf-8"
    )
    return {path.stem: path for path in folder.glob("*.html")}


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize(
    "name", ["plan", "refusal", "crowded", "hostile", "metric", "twelve", "spanish", "spanish-twelve"]
)
def test_one_request_no_complaint_no_overflow(
    browser: Browser, pages: dict[str, Path], name: str, width: int
) -> None:
    visit = Visit(browser, pages[name], width=width)
    visit.page.mouse.wheel(0, 20000)
    visit.page.locator(".leaflet-control-zoom-in").click()
    visit.page.wait_for_timeout(300)
    assert visit.fetched() == [pages[name].as_uri()]
    assert visit.complaints == []
    assert visit.page.evaluate("document.documentElement.scrollWidth") == width


def test_the_policy_blocks_what_a_page_should_not_do(browser: Browser, pages: dict[str, Path]) -> None:
    visit = Visit(browser, pages["plan"])
    visit.page.evaluate("""() => { const i = new Image(); i.src = 'file:///x.png'; document.body.append(i);
        const s = document.createElement('script'); s.textContent = 'window.ran = 1'; document.body.append(s);
        return fetch('file:///y').catch(() => 0); }""")
    visit.page.wait_for_timeout(200)
    assert visit.page.evaluate("window.ran") is None
    assert len([text for text in visit.complaints if "Content Security Policy" in text]) >= 3


def test_keyboard_moves_the_cursor(browser: Browser, pages: dict[str, Path]) -> None:
    page = Visit(browser, pages["plan"]).page
    slider = page.get_by_label("Place on the road")
    slider.focus()
    before = page.locator(".strip.wide .cursor").get_attribute("transform")
    for _ in range(40):
        page.keyboard.press("ArrowRight")
    assert page.locator(".strip.wide .cursor").get_attribute("transform") != before
    assert page.locator("#readout").inner_text().startswith("mi 4.0,")
    assert slider.get_attribute("aria-valuetext") == page.locator("#readout").text_content()
    page.keyboard.press("End")
    assert page.locator("#readout").inner_text().startswith("mi 20.5,")


def test_pointer_on_the_strip_moves_the_dot_on_the_map(browser: Browser, pages: dict[str, Path]) -> None:
    page = Visit(browser, pages["plan"]).page
    strip = page.locator(".strip.wide")
    strip.evaluate("strip => { strip.scrollIntoView(); window.scrollBy(0, -150); }")
    area = strip.bounding_box()
    places = []
    for share in (0.2, 0.8):
        page.mouse.move(area["x"] + share * area["width"], area["y"] + 200)
        places.append((page.locator("#readout").inner_text(), page.locator(DOT).get_attribute("d")))
    assert places[0][0] != places[1][0] and places[0][1] != places[1][1]
    assert page.locator("#place").input_value() != "0"


def test_road_on_the_map_moves_the_cursor(browser: Browser, pages: dict[str, Path]) -> None:
    page = Visit(browser, pages["plan"]).page
    page.locator(".map-box").scroll_into_view_if_needed()
    area = page.locator(".map-sign[title='Red Bank escape ramp']").bounding_box()
    page.mouse.move(area["x"] + area["width"] / 2 + 25, area["y"] + area["height"] / 2 + 4)
    assert re.match(r"mi 1[5-6]\.", page.locator("#readout").inner_text())


def test_finger(browser: Browser, pages: dict[str, Path]) -> None:
    page = Visit(browser, pages["plan"], width=390, has_touch=True, is_mobile=True).page
    strip = page.locator(".strip.narrow")
    strip.evaluate("strip => { strip.scrollIntoView(); window.scrollBy(0, -180); }")
    strip.tap(position={"x": 200, "y": 120})
    assert not page.locator("#readout").inner_text().startswith("mi 0.0")


def test_sign_opens_a_popup_by_keyboard(browser: Browser, pages: dict[str, Path]) -> None:
    page = Visit(browser, pages["plan"]).page
    page.locator(".map-sign[title='Cool down']").focus()
    page.keyboard.press("Enter")
    assert "Quiet Meadow pull-out, right side" in page.locator(".leaflet-popup-content").inner_text()


def test_complete_without_scripts(browser: Browser, pages: dict[str, Path]) -> None:
    page = Visit(browser, pages["plan"], java_script_enabled=False).page
    for part in (".static-map", ".strip.wide", "#card"):
        area = page.locator(part).bounding_box()
        assert area["width"] > 600 and area["height"] > 250, part
    assert not page.locator(".map-box").is_visible() and not page.locator("#place").is_visible()


def test_live_map_takes_the_still_maps_place(browser: Browser, pages: dict[str, Path]) -> None:
    page = Visit(browser, pages["plan"]).page
    assert page.locator(".map-box .leaflet-image-layer").count() == 1
    assert page.locator(".leaflet-control-attribution").count() == 0
    assert page.locator(".static-map").bounding_box()["width"] <= 1


# Pairs of texts that cover each other: of two heads of one table, of a big number and anything else in its row,
# and texts that stick out of their table cell. A text's box is cut by an eighth above and below, where a line has
# no ink.
OVERLAPS = """() => {
  const boxes = element => {
    const walk = document.createTreeWalker(element, NodeFilter.SHOW_TEXT), found = [];
    while (walk.nextNode()) {
      if (!walk.currentNode.data.trim() || walk.currentNode.parentElement.closest('.hidden')) { continue; }
      const range = document.createRange();
      range.selectNodeContents(walk.currentNode);
      for (const r of range.getClientRects()) {
        found.push({l: r.left, r: r.right, t: r.top + r.height / 8, b: r.bottom - r.height / 8,
          node: walk.currentNode, text: walk.currentNode.data.trim()});
      }
    }
    return found;
  };
  const meet = (a, b) => a.l < b.r - .5 && b.l < a.r - .5 && a.t < b.b - .5 && b.t < a.b - .5;
  const faults = [];
  for (const table of document.querySelectorAll('.card-rows, .rows.legs')) {
    for (const row of table.rows) {
      const cells = Array.from(row.cells, boxes), all = cells.flat(), head = row.parentElement.tagName === 'THEAD';
      if (head && getComputedStyle(row.parentElement).position === 'absolute') { continue; }
      for (const a of all) {
        if (!head && !a.node.parentElement.closest('.huge, .big > span')) { continue; }
        for (const b of all) { if (a.node !== b.node && meet(a, b)) { faults.push(a.text + ' | ' + b.text); } }
      }
      Array.from(row.cells).forEach((cell, i) => cells[i].forEach(box => {
        const area = cell.getBoundingClientRect();
        if (area.width > 2 && (box.r > area.right + .5 || box.l < area.left - .5)) { faults.push('out: ' + box.text); }
      }));
    }
  }
  return faults;
}"""
LETTER_CARD_PX = 988  # 279.4 mm less two margins of 9 mm, at 96 dots to the inch


@pytest.mark.parametrize("name", ["plan", "demo-like", "reverse-like", "reverse-metric", "metric", "crowded", "twelve", "spanish",
                                  "spanish-twelve"])
def test_heads_and_big_numbers_cover_nothing(browser: Browser, pages: dict[str, Path], name: str) -> None:
    page = Visit(browser, pages[name]).page
    assert page.locator("#card .huge").count() >= 2
    for width, media in (
        (390, "screen"),
        (768, "screen"),
        (1000, "screen"),
        (1280, "screen"),
        (LETTER_CARD_PX, "print"),
    ):
        page.emulate_media(media=media)
        page.set_viewport_size({"width": width, "height": 900})
        assert page.evaluate(OVERLAPS) == [], (width, media)


def test_the_overlap_check_sees_an_overlap(browser: Browser, pages: dict[str, Path]) -> None:
    page = Visit(browser, pages["reverse-like"]).page
    page.add_style_tag(content=".card-rows thead th { white-space: nowrap; font-size: 24px; }")
    assert page.evaluate(OVERLAPS) != []


def test_signs_on_the_live_map_cover_no_other(browser: Browser, pages: dict[str, Path]) -> None:
    page = Visit(browser, pages["plan"]).page
    covered = page.evaluate("""() => {
      const signs = Array.from(document.querySelectorAll('.map-sign')).filter(sign =>
        +sign.querySelector('.map-leader').dataset.rank < 9 && !sign.classList.contains('away'));
      const area = signs.map(sign => {
        const r = sign.querySelector('svg').getBoundingClientRect();
        return {l: r.left, r: r.right, t: r.top, b: r.top + r.width};
      });
      return area.filter((a, i) => area.some((b, j) => j > i && a.l < b.r - .5 && b.l < a.r - .5
        && a.t < b.b - .5 && b.t < a.b - .5)).length;
    }""")
    assert covered == 0
    for label in ("Cool down 20\u00a0min", "Gray Fir Summit", "Lark Hollow", "Twin Alder", "Low Ford"):
        assert page.locator(".map-label:not(.away)", has_text=label).is_visible(), label


def test_the_readout_marks_thousands(browser: Browser, pages: dict[str, Path]) -> None:
    page = Visit(browser, pages["plan"]).page
    assert re.search(r", \d,\d{3} ft,", page.locator("#readout").inner_text())


def printed(browser: Browser, path: Path, folder: Path) -> list[tuple[float, float]]:
    """The sizes of the printed pages in points."""
    visit = Visit(browser, path)
    target = folder / "page.pdf"
    visit.page.pdf(path=target, prefer_css_page_size=True, print_background=True)
    boxes = re.findall(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)\s*\]", target.read_bytes())
    sizes = [(float(width), float(height)) for width, height in boxes]
    assert len(re.findall(rb"/Type /Page\b(?!s)", target.read_bytes())) == len(sizes)
    return sizes


@pytest.mark.parametrize(
    ("name", "paper"),
    [
        ("plan", (792.0, 612.0)),
        ("crowded", (792.0, 612.0)),
        ("demo-like", (792.0, 612.0)),
        ("reverse-like", (792.0, 612.0)),
        ("twelve", (792.0, 612.0)),
        ("metric", (841.9, 595.3)),
        ("twelve-metric", (841.9, 595.3)),
        ("bays", (792.0, 612.0)),
        ("bays-metric", (841.9, 595.3)),
        ("bays-spanish", (792.0, 612.0)),
        ("spanish", (792.0, 612.0)),
        ("spanish-twelve", (841.9, 595.3)),
        ("reverse-metric", (841.9, 595.3)),
    ],
)
def test_card_prints_on_one_page(
    browser: Browser, pages: dict[str, Path], tmp_path: Path, name: str, paper: tuple[float, float]
) -> None:
    """US letter is 612 by 792 points, ISO 216 A4 210 by 297 mm: the report upright, then one card lying."""
    sizes = printed(browser, pages[name], tmp_path)
    lying = [size for size in sizes if size[0] > size[1]]
    assert lying == [pytest.approx(paper, abs=1.0)] and sizes[-1] == lying[0]
    assert 3 <= len(sizes) <= 9


def test_refusal_prints_no_card(browser: Browser, pages: dict[str, Path], tmp_path: Path) -> None:
    assert all(width < height for width, height in printed(browser, pages["refusal"], tmp_path))


@pytest.mark.parametrize("width", [390, 1280])
@pytest.mark.parametrize("name", ["plan", "refusal", "demo-like", "contours", "spanish-twelve"])
def test_accessible(browser: Browser, pages: dict[str, Path], name: str, width: int) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")
    # the checker puts itself into the page, which the page's own policy forbids
    visit = Visit(browser, pages[name], width=width, bypass_csp=True)
    results = axe.Axe().run(visit.page)
    assert results.violations_count == 0, results.generate_report()


def test_rows_can_be_left_out(browser: Browser, pages: dict[str, Path]) -> None:
    """By keyboard; the strip gets shorter, the cursor and what is below follow; a new visit shows all again."""
    page = Visit(browser, pages["plan"]).page
    strip = page.locator(".strip.wide")
    before = strip.bounding_box()["height"]
    below = strip.locator("g[data-row=pressure] text").first
    was = below.bounding_box()["y"] - strip.bounding_box()["y"]
    choice = page.get_by_label("Speed", exact=True)
    choice.focus()
    page.keyboard.press("Space")
    assert not choice.is_checked()
    gone = strip.locator("g[data-row=speed]")
    assert not gone.is_visible() and strip.locator(".cursor path[data-row=speed]").bounding_box() is None
    shorter = before - strip.bounding_box()["height"]
    assert shorter > 100
    assert was - (below.bounding_box()["y"] - strip.bounding_box()["y"]) == pytest.approx(shorter, abs=2.0)
    page.keyboard.press("Space")
    assert strip.bounding_box()["height"] == pytest.approx(before, abs=0.5) and gone.is_visible()
    page.keyboard.press("Space")
    assert page.evaluate("window.localStorage.length + document.cookie.length") == 0
    page.reload()
    assert page.get_by_label("Speed", exact=True).is_checked()


def test_a_page_that_keeps_something_is_seen(browser: Browser, pages: dict[str, Path]) -> None:
    """By what every test of a page ends with."""
    Visit(browser, pages["plan"]).page.evaluate("localStorage.setItem('speed', 'left out')")
    with pytest.raises(AssertionError, match="keep something"):
        browser.clear()
    assert Visit(browser, pages["plan"]).page.evaluate("localStorage.length") == 0


def test_every_row_is_there_without_scripts(browser: Browser, pages: dict[str, Path]) -> None:
    page = Visit(browser, pages["plan"], java_script_enabled=False).page
    assert not page.locator(".row-choice").is_visible()
    for row in ("grade", "speed", "gear", "temperature", "stopping", "pressure", "reservoir"):
        assert page.locator(f".strip.wide g[data-row={row}]").is_visible(), row


def test_contours_lie_under_the_route_on_both_maps(browser: Browser, pages: dict[str, Path]) -> None:
    """At the same place: a bend of a contour is as far from the route's start on the live map as on the still one."""
    live = Visit(browser, pages["contours"]).page
    assert live.locator(".contour-sheet path").count() == 2
    order = live.evaluate("""() => [getComputedStyle(document.querySelector('.contour-sheet')).zIndex,
      getComputedStyle(document.querySelector('.leaflet-overlay-pane > svg:not(.contour-sheet)')).zIndex].map(Number)""")
    assert order[0] < order[1]
    numbers = live.locator(".contour-labels text")
    tall = numbers.first.bounding_box()["height"]
    live.locator(".leaflet-control-zoom-in").click()
    live.wait_for_timeout(400)
    assert numbers.first.bounding_box()["height"] == pytest.approx(tall, rel=0.1)
    still = Visit(browser, pages["contours"], java_script_enabled=False).page
    assert still.locator(".static-map #contours path").count() == 2 and still.get_by_text("Contours every").is_visible()


class TileServer(http.server.ThreadingHTTPServer):
    """Answers every path with one small picture and keeps a list of what was asked for."""

    PICTURE = base64.b64decode("R0lGODlhAQABAIAAAAAAAP///yH5BAEAAAAALAAAAAABAAEAAAIBRAA7")

    def __init__(self) -> None:
        asked = self.asked = []

        class Handler(http.server.BaseHTTPRequestHandler):
            def do_GET(self) -> None:
                asked.append((self.path, self.headers.get("Referer")))
                self.send_response(200)
                self.send_header("Content-Type", "image/gif")
                self.end_headers()
                self.wfile.write(TileServer.PICTURE)

            def log_message(self, *_: object) -> None:
                pass

        super().__init__(("127.0.0.1", 0), Handler)


def test_the_online_map_is_asked_only_while_it_is_on(
    browser: Browser, tmp_path: Path, hillshade: FakeHillshade, words: Words
) -> None:
    server = TileServer()
    threading.Thread(target=server.serve_forever, daemon=True).start()
    try:
        here = f"http://127.0.0.1:{server.server_address[1]}"
        tiles = tile_source(here + "/road/{z}/{x}/{y}.gif", credit="Survey office")
        path = tmp_path / "tiles.html"
        path.write_text(render_trip(make_document(), hillshade=hillshade, words=words, tiles=tiles), encoding="utf-8")
        visit = Visit(browser.without_a_past(), path)
        visit.page.locator(".leaflet-control-zoom-in").click()
        visit.page.wait_for_timeout(300)
        assert server.asked == [] and visit.fetched() == [path.as_uri()]
        assert not visit.page.get_by_text("Survey office").is_visible()
        visit.page.get_by_label("Online map").check()
        visit.page.wait_for_timeout(500)
        assert len(server.asked) >= 4 and all(re.fullmatch(r"/road/\d+/\d+/\d+\.gif", url) for url, _ in server.asked)
        assert {referer for _, referer in server.asked} == {None}
        assert visit.page.get_by_text("Survey office").is_visible() and visit.complaints == []
        assert not visit.page.locator(".leaflet-image-layer:not(.contour-sheet)").is_visible()
        visit.page.get_by_label("Online map").uncheck()
        asked = len(server.asked)
        visit.page.locator(".leaflet-control-zoom-out").click()
        visit.page.wait_for_timeout(300)
        assert len(server.asked) == asked
        # and nobody else may be asked
        visit.page.evaluate("() => { const i = new Image(); i.src = 'http://127.0.0.2:9/x.png'; document.body.append(i); }")
        visit.page.wait_for_timeout(200)
        assert any("Content Security Policy" in text for text in visit.complaints)
    finally:
        server.shutdown()
        server.server_close()


def test_first_paint_of_a_hundred_kilometres(browser: Browser, pages: dict[str, Path]) -> None:
    """The target is 300 ms; the bound here leaves room for a busy machine, the benchmark measures."""
    page = Visit(browser.without_a_past(), pages["long"]).page
    paint = page.evaluate("performance.getEntriesByName('first-contentful-paint')[0].startTime")
    assert pages["long"].stat().st_size < 1_000_000
    assert 0 < paint < 1500


def test_hostile_name_stays_text(browser: Browser, pages: dict[str, Path]) -> None:
    page = Visit(browser, pages["hostile"]).page
    assert page.locator("h1").inner_text().startswith("<img src=x onerror=")
    assert page.locator("main img:not(.leaflet-image-layer)").count() == 0 and page.title() != "hit"


def test_larger_text_does_not_break_the_page(browser: Browser, pages: dict[str, Path]) -> None:
    """Twice the text size at 640 px, as a reader with weak eyes sets it (WCAG 2.1, 1.4.4)."""
    page = Visit(browser, pages["plan"], width=640).page
    page.add_style_tag(content="html { font-size: 200%; }")
    assert page.evaluate("document.documentElement.scrollWidth") <= 640


@pytest.mark.parametrize("width", WIDTHS)
def test_the_comparison_stands_alone_and_is_accessible(browser: Browser, tmp_path: Path, width: int) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")
    document = compare_document([(CaseGiven("", "road", "working"), stable_document(make_document())),
                                 (CaseGiven("", "road", "out"), stable_document(make_infeasible()))])
    path = tmp_path / "compare.html"
    path.write_text(render_comparison(stable_document(document)), encoding="utf-8")
    visit = Visit(browser, path, width=width)
    assert visit.fetched() == [path.as_uri()] and visit.complaints == []
    assert visit.page.evaluate("document.documentElement.scrollWidth") <= width
    results = axe.Axe().run(Visit(browser, path, width=width, bypass_csp=True).page)
    assert results.violations_count == 0, results.generate_report()
