# SPDX-License-Identifier: MIT
"""`--language`: the commands that write a page for people take the same choice, and speak it on page, file and terminal."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from descent.errors import DescentError
from descent.faces.cli.main import cli

VEHICLE = ("--vehicle", "straight-truck", "--gross", "14t")


def run(*arguments: object) -> Result:
    return CliRunner().invoke(cli, [str(item) for item in arguments])


@pytest.mark.parametrize("command", [("plan", "road.gpx", "--route-elevation"), ("compare", "road.gpx", "--route-elevation"),
                                     ("debrief", "drive.gpx", "--route-elevation"), ("lesson",)])
def test_another_language_is_one_clear_sentence(command: tuple[str, ...], tmp_path: Path) -> None:
    done = run(*command, *VEHICLE, "--language", "xx", "--out", tmp_path / "new")
    assert isinstance(done.exception, DescentError)
    (fault,) = done.exception.faults
    assert fault.code == "unknown-choice" and fault.where == "--language" and "en, es" in fault.remedy
    assert not (tmp_path / "new").exists()


def test_a_comparison_speaks_spanish(sample: Path, tmp_path: Path) -> None:
    """A refusal for ice, which needs no search: page, terminal and the plan's own sentences."""
    done = run("compare", sample / "route.geojson", "--dem", sample / "pass_10m.tif", *VEHICLE, "--road", "ice", "--quick",
               "--language", "es", "--out", tmp_path)
    assert done.exit_code == 0, done.output
    assert "NINGUNO DE ESTOS SE SOSTIENE" in done.output
    assert '<html lang="es">' in (tmp_path / "compare.html").read_text(encoding="utf-8")
    case = json.loads((tmp_path / "compare.json").read_text(encoding="utf-8"))["cases"][0]
    assert case["verdict_reason"].startswith("Hoy no") and case["road"] == "ice"


def test_a_lesson_speaks_spanish(tmp_path: Path) -> None:
    done = run("lesson", *VEHICLE, "--grade", "8%", "--length", "4km", "--language", "es", "--out", tmp_path)
    assert done.exit_code == 0, done.output
    assert "Velocidad de control" in done.output and "marcha " in done.output
    assert '<html lang="es">' in (tmp_path / "lesson.html").read_text(encoding="utf-8")
    assert json.loads((tmp_path / "lesson.json").read_text(encoding="utf-8"))["presets"][0]["name"] == "right-gear"
