# SPDX-License-Identifier: MIT
"""No module grows past 350 lines: split it by what it is about before it does."""

from __future__ import annotations

from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
LONGEST = 350


@pytest.mark.parametrize("path", sorted((ROOT / "descent").rglob("*.py")), ids=lambda path: str(path.relative_to(ROOT)))
def test_module_is_short(path: Path) -> None:
    lines = len(path.read_text(encoding="utf-8").splitlines())
    assert lines <= LONGEST, f"{lines} lines: split it by what it is about"
