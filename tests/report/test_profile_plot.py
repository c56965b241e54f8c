# SPDX-License-Identifier: MIT
"""The picture of a profile shows what is in it, and the same every time."""

from __future__ import annotations

from dataclasses import replace
from xml.etree import ElementTree

import numpy as np

from descent.downgrades.find import sustained_downgrades
from descent.report.profile_plot import profile_plot
from descent.terrain.road_profile import ConfidenceSpan, RoadProfile, Structure
from made_roads import straight_profile

SVG = "{http://www.w3.org/2000/svg}"


def made(*, long_m: float = 4000.0, raw: bool = True) -> RoadProfile:
    profile = straight_profile([(800, 0.02), (long_m, -0.06), (900, 0.0)], grade_sd=0.004)
    samples = profile.elevation_m + np.random.default_rng(3).normal(0, 1.0, len(profile.elevation_m))
    samples[200:215] = np.nan
    return replace(profile, raw_elevation_m=samples if raw else None, elevation_sd_m=np.full(len(samples), 0.5),
                   structures=(Structure("bridge", 1500.0, 1600.0, "found"), Structure("tunnel", 3000.0, 3400.0, "tag")),
                   confidence=(ConfidenceSpan(0.0, 2000.0, "good"),
                               ConfidenceSpan(2000.0, profile.length_m, "poor", ("cells <wider> & coarser",))))


def named(root: ElementTree.Element, kind: str) -> list[ElementTree.Element]:
    return [item for item in root.iter() if item.get("class") == kind]


def test_shows_band_samples_structures_downgrades_and_confidence() -> None:
    profile = made()
    downgrades = sustained_downgrades(profile)
    text = profile_plot(profile, downgrades, name="A & B <road>")
    root = ElementTree.fromstring(text)
    assert root.tag == f"{SVG}svg" and len(downgrades) == 1
    assert len(named(root, "band")) == 2 and len(named(root, "samples")) == 1          # height and grade; one row
    assert len(named(root, "downgrade")) == 1
    assert [item.find(f"{SVG}title").text for item in named(root, "structure")] == [
        "bridge, found in the elevation model", "tunnel, tagged"]
    assert [item.find(f"{SVG}title").text for item in named(root, "confidence")] == [
        "good", "poor: cells <wider> & coarser"]
    assert "A & B <road>" in {item.text for item in root.iter(f"{SVG}text")}


def test_downgrade_stands_where_it_is() -> None:
    """The bracket's ends, read back through the picture's own distance axis."""
    profile = made()
    (one,) = sustained_downgrades(profile)
    root = ElementTree.fromstring(profile_plot(profile, [one], name="road"))
    ticks = {float(item.text): float(item.get("x")) for item in root.iter(f"{SVG}text")
             if item.get("text-anchor") == "middle" and item.text.replace(".", "").isdigit() and float(item.get("y")) > 500}
    per_km = (ticks[5.0] - ticks[0.0]) / 5.0
    d = named(root, "downgrade")[0].get("d")
    start, end = float(d[1:].split(",")[0]), float(d.split("H")[1].split("v")[0])
    assert abs((start - ticks[0.0]) / per_km - one.start_m / 1000) < 0.01
    assert abs((end - ticks[0.0]) / per_km - one.end_m / 1000) < 0.01


def test_long_roads_take_more_rows_and_stay_small() -> None:
    long = profile_plot(made(long_m=120_000.0), (), name="road")
    rows = len(named(ElementTree.fromstring(long), "samples"))
    assert rows == 8                                                      # 121.7 km in rows of at most 16 km
    assert len(long) < rows * 40_000                                      # thinned to what a row of pixels can show
    assert long == profile_plot(made(long_m=120_000.0), (), name="road")


def test_without_samples() -> None:
    root = ElementTree.fromstring(profile_plot(made(raw=False), (), name="road"))
    assert not named(root, "samples") and len(named(root, "band")) == 2
