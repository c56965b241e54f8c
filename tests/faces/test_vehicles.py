# SPDX-License-Identifier: MIT
"""`descent vehicles balance`: table, plot file, and every fault of its options at once."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from descent.errors import OutputError, RequestError
from descent.faces.cli.run_balance import BalanceAsked, run_balance
from descent.faces.cli.vehicles import command


def test_a_table_and_a_plot(tmp_path: Path) -> None:
    plot = tmp_path / "new" / "plot.svg"
    result = CliRunner().invoke(command, ["balance", "tractor-semitrailer-retarder", "--gross", "60000lb", "--grade", "5%",
                                          "--units", "metric", "--svg", str(plot)])
    assert result.exit_code == 0, result.output
    assert "27.2 t, 5% down" in result.output and "km/h" in result.output
    assert plot.read_text(encoding="utf-8").startswith("<svg")
    assert [item.name for item in plot.parent.iterdir()] == ["plot.svg"]


def test_every_fault_of_the_options_at_once() -> None:
    with pytest.raises(RequestError) as caught:
        run_balance(BalanceAsked("motorcoch", "5", "60", "high", "1000C", "2", "us", None))
    said = str(caught.value)
    for part in ("--gross", "--grade", "--altitude", "--air-temp", "--charge", "Did you mean motorcoach"):
        assert part in said
    assert len(caught.value.faults) == 6


def test_a_plot_that_cannot_be_written_names_its_option(tmp_path: Path) -> None:
    block = tmp_path / "file"
    block.write_text("x", encoding="utf-8")
    with pytest.raises(OutputError, match="--svg"):
        run_balance(BalanceAsked("motorcoach", None, "6%", "0m", "15C", None, "us", block / "plot.svg"))


def test_show_and_check_speak() -> None:
    for arguments, part in ((["show", "battery-tractor"], "Electric drive"), (["check", "doubles"], "sound")):
        result = CliRunner().invoke(command, arguments)
        assert result.exit_code == 0 and part in result.output
