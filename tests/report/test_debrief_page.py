# SPDX-License-Identifier: MIT
"""The debrief's page: every figure is the core's, its words are whole, and a browser finds nothing to complain about."""

from __future__ import annotations

import json
import re
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import descent.report
from debrief.made_drives import debrief_of, driven, planned, recorded, with_engine_speed
from descent.debrief.model import Debrief
from descent.report.debrief_document import debrief_document
from descent.report.debrief_page import debrief_files, render_debrief
from descent.report.debrief_strip import debrief_strips
from descent.report.debrief_text import debrief_text
from descent.report.debrief_words import debrief_words
from descent.report.plan_json import stable_document
from descent.report.shown import shown_for
from descent.request import HeightSource, PlanRequest, RoadRequest
from descent.units import UnitSystem
from report.visit import WIDTHS, Browser, Visit

FOLDER = Path(descent.report.__file__).parent
NAME = ("tractor-semitrailer-retarder", 36287.0)
Made = tuple[Debrief, dict[str, Any]]


def made(*, system: UnitSystem, engine: bool, faster_mps: float) -> Made:
    plan = planned(*NAME)
    truth = driven(plan, faster_mps=faster_mps)
    debrief = debrief_of(plan, with_engine_speed(plan, truth, recorded(plan, truth, 1)), engine=engine, draws=20)
    request = PlanRequest(RoadRequest("road.geojson", HeightSource.DEM), None, NAME[0], NAME[1], 20.0, 65.6, system=system)
    return debrief, stable_document(debrief_document(debrief, request, recording="drive.csv", plan=None, seed=1))


@pytest.fixture(scope="module")
def metric_drive() -> Made:
    return made(system=UnitSystem.METRIC, engine=True, faster_mps=1.6)


@pytest.fixture(scope="module")
def us_drive() -> Made:
    return made(system=UnitSystem.US, engine=False, faster_mps=0.0)


class Texts(HTMLParser):
    """Texts of a page by table class and row, and of its facts."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.rows: dict[str, list[list[str]]] = {}
        self.facts: dict[str, str] = {}
        self.table, self.cell, self.term, self.tags = "", False, "", [""]
        self.feed(page)

    def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        held = dict(attributes)
        if tag == "table":
            self.table = str(held["class"]).removeprefix("rows ")
            self.rows[self.table] = []
        elif tag == "tr" and self.table:
            self.rows[self.table].append([])
        elif tag in ("td", "th") and self.table:
            self.rows[self.table][-1].append("")
            self.cell = True
        self.tags.append(tag)

    def handle_endtag(self, tag: str) -> None:
        self.tags.pop()
        if tag in ("td", "th"):
            self.cell = False
        elif tag == "table":
            self.table = ""

    def handle_data(self, data: str) -> None:
        text = data.replace("\u00a0", " ")
        if self.table and self.cell and text.strip():
            self.rows[self.table][-1][-1] += f"{text.strip()}|"
        elif self.tags[-1] == "dt":
            self.term = text.strip()
        elif self.tags[-1] == "dd" and self.term:
            self.facts[self.term] = text.strip()
            self.term = ""


def up(value: float) -> int:
    return int(np.ceil(value - 1e-6))


def test_every_figure_on_the_page_is_the_cores_in_metric(metric_drive: Made) -> None:
    """Written out here by hand from the core's own numbers, not through the page's helpers."""
    debrief, document = metric_drive
    page = Texts(render_debrief(document, words=debrief_words("en")))
    hottest, heat = debrief.hottest, debrief.heat
    assert page.facts["Hottest brake"] == f"{up(heat.peaks_c[hottest].value)} °C"
    trace = debrief.planned.trace
    assert page.facts["Hottest, plan as written"] == f"{up(float(trace.temp_c[:, hottest].max()))} °C"
    assert page.facts["Time on the road"] == f"{up(debrief.seconds / 60)} min"
    planned_j = float(trace.work_j[debrief.planned.task.profile.index_at(debrief.start_m):
                                   debrief.planned.task.profile.index_at(debrief.end_m), 0].sum())
    assert page.facts["Taken by the service brakes"] == f"{100 * heat.energy_j.value / planned_j:.0f}% of the plan"
    legs = page.rows["driven_legs"][1:]
    for row, leg in zip(legs, debrief.legs, strict=True):
        assert row[0] == f"{leg.number}|km {leg.start_m / 1000:.1f}–{leg.end_m / 1000:.1f}|"
        assert row[2].startswith(f"{up(3.6 * leg.top_mps - 1e-3)} km/h|")
        assert row[3] == f"{100 * leg.share_over:.0f}%|"
        assert row[5].startswith(f"{leg.energy_j.value / 1e6:.0f} MJ|")
        assert row[6] == f"{up(leg.peak_c.value)} °C|plan {up(leg.planned_peak_c)} °C|"
        assert row[7] == f"{up(leg.moving_s / 60)} min|plan {up(leg.planned_s / 60)} min|"
    for row, stop in zip(page.rows["driven_stops"][1:], debrief.stops, strict=True):
        assert row[0] == f"{stop.place}|km {stop.station_m / 1000:.1f}|"
        assert row[2:4] == [f"{stop.planned_minutes:.0f} min|", f"{stop.real_minutes:.0f} min|"]
        assert row[5] == f"{up(stop.arrive_c)} °C on stopping, {up(stop.leave_c)} °C on leaving|"
    left = page.rows["departures"][1:]
    assert len(left) == len(debrief.departures) > 0
    for row, item in zip(left, debrief.departures, strict=True):
        assert row[0] == f"km {item.start_m / 1000:.1f}–{item.end_m / 1000:.1f}|"
        seconds, kelvin = round(item.cost_s), round(item.cost_k)
        assert re.sub(r"\D", "", row[2]) == str(abs(seconds) if abs(item.cost_s) < 119.5 else round(abs(item.cost_s) / 60))
        assert row[3] == ("no change|" if abs(item.cost_k) < 0.5 else f"{'+' if kelvin > 0 else '−'}{abs(kelvin)} °C|")
    for row, axle in zip(page.rows["driven_axles"][1:], debrief.planned.task.vehicle.axles, strict=True):
        rows = [i for i, item in enumerate(debrief.planned.task.vehicle.rows)
                if debrief.planned.task.vehicle.axles[item.axle].name == axle.name]
        peak = max((heat.peaks_c[i] for i in rows), key=lambda band: band.value)
        assert row[:3] == [f"{axle.name}|", f"{up(peak.value)} °C|", f"{int(np.floor(peak.low))} °C to {up(peak.high)} °C|"]


def test_us_units_are_the_same_numbers(us_drive: Made) -> None:
    debrief, document = us_drive
    page = Texts(render_debrief(document, words=debrief_words("en")))
    assert page.facts["Hottest brake"] == f"{up(1.8 * debrief.heat.peaks_c[debrief.hottest].value + 32)} °F"
    for row, leg in zip(page.rows["driven_legs"][1:], debrief.legs, strict=True):
        assert row[2].startswith(f"{up(leg.top_mps / 0.44704 - 1e-3)} mph|")
        assert row[1].startswith("not recorded|plan ")
    assert "Between, were the gear known|" in page.rows["driven_axles"][0]


def test_the_document_holds_the_cores_columns(metric_drive: Made) -> None:
    debrief, document = metric_drive
    series, motion = document["series"], debrief.drive.motion
    n = len(motion.time_s)
    assert all(len(column) == n for column in series.values() if isinstance(column, list))
    assert np.allclose(series["station_m"], motion.station_m, atol=1e-3)
    assert np.allclose(series["speed_mps"], motion.speed_mps, atol=1e-4)
    work = np.array(series["brake_power_w"])[:-1] * np.diff(motion.time_s)
    assert work.sum() == pytest.approx(document["energy"]["brakes_j"]["value"], rel=1e-4)
    name = document["hottest_axle"]
    assert max(series["brake_temp_c"][name]) == pytest.approx(debrief.heat.peaks_c[debrief.hottest].value, abs=1e-3)
    for low, middle, high in zip(series["brake_temp_low_c"][name], series["brake_temp_c"][name],
                                 series["brake_temp_high_c"][name], strict=True):
        assert low <= middle <= high


def test_the_strip_ends_where_the_drive_ends_and_its_curve_peaks_at_the_peak(metric_drive: Made) -> None:
    _, document = metric_drive
    strip = str(debrief_strips(document, shown_for("metric", debrief_words("en"))))
    drawn = [d for d in re.findall(r'd="(M[\d.,\s-]+)"[^>]*stroke="#0b4f6c"[^>]*stroke-width="2.2"', strip)]
    assert len(drawn) == 2
    points = np.array([[float(v) for v in pair.split(",")] for pair in drawn[0][1:].split()])
    ticks = re.findall(r'x="48" y="([\d.]+)"[^>]*>(\d+)</text>', strip.split("°C)")[1].split("</svg>")[0])
    (y0, t0), (y1, t1) = [(float(y) - 0.35 * 13.0, float(t)) for y, t in (ticks[0], ticks[-1])]
    highest = t0 + (points[:, 1].min() - y0) / (y1 - y0) * (t1 - t0)
    peak = max(document["series"]["brake_temp_c"][document["hottest_axle"]])
    assert highest == pytest.approx(peak, abs=1.5)


def test_the_terminal_says_the_same(metric_drive: Made) -> None:
    debrief, document = metric_drive
    text = debrief_text(document, words=debrief_words("en"))
    assert f"{up(debrief.heat.peaks_c[debrief.hottest].value)} °C at the hottest" in " ".join(text.split())
    assert max(map(len, text.splitlines())) <= 88


def test_a_plan_that_does_not_hold_leaves_the_drive(metric_drive: Made) -> None:
    _, document = metric_drive
    bare = {**document, "has_plan": False, "planned": None, "planned_time_s": None, "legs": [], "stops": [],
            "departures": [], "energy": {**document["energy"], "planned_brakes_j": None},
            "axles": [{**axle, "planned_peak_c": None} for axle in document["axles"]]}
    page = render_debrief(bare, words=debrief_words("en"))
    assert "No plan held for this vehicle and road" in page and "driven_legs" not in page.split("</style>")[1]


def test_a_hostile_name_is_text(us_drive: Made) -> None:
    document = {**us_drive[1], "route": {**us_drive[1]["route"], "name": "<script>alert(1)</script>"}}
    assert "<script>alert" not in render_debrief(document, words=debrief_words("en"))


def test_words_are_asked_for_and_none_is_left() -> None:
    own = {key for key in debrief_words("en").table if key.startswith("debrief.")}
    texts = [path.read_text(encoding="utf-8") for path in [*FOLDER.glob("debrief*.py"), FOLDER / "templates" / "debrief.html.jinja"]]
    asked = {key for text in texts for key in re.findall(r'"(debrief\.[\w.-]+)"', text)}
    built = tuple(key for text in texts for key in re.findall(r'f?"(debrief\.[\w.]+\.)\{', text)) + ("debrief.stop.",)
    assert asked - {"debrief.stop", "debrief.css", "debrief.html", "debrief.json", "debrief.html.jinja"} <= own
    assert {key for key in own if key not in asked and not key.startswith(built)} == set()


@pytest.fixture(scope="module")
def debrief_pages(tmp_path_factory: pytest.TempPathFactory, metric_drive: Made, us_drive: Made) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("debrief")
    found = {}
    for name, (_, document) in {"metric": metric_drive, "us": us_drive}.items():
        found[name] = folder / f"{name}.html"
        found[name].write_bytes(debrief_files(document, words=debrief_words("en"))["debrief.html"])
    return found


@pytest.mark.browser
@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", ["metric", "us"])
def test_one_request_no_complaint_no_overflow(browser: Browser, debrief_pages: dict[str, Path], name: str,
                                              width: int) -> None:
    visit = Visit(browser, debrief_pages[name], width=width)
    visit.page.mouse.wheel(0, 20000)
    assert visit.fetched() == [debrief_pages[name].as_uri()]
    assert visit.complaints == []
    assert visit.page.evaluate("document.documentElement.scrollWidth") == width


@pytest.mark.browser
def test_keyboard_moves_the_cursor(browser: Browser, debrief_pages: dict[str, Path]) -> None:
    page = Visit(browser, debrief_pages["metric"]).page
    page.get_by_label("Place on the road").focus()
    page.keyboard.press("End")
    assert page.locator("#readout").inner_text().startswith("km 14.0,")
    assert "undefined" not in page.locator("#readout").inner_text()


@pytest.mark.browser
def test_complete_without_scripts(browser: Browser, debrief_pages: dict[str, Path]) -> None:
    page = Visit(browser, debrief_pages["us"], java_script_enabled=False).page
    area = page.locator(".strip.wide").bounding_box()
    assert area["width"] > 600 and area["height"] > 400
    assert not page.locator("#place").is_visible()


@pytest.mark.browser
@pytest.mark.parametrize("width", WIDTHS)
def test_axe_finds_nothing(browser: Browser, debrief_pages: dict[str, Path], width: int) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    for path in debrief_pages.values():
        found = axe.run(Visit(browser, path, width=width).page).response["violations"]
        assert found == [], json.dumps(found, indent=1)[:3000]


@pytest.mark.browser
def test_prints_upright_on_few_pages(browser: Browser, debrief_pages: dict[str, Path], tmp_path: Path) -> None:
    visit = Visit(browser, debrief_pages["metric"])
    target = tmp_path / "page.pdf"
    visit.page.pdf(path=target, prefer_css_page_size=True, print_background=True)
    assert 2 <= len(re.findall(rb"/Type /Page\b(?!s)", target.read_bytes())) <= 5
