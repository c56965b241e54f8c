# SPDX-License-Identifier: MIT
"""Balance speeds of every gear and retarder stage on a grade, as a plot in SVG."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence

from markupsafe import Markup

from descent.physics.characteristics import Balance, BalancePoint, BalanceTable
from descent.report.balance_text import condition_text
from descent.report.svg import ACCENT, ALARM, HAIRLINE, INK, MUTED, PAPER, join, nice_ticks, tag, text_width
from descent.units import DisplayUnits

WIDTH, LEFT, RIGHT, TOP, ROW, FOOT = 860.0, 132.0, 180.0, 92.0, 30.0, 74.0
FONT = "system-ui, sans-serif"


def balance_svg(table: BalanceTable, units: DisplayUnits) -> str:
    """One row per gear: a bar from idle to governed speed, and a mark with the stage's name at each speed held.

    Where no speed is held the row says so at the right; stages are told apart by their name, not by colour.
    """
    symbol, unit = units.speed
    gears = len(table.points)
    most = max(min(table.governed_mps[-1], 40.0) / unit, 10.0)
    height = TOP + ROW * gears + FOOT
    bottom = TOP + ROW * gears

    def across(value: float) -> float:
        return LEFT + (WIDTH - LEFT - RIGHT) * min(value, most) / most

    parts: list[Markup | str] = [tag("rect", width=WIDTH, height=height, fill=PAPER)]
    parts.append(_label(16.0, 28.0, f"Speed held without the service brakes: {table.vehicle.name}", size=17.0, weight="600"))
    parts.append(_label(16.0, 50.0, condition_text(table, units), fill=MUTED))
    parts.append(_label(16.0, TOP - 14.0, "gear", fill=MUTED))
    parts.append(_label(WIDTH - RIGHT + 12.0, TOP - 14.0, "runs away in stage", fill=MUTED))
    for value in nice_ticks(0.0, most, most=8):
        x = across(value)
        parts.append(tag("line", x1=x, x2=x, y1=TOP - 4, y2=bottom, stroke=HAIRLINE))
        parts.append(_label(x, bottom + 18.0, f"{value:g}", anchor="middle", fill=MUTED))
    parts.append(_label((LEFT + WIDTH - RIGHT) / 2, bottom + 38.0, f"road speed, {symbol}", anchor="middle"))
    stages = "0 is the retarder off" if table.vehicle.retarder.stages else "0 is the engine alone"
    parts.append(_label(16.0, bottom + 62.0, "Bar: from idle to the fastest the engine may turn. Mark: the retarder stages that "
                                             f"hold about this speed; {stages}.", fill=MUTED, size=12.0))
    for gear in range(gears):
        parts.append(_row(table, gear, TOP + ROW * (gear + 0.5), unit, across))
    title = f"Balance speeds of {table.vehicle.name} on a grade of {100 * table.grade:.3g} percent"
    return str(tag("svg", join([tag("title", title), *parts]), xmlns="http://www.w3.org/2000/svg", role="img",
                   viewBox=f"0 0 {WIDTH:g} {height:g}", font_family=FONT)) + "\n"


def _row(table: BalanceTable, gear: int, y: float, unit: float, across: Callable[[float], float]) -> Markup:
    points = table.points[gear]
    parts = [_label(60.0, y + 5.0, table.vehicle.gearbox.names[gear], anchor="end", weight="600", size=14.0)]
    low, high = across(table.idle_mps[gear] / unit), across(table.governed_mps[gear] / unit)
    parts.append(tag("line", x1=low, x2=high, y1=y, y2=y, stroke=HAIRLINE, stroke_width=6.0))
    parts.append(tag("line", x1=high, x2=high, y1=y - 8, y2=y + 8, stroke=INK, stroke_width=2.0))
    held = sorted((across(item.speed_mps / unit), item.stage) for item in points if item.speed_mps is not None)
    groups: list[list[tuple[float, int]]] = []
    for x, stage in held:
        if groups and x - groups[-1][-1][0] < 20.0:
            groups[-1].append((x, stage))
        else:
            groups.append([(x, stage)])
    for group in groups:
        parts.append(_pill(sum(x for x, _ in group) / len(group), y, _stages(stage for _, stage in group)))
    slow = [item.stage for item in points if item.balance is Balance.NEEDS_POWER]
    if slow:
        parts.append(_label(low - 8.0, y + 5.0, f"{_stages(slow)} slower", anchor="end", fill=MUTED))
    parts.append(_label(WIDTH - RIGHT + 12.0, y + 5.0, _runs_away(points, unit), fill=ALARM, weight="600"))
    return join(parts)


def _pill(x: float, y: float, text: str) -> Markup:
    half = max(8.0, 0.5 * text_width(text, 11.0) + 5.0)
    return join([tag("rect", x=x - half, y=y - 8.0, width=2 * half, height=16.0, rx=8.0, fill=ACCENT),
                 _label(x, y + 4.0, text, anchor="middle", size=11.0, fill=PAPER, weight="600")])


def _stages(stages: Iterable[int]) -> str:
    """Stage numbers, a run of three or more as first-last."""
    found = sorted(stages)
    if len(found) > 2 and found[-1] - found[0] == len(found) - 1:
        return f"{found[0]}-{found[-1]}"
    return ", ".join(map(str, found))


def _runs_away(points: Sequence[BalancePoint], unit: float) -> str:
    away = [item.stage for item in points if item.balance is Balance.RUNS_AWAY]
    parts = ["all" if len(away) == len(points) > 1 else _stages(away)] if away else []
    above: dict[int, list[int]] = {}
    for item in points:
        if item.lost_mps is not None:
            above.setdefault(math.floor(item.lost_mps / unit), []).append(item.stage)
    return "; ".join([*parts, *(f"{_stages(stages)} above {speed}" for speed, stages in above.items())])


def _label(x: float, y: float, text: str, *, anchor: str = "start", size: float = 13.0, fill: str = INK,
           weight: str | None = None) -> Markup:
    return tag("text", text, x=x, y=y, text_anchor=anchor, font_size=size, fill=fill, font_weight=weight)
