# SPDX-License-Identifier: MIT
"""Reads the open map tags `bridge`, `tunnel` and `maxspeed` of a line as spans along the route.

Tag names and value forms: OpenStreetMap wiki, "Key:bridge", "Key:tunnel", "Key:maxspeed" (from memory).
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from descent.errors import RequestError
from descent.route.line import TaggedSpan
from descent.units import KMH_MPS, SPEED, parse

_NO = frozenset({"", "no", "n", "false", "f", "0", "none", "null", "nan", "<na>"})
_NO_LIMIT = frozenset({"", "none", "no", "null", "nan", "<na>", "signals", "variable", "implicit"})
_LOWEST_MPS, _HIGHEST_MPS = 5 * KMH_MPS, 200 * KMH_MPS
_BARE = re.compile(r"\d+(?:\.\d+)?$")


def is_set(text: str) -> bool:
    """Whether a tag value such as "yes", "viaduct" or "no" says that the thing is there."""
    return text.strip().lower() not in _NO


def speed_limit_mps(text: str) -> float | None:
    """A maxspeed value as [m/s]: "55 mph", "80" (km/h), "50;40" (the lowest); None for "none" and the like.

    Raises ValueError when the text is no speed limit or one outside 5 to 200 km/h.
    """
    limits = []
    for item in text.split(";"):
        word = item.strip().lower()
        if word in _NO_LIMIT:
            continue
        try:
            speed = float(word) * KMH_MPS if _BARE.match(word) else parse(word, SPEED, where="maxspeed")
        except RequestError:
            raise ValueError(text) from None
        if not _LOWEST_MPS <= speed <= _HIGHEST_MPS:
            raise ValueError(text)
        limits.append(speed)
    return min(limits) if limits else None


def spans_of(attributes: Mapping[str, str], start_m: float, end_m: float, *, turned: bool,
             notes: list[str]) -> list[TaggedSpan]:
    """The spans one line's tags stand for, from `start_m` to `end_m` along the route.

    turned: the line is driven against the direction it was drawn in, which decides between maxspeed:forward
    and maxspeed:backward. Of several limits that apply (maxspeed, maxspeed:hgv, ...) the lowest counts.
    Values that cannot be understood are left out and said in `notes`.
    """
    tags = {key.strip().lower(): value for key, value in attributes.items()}
    spans = [TaggedSpan(kind, start_m, end_m) for kind in ("bridge", "tunnel") if is_set(tags.get(kind, ""))]
    way = "backward" if turned else "forward"
    limits = []
    for key in ("maxspeed", f"maxspeed:{way}", "maxspeed:hgv", f"maxspeed:hgv:{way}"):
        if key not in tags:
            continue
        try:
            limit = speed_limit_mps(tags[key])
        except ValueError:
            notes.append(f"the {key} value {tags[key]!r} is not a speed limit and was left out")
            continue
        if limit is not None:
            limits.append(limit)
    if limits:
        spans.append(TaggedSpan("maxspeed", start_m, end_m, min(limits)))
    return spans


def merge_spans(spans: list[TaggedSpan], *, within_m: float = 1.0) -> tuple[TaggedSpan, ...]:
    """Spans of one kind and value that touch made one; sorted by start, then kind."""
    merged: list[TaggedSpan] = []
    open_at: dict[tuple[str, float], int] = {}
    for span in sorted(spans, key=lambda span: (span.start_m, span.kind)):
        key = (span.kind, span.value)
        index = open_at.get(key)
        if index is not None and span.start_m <= merged[index].end_m + within_m:
            last = merged[index]
            merged[index] = TaggedSpan(span.kind, last.start_m, max(last.end_m, span.end_m), span.value)
        else:
            open_at[key] = len(merged)
            merged.append(span)
    return tuple(merged)
