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
from descent.report.strip_drive import bridged
from descent.report.strip_sheet import NARROW, WIDE, Layout, Sheet
from descent.report.trip import read_trip


@pytest.mark.parametrize("layout", [WIDE, NARROW], ids=lambda layout: layout.name)
def test_well_formed_and_inside_its_box(document: dict[str, Any], us: Shown, layout: Layout) -> None:
    picture = ElementTree.fromstring(str(draw_strip(read_trip(document), us, layout)))
    width, height = map(float, (picture.get("viewBox") or "").split()[2:])
    assert width == layout.width
    for text in picture.iter("text"):
        assert 0 <= float(text.get("x", 0)) <= width and 0 <= float(text.get("y", 0)) <= height
    assert picture.get("role") == "img" and picture.find("title") is not None


def titles(document: dict[str, Any], shown: Shown) -> str:
    return " ".join(ElementTree.fromstring(str(draw_strip(read_trip(document), shown, WIDE))).itertext())


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
