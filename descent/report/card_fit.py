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
# A4 lying with 9 mm margins is the lower page, US letter the narrower one [pt]; 6 % is kept in reserve.
_PAGE_HEIGHT_PT, _PAGE_WIDTH_PT = 0.94 * 192.0 / 25.4 * 72, 261.4 / 25.4 * 72
_LINE = 1.22
_WIDER = 1.08  # letters of the measured sans-serif over the estimate of text_width
_WHERE_SHARE, _BRAKES_SHARE = 0.215, 0.26


@dataclass(frozen=True)
class RowTexts:
    """The texts that decide a row's height. kind: "leg", "stop" or "ramp"; the empty ones do not count."""

    kind: str
    where: str
    brakes: str = ""
    gauge: str = ""
    slower: str = ""


def card_size_pt(rows: Sequence[RowTexts]) -> tuple[float, bool]:
    """The largest letter size [pt] that fits, and whether the small road profile has room too.

    Below SMALLEST_PT nothing shrinks further: letters one cannot read help nobody, and the card takes a
    second page.
    """
    for with_profile in (True, False):
        size = LARGEST_PT
        while size >= (_PROFILE_FROM_PT if with_profile else SMALLEST_PT):
            if _height_em(rows, size) + (5.1 if with_profile else 0.0) <= _PAGE_HEIGHT_PT / size:
                return round(size, 1), with_profile
            size -= 0.1
    return SMALLEST_PT, False


def _height_em(rows: Sequence[RowTexts], size_pt: float) -> float:
    width_em = _PAGE_WIDTH_PT / size_pt
    blocks = 6.6 + 0.85 * max(0.0, size_pt - 6.8)
    caution = 1.3 * (1 if size_pt < 8.6 else 2)
    return 1.4 + 2.5 + 1.5 + blocks + 3.4 + caution + sum(_row_em(row, width_em) for row in rows)


def _row_em(row: RowTexts, width_em: float) -> float:
    where = 1.18 * _LINE + 0.96 * _LINE * _lines(row.where, 0.96, _WHERE_SHARE * width_em) + 0.55
    if row.kind != "leg":
        return max(2.9, where)
    brakes = (
        _LINE
        * (
            1.08
            * (
                _lines(row.brakes, 1.08, _BRAKES_SHARE * width_em)
                + _lines(row.slower, 1.14, _BRAKES_SHARE * width_em)
            )
            + 0.9 * _lines(row.gauge, 0.9, _BRAKES_SHARE * width_em)
        )
        + 0.6
    )
    return max(4.4, where, brakes)


def _lines(text: str, em: float, room_em: float) -> int:
    return math.ceil(_WIDER * text_width(text, em) / room_em) if text else 0
