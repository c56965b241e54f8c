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
BRIEF_BELOW_PT = _PROFILE_FROM_PT  # smaller letters ask for the brief wording
_MARGIN_MM = 9.0
_RESERVE = 0.985  # of the height
_LINE = 1.22
_WIDER = 1.08  # letters of the measured sans-serif over the estimate of text_width
_WHERE_SHARE, _LENGTH_SHARE, _GEAR_SHARE, _RETARDER_SHARE, _BRAKES_SHARE = 0.165, 0.105, 0.145, 0.085, 0.295
_ORDER_SHARE = 0.73
_BLOCK_SHARES = (0.30, 0.22, 0.43)  # the three blocks of lines, side by side
_TIGHT = 1.16  # line height of the brief card
_BRIEF_WHERE_SHARE, _BRIEF_BRAKES_SHARE, _BRIEF_BLOCK_SHARES = 0.235, 0.265, (0.30, 0.22, 0.45)
_PLACES_SHARE = 0.47  # the list of places stands in two columns


@dataclass(frozen=True)
class Paper:
    """What a lying sheet has room for [pt]."""

    width_pt: float
    height_pt: float


def lying_sheet(width_mm: float, height_mm: float) -> Paper:
    """A sheet within its margins and the reserve."""
    point = 72.0 / 25.4
    return Paper((width_mm - 2 * _MARGIN_MM) * point, _RESERVE * (height_mm - 2 * _MARGIN_MM) * point)


LETTER, A4 = lying_sheet(279.4, 215.9), lying_sheet(297.0, 210.0)
EITHER = Paper(min(LETTER.width_pt, A4.width_pt), min(LETTER.height_pt, A4.height_pt))


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
    coordinates: str = ""


@dataclass(frozen=True)
class CardTexts:
    """The texts under and over the rows: lines of each block, of the lists of places and for a cold or wet day,
    warnings; head: all that stands beside the title on its line; and the paper."""

    blocks: tuple[tuple[str, ...], ...] = ()
    places: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    is_reversed: bool = False
    cold_wet: tuple[str, ...] = ()
    walk: str = ""
    head: str = ""
    caution: str = ""
    paper: Paper = EITHER


def brief_card_size_pt(rows: Sequence[RowTexts], texts: CardTexts) -> float:
    """The largest letter size [pt] at which a card in brief wording fits, never below SMALLEST_PT."""
    size = LARGEST_PT
    while size > SMALLEST_PT and _brief_height_em(rows, texts, size) > texts.paper.height_pt / size:
        size -= 0.1
    return max(SMALLEST_PT, round(size, 1))


def _brief_height_em(rows: Sequence[RowTexts], texts: CardTexts, size_pt: float) -> float:
    width_em = texts.paper.width_pt / size_pt
    tallest = max(
        (sum(_lines(line, 0.95, share * width_em - 1.2) for line in lines)
         for lines, share in zip(texts.blocks, _BRIEF_BLOCK_SHARES, strict=False)),
        default=0,
    )
    under = 1.45 + 0.95 * _TIGHT * tallest
    for listed in (texts.cold_wet, texts.places):
        if not listed:
            continue
        tall = [_lines(line, 0.92, 0.31 * width_em) for line in listed]
        under += 1.5 + 0.92 * _TIGHT * (math.ceil(sum(tall) / 3) + max(tall) - 1)
    under += (0.92 * _TIGHT * _lines(texts.walk, 0.92, 0.95 * width_em)) if texts.walk else 0.0
    warned = sum(1.1 * _TIGHT * _lines(line, 1.1, width_em) + 0.5 for line in texts.warnings)
    caution = 0.93 * _TIGHT * _lines(texts.caution or "x" * 130, 0.96, 0.97 * width_em)
    beside = _WIDER * text_width(texts.head, 1.15) + 4.0 < 0.97 * width_em
    head = 2.43 + (2.25 if beside else 3.6) + (1.5 if texts.is_reversed else 0.0)
    frame = 2.5  # the border, its padding and what is left free between the parts
    whole = head + warned + under + 2.65 + caution + frame + sum(_brief_row_em(row, width_em) for row in rows)
    return 0.975 * whole  # each part is guessed on the high side; in a browser all were 4 % and more lower


def _brief_row_em(row: RowTexts, width_em: float) -> float:
    if row.kind in ("stop", "ramp", "lower"):
        order = 1.25 if row.kind == "stop" else 1.0
        # place and order each on a line of their own cell; the note follows the order on its line
        width = 1.25 * text_width(row.order, order) + text_width(row.note, 0.92)
        lines = math.ceil(_WIDER * width / (0.70 * width_em))
        where = _lines("mi 00.0 " + row.where, 1.05, _BRIEF_WHERE_SHARE * width_em - 0.8)
        return max(1.5, _TIGHT * order * lines, _TIGHT * 1.02 * where) + 0.34
    where = _lines("mi 00.0 " + row.where, 1.02, _BRIEF_WHERE_SHARE * width_em - 0.8)
    where += _lines(row.coordinates, 0.82, _BRIEF_WHERE_SHARE * width_em - 0.8)
    brakes = _lines(row.order, 1.0, _BRIEF_BRAKES_SHARE * width_em) + _lines(row.note, 0.92, _BRIEF_BRAKES_SHARE * width_em)
    length = 1 + _lines(row.steep, 0.92, 0.135 * width_em - 0.6)
    gear = _lines(row.gear_by, 0.92, 0.145 * width_em - 3.4)
    retarder = _lines(row.retarder, 1.1, 0.085 * width_em - 0.6)
    return max(2.42, _TIGHT * max(where, brakes, length, gear, retarder)) + 0.34


def card_size_pt(rows: Sequence[RowTexts], texts: CardTexts | None = None) -> tuple[float, bool]:
    """The largest letter size [pt] that fits, and whether the small road profile has room too.

    Below SMALLEST_PT nothing shrinks further: letters one cannot read help nobody, and the card takes a
    second page.
    """
    texts = texts or CardTexts()
    for with_profile in (True, False):
        size = LARGEST_PT if with_profile else _PROFILE_FROM_PT  # more text never makes the letters larger
        while size >= (_PROFILE_FROM_PT if with_profile else SMALLEST_PT):
            needed = _height_em(rows, texts, size) + (5.1 if with_profile else 0.0)
            if needed <= texts.paper.height_pt / size:
                return round(size, 1), with_profile
            size -= 0.1
    return SMALLEST_PT, False


def _height_em(rows: Sequence[RowTexts], texts: CardTexts, size_pt: float) -> float:
    width_em = texts.paper.width_pt / size_pt
    blocks = [
        sum(_lines(line, 0.97, share * width_em - 1.2) for line in lines)
        for lines, share in zip(texts.blocks, _BLOCK_SHARES, strict=False)
    ]
    under = 2.2 + 0.97 * _LINE * max(blocks, default=0)
    under += (0.94 * _LINE * _lines(texts.walk, 0.94, 0.97 * width_em) + 0.6) if texts.walk else 0.0
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
    where += 0.82 * _LINE * _lines(row.coordinates, 0.82, _WHERE_SHARE * width_em)
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
