# SPDX-License-Identifier: MIT
"""The strip: well formed in both sizes, panels only for what is there, peaks not thinned away."""

from __future__ import annotations

import re
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest

from descent.report.shown import Shown
from descent.report.strip import draw_strip
from descent.report.strip_air import bridged
from descent.report.strip_sheet import NARROW, WIDE, Layout, Sheet
from descent.report.trip import read_trip


@pytest.mark.parametrize("layout", [WIDE, NARROW], ids=lambda layout: layout.name)
def test_well_formed_and_inside_its_box(document: dict[str, Any], us: Shown, layout: Layout) -> None:
    picture = ElementTree.fromstring(str(draw_strip(read_trip(document), us, layout).drawn))
    width, height = map(float, (picture.get("viewBox") or "").split()[2:])
    assert width == layout.width
    for text in picture.iter("text"):
        assert 0 <= float(text.get("x", 0)) <= width and 0 <= float(text.get("y", 0)) <= height
    assert picture.get("role") == "img" and picture.find("title") is not None


def titles(document: dict[str, Any], shown: Shown) -> str:
    return " ".join(ElementTree.fromstring(str(draw_strip(read_trip(document), shown, WIDE).drawn)).itertext())


def test_panels_follow_what_the_plan_has(document: dict[str, Any], us: Shown) -> None:
    everything = titles(document, us)
    assert all(
        name in everything
        for name in (
            "Height, ft",
            "Speed, mph",
            "Gear",
            "Brake temperature, °F",
            "Application pressure, psi",
            "limit 500",
        )
    )
    del document["trace"]["application_kpa"], document["trace"]["fade_kpa"], document["trace"]["gear"]
    fewer = titles(document, us)
    assert "Application pressure" not in fewer and "Brake temperature" in fewer


def test_refusal_shows_only_the_road(refusal: dict[str, Any], us: Shown) -> None:
    text = titles(refusal, us)
    assert "Height" in text and "Grade" in text
    assert not any(word in text for word in ("control speed", "Gear", "Brake temperature", "Application"))


def test_metric_units(document: dict[str, Any], metric: Shown) -> None:
    text = titles(document, metric)
    assert "Height, m" in text and "Speed, km/h" in text and "limit 260\u00a0°C" in text


def test_a_single_peak_survives_thinning(document: dict[str, Any], us: Shown) -> None:
    sheet = Sheet(read_trip(document), us, NARROW)
    station = sheet.trip.road.station_m
    y = np.full(len(station), 100.0)
    y[1234] = 7.25
    assert re.search(r",7\.[23]\b", str(sheet.line(station, y, stroke="#000")))


def test_gaps_break_a_line(document: dict[str, Any], us: Shown) -> None:
    sheet = Sheet(read_trip(document), us, WIDE)
    station = sheet.trip.road.station_m
    y = np.full(len(station), 50.0)
    y[1000:2000] = np.nan
    assert str(sheet.line(station, y, stroke="#000")).count("M") == 2
    assert sheet.line(station, np.full(len(station), np.nan), stroke="#000") == ""


def test_axis_ends_where_the_road_ends(document: dict[str, Any], us: Shown) -> None:
    sheet = Sheet(read_trip(document), us, WIDE)
    assert sheet.x_at(0.0) == WIDE.left
    assert sheet.x_at(sheet.trip.road.length_m) == pytest.approx(WIDE.width - WIDE.right)


def test_margin_line_only_when_given(document: dict[str, Any], us: Shown) -> None:
    assert "least distance" not in titles(document, us)
    document["margin_c"] = 12.0
    assert "least distance 21\u00a0°F" in titles(document, us)  # 21.6, rounded down


def test_the_pressure_that_means_fade_is_a_level_not_a_comb() -> None:
    """Known while braking only: straight between snubs 200 m apart, nothing before, after or over 900 m."""
    station = np.arange(0.0, 1500.0, 100.0)
    known = {200.0: 150.0, 400.0: 170.0, 1300.0: 180.0}
    level = bridged(station, np.array([known.get(s, 0.0) for s in station]))
    found = {float(s): float(v) for s, v in zip(station, level, strict=True) if np.isfinite(v)}
    assert found == {200.0: 150.0, 300.0: 160.0, 400.0: 170.0, 1300.0: 180.0}


def test_rows_of_the_air_and_of_stopping(document: dict[str, Any], us: Shown) -> None:
    """The warning at 414 kPa is 60 psi, a cut-in of 690 kPa 100 psi (1 psi is 6.895 kPa)."""
    document["limits"]["reservoir_cut_in_kpa"] = 690.0
    text = str(draw_strip(read_trip(document), us, WIDE).drawn)
    assert "Reservoir pressure, psi" in text and "Stopping distance, ft" in text
    assert "compressor cuts in at 100\u00a0psi" in text and "low-air warning 60\u00a0psi" in text
    del document["trace"]["reservoir_kpa"], document["trace"]["stopping_distance_m"]
    rows = [row for row, _ in draw_strip(read_trip(document), us, WIDE).rows]
    assert rows == ["grade", "speed", "gear", "temperature", "pressure"]


def test_risk_band_is_drawn_where_the_draws_tell_it(document: dict[str, Any], us: Shown) -> None:
    """The plan without arrays has no band; with them the band runs between the 5th and the 95th percentile."""
    assert "risk-band" not in draw_strip(read_trip(document), us, WIDE).drawn
    station = [0.0, 16500.0, 33000.0]
    document["risk"]["band"] = {"station_m": station, "p5_temp_c": [60.0, 150.0, 120.0],
                                "p50_temp_c": [65.0, 170.0, 140.0], "p95_temp_c": [70.0, 230.0, 160.0]}
    text = str(draw_strip(read_trip(document), us, WIDE).drawn)
    found = re.search(r'<path d="M([^"]*)z"[^>]*class="risk-band"', text)
    assert found is not None
    points = [tuple(map(float, point.split(","))) for point in found[1].split()]
    left, middle, right = WIDE.left, (WIDE.left + WIDE.width - WIDE.right) / 2, WIDE.width - WIDE.right
    assert [x for x, _ in points] == pytest.approx([left, middle, right, right, middle, left], abs=0.1)
    tops, lows = [y for _, y in points[:3]], [y for _, y in points[:2:-1]]
    # 80 K wide in the middle, 10 K at the start: widths in picture units keep that ratio
    assert (lows[1] - tops[1]) / (lows[0] - tops[0]) == pytest.approx(8.0, rel=0.05)
    document["risk"]["band"]["p95_temp_c"] = [70.0]
    assert read_trip(document).risk_band is None


def test_how_sure_stands_under_the_grade(document: dict[str, Any], us: Shown) -> None:
    text = str(draw_strip(read_trip(document), us, WIDE).drawn)
    assert "height data less sure" in text and "height data poor" not in text
    document["profile"]["confidence"][1]["level"] = "poor"
    assert "height data poor" in draw_strip(read_trip(document), us, WIDE).drawn
