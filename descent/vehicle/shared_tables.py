# SPDX-License-Identifier: MIT
"""Tables that classes share: gearboxes by name, and what each kind of load changes."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from functools import cache
from importlib import resources
from types import MappingProxyType
from typing import Any

from descent.vehicle.model import Load, LoadKind, StopRule
from descent.vehicle.schema import Reader, Table

SHARED = ("chambers", "gearboxes", "loads")
"""Tables that are not classes."""

LOAD_NUMBERS = ("rollover_threshold", "curve_share", "greatest_lateral", "greatest_decel")


@cache
def shared_table(name: str) -> Mapping[str, Any]:
    """One shared table by name (read once, read-only).

    >>> list(shared_table("gearboxes"))[:3]
    ['6-speed', '9-speed', '10-speed']
    """
    text = (resources.files("descent.vehicle") / "tables" / f"{name}.toml").read_text(encoding="utf-8")
    return MappingProxyType(tomllib.loads(text))


def with_gear_set(gearbox: Table) -> Table:
    """A [gearbox] table with the named set filled in underneath; an unknown name is left for `read_gear_set`.

    >>> with_gear_set({"set": "10-speed"})["names"][-1]
    '10'
    """
    row = shared_table("gearboxes").get(str(gearbox.get("set")))
    return gearbox if row is None else {**row, **{key: value for key, value in gearbox.items() if key != "set"}}


def read_gear_set(gearbox: Table, reader: Reader) -> None:
    """Fault a gear set nobody knows (a known one has been filled in before)."""
    if "set" in gearbox:
        reader.not_known("gearbox.set", "this gear set is not known", str(gearbox["set"]), list(shared_table("gearboxes")))


def read_load(table: Table, reader: Reader) -> Load:
    """The load from a [load] table: a kind, and any of its numbers overridden."""
    name = str(table.get("kind", "general"))
    rows = shared_table("loads")
    if name not in rows:
        reader.not_known("load.kind", "this kind of load is not known", str(name), list(rows))
        name = "general"
    row = {**rows[name], **table}
    numbers = {key: reader.number("load", row, key, "load") if key in row else math.inf for key in LOAD_NUMBERS}
    return Load(LoadKind(name), numbers["rollover_threshold"], numbers["curve_share"], numbers["greatest_lateral"],
                numbers["greatest_decel"], reader.choice(StopRule, row["stops"], "load.stops"),
                tuple(row["must_stop_at"]), tuple(row["effects"]))
