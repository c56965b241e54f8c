# SPDX-License-Identifier: MIT
"""Cases: every combination once, faults told once, fleets read or refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from descent.compare.cases import MOST_CASES, Heights, RetarderState, read_cases
from descent.compare.fleet import read_fleet
from descent.errors import RequestError
from descent.units import POUND_KG

HEIGHTS = Heights(("a.tif",), None, None)


def test_every_combination_once_in_the_order_given() -> None:
    axes = {"vehicle": ("dump-truck", "motorcoach"), "gross": ("20t", "18t"), "retarder": ("working", "out"),
            "air-temp": ("20C", "35C")}
    cases = read_cases(("one.gpx", "two.gpx"), HEIGHTS, axes, {"units": "metric"})
    told = [(case.request.road.route, case.request.vehicle, case.request.gross_kg, case.request.air_temp_c, case.retarder)
            for case in cases]
    assert len(told) == len(set(told)) == 32
    assert told[0] == ("one.gpx", "dump-truck", 20000.0, 20.0, RetarderState.WORKING)
    assert told[1] == ("one.gpx", "dump-truck", 20000.0, 20.0, RetarderState.OUT)
    assert told[-1] == ("two.gpx", "motorcoach", 18000.0, 35.0, RetarderState.OUT)


def test_what_is_left_out_has_its_default() -> None:
    case, = read_cases(("one.gpx",), HEIGHTS, {"vehicle": ("dump-truck",), "gross": ("20t",)}, {})
    assert case.retarder is RetarderState.WORKING and case.request.air_temp_c == pytest.approx(32.22, abs=0.01)


def test_every_fault_is_told_once() -> None:
    axes = {"vehicle": ("dump-truck",), "gross": ("20", "heavy"), "air-temp": ("20C", "35C"), "retarder": ("maybe",)}
    with pytest.raises(RequestError) as caught:
        read_cases(("one.gpx",), Heights((), None, None), axes, {})
    codes = [fault.code for fault in caught.value.faults]
    assert sorted(codes) == ["height-source", "not-a-quantity", "unit-missing", "unknown-choice"]


def test_too_many_cases_are_refused() -> None:
    axes = {"vehicle": ("dump-truck",), "gross": tuple(f"{kg}kg" for kg in range(15000, 15000 + MOST_CASES + 1))}
    with pytest.raises(RequestError) as caught:
        read_cases(("one.gpx",), HEIGHTS, axes, {})
    assert [fault.code for fault in caught.value.faults] == ["compare-too-many"]


def test_a_fleet_is_loaded_and_its_files_count_from_its_folder(tmp_path: Path) -> None:
    table = tmp_path / "fleet.csv"
    table.write_text("unit,vehicle,tare,condition\nT1,tractor-semitrailer,33000lb,\nT2,own.toml,15t,walk.toml\n\n")
    first, second = read_fleet(str(table), load_kg=20000.0)
    assert (first.name, first.vehicle, first.condition) == ("T1", "tractor-semitrailer", None)
    assert first.gross_kg == pytest.approx(33000 * POUND_KG + 20000.0)
    assert second.vehicle == str(tmp_path / "own.toml") and second.condition == str(tmp_path / "walk.toml")
    cases = read_cases(("one.gpx",), HEIGHTS, {}, {}, (first, second))
    assert [case.unit for case in cases] == ["T1", "T2"]
    assert cases[0].request.gross_kg == pytest.approx(first.gross_kg, rel=1e-12)


@pytest.mark.parametrize(("text", "code"), [
    ("unit,vehicle\nT1,dump-truck\n", "fleet-columns"), ("", "fleet-columns"), ("unit,vehicle,tare\n", "fleet-row"),
    ("unit,vehicle,tare\nT1,dump-truck,15\n", "unit-missing"), ("unit,vehicle,tare\nT1,,15t\n", "fleet-row"),
    ("unit,vehicle,tare\nT1,dump-truck,900t\n", "fleet-row"), ("unit,vehicle,tare\nT1\n", "fleet-row")])
def test_a_bad_fleet_file_is_one_sentence(tmp_path: Path, text: str, code: str) -> None:
    table = tmp_path / "fleet.csv"
    table.write_text(text)
    with pytest.raises(RequestError) as caught:
        read_fleet(str(table), load_kg=1000.0)
    assert caught.value.faults[0].code == code


def test_a_fleet_file_that_is_no_text(tmp_path: Path) -> None:
    table = tmp_path / "fleet.csv"
    table.write_bytes(b"\xff\xfe\x00\x01" * 20)
    for path in (table, tmp_path / "missing.csv", tmp_path):
        with pytest.raises(RequestError) as caught:
            read_fleet(str(path), load_kg=1000.0)
        assert caught.value.faults[0].code == "fleet-unreadable"
