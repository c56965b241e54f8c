# SPDX-License-Identifier: MIT
"""The text for the terminal: short lines, the whole order, and a refusal that gives no speed."""

from __future__ import annotations

import re
from typing import Any

from descent.report.terminal import trip_text
from descent.report.words import Words


def test_everything_a_dispatcher_reads_out(document: dict[str, Any], words: Words) -> None:
    text = trip_text(document, words=words)
    one_line = re.sub(r"\s+", " ", text)
    assert "THIS PLAN HOLDS." in one_line
    assert "1. mi 3.5: gear 6, no more than 30 mph, retarder stage 2." in one_line
    assert "mi 9.4, Quiet Meadow pull-out, right side: cool the brakes, 20 min" in one_line
    assert "Escape ramps: mi 8.3 (leg 1), mi 15.9 (leg 3)." in one_line
    assert "limit 500 °F" in one_line and "Trip time 1 h 6 min." in one_line
    assert max(map(len, text.splitlines())) <= 88


def test_refusal(refusal: dict[str, Any], words: Words) -> None:
    text = trip_text(refusal, words=words)
    assert "NOT LIKE THIS. On downgrade 1" in text
    assert "6,600 lb less weight: holds in gear 5 at 25 mph" in text
    assert "no more than" not in text and "Legs" not in text


def test_metric(document: dict[str, Any], words: Words) -> None:
    document["conditions"]["units"] = "metric"
    assert "no more than 48 km/h" in trip_text(
        document, words=words
    )  # 30 mph is 48.28 km/h, never rounded up


def test_narrow(document: dict[str, Any], words: Words) -> None:
    assert max(map(len, trip_text(document, words=words, width=60).splitlines())) <= 60


def test_warnings_and_direction_come_first(document: dict[str, Any], words: Words) -> None:
    document["warnings"] = ["No brake check place before the first downgrade."]
    document["route"]["reversed"] = True
    text = re.sub(r"\s+", " ", trip_text(document, words=words))
    assert text.index("Driven against") < text.index("!! No brake check place") < text.index("THIS PLAN HOLDS")


def test_a_lower_number_has_a_line_of_its_own(document: dict[str, Any], words: Words) -> None:
    profile = document["profile"]
    profile["curve_limit_mps"] = [9.0 if 10000 <= s <= 10400 else None for s in profile["station_m"]]
    lines = [line.strip() for line in trip_text(document, words=words).splitlines()]
    assert "20 mph in the curves, mi 6.2–6.5." in lines  # 9 m/s are 20.1 mph
