# SPDX-License-Identifier: MIT
"""The sustained downgrades of a road as a short table for a terminal."""

from __future__ import annotations

from collections.abc import Sequence

from descent.downgrades.model import Downgrade
from descent.route.line import Route
from descent.terrain.road_profile import RoadProfile
from descent.units import DisplayUnits

HEAD = ("no.", "from", "to", "length", "drop", "mean", "+-", "1 km", "300 m", "sign", "bounds")


def downgrades_text(route: Route, profile: RoadProfile, downgrades: Sequence[Downgrade], units: DisplayUnits) -> str:
    """Plain lines: the route, one row per downgrade, and what must be known about the data."""
    symbol, size = units.distance
    height, per = units.height
    plural = "" if len(downgrades) == 1 else "s"
    lines = [f"{route.name}: {profile.length_m / size:.1f} {symbol}, {len(downgrades)} sustained downgrade{plural}"]
    rows = [HEAD] + [(
        str(item.number), f"{item.start_m / size:.2f}", f"{item.end_m / size:.2f}", f"{item.length_m / size:.2f}",
        f"{item.drop_m / per:.0f}", f"{100 * item.mean_grade:.2f}", f"{164.5 * item.mean_grade_sd:.2f}",
        _percent(item.steepest_1km), _percent(item.steepest_300m), "yes" if item.hill_sign else "no",
        "uncertain" if item.boundary_uncertain else "sure") for item in downgrades]
    widths = [max(len(row[column]) for row in rows) for column in range(len(HEAD))]
    if downgrades:
        lines += ["  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True)) for row in rows]
        lines.append(f'distances in {symbol}, drops in {height}, grades in %; "+-": 90 % band of the mean grade; "1 km", "300 m": steepest mean over that length; '
                     '"sign": length and grade warrant a hill sign')
    lines += [f"note: {text}" for text in (*route.mended, *profile.notes)]
    for span in profile.confidence:
        if span.level != "good":
            lines.append(f"{span.level} data {span.start_m / size:.2f}-{span.end_m / size:.2f} {symbol}: "
                         f"{', '.join(span.reasons)}")
    return "\n".join(lines)


def _percent(grade: float | None) -> str:
    return "-" if grade is None else f"{100 * grade:.2f}"
