# SPDX-License-Identifier: MIT
"""Draws a road profile so that a person can judge it: samples, band, structures, downgrades and confidence (SVG)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from markupsafe import Markup

from descent.downgrades.model import Downgrade
from descent.report.svg import ALARM, HAIRLINE, INK, MUTED, PAPER, join, nice_ticks, path_of, tag
from descent.report.thin import thin_columns, thin_line
from descent.report.trip import FloatArray
from descent.terrain.road_profile import RoadProfile

_WIDTH, _LEFT, _RIGHT, _FONT = 1200.0, 64.0, 16.0, 13.0
_HEIGHT_PLOT, _MISFIT_PLOT, _GRADE_PLOT, _GAP, _BAR = 150.0, 60.0, 130.0, 14.0, 12.0
_ROW_LENGTH_M, _MOST_ROWS = 16_000.0, 60
_NORMAL_90 = 1.645                      # two-sided 90 % point of the normal distribution
_BAND, _SAMPLE = "#b9c7d1", "#b45309"
_LEVELS = {"good": ("#3f7d4e", "good"), "fair": ("#c9a227", "fair"), "poor": ("#c2570c", "poor"),
           "none": (ALARM, "none: cannot carry a plan")}


@dataclass(frozen=True)
class _Row:
    """One row of the picture: stations first..last of the profile, its top, and the scales all rows share."""

    profile: RoadProfile
    first: int
    last: int
    span_m: float

    @property
    def station_m(self) -> FloatArray:
        return self.profile.station_m[self.first:self.last + 1]

    def part(self, values: FloatArray) -> FloatArray:
        return np.asarray(values[self.first:self.last + 1], dtype=np.float64)

    def x(self, station_m: FloatArray) -> FloatArray:
        share = (np.asarray(station_m, dtype=np.float64) - float(self.station_m[0])) / self.span_m
        return np.asarray(_LEFT + share * (_WIDTH - _LEFT - _RIGHT), dtype=np.float64)

    def cut(self, start_m: float, end_m: float) -> tuple[float, float] | None:
        """The x of a stretch inside this row, None where it lies outside."""
        low, high = max(start_m, float(self.station_m[0])), min(end_m, float(self.station_m[-1]))
        if high < low:
            return None
        x = self.x(np.array([low, high]))
        return float(x[0]), float(x[1])


def profile_plot(profile: RoadProfile, downgrades: Sequence[Downgrade], *, name: str) -> str:
    """The profile as an SVG document in SI units, in rows of about 16 km.

    Each row shows the height with the raw samples of the elevation model and the sustained downgrades and
    structures under it; the samples minus the profile; the grade with its 90 % band; and the confidence with the
    reasons as tooltips. The same profile gives the same bytes.
    """
    rows = _rows(profile)
    head, y = _head(profile, name)
    drawn: list[Markup] = [head]
    for row in rows:
        block, y = _block(row, downgrades, y)
        drawn.append(block)
    inside = join([tag("rect", width="100%", height="100%", fill=PAPER), *drawn])
    return str(tag("svg", inside, xmlns="http://www.w3.org/2000/svg", viewBox=f"0 0 {_WIDTH:.0f} {y:.0f}",
                   width=f"{_WIDTH:.0f}", height=f"{y:.0f}", font_family="system-ui, sans-serif", role="img")) + "\n"


def _rows(profile: RoadProfile) -> list[_Row]:
    n = len(profile.station_m)
    count = min(_MOST_ROWS, max(1, math.ceil(profile.length_m / _ROW_LENGTH_M)))
    edges = [round(k * (n - 1) / count) for k in range(count + 1)]
    span = max(float(profile.station_m[b] - profile.station_m[a]) for a, b in pairwise(edges))
    return [_Row(profile, a, b, span) for a, b in pairwise(edges)]


def _text(x: float, y: float, words: str, **style: object) -> Markup:
    return tag("text", words, x=x, y=y, **{"font_size": _FONT, "fill": INK, **style})


def _head(profile: RoadProfile, name: str) -> tuple[Markup, float]:
    parts = [tag("title", f"Road profile: {name}"),
             _text(_LEFT, 22.0, name, font_weight=700, font_size=16.0),
             _text(_LEFT, 42.0, f"{profile.length_m / 1000:.1f} km; {profile.source}", fill=MUTED)]
    x, y = _LEFT, 64.0
    keys = [("road profile", INK, 2.0, None), ("raw sample", _SAMPLE, 2.0, "1.5 3"), ("90 % band", _BAND, 9.0, None),
            *((f"confidence {words}", colour, 9.0, None) for colour, words in _LEVELS.values())]
    for words, colour, width, dash in keys:
        parts += [tag("path", d=f"M{x:.1f},{y - 4:.1f}h24", stroke=colour, stroke_width=width, stroke_dasharray=dash),
                  _text(x + 30.0, y, words)]
        x += 52.0 + 7.2 * len(words)
    return join(parts), y + 14.0


def _block(row: _Row, downgrades: Sequence[Downgrade], top: float) -> tuple[Markup, float]:
    heights, y = _heights(row, top + _FONT + 6.0)
    brackets, y = _brackets(row, downgrades, y + 4.0)
    misfit, y = _misfit(row, y + _GAP + _FONT)
    grades, y = _grades(row, y + _GAP + _FONT)
    trust, y = _confidence(row, y + 5.0)
    axis = []
    for km in nice_ticks(float(row.station_m[0]) / 1000, float(row.station_m[-1]) / 1000, most=16):
        x = float(row.x(np.array([km * 1000]))[0])
        axis += [tag("path", d=f"M{x:.1f},{y:.1f}v5", stroke=MUTED),
                 _text(x, y + 5.0 + _FONT, f"{km:g}", text_anchor="middle", fill=MUTED)]
    axis.append(_text(_WIDTH - _RIGHT, y + 2 * _FONT + 8.0, "distance, km", text_anchor="end", fill=MUTED))
    return join([heights, brackets, misfit, grades, trust, *axis]), y + 3 * _FONT + 12.0


def _frame(row: _Row, top: float, height: float, low: float, high: float, title: str, most: int) -> Markup:
    """Frame, horizontal lines with numbers, and the title above."""
    right = float(row.x(row.station_m[-1:])[0])
    parts = [_text(_LEFT, top - 4.0, title, fill=MUTED)]
    for tick in nice_ticks(low, high, most=most):
        at = top + height * (high - tick) / (high - low)
        parts += [tag("path", d=f"M{_LEFT:.1f},{at:.1f}H{right:.1f}", stroke=HAIRLINE),
                  _text(_LEFT - 6.0, at + 4.5, f"{tick:g}", text_anchor="end", fill=MUTED)]
    parts.append(tag("path", d=f"M{_LEFT:.1f},{top:.1f}V{top + height:.1f}H{right:.1f}", fill="none", stroke=MUTED))
    return join(parts)


def _line(x: FloatArray, y: FloatArray, **style: object) -> Markup:
    """A thinned line, broken where y is NaN."""
    good = np.isfinite(y)
    d = ""
    for piece in np.split(np.arange(len(y)), np.flatnonzero(np.diff(good.astype(int))) + 1):
        if good[piece[0]] and len(piece) > 1:
            kept = piece[thin_columns(x[piece], y[piece], column=0.8)]
            kept = kept[thin_line(x[kept], y[kept], tolerance=0.2)]
            d += path_of(x[kept], y[kept])
    return tag("path", d=d, fill="none", stroke_linejoin="round", **style) if d else Markup("")


def _area(x: FloatArray, upper: FloatArray, lower: FloatArray) -> Markup:
    up, low = thin_line(x, upper, tolerance=0.3), thin_line(x, lower, tolerance=0.3)
    outline = path_of(np.append(x[up], x[low][::-1]), np.append(upper[up], lower[low][::-1]))
    return tag("path", d=outline + "z", fill=_BAND, class_="band")


def _heights(row: _Row, top: float) -> tuple[Markup, float]:
    z, sd = row.part(row.profile.elevation_m), row.part(row.profile.elevation_sd_m)
    low, high = float(np.min(z)), float(np.max(z))
    room = max(high - low, 20.0)
    low, high = low - 0.08 * room, low + 1.08 * room

    def y(values: FloatArray) -> FloatArray:
        inside = np.clip(values, low, high)                    # a gorge under a bridge must not flatten the picture
        return np.asarray(top + _HEIGHT_PLOT * (high - inside) / (high - low), dtype=np.float64)

    x = row.x(row.station_m)
    parts = [_frame(row, top, _HEIGHT_PLOT, low, high, "height, m", 5),
             _area(x, y(z + _NORMAL_90 * sd), y(z - _NORMAL_90 * sd))]
    if row.profile.raw_elevation_m is not None:
        parts.append(_line(x, y(row.part(row.profile.raw_elevation_m)), stroke=_SAMPLE, stroke_width=1.6,
                           stroke_dasharray="1.5 2.5", class_="samples"))
    parts.append(_line(x, y(z), stroke=INK, stroke_width=1.8))
    return join(parts), top + _HEIGHT_PLOT


def _brackets(row: _Row, downgrades: Sequence[Downgrade], top: float) -> tuple[Markup, float]:
    """Downgrades as brackets with their figures (dashed where start or end is uncertain), structures as bars."""
    parts = []
    for item in downgrades:
        if (ends := row.cut(item.start_m, item.end_m)) is None:
            continue
        a, b = ends
        words = (f"{item.number}: {item.length_m / 1000:.1f} km, {100 * item.mean_grade:.2f} ± "
                 f"{_NORMAL_90 * 100 * item.mean_grade_sd:.2f} %")
        shown = words if 6.6 * len(words) < b - a else str(item.number)
        parts += [tag("path", tag("title", words + (", ends uncertain" if item.boundary_uncertain else "")),
                      d=f"M{a:.1f},{top:.1f}v5H{b:.1f}v-5", fill="none", stroke=INK, stroke_width=1.5,
                      stroke_dasharray="5 3" if item.boundary_uncertain else None, class_="downgrade"),
                  _text((a + b) / 2, top + 7.0 + _FONT, shown, text_anchor="middle", font_weight=600)]
    y = top + 14.0 + _FONT
    for thing in row.profile.structures:
        if (ends := row.cut(thing.start_m, thing.end_m)) is None:
            continue
        a, b = ends[0], max(ends[1], ends[0] + 4.0)
        told = f"{thing.kind}, {'tagged' if thing.found_from == 'tag' else 'found in the elevation model'}"
        parts += [tag("rect", tag("title", told), x=a, y=y, width=b - a, height=6.0, stroke=INK,
                      fill=INK if thing.kind == "tunnel" else PAPER, class_="structure"),
                  _text((a + b) / 2, y + 8.0 + _FONT, thing.kind, text_anchor="middle", fill=MUTED, font_size=11.0)]
    return join(parts), y + 10.0 + _FONT


def _misfit(row: _Row, top: float) -> tuple[Markup, float]:
    if row.profile.raw_elevation_m is None:
        return Markup(""), top - _GAP - _FONT
    misfit = row.part(row.profile.raw_elevation_m) - row.part(row.profile.elevation_m)
    known = np.abs(misfit[np.isfinite(misfit)])
    most = 5.0 * max(1, math.ceil(float(np.percentile(known, 90)) / 5.0)) if len(known) else 5.0
    y = top + _MISFIT_PLOT * (most - np.clip(misfit, -most, most)) / (2 * most)
    return join([_frame(row, top, _MISFIT_PLOT, -most, most, "raw sample minus profile, m (cut off at the frame)", 3),
                 _line(row.x(row.station_m), y, stroke=_SAMPLE, stroke_width=1.2)]), top + _MISFIT_PLOT


def _grades(row: _Row, top: float) -> tuple[Markup, float]:
    grade, half = 100 * row.part(row.profile.grade), 100 * _NORMAL_90 * np.nan_to_num(row.part(row.profile.grade_sd))
    low = min(-8.0, float(np.percentile(grade - half, 1)) - 0.5)
    high = max(2.0, float(np.percentile(grade + half, 99)) + 0.5)

    def y(values: FloatArray) -> FloatArray:
        return np.asarray(top + _GRADE_PLOT * (high - np.clip(values, low, high)) / (high - low), dtype=np.float64)

    x = row.x(row.station_m)
    zero = float(y(np.zeros(1))[0])
    return join([_frame(row, top, _GRADE_PLOT, low, high, "grade, %", 6), _area(x, y(grade + half), y(grade - half)),
                 tag("path", d=f"M{_LEFT:.1f},{zero:.1f}H{float(x[-1]):.1f}", stroke=MUTED),
                 _line(x, y(grade), stroke=INK, stroke_width=1.6)]), top + _GRADE_PLOT


def _confidence(row: _Row, top: float) -> tuple[Markup, float]:
    parts = []
    for span in row.profile.confidence:
        if (ends := row.cut(span.start_m, span.end_m)) is None:
            continue
        a, b = ends
        words = f"{span.level}: {'; '.join(span.reasons)}" if span.reasons else span.level
        parts.append(tag("rect", tag("title", words), x=a, y=top, width=max(b - a, 0.5), height=_BAR,
                         fill=_LEVELS[span.level][0], class_="confidence"))
        if b - a > 7.0 * len(span.level) + 6:
            parts.append(_text((a + b) / 2, top + 10.0, span.level, text_anchor="middle", font_size=10.0, fill=PAPER))
    return join(parts), top + _BAR + 2.0
