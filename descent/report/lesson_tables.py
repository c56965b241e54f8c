# SPDX-License-Identifier: MIT
"""The gears of a lesson side by side as a table, and the two sheets for the class."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from descent.report.lesson_pack import at_fastest
from descent.report.lesson_plots import GearLine, small_multiples
from descent.report.lesson_tell import Key, Teller

COLUMNS = ("gear", "speed", "hottest", "emergency", "limit_at", "firmest", "share", "result")


@dataclass(frozen=True)
class GearRow:
    """One gear: its cells in the order of `COLUMNS`, its state, and whether it is the right one."""

    cells: Sequence[str]
    state: str
    right: bool


@dataclass(frozen=True)
class SheetRow:
    """One curve of the sheets: its letter, the small picture, and the answers."""

    letter: str
    picture: Markup
    gear: str
    speed: str
    hottest: str
    limit_at: str
    one_left: str


@dataclass(frozen=True)
class Sheets:
    """Both sheets: rows in the order of their letters, what to think about, and the answers to that."""

    rows: Sequence[SheetRow]
    gears: Sequence[str]
    think: Sequence[str]
    think_answers: Sequence[str]


def gear_keys(tell: Teller) -> list[Key]:
    """The grid points compared: every gear at its fastest speed, full weight, retarder fully on, in adjustment, snubbed."""
    return [at_fastest(dict(tell.document), gear) for gear in range(len(tell.document["axes"]["gear"]))]


def gear_lines(tell: Teller) -> list[GearLine]:
    """The lines of the comparison's picture."""
    return [GearLine(tell.say("plot.gear", gear=tell.gear(key)), tell.outcomes[key]["curve"]["temp_c"])
            for key in gear_keys(tell)]


def gear_rows(tell: Teller) -> list[GearRow]:
    """The comparison as a table."""
    rows = []
    for key in gear_keys(tell):
        row = tell.outcomes[key]
        pressure = tell.shown.pressure(row["peak_kpa"]) if row["peak_kpa"] > 0 else tell.say("gears.no_brake")
        cells = (tell.gear(key), tell.speed(key), tell.shown.hot(row["peak_temp_c"]), tell.emergency(row), _limit(tell, key),
                 pressure, tell.share(row, "brakes_j"), tell.say(f"state.{row['state']}"))
        rows.append(GearRow(cells, str(row["state"]), tell.document["right_gear"] == key[0]))
    return rows


def _limit(tell: Teller, key: Key) -> str:
    at = tell.outcomes[key]["story"]["limit_m"]
    return tell.say("gears.never") if at is None else tell.where(at)


def mixed(count: int) -> list[int]:
    """An order of 0..count-1 that is not the order of gears (of two or more): every other one on, round and round."""
    left, order, at = list(range(count)), [], 0
    while left:
        at = (at + 1) % len(left)
        order.append(left.pop(at))
    return order


def sheets(tell: Teller) -> Sheets:
    """The class's sheets: the curves in mixed order under letters."""
    keys = [gear_keys(tell)[index] for index in mixed(len(gear_keys(tell)))]
    letters = [chr(ord("P") + number) for number in range(len(keys))]
    lines = [GearLine(tell.say("plot.curve", letter=letter), tell.outcomes[key]["curve"]["temp_c"])
             for letter, key in zip(letters, keys, strict=True)]
    pictures = small_multiples(dict(tell.document), lines, tell.shown, tell.say)
    rows = []
    for letter, key, picture in zip(letters, keys, pictures, strict=True):
        row = tell.outcomes[key]
        rows.append(SheetRow(letter, picture, tell.gear(key), tell.speed(key), tell.shown.hot(row["peak_temp_c"]),
                             _limit(tell, key), tell.say("sheet.yes" if row["state"] == "holds" else "sheet.no")))
    answers = [text.replace("{right}", _right(tell)) for text in _raw(tell, "sheet.think_answers")]
    return Sheets(rows, [tell.gear(key) for key in gear_keys(tell)], _raw(tell, "sheet.think"), answers)


def _raw(tell: Teller, key: str) -> list[str]:
    return [text for name, text in tell.say.table.items() if name.startswith(f"{key}.")]


def _right(tell: Teller) -> str:
    at = tell.document["right_gear"]
    keys = gear_keys(tell)
    if at is None:
        return tell.say("sheet.no_right", limit=tell.limit)
    if at + 1 >= len(keys):
        return tell.say("sheet.highest_right", gear=tell.gear(keys[at]), limit=tell.limit)
    return tell.say("sheet.right_gear", gear=tell.gear(keys[at]), limit=tell.limit, next=tell.gear(keys[at + 1]),
                    hottest=tell.emergency(tell.outcomes[keys[at + 1]]))
