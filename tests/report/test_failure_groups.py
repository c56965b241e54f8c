# SPDX-License-Identifier: MIT
"""What could go wrong: every failure once, under its downgrade, and the line says which do not hold."""

from __future__ import annotations

from typing import Any

from descent.report.failure_groups import failure_groups
from descent.report.shown import Shown
from descent.report.trip import read_trip


def test_every_failure_once_under_its_downgrade(document: dict[str, Any], us: Shown) -> None:
    row = document["failures"][0]
    document["failures"] = [{**row, "what": "a", "downgrade": 2, "holds": False}, {**row, "what": "b", "downgrade": 1, "holds": True},
                            {**row, "what": "c", "downgrade": 2, "holds": True}]
    first, second = failure_groups(read_trip(document), us)
    assert [cells[0].text for cells in first.table.rows] == ["b"] and "holds in every case" in first.line
    assert [cells[0].text for cells in second.table.rows] == ["a", "c"]
    assert second.line.startswith("Downgrade 2, mi\u00a0") and second.line.endswith("does not hold if: a")


def test_nothing_where_nothing_was_computed(document: dict[str, Any], us: Shown) -> None:
    del document["failures"]
    assert failure_groups(read_trip(document), us) == ()
