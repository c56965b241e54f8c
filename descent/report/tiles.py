# SPDX-License-Identifier: MIT
"""The address of a server's map pictures, checked: one server, named outright, and nothing else in it."""

from __future__ import annotations

import re
from dataclasses import dataclass

from descent.errors import Fault, RequestError

_ADDRESS = re.compile(
    r"(?P<origin>(?P<scheme>https?)://(?P<host>[A-Za-z0-9](?:[A-Za-z0-9.-]*[A-Za-z0-9])?)(?::\d{1,5})?)"
    r"/[A-Za-z0-9._~/{}?=&%+-]*"
)
_NAMES = ("z", "x", "y")
_HERE = ("localhost", "127.0.0.1")


@dataclass(frozen=True)
class TileSource:
    """url: with {z}, {x} and {y}; origin: scheme, host and port; host: as the reader is told; credit: whose map it
    is, shown while it is on."""

    url: str
    origin: str
    host: str
    credit: str = ""


def tile_source(url: str, *, credit: str = "") -> TileSource:
    """Check a template such as "https://tiles.example/{z}/{x}/{y}.png". Raises RequestError tiles-address."""
    match = _ADDRESS.fullmatch(url.strip())
    names = sorted(re.findall(r"{([^{}]*)}", url))
    if match is None or names != sorted(_NAMES) or (match["scheme"] == "http" and match["host"] not in _HERE):
        raise RequestError(Fault(
            "tiles-address", "this is not the address of a server of map pictures",
            "Give https://SERVER/PATH with {z}, {x} and {y} once each, and no other name in braces", "--tiles",
            repr(url[:120])))
    return TileSource(url.strip(), match["origin"], match["host"], credit.strip())
