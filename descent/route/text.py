# SPDX-License-Identifier: MIT
"""Text from files made safe to show: no terminal escapes, no control or direction-changing characters."""

from __future__ import annotations

import re
import unicodedata

_ESCAPES = re.compile(r"(?:\x1b\[|\x9b)[0-?]*[ -/]*[@-~]|(?:\x1b\]|\x9d).*?(?:\x07|\x1b\\|\x9c)|\x1b[@-Z\\-_]")
_JOINERS = "\u200c\u200d"
_DROPPED = frozenset({"Cf", "Cs", "Co", "Cn"})
_SPACED = frozenset({"Cc", "Zs", "Zl", "Zp"})


def clean_text(text: object, *, limit: int = 120) -> str:
    """`text` as one printable line of at most `limit` characters.

    Escape sequences and invisible format characters are dropped, other control characters and runs of white
    space become one space. Markup stays as it is: whoever writes HTML escapes it there.
    """
    raw = _ESCAPES.sub("", str(text)[: 40 * limit])
    kept = []
    for char in raw:
        category = unicodedata.category(char)
        if category in _SPACED:
            kept.append(" ")
        elif category not in _DROPPED or char in _JOINERS:
            kept.append(char)
    line = " ".join("".join(kept).split())
    return line if len(line) <= limit else line[: limit - 1].rstrip() + "…"


def place_text(lon: float, lat: float) -> str:
    """A place as text, longitude first, to about a metre."""
    return f"lon {lon:.5f}, lat {lat:.5f}"


def length_text(length_m: float) -> str:
    """A length as text for messages: metres below 1 km, else kilometres."""
    return f"{length_m:.0f} m" if length_m < 1000 else f"{length_m / 1000:.1f} km"
