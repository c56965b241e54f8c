# SPDX-License-Identifier: MIT
"""Small pictures on one scale: the hottest brake of every case along its road."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from markupsafe import Markup

from descent.plan.model import COOLING_STOPS
from descent.report.shown import Shown
from descent.report.svg import ACCENT, ALARM, HAIRLINE, INK, MUTED, PAPER, join, nice_ticks, path_of, tag
from descent.report.words import Words

Row = Mapping[str, Any]
_WIDTH, _HEIGHT, _LEFT, _RIGHT, _TOP, _BOTTOM, _FONT = 420.0, 190.0, 46.0, 10.0, 22.0, 26.0, 13.0


@dataclass(frozen=True)
class Picture:
    """A case's picture with its name, what is said under it, and what would hold where it does not."""

    label: str
    drawn: Markup | None
    said: str
    changes: tuple[str, ...]
    holds: str


@dataclass(frozen=True)
class _Scale:
    """The scale all pictures share: length of road [m], and degrees [C]."""

    length_m: float
    low_c: float
    high_c: float
    limit_c: float

    def x(self, station_m: object) -> Any:
        return _LEFT + np.asarray(station_m, dtype=np.float64) / self.length_m * (_WIDTH - _LEFT - _RIGHT)

    def y(self, temp_c: object) -> Any:
        share = (np.asarray(temp_c, dtype=np.float64) - self.low_c) / (self.high_c - self.low_c)
        return _HEIGHT - _BOTTOM - share * (_HEIGHT - _BOTTOM - _TOP)


def pictures(document: Mapping[str, Any], labels: Sequence[str], shown: Shown, words: Words) -> tuple[Picture, ...]:
    """A picture for every case, in order; a case without a plan has words instead."""
    scale = _scale(document)
    return tuple(_picture(row, label, scale, shown, words)
                 for row, label in zip(document["cases"], labels, strict=True))


def scale_words(document: Mapping[str, Any], shown: Shown, words: Words) -> str:
    """The shared scale in words, or nothing where there is no picture."""
    scale = _scale(document)
    if scale is None:
        return ""
    return words("picture.scale", low=shown.temperature(scale.low_c), high=shown.temperature(scale.high_c),
                 distance=shown.distance(scale.length_m))


def _scale(document: Mapping[str, Any]) -> _Scale | None:
    drawn = [row for row in document["cases"] if row.get("drawn")]
    if not drawn:
        return None
    temps = [temp for row in drawn for temp in row["drawn"]["brake_temp_c"]]
    limit = max(float(row["limit_c"]) for row in drawn)
    return _Scale(max(float(row["length_m"]) for row in drawn), 20.0 * np.floor(min(temps) / 20.0),
                  max(max(temps), limit) + 12.0, limit)


def _picture(row: Row, label: str, scale: _Scale | None, shown: Shown, words: Words) -> Picture:
    name = f"{row['number']}. {label}"
    if not row.get("drawn") or scale is None:
        changes = tuple(words("picture.change", change=one["change"], effect=one["effect"])
                        for one in row.get("alternatives") or ())
        return Picture(name, None, str(row["verdict_reason"]), changes, "no")
    drawn = row["drawn"]
    peak = int(np.argmax(drawn["brake_temp_c"]))
    said = words("picture.peak", temperature=shown.hot(drawn["brake_temp_c"][peak]),
                 at=shown.at(drawn["station_m"][peak]))
    return Picture(name, _drawn(row, label, scale, shown, words), said, (), "yes")


def _drawn(row: Row, label: str, scale: _Scale, shown: Shown, words: Words) -> Markup:
    x, y = scale.x(row["drawn"]["station_m"]), scale.y(row["drawn"]["brake_temp_c"])
    floor = _HEIGHT - _BOTTOM
    area = path_of(np.concatenate([[x[0]], x, [x[-1]]]), np.concatenate([[floor], y, [floor]])) + "Z"
    name = f"case-{row['number']}"
    parts = [
        tag("title", words("picture.title", number=row["number"], label=label), id=f"{name}-title"),
        tag("desc", words("picture.desc", limit=shown.temperature(row["limit_c"])), id=f"{name}-desc"),
        *_axes(scale, shown), tag("path", d=area, fill="#dbe4ea"),
        tag("path", d=path_of(x, y), fill="none", stroke=ACCENT, stroke_width=2.0, stroke_linejoin="round"),
        _limit(row, scale, shown, words), *_stops(row, scale, words)]
    return tag("svg", join(parts), class_="small-picture", viewBox=f"0 0 {_WIDTH:.0f} {_HEIGHT:.0f}", role="img",
               aria_labelledby=f"{name}-title {name}-desc")


def _text(x: float, y: float, words: str, **style: object) -> Markup:
    return tag("text", words, x=float(x), y=float(y), font_size=_FONT, **{"fill": MUTED, **style})


def _axes(scale: _Scale, shown: Shown) -> list[Markup]:
    found = []
    low, high = shown.units.temperature(scale.low_c), shown.units.temperature(scale.high_c)
    per = (scale.high_c - scale.low_c) / (high - low)
    for tick in nice_ticks(low, high, most=5):
        at = float(scale.y(scale.low_c + (tick - low) * per))
        found += [tag("path", d=f"M{_LEFT:.1f},{at:.1f}H{_WIDTH - _RIGHT:.1f}", stroke=HAIRLINE),
                  _text(_LEFT - 6, at + 4.5, shown.number(tick), text_anchor="end")]
    symbol, size = shown.units.distance
    ticks = nice_ticks(0.0, scale.length_m / size, most=6)
    for tick in ticks[:-1]:
        found.append(_text(float(scale.x(tick * size)), _HEIGHT - 8, shown.number(tick), text_anchor="middle"))
    found.append(_text(_WIDTH - _RIGHT, _HEIGHT - 8, symbol, text_anchor="end"))
    found.append(_text(_LEFT - 6, 12, shown.units.temperature_symbol, text_anchor="end"))
    return found


def _limit(row: Row, scale: _Scale, shown: Shown, words: Words) -> Markup:
    at = float(scale.y(row["limit_c"]))
    label = words("picture.limit", limit=shown.temperature(row["limit_c"]))
    return join([tag("path", d=f"M{_LEFT:.1f},{at:.1f}H{_WIDTH - _RIGHT:.1f}", stroke=ALARM, stroke_width=1.6,
                     stroke_dasharray="6 4"),
                 _text(_WIDTH - _RIGHT, at - 5, label, text_anchor="end", fill=ALARM, font_weight=600)])


def _stops(row: Row, scale: _Scale, words: Words) -> list[Markup]:
    """A dot and the minutes at every stop to cool the brakes."""
    found = []
    for stop in row["stops"]:
        if stop["kind"] not in COOLING_STOPS:
            continue
        x = float(scale.x(stop["station_m"]))
        arrive = float(np.interp(stop["station_m"] - 1.0, row["drawn"]["station_m"], row["drawn"]["brake_temp_c"]))
        y = float(scale.y(arrive))
        found += [tag("circle", cx=x, cy=y, r=4.5, fill=INK, stroke=PAPER, stroke_width=1.5),
                  _text(x + 7, y + 16, words("picture.minutes", minutes=int(stop["minutes"])), fill=INK,
                        stroke=PAPER, stroke_width=3.0, paint_order="stroke")]
    return found
