# SPDX-License-Identifier: MIT
"""Small pieces of SVG text: escaped tags, paths, axis steps and the width a label takes."""

from __future__ import annotations

import math
from collections.abc import Iterable

from markupsafe import Markup, escape

from descent.report.trip import FloatArray

INK = "#15191d"
MUTED = "#4a545e"
HAIRLINE = "#c9d0d6"
ACCENT = "#0b4f6c"
ALARM = "#9b1c1c"
PAPER = "#ffffff"


def decimal(value: float) -> str:
    """A coordinate with at most one decimal."""
    return f"{value:.1f}".removesuffix(".0")


def tag(name: str, content: Markup | str = "", /, **attributes: object) -> Markup:
    """One element; attribute names write "-" as "_"; content that is plain text is escaped; None leaves one
    out."""
    parts = [name]
    for key, value in attributes.items():
        if value is not None:
            shown = decimal(value) if isinstance(value, float) else value
            parts.append(f'{key.rstrip("_").replace("_", "-")}="{escape(shown)}"')
    inside = escape(content)
    head = " ".join(parts)
    return Markup(f"<{head}/>" if not inside else f"<{head}>{inside}</{name}>")


def join(parts: Iterable[Markup | str]) -> Markup:
    """Pieces one after another, plain text escaped."""
    return Markup("").join(parts)


def path_of(x: FloatArray, y: FloatArray) -> str:
    """The `d` of a line through points."""
    points = " ".join(f"{decimal(float(a))},{decimal(float(b))}" for a, b in zip(x, y, strict=True))
    return f"M{points}"


def nice_step(span: float, *, most: int) -> float:
    """The smallest of 1, 2, 2.5, 5 times a power of ten that cuts `span` into at most `most` parts."""
    raw = max(span, 1e-12) / most
    power = 10.0 ** math.floor(math.log10(raw))
    for factor in (1.0, 2.0, 2.5, 5.0):
        if factor * power >= raw * (1 - 1e-9):
            return factor * power
    return 10.0 * power


def nice_ticks(low: float, high: float, *, most: int) -> tuple[float, ...]:
    """Round values from `low` to `high`."""
    step = nice_step(high - low, most=most)
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return tuple(number * step for number in range(first, last + 1))


def text_width(text: str, size_px: float) -> float:
    """A cautious guess of a label's width in the system's sans-serif."""
    return (
        sum(
            0.36 if letter in " .,:;il|'·\u00a0" else 0.72 if letter.isupper() or letter in "mw%" else 0.58
            for letter in text
        )
        * size_px
    )
