# SPDX-License-Identifier: MIT
"""The places of a plan document as the naming of stations wants them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from descent.route.naming import Mileposts, mileposts_of, posted_number
from descent.route.places import Place

_TEXTS = ("milepost", "mile", "distance", "ref", "value")


def place_of(row: Mapping[str, Any]) -> Place:
    """A row of `places` as a place of the route."""
    texts = {key: str(row[key]) for key in _TEXTS if row.get(key) is not None}
    return Place(str(row.get("name") or ""), str(row["kind"]), float(row["lon"]), float(row["lat"]),
                 float(row["station_m"]), float(row.get("offset_m") or 0.0), str(row.get("side") or ""),
                 attributes=texts)


def document_mileposts(rows: Iterable[Mapping[str, Any]]) -> Mileposts:
    """The mileposts among the rows of `places`."""
    return mileposts_of([place_of(row) for row in rows])


def number_on_post(row: Mapping[str, Any]) -> float | None:
    """The number on a milepost's row; None where it is not clear."""
    return posted_number(place_of(row))
