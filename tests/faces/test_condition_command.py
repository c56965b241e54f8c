# SPDX-License-Identifier: MIT
"""`descent vehicles condition`: writes the form that `read_condition` reads, or one sentence on what is wrong."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from descent.errors import VehicleError
from descent.faces.cli.main import cli
from descent.vehicle.catalogue import load_vehicle
from descent.vehicle.condition import read_condition
from descent.vehicle.walk_round_limits import Verdict


def test_the_written_form_reads_back(tmp_path: Path) -> None:
    path = tmp_path / "new" / "walk.toml"
    done = CliRunner().invoke(cli, ["vehicles", "condition", "--vehicle", "motorcoach", "--out", str(path)])
    assert done.exit_code == 0 and "walk.toml" in done.output
    assert read_condition(path, load_vehicle("motorcoach")).verdict is Verdict.CARE


def test_without_out_it_is_the_same_form_on_standard_output(tmp_path: Path) -> None:
    path = tmp_path / "walk.toml"
    CliRunner().invoke(cli, ["vehicles", "condition", "--out", str(path)])
    shown = CliRunner().invoke(cli, ["vehicles", "condition"])
    assert shown.exit_code == 0 and shown.output == path.read_text(encoding="utf-8")


def test_what_it_cannot_write_it_says_and_writes_nothing(tmp_path: Path) -> None:
    path = tmp_path / "walk.doc"
    refused = CliRunner().invoke(cli, ["vehicles", "condition", "--out", str(path)], standalone_mode=True)
    assert refused.exit_code == 2 and ".toml" in refused.output and not path.exists()
    with pytest.raises(VehicleError, match="tractor-semitrailer"):
        CliRunner().invoke(cli, ["vehicles", "condition", "--vehicle", "tractor-semitraler"], catch_exceptions=False)
