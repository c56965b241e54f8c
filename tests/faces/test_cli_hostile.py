# SPDX-License-Identifier: MIT
"""The command line against hostile names, closed pipes, full disks and its own mistakes."""

from __future__ import annotations

import json
import os
import re
from html.parser import HTMLParser
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import pytest

from descent.faces.cli import run_plan
from descent.pipeline import plan_descent
from descent.report import export
from descent.request import Direction, Faults, plan_request, road_request
from faces.command import Done, Run, own_process

EVIL = "<script>alert('evil')</script>\x1b[31m\x1b]0;owned\x07\u202e\x9b2J<img src=x onerror=alert('evil')>&{{7*7}}"
CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u200e\u200f\u202a-\u202e\u2066-\u2069]")


def piped(stdout: Any) -> Done:
    """A command of its own process with its output sent somewhere."""
    return own_process("sources", "--json", stdout=stdout)


def renamed(source: Path, target: Path) -> Path:
    """A GeoJSON file with every name and attribute text turned evil."""
    document = json.loads(source.read_text(encoding="utf-8"))
    for feature in document["features"]:
        properties = feature["properties"]
        properties["name"] = f"{properties.get('name', '')} {EVIL}"
        properties["note"] = properties[EVIL] = EVIL
    target.write_text(json.dumps(document), encoding="utf-8")
    return target


class Scripts(HTMLParser):
    """Collects what a browser would run: script texts, event handlers, script addresses."""

    def __init__(self) -> None:
        super().__init__()
        self.inside, self.texts, self.handlers = False, [], []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.inside = tag == "script" and ("type", "application/json") not in attrs
        self.handlers += [value for name, value in attrs if name.startswith("on") or str(value).startswith("javascript:")]

    def handle_data(self, data: str) -> None:
        if self.inside:
            self.texts.append(data)

    def handle_endtag(self, tag: str) -> None:
        self.inside = False


def test_hostile_names_end_clean_everywhere(run: Run, sample: Path, tmp_path: Path) -> None:
    route = renamed(sample / "route.geojson", tmp_path / "route.geojson")
    places = renamed(sample / "places.geojson", tmp_path / "places.geojson")
    done = run("plan", str(route), "--dem", str(sample / "pass_30m.tif"), "--places", str(places), "--vehicle",
               "tractor-semitrailer-retarder", "--gross", "70000lb", "--date", EVIL, "--out", str(tmp_path / "out"))
    assert done.returncode in (0, 3), done.stderr
    assert not CONTROL.search(done.stdout) and not CONTROL.search(done.stderr)
    files = {path.name: path.read_text(encoding="utf-8") for path in (tmp_path / "out").iterdir()}
    for name, text in files.items():
        assert not CONTROL.search(text), name
    page = Scripts()
    page.feed(files["trip.html"])
    assert "alert" in files["trip.html"]                                 # the name is there, as text
    assert not any(re.search(r"<(?:script|img)[^>]*>\s*alert\('evil|onerror=alert\('evil'\)>", text)
                   for text in page.texts)
    assert all("evil" not in str(handler) for handler in page.handlers)
    assert not re.search(r"<script>\s*alert|<img src=x", files["trip.html"])
    assert "</script>" not in "".join(page.texts)
    ET.fromstring(files["stops.gpx"])
    json.loads(files["plan.geojson"])


def test_hostile_file_names_and_options(run: Run, sample: Path, tmp_path: Path) -> None:
    route = tmp_path / f"a{EVIL.replace('/', '')}.gpx"
    route.write_text("x")
    done = run("plan", str(route), "--dem", f"no{EVIL}.tif", "--vehicle", f"v{EVIL}", "--gross", f"9{EVIL}",
               "--road", EVIL, "--units", EVIL)
    assert done.returncode == 2
    assert not CONTROL.search(done.stderr) and "Traceback" not in done.stderr
    for arguments in (("profile", str(route), "--dem", str(sample / "pass_30m.tif")),
                      ("grades", str(sample / "route.geojson"), "--dem", f"no{EVIL}.tif"),
                      ("vehicles", "check", f"{EVIL}.toml")):
        done = run(*arguments)
        assert done.returncode == 2, done.stderr
        assert not CONTROL.search(done.stdout + done.stderr)
        assert [line for line in done.stderr.splitlines() if line.startswith("descent: ")]


def test_a_reader_that_goes_away() -> None:
    reading, writing = os.pipe()
    os.close(reading)
    try:
        done = piped(writing)
    finally:
        os.close(writing)
    assert "Traceback" not in done.stderr and "Exception" not in done.stderr
    assert done.returncode == 1                                         # not 0: nobody saw the answer


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="this system has no /dev/full")
def test_a_full_disk_behind_standard_output() -> None:
    with open("/dev/full", "w") as full:
        done = piped(full)
    assert done.returncode == 2
    assert "cannot be written" in done.stderr and "Traceback" not in done.stderr


def test_an_output_folder_that_is_a_file_keeps_it(run: Run, sample: Path, tmp_path: Path) -> None:
    (tmp_path / "out").write_text("mine")
    done = run("profile", str(sample / "route.geojson"), "--grades", str(sample / "grade_table.csv"), "--out",
               str(tmp_path / "out" / "profile.csv"))
    assert done.returncode == 2 and "--out" in done.stderr
    assert (tmp_path / "out").read_text() == "mine"


def test_the_profile_is_written_and_what_lies_beside_it_stays(run: Run, sample: Path, tmp_path: Path) -> None:
    (tmp_path / "card.pdf").write_text("mine")
    done = run("profile", str(sample / "route.geojson"), "--grades", str(sample / "grade_table.csv"), "--out",
               str(tmp_path / "profile.csv"))
    assert done.returncode == 0, done.stderr
    assert {path.name for path in tmp_path.iterdir()} == {"card.pdf", "profile.csv"}
    assert (tmp_path / "profile.csv").read_text().startswith("station_m,")


@pytest.fixture(scope="module")
def planned(sample: Path) -> Any:
    """A plan and its road, made once."""
    faults = Faults()
    road = road_request(str(sample / "route.geojson"), dem=[], grades=str(sample / "grade_table.csv"),
                        route_elevation=None, direction=Direction.AS_DRAWN, faults=faults)
    return plan_descent(plan_request(road, {"vehicle": "tractor-semitrailer-retarder", "gross": "70000lb",
                                            "places": str(sample / "places.geojson")}, faults))


@pytest.mark.parametrize(("error", "status", "part"), [
    (RuntimeError("deep \x1b[31m trouble"), 70, "a mistake in this program"), (MemoryError(), 70, "MemoryError"),
    (KeyboardInterrupt(), 130, "stopped"), (OSError(28, "No space left on device"), 2, "No space left")])
def test_our_own_mistakes_and_ctrl_c_keep_the_old_output(
        run: Run, sample: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, planned: Any, error: BaseException,
        status: int, part: str) -> None:
    """The page cannot be drawn: an earlier trip in the folder stays as it was."""
    def broken(*_: object, **__: object) -> None:
        raise error
    (tmp_path / "trip.html").write_text("earlier")
    monkeypatch.setattr(run_plan, "plan_descent", lambda *_, **__: planned)
    monkeypatch.setattr(export, "render_trip", broken)
    monkeypatch.setattr("descent.faces.cli.main.os.dup2", lambda *_: None)     # this process keeps its output
    done = run("plan", str(sample / "route.geojson"), "--grades", str(sample / "grade_table.csv"), "--vehicle",
               "tractor-semitrailer-retarder", "--gross", "70000lb", "--out", str(tmp_path))
    assert done.returncode == status, done.stderr
    assert part in done.stderr and "Traceback" not in done.stderr and "\x1b" not in done.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["trip.html"]
    assert (tmp_path / "trip.html").read_text() == "earlier"
