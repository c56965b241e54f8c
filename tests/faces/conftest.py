# SPDX-License-Identifier: MIT
"""What the command's tests share: the command run inside the test's own process."""

from __future__ import annotations

import sys

import pytest

from descent.faces.cli.main import main
from faces.command import Done, Run


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]) -> Run:
    """The command from its arguments to its exit status, through the entry function of the program. Whatever `main` lets
    through but its own end fails the test."""
    def call(*arguments: str) -> Done:
        monkeypatch.setattr(sys, "argv", ["descent", *arguments])
        capfd.readouterr()
        with pytest.raises(SystemExit) as ended:
            main()
        said = capfd.readouterr()
        return Done(int(ended.value.code or 0), said.out, said.err)
    return call
