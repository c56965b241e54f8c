# SPDX-License-Identifier: MIT
"""A lesson in a few lines for the terminal: what each gear leads to."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from descent.report.lesson_pack import outcomes_by_key
from descent.report.lesson_tables import gear_keys
from descent.report.lesson_tell import Teller
from descent.report.shown import shown_for
from descent.report.words import Words


def lesson_text(document: Mapping[str, Any], *, words: Words, own: Words) -> str:
    """One line per gear at its fastest speed, with the hottest brake, one emergency stop, and the result."""
    tell = Teller(document, outcomes_by_key(dict(document)), shown_for(str(document["conditions"]["units"]), words), own)
    rows = [(own("plot.gear", gear=tell.gear(key)), tell.speed(key), tell.shown.hot(tell.outcomes[key]["peak_temp_c"]),
             tell.emergency(tell.outcomes[key]), own(f"state.{tell.outcomes[key]['state']}")) for key in gear_keys(tell)]
    heads = ("", own("gears.speed"), own("gears.hottest"), own("gears.emergency"), own("gears.result"))
    widths = [max(len(row[k]) for row in (heads, *rows)) for k in range(len(heads))]
    return "\n".join("  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
                     for row in (heads, *rows)).replace("\u00a0", " ")
