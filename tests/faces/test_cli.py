# SPDX-License-Identifier: MIT
"""The command line as a user meets it: exit statuses, sentences, files, JSON on standard output."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from faces.command import Done, Run, own_process

FILES = {"trip.html", "plan.json", "profile.csv", "plan.geojson", "stops.gpx"}


def asked(sample: Path, *more: str, gross: str = "80000lb") -> tuple[str, ...]:
    """The arguments of the demonstration's plan, and more."""
    return ("plan", str(sample / "route.geojson"), "--dem", str(sample / "pass_10m.tif"), "--places",
            str(sample / "places.geojson"), "--vehicle", "tractor-semitrailer", "--gross", gross, *more)


def by_table(sample: Path, *more: str) -> tuple[str, ...]:
    """The arguments of a plan by the road's grade table, which is quicker to make, and more."""
    return ("plan", str(sample / "route.geojson"), "--grades", str(sample / "grade_table.csv"), "--places",
            str(sample / "places.geojson"), *more)


@pytest.fixture(scope="module")
def demo(sample: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[dict, Done, Path]:
    """The demonstration's plan, made by a process of its own."""
    out = tmp_path_factory.mktemp("demo")
    done = own_process(*asked(sample, "--out", str(out)))
    assert done.returncode == 0 and "Traceback" not in done.stderr, done.stderr
    return json.loads((out / "plan.json").read_text()), done, out


def test_the_demo_holds_with_a_brake_check_and_a_cool_down(demo: tuple) -> None:
    document, done, out = demo
    assert document["feasible"] is True
    assert {item.name for item in out.iterdir()} == FILES
    assert done.stdout.rstrip().endswith("trip.html")
    first = document["downgrades"][0]
    checks = [stop for stop in document["stops"] if stop["kind"] == "brake-check"]
    cool = [stop for stop in document["stops"] if stop["kind"] == "cool-down"]
    assert checks and checks[0]["station_m"] < first["start_m"]
    assert cool and all(stop["minutes"] >= 1 and abs(stop["local_grade"]) <= 0.03 for stop in cool)
    for leg in document["legs"]:
        limits = [limit for at, limit in zip(document["profile"]["station_m"], document["profile"]["posted_limit_mps"],
                                             strict=True) if leg["start_m"] <= at <= leg["end_m"] and limit]
        assert leg["control_speed_mps"] <= limits[0]
        crest = document["downgrades"][leg["downgrade"] - 1]["start_m"]
        assert leg["start_m"] <= leg["gear_by_m"] <= max(crest, leg["start_m"])


def test_the_document_has_the_contracts_names(demo: tuple) -> None:
    document = demo[0]
    assert document["schema"] == "descent-plan/1"
    assert {"conditions", "route", "profile", "structures", "places", "downgrades", "vehicle", "feasible",
            "verdict_reason", "legs", "stops", "trace", "energy", "time_s", "limits", "severity", "alternatives",
            "assumptions", "cautions", "sources"} <= set(document)
    n = len(document["profile"]["station_m"])
    for name in ("lon", "lat", "elevation_m", "elevation_sd_m", "grade", "grade_sd", "curve_limit_mps",
                 "posted_limit_mps"):
        assert len(document["profile"][name]) == n
    trace = document["trace"]
    m = len(trace["station_m"])
    assert m > n                                                 # a stop repeats its station
    for name in ("time_s", "speed_mps", "gear", "retarder_stage", "engine_speed_rpm", "emergency_temp_c",
                 "application_kpa"):
        assert len(trace[name]) == m
    assert set(trace["brake_temp_c"]) == {axle["name"] for axle in document["vehicle"]["axles"]}
    assert {"route", "lon", "lat"} <= {*document, *document["stops"][0]}


def test_no_temperature_passes_the_limit_and_energy_closes(demo: tuple) -> None:
    document = demo[0]
    assert max(document["trace"]["emergency_temp_c"]) <= document["limits"]["brake_temp_c"]
    energy = document["energy"]
    sinks = sum(energy[key] for key in ("rolling_j", "air_j", "engine_j", "retarder_j", "brakes_j", "kinetic_change_j"))
    assert energy["gravity_j"] + energy["drive_j"] == pytest.approx(sinks, rel=1e-6)
    route_fall = document["profile"]["elevation_m"][0] - document["profile"]["elevation_m"][-1]
    fall_j = document["vehicle"]["gross_kg"] * 9.80665 * route_fall
    assert fall_j <= energy["gravity_j"] <= 1.02 * fall_j           # as steep as the height data can mean
    posted = dict(zip(document["profile"]["station_m"], document["profile"]["posted_limit_mps"], strict=True))
    assert all(speed <= posted[at] + 1e-3 for at, speed in zip(
        document["trace"]["station_m"], document["trace"]["speed_mps"], strict=True) if posted[at] is not None)


def test_the_same_request_gives_the_same_bytes(run: Run, sample: Path, demo: tuple, tmp_path: Path) -> None:
    """In another process than the first time, where text has other hashes."""
    done = run(*asked(sample, "--out", str(tmp_path / "again")))
    assert done.returncode == 0
    for name in FILES:
        assert (tmp_path / "again" / name).read_bytes() == (demo[2] / name).read_bytes(), name


def test_a_grade_table_plans_too_and_json_on_standard_output_is_the_file(run: Run, sample: Path, tmp_path: Path) -> None:
    truck = ("--vehicle", "tractor-semitrailer-retarder", "--gross", "70000lb")
    written = run(*by_table(sample, *truck, "--out", str(tmp_path)))
    assert written.returncode == 0, written.stderr
    done = run(*by_table(sample, *truck, "--json"))
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout) == json.loads((tmp_path / "plan.json").read_text())


def test_a_heavier_truck_is_refused_with_what_would_hold(run: Run, sample: Path, tmp_path: Path) -> None:
    done = run(*asked(sample, "--out", str(tmp_path), gross="96000lb"))
    assert done.returncode == 3
    document = json.loads((tmp_path / "plan.json").read_text())
    assert document["feasible"] is False and "legs" not in document
    assert any("lb or less" in item["change"] for item in document["alternatives"])
    assert "NOT LIKE THIS" in done.stdout


def test_a_walk_round_finding_past_its_limit_is_do_not_go(run: Run, sample: Path, tmp_path: Path) -> None:
    form = tmp_path / "walk.toml"
    assert run("vehicles", "condition", "--vehicle", "motorcoach", "--out", str(form)).returncode == 0
    coach = ("--vehicle", "motorcoach", "--gross", "18t", "--condition", str(form))
    good = run(*by_table(sample, *coach, "--out", str(tmp_path / "good")))
    assert good.returncode == 0, good.stderr
    text = form.read_text(encoding="utf-8")
    form.write_text(text.replace('cracks = ""', 'cracks = "long"', 1), encoding="utf-8")
    bad = run(*by_table(sample, *coach, "--out", str(tmp_path / "bad")))
    assert bad.returncode == 3 and "crack" in bad.stdout.lower(), bad.stdout + bad.stderr
    document = json.loads((tmp_path / "bad" / "plan.json").read_text())
    assert document["feasible"] is False and document["alternatives"]


def test_ice_is_not_today(sample: Path, tmp_path: Path) -> None:
    """In a process of its own: its status is that of the process."""
    done = own_process(*asked(sample, "--out", str(tmp_path), "--road", "ice"))
    assert done.returncode == 3 and "Not today" in done.stdout


@pytest.mark.parametrize(("more", "part"), [
    (("--air-temp", "90"), "no unit"), (("--min-speed", "15furlongs"), "unit is not known"),
    (("--road", "mud"), "dry, wet, snow, ice"), (("--units", "cubits"), "us, metric"),
    (("--min-speed", "99mph"), "out of range"), (("--grades", "x.csv"), "exactly one place"),
    (("--vehicle", "tractor-semitrailr"), "Did you mean"), (("--nonsense",), "No such option"),
    (("--places", "nowhere.geojson"), "nowhere.geojson")])
def test_bad_input_is_one_sentence_and_exit_2(run: Run, sample: Path, tmp_path: Path, more: tuple[str, ...],
                                              part: str) -> None:
    done = run(*asked(sample, "--out", str(tmp_path / "out"), *more))
    assert done.returncode == 2
    assert part in done.stderr
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "out").exists()


def test_all_faults_of_a_request_are_told_at_once(sample: Path) -> None:
    """In a process of its own: four lines are all that comes out of it."""
    done = own_process("plan", str(sample / "route.geojson"), "--vehicle", "tractor-semitrailer", "--air-temp", "90",
                       "--gross", "80000", "--road", "mud")
    assert done.returncode == 2 and not done.stdout and "Traceback" not in done.stderr
    assert len(done.stderr.strip().splitlines()) == 4


def test_profile_draws_its_picture(run: Run, sample: Path, tmp_path: Path) -> None:
    picture = tmp_path / "new" / "profile.svg"
    done = run("profile", str(sample / "route.geojson"), "--dem", str(sample / "pass_10m.tif"), "--plot", str(picture))
    assert done.returncode == 0, done.stderr
    assert picture.read_text(encoding="utf-8").startswith("<svg ") and str(picture) in done.stdout


def test_profile_prints_what_the_scorer_reads(run: Run, sample: Path) -> None:
    done = run("profile", str(sample / "route.geojson"), "--dem", str(sample / "pass_10m.tif"), "--json")
    assert done.returncode == 0
    document = json.loads(done.stdout)
    assert {"station_m", "elevation_m", "elevation_sd_m", "grade", "grade_sd", "downgrades"} <= set(document)


def test_grades_lists_the_downgrades(run: Run, sample: Path) -> None:
    done = run("grades", str(sample / "route.geojson"), "--dem", str(sample / "pass_10m.tif"), "--units", "metric")
    assert done.returncode == 0 and "sustained downgrades" in done.stdout


@pytest.mark.parametrize("arguments", [("vehicles", "list"), ("vehicles", "show", "motorcoach"), ("sources",),
                                       ("--help",), ("plan", "--help"), ("--version",)])
def test_small_commands_answer(arguments: tuple[str, ...]) -> None:
    done = own_process(*arguments)
    assert done.returncode == 0 and done.stdout and not done.stderr


def test_help_loads_nothing_heavy() -> None:
    code = ("import sys; sys.argv = ['descent', '--help']\n"
            "from descent.faces.cli.main import main\n"
            "try:\n    main()\nexcept SystemExit:\n    pass\n"
            "print([m for m in ('numpy', 'numba', 'rasterio', 'folium', 'pandas') if m in sys.modules], file=sys.stderr)")
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stderr.strip() == "[]"
