# SPDX-License-Identifier: MIT
"""A place out of a row of plan.json."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from descent.route.places import Place
from descent.route.text import clean_text


def place_of(row: Mapping[str, Any]) -> Place:
    """The place a row of `places` or `stops` tells of. Raises KeyError, TypeError or ValueError where it tells of none."""
    grade, room = row.get("local_grade"), row.get("room_m")
    return Place(clean_text(str(row.get("name") or "")), str(row["kind"]), float(row["lon"]), float(row["lat"]),
                 float(row["station_m"]), float(row.get("offset_m") or 0.0), str(row.get("side") or ""),
                 None if grade is None else float(grade), None if room is None else float(room), {})
