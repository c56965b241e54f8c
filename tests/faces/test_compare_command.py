# SPDX-License-Identifier: MIT
"""`descent compare` as a dispatcher meets it: the figures are those of `descent plan`, bad input one sentence."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from faces.command import Run


@pytest.fixture(scope="module")
def road(sample: Path) -> tuple[str, ...]:
    return (str(sample / "route.geojson"), "--dem", str(sample / "pass_10m.tif"), "--places",
            str(sample / "places.geojson"))


def test_each_case_is_the_plan_that_descent_plan_makes(run: Run, road: tuple[str, ...], tmp_path: Path) -> None:
    """The 36-tonner with its retarder out is the same vehicle without one: exit 0, and the same figures."""
    done = run("compare", *road, "--vehicle", "tractor-semitrailer-retarder", "--gross", "36t", "--retarder", "working",
               "--retarder", "out", "--quick", "--out", str(tmp_path))
    assert done.returncode == 0, done.stderr
    assert {item.name for item in tmp_path.iterdir()} == {"compare.html", "compare.json", "compare.csv"}
    working, out = json.loads((tmp_path / "compare.json").read_text())["cases"]
    plan = json.loads(run("plan", *road, "--vehicle", "tractor-semitrailer-retarder", "--gross", "36t", "--json").stdout)
    assert working["time_s"] == plan["time_s"] and working["margin_c"] == plan["margin_c"]
    assert out["retarder_out"] and (not out["feasible"] or out["time_s"] > working["time_s"])
    assert "2. retarder out" in done.stdout


def test_nothing_that_holds_ends_with_status_3(run: Run, road: tuple[str, ...], tmp_path: Path) -> None:
    done = run("compare", *road, "--vehicle", "tractor-semitrailer", "--gross", "36t", "--road", "ice", "--out",
               str(tmp_path / "new"))
    assert done.returncode == 3 and "NONE OF THESE HOLDS" in done.stdout
    assert (tmp_path / "new" / "compare.html").exists()


@pytest.mark.parametrize(("more", "said"), [
    (("--gross", "36t"), "no vehicle is named"), (("--vehicle", "dump-truck", "--gross", "20"), "no unit"),
    (("--fleet", "nowhere.csv"), "belong together"), (("--fleet", "nowhere.csv", "--load", "20t"), "cannot be read"),
    (("--vehicle", "dump-truck", "--gross", "20t", "--retarder", "maybe"), "not one of the choices")])
def test_bad_input_is_one_sentence_and_nothing_is_written(run: Run, road: tuple[str, ...], tmp_path: Path,
                                                          more: tuple[str, ...], said: str) -> None:
    done = run("compare", *road, *more, "--out", str(tmp_path / "new"))
    assert done.returncode == 2 and said in done.stderr and "Traceback" not in done.stderr
    assert not (tmp_path / "new").exists()
