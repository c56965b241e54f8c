# SPDX-License-Identifier: MIT
"""A vehicle in the trade's words, and its balance speeds as table and plot."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import pytest

from descent.physics.characteristics import Balance, BalanceTable, characteristics
from descent.report.balance_plot import balance_svg
from descent.report.balance_text import balance_text
from descent.report.vehicle_text import WIDTH, vehicle_text
from descent.units import METRIC, US
from descent.vehicle.catalogue import class_names, load_vehicle

SVG = "{http://www.w3.org/2000/svg}"


def balance_of(name: str, **asked: float) -> BalanceTable:
    return characteristics(load_vehicle(name)).balance(grade=-0.06, **asked)


def texts(svg: str) -> list[str]:
    return [item.text or "" for item in ET.fromstring(svg).iter(f"{SVG}text")]


@pytest.mark.parametrize("name", class_names())
def test_every_class_reads_aloud(name: str) -> None:
    vehicle = load_vehicle(name)
    text = vehicle_text(vehicle, characteristics(vehicle))
    assert all(len(line) <= WIDTH for line in text.splitlines()[1:])
    for axle in vehicle.axles:
        assert axle.name.replace("_", " ").capitalize() + ":" in text
    for part in ("Weight", "Brake heat", "Retarder", "Gears", "Curves", "Load", "Assumed", "Sources:", "licensed driver"):
        assert part in text
    body = text.split("\n\nAssumed")[0]
    assert not re.search(r"nan|inf\b|None\b|_|\u00a0", body.split("\n", 1)[1].replace("None.", "")), body
    assert not re.search(r"\d\n +(?:mph|in|hp|lb|rpm|kW|t|ft|F|C|g)\b", text), "no number stands apart from its unit"


def test_shared_assumptions_are_said_once() -> None:
    vehicle = load_vehicle("tractor-semitrailer")
    text = vehicle_text(vehicle, characteristics(vehicle))
    assert text.count("fade floor") == 1 and "every axle, fade floor: 0.35" in text


def test_a_table_has_a_line_per_gear_and_explains_its_words() -> None:
    text = balance_text(balance_of("motorcoach"), US)
    lines = [line for line in text.splitlines() if re.match(r"\s*[1-6]  ", line)]
    assert len(lines) == 6
    assert "runs away" in lines[0] and "lost above" in lines[5]
    assert "lost above: it holds up to" in text and "service brakes must work" in text
    assert "6% down" in text and "50,000 lb" in text


def test_speeds_of_the_table_are_those_computed_in_the_units_asked_for() -> None:
    table = balance_of("tractor-semitrailer-retarder")
    held = table.points[6][3].speed_mps
    assert held is not None
    assert f"{held / 0.44704:.1f}" in balance_text(table, US).splitlines()[10]
    assert f"{held * 3.6:.1f}" in balance_text(table, METRIC).splitlines()[10]


def test_a_vehicle_without_retarder_has_one_column_and_a_battery_its_charge() -> None:
    assert "engine alone" in balance_text(balance_of("tractor-semitrailer"), US)
    assert "battery 60% charged" in balance_text(balance_of("battery-tractor", state_of_charge=0.6), METRIC)


@pytest.mark.parametrize("name", class_names())
def test_a_plot_names_every_gear_and_stays_on_its_sheet(name: str) -> None:
    table = balance_of(name)
    svg = balance_svg(table, US)
    root = ET.fromstring(svg)
    width, height = (float(item) for item in root.attrib["viewBox"].split()[2:])
    for item in root.iter(f"{SVG}text"):
        assert 0 <= float(item.attrib["x"]) <= width and 0 <= float(item.attrib["y"]) <= height
    assert set(table.vehicle.gearbox.names) <= set(texts(svg))
    assert svg == balance_svg(table, US)


def test_a_plot_says_what_runs_away() -> None:
    table = balance_of("motorcoach")
    away = [str(point.stage) for point in table.points[1] if point.balance is Balance.RUNS_AWAY]
    found = texts(balance_svg(table, US))
    assert ", ".join(away) in found
    assert any("above" in text for text in found) and any("slower" in text for text in found)
