# SPDX-License-Identifier: MIT
"""What could go wrong in words: what fails, the first sign of it, what to do."""

from __future__ import annotations

import math
from typing import Any

from descent.plan.doubt import Failure
from descent.report.sentences import Sentences


def failure_row(row: Failure, sentences: Sentences) -> dict[str, Any]:
    """One row of plan.json's `failures`."""
    filled = _filled(row, sentences)
    place = row.next_place
    sign = sentences.words(f"failure.sign.{row.what}", **filled)
    if row.what in ("compressor-dead", "half-air-lost") and "warning_m" in row.detail:
        sign += " " + sentences.words("failure.sign.warning", **filled)
        if "springs_m" in row.detail:
            sign += " " + sentences.words("failure.sign.springs", **filled)
    do = sentences.words(f"failure.do.{row.what}", **filled)
    if row.still_held_m is not None and row.still_held_m > 0.0:
        do += " " + sentences.words("failure.do.still-held", way=sentences.way(row.still_held_m))
    return {"what": sentences.words(f"failure.what.{row.what}", **filled), "key": row.what, "downgrade": row.downgrade,
            "from_m": row.from_m, "holds": row.holds, "over_c": row.over_k if math.isfinite(row.over_k) else None,
            "first_sign": sign, "do_this": do, "last_full_stop_m": row.last_full_stop_m,
            "latest_full_stop_m": row.latest_full_stop_m, "full_stop_all_the_way": row.all_the_way,
            "speed_lost_m": row.speed_lost_m, "still_held_m": row.still_held_m,
            "next_place": None if place is None else place.name or place.kind,
            "next_place_kind": None if place is None else place.kind,
            "next_place_m": None if place is None else place.station_m, "speed_there_mps": row.speed_there_mps}


def _filled(row: Failure, sentences: Sentences) -> dict[str, object]:
    """The values of a row as a reader's text; "?" where a case has none."""
    made: dict[str, object] = dict.fromkeys(
        ("gear", "higher", "place", "axle", "rpm", "higher_rpm", "minutes", "gross", "pressure", "warning", "where",
         "springs"), "?")
    detail = row.detail
    made |= {name: detail[name] for name in ("gear", "higher", "place") if name in detail}
    if "axle" in detail:
        made["axle"] = ", ".join(sentences.words.said(axle) for axle in str(detail["axle"]).split(", "))
    made |= {name: f"{float(detail[name]):,.0f}" for name in ("rpm", "higher_rpm", "minutes") if name in detail}
    for name, key, show in (("gross", "gross_kg", sentences.weight), ("pressure", "application_kpa", sentences.pressure),
                            ("warning", "warning_kpa", sentences.pressure), ("where", "warning_m", sentences.place),
                            ("springs", "springs_m", sentences.place)):
        if key in detail:
            made[name] = show(float(detail[key]))
    rhythm = sentences.words("failure.rhythm", seconds=f"{float(detail['interval_s']):.0f}") \
        if "interval_s" in detail else sentences.words("failure.no-rhythm")
    pressed = "application_kpa" in detail
    made["use"] = sentences.words("failure.pressed", rhythm=rhythm, pressure=made["pressure"]) if pressed else rhythm
    made["bite"] = sentences.words("failure.bite", pressure=made["pressure"]) if pressed else ""
    return made
