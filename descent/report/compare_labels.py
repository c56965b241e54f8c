# SPDX-License-Identifier: MIT
"""What a case of a comparison is called: only what tells it from the others."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from descent.report.shown import Shown
from descent.report.words import Words

Row = Mapping[str, Any]


def case_labels(rows: Sequence[Row], shown: Shown, words: Words, *, without: frozenset[str] = frozenset()
                ) -> tuple[str, ...]:
    """A name for each case: unit, vehicle, weight, retarder, road, day, walk-round, each only where cases differ in it,
    and none of those in `without`.

    Where nothing differs, cases are called by vehicle and weight.
    """
    parts = [_parts(row, shown, words) for row in rows]
    telling = [key for key in parts[0] if len({part[key] for part in parts}) > 1]
    if not any(row["retarder_out"] for row in rows):
        telling = [key for key in telling if key != "retarder"]
    if "unit" in telling:
        telling = [key for key in telling if key not in ("vehicle", "gross")]
        telling.insert(telling.index("unit") + 1, "gross")
    kept = [key for key in telling if key not in without] or [key for key in ("vehicle", "gross") if key not in without]
    return tuple(", ".join(part[key] for key in kept if part[key]) for part in parts)


def shared_words(rows: Sequence[Row], shown: Shown, words: Words) -> str:
    """What all cases have in common besides the road, in one line."""
    parts = [_parts(row, shown, words) for row in rows]
    same = [key for key in parts[0] if key != "route" and len({part[key] for part in parts}) == 1]
    return ", ".join(parts[0][key] for key in same if parts[0][key])


def _parts(row: Row, shown: Shown, words: Words) -> dict[str, str]:
    def known(key: str, write: Callable[[Any], str]) -> str:
        return write(row[key]) if row.get(key) is not None else ""

    fitted = row.get("retarder") not in (None, "none") or row["retarder_out"]
    return {
        "route": str(row["route"]), "unit": str(row["unit"] or ""), "vehicle": known("vehicle", str),
        "gross": known("gross_kg", shown.mass),
        "retarder": words("label.retarder_out" if row["retarder_out"] else "label.retarder_working") if fitted else "",
        "road": known("road", lambda value: words(f"road.{value}")),
        "air": known("air_temp_c", lambda value: words("label.air", temperature=shown.temperature(value))),
        "condition": known("condition", lambda value: words("label.walk_round", file=value))}
