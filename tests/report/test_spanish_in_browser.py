# SPDX-License-Identifier: MIT
"""Spanish comparison, lesson and debrief in a real browser: longer words are not clipped, do not collide, and print whole."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from descent.report.compare_page import render_comparison
from descent.report.debrief_page import render_debrief
from descent.report.debrief_words import debrief_words
from descent.report.lesson_page import render_lesson
from descent.report.lesson_words import lesson_words
from descent.report.words import load_words
from descent.units import UnitSystem
from lesson.lesson_sample import document as lesson_document
from report.test_spanish_pages import comparison, drive
from report.visit import Visit

pytestmark = pytest.mark.browser

# Boxes whose content is wider than they are, and texts of pictures that leave their picture; tables' heads that only a
# screen reader meets are left out.
CLIPPED = """() => [...document.querySelectorAll("body *")].filter(item => {
  if (!item.checkVisibility() || item.closest(".hidden, .skip")) { return false; }
  const head = item.closest("thead");
  if (head && getComputedStyle(head).position === "absolute") { return false; }
  if (item instanceof SVGTextElement) {
    const text = item.getBoundingClientRect(), all = item.ownerSVGElement.getBoundingClientRect();
    return text.width > 0 && (text.left < all.left - 1 || text.right > all.right + 1 || text.top < all.top - 1
      || text.bottom > all.bottom + 1);
  }
  return item instanceof HTMLElement && getComputedStyle(item).display !== "inline" && item.clientWidth > 0
    && item.scrollWidth > item.clientWidth + 1;
}).map(item => item.tagName + " " + item.textContent.trim().slice(0, 60))"""
COLLIDING = """() => [...document.querySelectorAll("svg")].filter(svg => svg.checkVisibility()).flatMap(svg => {
  const texts = [...svg.querySelectorAll("text")].map(item => [item.textContent, item.getBoundingClientRect()])
    .filter(item => item[1].width > 0);
  return texts.flatMap(([one, a], k) => texts.slice(k + 1).filter(([, b]) =>
    Math.min(a.right, b.right) - Math.max(a.left, b.left) > 2 && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 4)
    .map(([other]) => one + " / " + other));
})"""


@pytest.fixture(scope="module")
def spanish_pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder, found = tmp_path_factory.mktemp("spanish"), {}
    for system in UnitSystem:
        texts = {"compare": render_comparison(comparison(system), language="es"),
                 "lesson": render_lesson(lesson_document(system), words=load_words("es"), say=lesson_words("es")),
                 "debrief": render_debrief(drive(system, engine=system is UnitSystem.US), words=debrief_words("es"))}
        for name, text in texts.items():
            found[f"{name}-{system.value}"] = folder / f"{name}-{system.value}.html"
            found[f"{name}-{system.value}"].write_text(text, encoding="utf-8")
    return found


@pytest.mark.parametrize("width", [390, 1280])
@pytest.mark.parametrize("name", ["compare-us", "compare-metric", "lesson-us", "lesson-metric", "debrief-us", "debrief-metric"])
def test_nothing_is_clipped(browser: Any, spanish_pages: dict[str, Path], name: str, width: int) -> None:
    visit = Visit(browser, spanish_pages[name], width=width)
    page = visit.page
    page.evaluate("document.querySelectorAll('details').forEach(box => { box.open = true; })")
    for preset in range(page.locator("#choice-b .preset option").count() - 1 if name.startswith("lesson") else 1):
        if name.startswith("lesson"):
            page.locator("#choice-b .preset").select_option(str(preset))
        assert page.evaluate(CLIPPED) == []
        if not name.startswith("compare"):                   # a stop's minutes may touch the limit's words there
            assert page.evaluate(COLLIDING) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert page.evaluate("document.documentElement.lang") == "es"
    assert visit.complaints == []


@pytest.mark.parametrize(("system", "tall_mm", "wide_mm"), [("us", 279.4, 215.9), ("metric", 297.0, 210.0)])
def test_the_sheets_for_the_class_print_on_one_page_each(browser: Any, spanish_pages: dict[str, Path], tmp_path: Path,
                                                         system: str, tall_mm: float, wide_mm: float) -> None:
    """The paper less two margins of 12 mm, at 96 px an inch."""
    page = Visit(browser, spanish_pages[f"lesson-{system}"]).page
    page.emulate_media(media="print")
    page.set_viewport_size({"width": int((wide_mm - 24) / 25.4 * 96), "height": 900})
    sheets = page.locator(".sheet").all()
    assert len(sheets) == 2
    for box in sheets:
        assert box.bounding_box()["height"] <= (tall_mm - 24) / 25.4 * 96
    assert page.evaluate(CLIPPED) == []
    target = tmp_path / "lesson.pdf"
    page.pdf(path=target, prefer_css_page_size=True, print_background=True)
    assert 5 <= len(re.findall(rb"/Type /Page\b(?!s)", target.read_bytes())) <= 7


def test_the_bench_speaks_spanish(browser: Any, spanish_pages: dict[str, Path]) -> None:
    page = Visit(browser, spanish_pages["lesson-metric"]).page
    page.locator("#choice-b .preset").select_option("4")
    assert page.locator("#choice-b .headline").inner_text() == "SIN CONTROL"
    assert re.search(r"\d\u00a0%", page.locator(".energy-list").inner_text())
    assert "última detención completa B" in page.locator("#picture").inner_text()
    assert re.match(r"\d+,\d\u00a0km después de la cima\. A: \d+\u00a0°C", page.locator("#readout").inner_text())
