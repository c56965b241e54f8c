# SPDX-License-Identifier: MIT
"""`descent debrief` from files: what it writes, that it is the same each time, and one clear sentence for bad input."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from debrief.made_drives import PIECES, csv_of, driven, places_on, planned, recorded, with_engine_speed
from descent.errors import DescentError
from descent.faces.cli.main import cli
from descent.report.debrief_page import debrief_files
from descent.report.debrief_words import debrief_words

NAME = ("tractor-semitrailer-retarder", 36287.0)
VEHICLE = ("--vehicle", NAME[0], "--gross", "36287kg")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A route, a grade table, places and a recorded drive."""
    made = tmp_path_factory.mktemp("drive")
    plan = planned(*NAME)
    profile, truth = plan.task.profile, driven(plan)
    fixes = with_engine_speed(plan, truth, recorded(plan, truth, 1))
    (made / "drive.csv").write_text(csv_of(fixes, engine=True))
    line = {"type": "LineString", "coordinates": [[round(a, 7), round(b, 7)] for a, b in
                                                  zip(profile.lon, profile.lat, strict=True)]}
    (made / "road.geojson").write_text(json.dumps(
        {"type": "Feature", "properties": {"name": "Larch Pass"}, "geometry": line}))
    (made / "grades.csv").write_text("length [m],grade [%]\n" + "".join(f"{a},{100 * b}\n" for a, b in PIECES))
    spots = [{"type": "Feature", "properties": {"name": place.name, "kind": place.kind},
              "geometry": {"type": "Point", "coordinates": [place.lon, place.lat]}} for place in places_on(profile)]
    (made / "places.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": spots}))
    return made


def run(*arguments: object) -> Result:
    return CliRunner().invoke(cli, [str(item) for item in arguments])


def road(folder: Path) -> tuple[object, ...]:
    return ("--route", folder / "road.geojson", "--grades", folder / "grades.csv", "--places", folder / "places.geojson")


def test_page_and_document_and_the_same_bytes_again(folder: Path, tmp_path: Path) -> None:
    for out in ("one", "two"):
        done = run("debrief", folder / "drive.csv", *road(folder), *VEHICLE, "--out", tmp_path / out)
        assert done.exit_code == 0, done.output
        assert "What went well" in done.output
    for name in ("debrief.html", "debrief.json"):
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes()
    document = json.loads((tmp_path / "one" / "debrief.json").read_text())
    assert document["schema"] == "descent-debrief/1" and document["has_plan"]
    assert document["recording"]["has_engine_speed"] and document["recording"]["has_speed"]
    again = debrief_files(document, words=debrief_words("en"))
    assert again["debrief.json"] == (tmp_path / "one" / "debrief.json").read_bytes()
    assert again["debrief.html"] == (tmp_path / "one" / "debrief.html").read_bytes()


def test_laid_over_a_plan_file_of_the_same_road(folder: Path, tmp_path: Path) -> None:
    """A plan read back is the plan: the same legs, stops and, on the same grade, the same times."""
    made = run("plan", folder / "road.geojson", "--grades", folder / "grades.csv", "--places", folder / "places.geojson",
               *VEHICLE, "--out", tmp_path / "plan")
    assert made.exit_code == 0
    held = run("debrief", folder / "drive.csv", "--plan", tmp_path / "plan" / "plan.json", "--json")
    here = run("debrief", folder / "drive.csv", *road(folder), *VEHICLE, "--json")
    assert held.exit_code == here.exit_code == 0, held.output + here.output
    one, other = json.loads(held.stdout), json.loads(here.stdout)
    plan = json.loads((tmp_path / "plan" / "plan.json").read_text())
    assert [leg["control_speed_mps"] for leg in one["legs"]] == [leg["control_speed_mps"] for leg in plan["legs"]]
    assert [stop["place"] for stop in one["stops"]] == [stop["place"] for stop in plan["stops"]]
    assert one["planned_time_s"] == pytest.approx(other["planned_time_s"], abs=0.5)
    assert one["energy"]["brakes_j"]["value"] == pytest.approx(other["energy"]["brakes_j"]["value"], rel=1e-3)
    assert one["axles"][1]["peak_c"]["high"] == pytest.approx(other["axles"][1]["peak_c"]["high"], abs=1.0)


def test_the_recordings_own_line_is_planned_without_a_route(folder: Path) -> None:
    done = run("debrief", folder / "drive.csv", "--grades", folder / "grades.csv", *VEHICLE, "--json")
    assert done.exit_code == 0, done.output
    assert json.loads(done.stdout)["route"]["length_m"] == pytest.approx(14000.0, rel=0.02)


def bad(folder: Path, name: str) -> Path:
    """A recording with one thing wrong."""
    rows = (folder / "drive.csv").read_text().splitlines()
    cells = [row.split(",") for row in rows]
    changed = {
        "no-time": [",".join(row[1:]) for row in cells],
        "one-point": rows[:2],
        "same-time": [rows[0], *(",".join(["0", *row[1:]]) for row in cells[1:])],
        "elsewhere": [rows[0], *(",".join([row[0], row[1], str(float(row[2]) + 1), *row[3:]]) for row in cells[1:])],
        "backward": [rows[0], *(",".join([row[0], *last[1:]]) for row, last in
                                zip(cells[1:], cells[:0:-1], strict=True))],
        "standing": [rows[0], *(",".join([row[0], *cells[1][1:]]) for row in cells[1:])],
        "empty": [rows[0]],
    }[name]
    path = folder / f"{name}.csv"
    path.write_text("\n".join(changed) + "\n")
    return path


@pytest.mark.parametrize(("name", "code"), [
    ("no-time", "recording-no-time"), ("one-point", "recording-too-short"), ("same-time", "recording-one-time"),
    ("elsewhere", "recording-off-road"), ("backward", "recording-other-way"), ("standing", "recording-off-road"),
    ("empty", "recording-too-short")])
def test_a_bad_recording_is_one_clear_sentence(folder: Path, tmp_path: Path, name: str, code: str) -> None:
    done = run("debrief", bad(folder, name), *road(folder), *VEHICLE, "--out", tmp_path / "out")
    assert isinstance(done.exception, DescentError) and done.exception.exit_code == 2
    (fault,) = done.exception.faults
    assert fault.code == code and fault.sentence().endswith((".", ")")) or fault.remedy in fault.sentence()
    assert fault.code == code
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("text", ["{", "[]", '{"schema": "descent-plan/1"}',
                                  '{"schema": "descent-plan/1", "profile": {"station_m": [0, 10]}, "conditions": {}}'])
def test_a_bad_plan_file(folder: Path, tmp_path: Path, text: str) -> None:
    (tmp_path / "plan.json").write_text(text)
    done = run("debrief", folder / "drive.csv", "--plan", tmp_path / "plan.json", *VEHICLE)
    assert isinstance(done.exception, DescentError)
    assert [fault.code for fault in done.exception.faults] == ["plan-file"]


def test_a_plan_of_another_vehicle(folder: Path, tmp_path: Path) -> None:
    """A leg in a gear that the vehicle named beside the plan does not have."""
    run("plan", folder / "road.geojson", "--grades", folder / "grades.csv", *VEHICLE, "--out", tmp_path)
    plan = json.loads((tmp_path / "plan.json").read_text())
    plan["legs"][0]["gear"] = "10"
    (tmp_path / "plan.json").write_text(json.dumps(plan))
    done = run("debrief", folder / "drive.csv", "--plan", tmp_path / "plan.json", "--vehicle", "motorcoach", "--gross", "18t")
    assert isinstance(done.exception, DescentError)
    assert [fault.code for fault in done.exception.faults] == ["plan-file"]


def test_heights_must_be_named_without_a_plan(folder: Path) -> None:
    done = run("debrief", folder / "drive.csv", *VEHICLE)
    assert isinstance(done.exception, DescentError)
    assert [fault.code for fault in done.exception.faults] == ["height-source"]


def test_a_debrief_speaks_spanish(folder: Path, tmp_path: Path) -> None:
    done = run("debrief", folder / "drive.csv", *road(folder), *VEHICLE, "--language", "es", "--out", tmp_path)
    assert done.exit_code == 0, done.output
    assert "Lo que salió bien" in done.output
    assert '<html lang="es">' in (tmp_path / "debrief.html").read_text(encoding="utf-8")
