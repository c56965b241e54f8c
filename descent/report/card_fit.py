# SPDX-License-Identifier: MIT
"""The letter size at which a card fits one printed page, from an estimate of the lines its texts take.

Heights are in multiples of the letter size (em), as the card's print style sets them; they were measured in a
browser with a wide sans-serif, so that narrower letters only leave more room.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from descent.report.svg import text_width

LARGEST_PT, SMALLEST_PT = 12.0, 6.8
_PROFILE_FROM_PT = 7.6
# A4 lying with 9 mm margins is the lower page, US letter the narrower one [pt]; 2 % is kept in reserve.
_PAGE_HEIGHT_PT, _PAGE_WIDTH_PT = 0.98 * 192.0 / 25.4 * 72, 261.4 / 25.4 * 72
_LINE = 1.22
_WIDER = 1.08  # letters of the measured sans-serif over the estimate of text_width
_WHERE_SHARE, _LENGTH_SHARE, _GEAR_SHARE, _RETARDER_SHARE, _BRAKES_SHARE = 0.165, 0.105, 0.145, 0.085, 0.295
_ORDER_SHARE = 0.73
_BLOCK_SHARES = (0.30, 0.22, 0.43)  # the three blocks of lines, side by side
_PLACES_SHARE = 0.47  # the list of places stands in two columns


@dataclass(frozen=True)
class RowTexts:
    """The texts that decide a row's height. kind: "leg", "lower", "stop" or "ramp"; the empty ones do not
    count."""

    kind: str
    where: str
    order: str = ""
    note: str = ""
    gear_by: str = ""
    steep: str = ""
    retarder: str = ""


@dataclass(frozen=True)
class CardTexts:
    """The texts under and over the rows: lines of each block, of the lists of places and for a cold or wet day, warnings."""

    blocks: tuple[tuple[str, ...], ...] = ()
    places: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    is_reversed: bool = False
    cold_wet: tuple[str, ...] = ()


def card_size_pt(rows: Sequence[RowTexts], texts: CardTexts | None = None) -> tuple[float, bool]:
    """The largest letter size [pt] that fits, and whether the small road profile has room too.

    Below SMALLEST_PT nothing shrinks further: letters one cannot read help nobody, and the card takes a
    second page.
    """
    texts = texts or CardTexts()
    for with_profile in (True, False):
        size = LARGEST_PT
        while size >= (_PROFILE_FROM_PT if with_profile else SMALLEST_PT):
            needed = _height_em(rows, texts, size) + (5.1 if with_profile else 0.0)
            if needed <= _PAGE_HEIGHT_PT / size:
                return round(size, 1), with_profile
            size -= 0.1
    return SMALLEST_PT, False


def _height_em(rows: Sequence[RowTexts], texts: CardTexts, size_pt: float) -> float:
    width_em = _PAGE_WIDTH_PT / size_pt
    blocks = [
        sum(_lines(line, 0.97, share * width_em - 1.2) for line in lines)
        for lines, share in zip(texts.blocks, _BLOCK_SHARES, strict=False)
    ]
    under = 2.2 + 0.97 * _LINE * max(blocks, default=0)
    for listed in (texts.cold_wet, texts.places):
        if not listed:
            continue
        tall = [_lines(line, 0.94, _PLACES_SHARE * width_em) for line in listed]
        under += 2.0 + 0.94 * _LINE * (sum(tall) / 2 + max(tall))
    warned = sum(1.1 * _LINE * _lines(line, 1.1, width_em) + 0.2 for line in texts.warnings)
    caution = 1.3 * (1 if size_pt < 8.6 else 2)
    head = 2.6 * _LINE + 2.5 + (1.5 if texts.is_reversed else 0.0)
    return head + warned + under + 3.4 + caution + sum(_row_em(row, width_em) for row in rows)


def _row_em(row: RowTexts, width_em: float) -> float:
    where = 1.18 * _LINE + 0.96 * _LINE * _lines(row.where, 0.96, _WHERE_SHARE * width_em) + 0.55
    if row.kind in ("stop", "ramp"):
        order = 1.45 if row.kind == "stop" else 1.1
        text = order * _LINE * _lines(row.order, 1.08 * order, _ORDER_SHARE * width_em)
        return max(2.9, where, text + 0.96 * _LINE * _lines(row.note, 0.96, _ORDER_SHARE * width_em) + 0.5)
    brakes = 1.08 * _LINE * _lines(row.order, 1.08, _BRAKES_SHARE * width_em)
    brakes += 0.9 * _LINE * _lines(row.note, 0.9, _BRAKES_SHARE * width_em) + 0.6
    gear = 0.96 * _LINE * _lines(row.gear_by, 0.96, _GEAR_SHARE * width_em - 3.0) + 0.6
    length = 1.18 * _LINE + 0.96 * _LINE * _lines(row.steep, 0.96, _LENGTH_SHARE * width_em) + 0.6
    retarder = 1.18 * _LINE * _lines(row.retarder, 1.25, _RETARDER_SHARE * width_em) + 0.6
    return max(3.2, where, brakes, length, retarder, gear)


def _lines(text: str, em: float, room_em: float) -> int:
    return math.ceil(_WIDER * text_width(text, em) / room_em) if text else 0
