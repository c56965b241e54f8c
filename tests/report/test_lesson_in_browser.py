# SPDX-License-Identifier: MIT
"""The lesson in a real browser: what it says against the core, runaways, keyboard, widths, no scripts, print, access."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from descent.lesson.accuracy import STATED
from descent.lesson.between import cell_of, corners, read
from descent.lesson.drive import drive
from descent.lesson.model import Choice
from descent.report.lesson_pack import outcomes_by_key
from descent.report.lesson_page import render_lesson
from descent.report.lesson_tell import Teller
from descent.report.lesson_words import lesson_words
from descent.report.shown import shown_for
from descent.report.words import load_words
from descent.units import MPH_MPS, POUND_KG, UnitSystem, c_to_fahrenheit
from lesson.lesson_sample import AXES, document, sample
from report.visit import WIDTHS, Browser, Visit

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("lesson")
    for system in UnitSystem:
        page = render_lesson(document(system), words=load_words("en"), say=lesson_words("en"))
        (folder / f"{system.value}.html").write_text(page, encoding="utf-8")
    return {system.value: folder / f"{system.value}.html" for system in UnitSystem}


class Lesson(Visit):
    """An open lesson with its controls and what they read."""

    def choose(self, letter: str, *, gear: int, stage: int, adjustment: int, braking: int, speed: int, weight: int) -> None:
        """Set the controls; speed and weight by their place on the slider."""
        box = self.page.locator(f"#choice-{letter}")
        for name, value in (("gear", gear), ("stage", stage), ("braking", braking)):
            box.locator(f"input[name={name}-{letter}][value='{value}']").check(force=True)
        box.locator(".adjustment").select_option(str(adjustment))
        for name, value in (("speed", speed), ("weight", weight)):
            box.locator(f"input.{name}").fill(str(value))

    def figures(self, letter: str) -> str:
        return str(self.page.locator(f"#choice-{letter} .figures").inner_text())

    def readings(self, letter: str) -> list[tuple[float, float, float]]:
        """Temperature, pressure and speed at every place of the slider."""
        found = []
        for at in range(len(sample().ground.ends_m)):
            self.page.locator("#place").fill(str(at))
            text = self.page.locator("#readout").inner_text().replace(",", "")
            part = re.search(rf"{letter.upper()}: (\d+)\D+(\d+)\D+(\d+)\u00a0mph", text)
            assert part is not None, text
            found.append((float(part[1]), float(part[2]), float(part[3])))
        return found


def key_choice(key: tuple[int, ...]) -> dict[str, int]:
    """Where the sliders of a grid point of the small lesson stand: one step a mile an hour, a thousand pounds."""
    speeds = AXES.speeds_mps[key[0]]
    pounds = [weight / POUND_KG for weight in AXES.weights_kg]
    steps = [1000 * k for k in range(-(-round(pounds[0]) // 1000), int(pounds[-1] // 1000) + 1) if 1000 * k < pounds[-1] - 500]
    return {"gear": key[0], "stage": key[1], "adjustment": key[2], "braking": key[3],
            "speed": round((speeds[key[4]] - speeds[0]) / MPH_MPS), "weight": len(steps)}


@pytest.mark.parametrize("key", [(0, 1, 0, 0, 2, 2), (1, 1, 0, 1, 1, 2), (2, 0, 2, 0, 2, 2), (2, 1, 1, 0, 1, 2)])
def test_on_the_grid_the_page_says_what_the_core_says(browser: Browser, pages: dict[str, Path], key: tuple[int, ...]) -> None:
    """Figures and curves of a computed choice against a march made here and now."""
    visit = Lesson(browser, pages["us"])
    visit.choose("a", **key_choice(key))
    gear, stage, adjustment, braking, speed, weight = key
    choice = Choice(AXES.gears[gear], AXES.stages[stage], AXES.adjustments[adjustment], AXES.brakings[braking],
                    AXES.speeds_mps[gear][speed], AXES.weights_kg[weight])
    core = drive(sample().ground, choice)
    assert visit.page.locator("#choice-a .how").inner_text() == "computed"
    hottest = int(re.search(r"Hottest brake ([\d,]+)", visit.figures("a"))[1].replace(",", ""))  # type: ignore[index]
    assert 0.0 <= hottest - c_to_fahrenheit(core.peak_c) < 1.2           # rounded up, from a tenth of a degree Celsius
    for (temp, pressure, fast), k in zip(visit.readings("a"), range(len(core.curve.temp_c)), strict=True):
        assert temp == pytest.approx(c_to_fahrenheit(core.curve.temp_c[k]), abs=0.5 + 0.2)
        assert pressure == pytest.approx(core.curve.pressure_kpa[k] / 6.894757, abs=0.5 + 0.05)
        assert -0.1 <= fast - core.curve.speed_mps[k] / MPH_MPS < 1.05


def test_between_the_page_reads_as_the_core_does_and_keeps_the_error(browser: Browser, pages: dict[str, Path]) -> None:
    """A choice off the grid in a readable cell, against Python's reading and against a direct march."""
    lesson, visit = sample(), Lesson(browser, pages["us"])
    cell = next(item for item in sorted(lesson.readable) if item[:4] == (1, 1, 0, 0))
    place = key_choice(cell) | {"speed": key_choice(cell)["speed"] + 1, "weight": 3}
    visit.choose("a", **place)
    speed = AXES.speeds_mps[1][0] + place["speed"] * MPH_MPS
    gross = (-(-round(AXES.weights_kg[0] / POUND_KG) // 1000) + 3) * 1000 * POUND_KG
    assert visit.page.locator("#choice-a .weight-value").inner_text().startswith(f"{gross / POUND_KG:,.0f}")
    inside = cell_of(AXES, cell[:4], speed, gross)
    assert inside in lesson.readable and "between" in visit.page.locator("#choice-a .how").inner_text()
    found = read(lesson.outcomes, corners(AXES, inside, speed, gross))
    direct = drive(lesson.ground, Choice(AXES.gears[1], 3, AXES.adjustments[0], AXES.brakings[0], speed, gross))
    for (temp, pressure, _), k in zip(visit.readings("a"), range(len(found.curve.temp_c)), strict=True):
        assert temp == pytest.approx(c_to_fahrenheit(found.curve.temp_c[k]), abs=0.5 + 0.2)
        assert pressure == pytest.approx(found.curve.pressure_kpa[k] / 6.894757, abs=0.5 + 0.05)
        assert abs(temp - c_to_fahrenheit(direct.curve.temp_c[k])) <= STATED[0] * 1.8 + 0.7
        assert abs(pressure - direct.curve.pressure_kpa[k] / 6.894757) <= STATED[1] / 6.894757 + 0.55


def test_across_a_runaway_nothing_is_read(browser: Browser, pages: dict[str, Path]) -> None:
    """Between computed choices among which one is lost the page shows one of them and says so."""
    visit = Lesson(browser, pages["us"])
    key = (2, 0, 2, 0, 1, 2)
    visit.choose("b", **(key_choice(key) | {"speed": key_choice(key)["speed"] + 2}))
    how = visit.page.locator("#choice-b .how").inner_text()
    assert "runaway" in how and "nothing is read across it" in how and re.search(r"Shown: (50|55)\u00a0mph", how)
    assert visit.page.locator("#choice-b .headline").inner_text() in ("RUNAWAY", "A stop is in doubt")


@pytest.mark.parametrize("number", range(5))
def test_the_story_is_the_same_in_the_page_and_in_the_script(browser: Browser, pages: dict[str, Path], number: int) -> None:
    """Two tellers, one in the page and one here, from one document."""
    small = document()
    teller = Teller(small, outcomes_by_key(small), shown_for("us", load_words("en")), lesson_words("en"))
    visit = Lesson(browser, pages["us"])
    visit.page.locator("#choice-b .preset").select_option(str(number))
    told = visit.page.locator("#story-b li").all_inner_texts()
    assert told == teller.story(tuple(small["presets"][number]["at"]))


def test_energy_shares_are_the_document_s(browser: Browser, pages: dict[str, Path]) -> None:
    small = document()
    teller = Teller(small, outcomes_by_key(small), shown_for("us", load_words("en")), lesson_words("en"))
    text = Lesson(browser, pages["us"]).page.locator(".energy-list").inner_text()
    row = teller.of("right-gear")
    for name, word in (("retarder_j", "retarder"), ("brakes_j", "service brakes")):
        shares = re.search(rf"{word}\s+A?\s*(\d+%)", text)
        assert shares is not None and shares[1] == teller.share(row, name)


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("system", ["us", "metric"])
def test_one_request_no_complaint_no_overflow(browser: Browser, pages: dict[str, Path], system: str, width: int) -> None:
    visit = Lesson(browser, pages[system], width=width)
    visit.page.locator("button.show").last.click()
    visit.page.locator("#choice-b .preset").select_option("4")
    assert visit.requests == [pages[system].as_uri()] and visit.complaints == []
    assert visit.page.evaluate("document.documentElement.scrollWidth") <= width
    assert visit.page.locator("#picture path").count() >= 8


def test_the_keyboard_is_enough(browser: Browser, pages: dict[str, Path]) -> None:
    page = Lesson(browser, pages["us"]).page
    page.locator("#choice-a input[name=gear-a]:checked").focus()
    before = page.locator("#choice-a .figures").inner_text()
    page.keyboard.press("ArrowRight")
    assert page.locator("#choice-a input[name=gear-a]:checked").get_attribute("value") == "1"
    page.keyboard.press("Tab")
    page.keyboard.press("Home")
    assert page.locator("#choice-a .speed-value").inner_text() == "18\u00a0mph"
    assert page.locator("#choice-a input.speed").get_attribute("aria-valuetext") == "18\u00a0mph"
    assert page.locator("#choice-a .figures").inner_text() != before
    page.locator("#place").focus()
    page.keyboard.press("End")
    assert page.locator("#readout").inner_text().startswith("Past the foot")


def test_a_question_sets_both_choices(browser: Browser, pages: dict[str, Path]) -> None:
    page = Lesson(browser, pages["us"]).page
    page.locator("button.show").nth(6).click()
    assert page.locator("#choice-b .preset option:checked").inner_text() == "Everything wrong"
    assert page.locator("#choice-b .headline").inner_text() == "RUNAWAY"
    assert "last full stop B" in page.locator("#picture").inner_text()


def test_complete_without_scripts(browser: Browser, pages: dict[str, Path]) -> None:
    page = Lesson(browser, pages["us"], java_script_enabled=False).page
    assert not page.locator("#play").is_visible() and page.locator("svg.gears.wide").is_visible()
    assert page.locator("#gears tbody tr").count() == 3 and page.locator(".static-story li").first.is_visible()
    page.locator(".answer summary").first.click()
    assert page.locator(".answer p").first.is_visible()


@pytest.mark.parametrize("width", [390, 1280])
def test_accessible(browser: Browser, pages: dict[str, Path], width: int) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")
    visit = Lesson(browser, pages["us"], width=width, bypass_csp=True)
    visit.page.locator("#choice-b .preset").select_option("4")
    visit.page.evaluate("document.querySelectorAll('details').forEach(box => { box.open = true; })")
    results = axe.Axe().run(visit.page)
    assert results.violations_count == 0, results.generate_report()


def test_the_sheets_print_on_one_page_each(browser: Browser, pages: dict[str, Path], tmp_path: Path) -> None:
    """US letter, upright: opening, script, sheet, answers, notes; each sheet's height fits the page."""
    visit = Lesson(browser, pages["us"])
    visit.page.emulate_media(media="print")
    visit.page.set_viewport_size({"width": 725, "height": 900})           # 215.9 mm less two margins of 12 mm
    for box in visit.page.locator(".sheet").all():
        assert box.bounding_box()["height"] <= (279.4 - 24) / 25.4 * 96
    target = tmp_path / "lesson.pdf"
    visit.page.pdf(path=target, prefer_css_page_size=True, print_background=True)
    count = len(re.findall(rb"/Type /Page\b(?!s)", target.read_bytes()))
    assert 5 <= count <= 7


def test_larger_text_does_not_break_the_page(browser: Browser, pages: dict[str, Path]) -> None:
    """Twice the text size at 640 px (WCAG 2.1, 1.4.4)."""
    page = Lesson(browser, pages["us"], width=640).page
    page.add_style_tag(content="html { font-size: 200%; }")
    assert page.evaluate("document.documentElement.scrollWidth") <= 640
