# SPDX-License-Identifier: MIT
"""How long the page takes after the plan: relief, contours, 100 km of page, and the first paint in Chromium."""

from __future__ import annotations

import shutil
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
SAMPLE = ROOT / "data" / "sample_dem"
_RUNS = 5
_QUIET = ["--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"]
_PAINT = "performance.getEntriesByName('first-contentful-paint')[0].startTime"
_LOADED = "performance.getEntriesByType('navigation')[0].loadEventEnd"


def measured(work: Callable[[], Any]) -> str:
    """Median wall and processor seconds of several runs after one that does not count."""
    work()
    walls, cpus = [], []
    for _ in range(_RUNS):
        wall, cpu = time.perf_counter(), time.process_time()
        work()
        walls.append(time.perf_counter() - wall)
        cpus.append(time.process_time() - cpu)
    return f"{median(walls):8.2f} s ({median(cpus):.2f} s of processor)"


def report() -> None:
    """Print one line each."""
    sys.path.insert(0, str(ROOT / "tests"))
    from descent.pipeline import ground_contours, shaded_relief, survey
    from descent.report.html import render_trip
    from descent.report.words import load_words
    from descent.request import Direction, Faults, road_request
    from descent.units import US
    from report.make_document import make_document  # type: ignore[import-not-found]

    request = road_request(str(SAMPLE / "route.geojson"), dem=[str(SAMPLE / "pass_10m.tif")], grades=None,
                           route_elevation=None, direction=Direction.AS_DRAWN, faults=Faults())
    road = survey(request)
    print(f"relief of the sample               {measured(lambda: shaded_relief(request, road))}")
    print(f"contours of the sample             {measured(lambda: ground_contours(request, road, units=US))}")
    relief, lines = shaded_relief(request, road), ground_contours(request, road, units=US)
    document, words = make_document(length_m=100_000.0), load_words("en")

    def page() -> str:
        return render_trip(document, hillshade=relief, words=words, contours=lines)

    print(f"page of 100 km after the plan      {measured(page)}, {len(page().encode()) / 1e6:.2f} MB")
    first_paint(page())


def first_paint(page: str) -> None:
    """The first paint of a page read from disk, in headless Chromium where it is installed."""
    program = shutil.which("chromium")
    if program is None:
        print("first paint: Chromium is not installed")
        return
    from playwright.sync_api import sync_playwright
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        path = Path(folder, "trip.html")
        path.write_text(page, encoding="utf-8")
        browser = playwright.chromium.launch(executable_path=program, args=_QUIET)
        paints, loads = [], []
        for _ in range(_RUNS + 1):
            tab = browser.new_context(viewport={"width": 390, "height": 844}).new_page()
            tab.goto(path.as_uri())
            tab.wait_for_load_state()
            tab.wait_for_function("performance.getEntriesByName('first-contentful-paint').length > 0")
            paints.append(float(tab.evaluate(_PAINT)))
            loads.append(float(tab.evaluate(_LOADED)))
            tab.context.close()
        browser.close()
    print(f"its first paint, its whole load    {median(paints[1:]):8.0f} ms, {median(loads[1:]):.0f} ms")


if __name__ == "__main__":
    report()
