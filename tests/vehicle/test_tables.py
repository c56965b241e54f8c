# SPDX-License-Identifier: MIT
"""Every number in the package's tables of vehicles and physics names its unit and where it is from."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from descent.sources import load_sources
from descent.vehicle.schema import WORDS

ROOT = Path(__file__).parents[2] / "descent"
TABLES = sorted([*(ROOT / "vehicle" / "tables").glob("*.toml"), *(ROOT / "physics" / "tables").glob("*.toml")])
COUNTS = ("axle_count", "brake_count")
UNIT_IN_NAME = re.compile(r"_(?:in|in2|in3|m|mm|kg|kpa|psi|rpm|w|c|s)$")
WITH_UNIT = re.compile(r"^-?[\d.]+(?:lb|kg|t|m|in|L|psi|kPa|kW|F|C|Nm)$")


def faults(table: dict[str, Any], sources: tuple[str, ...] = (), place: str = "") -> Iterator[str]:
    """Places where a number stands without unit or source. `sources` of a whole file count for units in names."""
    sources = tuple(table.get("sources", sources))
    if "value" in table:
        if table.get("source") not in load_sources():
            yield f"{place}: source {table.get('source')!r}"
        if place.startswith("air.") and place.removeprefix("air.") in WORDS["air"]:
            return                                        # a word or a yes or no has a source, but no unit
        if isinstance(table["value"], str):
            if not WITH_UNIT.match(table["value"]):
                yield f"{place}: {table['value']!r} has no unit"
        elif not table.get("unit"):
            yield f"{place}: no unit"
        return
    for key, value in table.items():
        here = f"{place}.{key}".lstrip(".")
        if isinstance(value, dict):
            yield from faults(value, sources, here)
        elif isinstance(value, list) and value and isinstance(value[0], dict):
            for row in value:
                yield from faults(row, sources, here)
        elif key not in COUNTS and _numeric(value) and not (UNIT_IN_NAME.search(key) and sources
                                                            and set(sources) <= set(load_sources())):
            yield f"{here}: a bare number"


def _numeric(value: object) -> bool:
    if isinstance(value, list):
        return any(_numeric(item) for item in value)
    return isinstance(value, int | float) and not isinstance(value, bool)


@pytest.mark.parametrize("path", TABLES, ids=lambda path: path.name)
def test_every_row_has_unit_and_source(path: Path) -> None:
    assert list(faults(tomllib.loads(path.read_text(encoding="utf-8")))) == []


@pytest.mark.parametrize("text", [
    "[engine]\nidle = 650", '[engine]\nidle = { value = 650, unit = "rpm" }',
    '[engine]\nidle = { value = 650, source = "assumed" }', '[engine]\nstroke = { value = "0.15", source = "assumed" }',
    '[engine]\nidle = { value = 650, unit = "rpm", source = "someone" }', "[gearbox]\nratios = [1.0, 2.0]",
    '[air]\nbody = { value = "bus" }', '[air]\ncut_in = { value = "bus", source = "assumed" }', "[[chambers]]\narea_in2 = 30", 'sources = ["practice"]\n[[chambers]]\narea = 30'])
def test_a_row_without_unit_or_source_is_refused(text: str) -> None:
    assert len(list(faults(tomllib.loads(text)))) == 1
