# SPDX-License-Identifier: MIT
"""`descent replan`: advice from a plan's table, exit statuses, one sentence for bad input."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from descent.errors import RequestError
from descent.faces.cli.main import cli


def block(threshold_c: list[float | None]) -> dict[str, object]:
    """A table of three stations a kilometre apart with one place to stand in the middle."""
    leg = {"start_m": 0.0, "end_m": 2000.0, "gear": "6", "control_speed_mps": 11.176, "retarder_stage": 1}
    return {"station_m": [0.0, 1000.0, 2000.0], "planned_c": [70.0, 150.0, 180.0], "likely_c": [80.0, 170.0, 200.0],
            "cool_1ps": [2e-4] * 3, "air_temp_c": 30.0, "limit_c": 260.0, "fade_onset_c": 300.0,
            "halts": [{"station_m": 1000.0, "name": "Shelf"}],
            "levels": [{"step": 0, "legs": [leg], "threshold_c": threshold_c, "rest_s": [200.0, 100.0, 0.0]}]}


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    path = tmp_path / "plan.json"
    path.write_text(json.dumps({"conditions": {"units": "us"}, "replan": block([200.0, 210.0, 255.0]), "legs": [
        {"start_m": 0.0, "snubs": {"duration_s": 3.0, "interval_s": 12.0}}]}), encoding="utf-8")
    return path


def run(*arguments: object) -> tuple[int, str]:
    result = CliRunner().invoke(cli, ["replan", *map(str, arguments)], standalone_mode=False)
    if result.exception is not None:
        raise result.exception
    return int(result.return_value), result.output


def test_cool_brakes_go_on(plan: Path) -> None:
    status, text = run(plan, "--at", "1000m", "--temp", "200C")
    assert status == 0 and "Go on as planned" in text and "gear 6" in text and "25 mph" in text and "Shelf" in text


def test_hot_brakes_wait_as_newton_says(plan: Path) -> None:
    """ln((300 - 30) / (210 - 30)) / 2e-4 = 2027 s: 35 minutes in steps of five."""
    status, text = run(plan, "--at", "1km", "--temp", "300C", "--json")
    advice = json.loads(text)
    assert status == 0 and advice["minutes"] == 35.0 and advice["look_over"] and advice["action"] == "cool"


def test_smoke_is_hotter_than_smell_and_counted_snubs_count(plan: Path) -> None:
    high = {seen: json.loads(run(plan, "--at", "1km", "--seen", seen, "--json")[1])["high_temp_c"]
            for seen in ("nothing", "long-snubs", "smell", "smoke")}
    assert list(high.values()) == sorted(high.values())
    counted = json.loads(run(plan, "--at", "1km", "--seen", "nothing", "--snubs", 6, 10, "--json")[1])["high_temp_c"]
    assert counted == pytest.approx(30.0 + (170.0 - 30.0) * (6 / 3) * (12 / 10))


def test_where_nothing_holds_the_status_says_so(tmp_path: Path) -> None:
    path = tmp_path / "plan.json"
    path.write_text(json.dumps({"replan": block([None, None, 255.0])}), encoding="utf-8")
    status, text = run(path, "--at", "0.5km", "--temp", "100C")
    assert status == 3 and "Do not go on" in text and "Shelf" in text


@pytest.mark.parametrize("text", ["", "[1, 2]", "{", '{"replan": 3}', '{"replan": {"levels": [{}]}}'])
def test_what_is_no_plan_is_told(tmp_path: Path, text: str) -> None:
    path = tmp_path / "plan.json"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(RequestError, match="plan"):
        run(path, "--at", "1km")


@pytest.mark.parametrize("given", [("--at", "9km"), ("--at", "-1km"), ("--at", "5"), ("--at", "1km", "--seen", "fire"),
                                   ("--at", "1km", "--temp", "450")])
def test_bad_input_is_told(plan: Path, given: tuple[str, ...]) -> None:
    with pytest.raises(RequestError):
        run(plan, *given)
