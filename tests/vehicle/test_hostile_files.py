# SPDX-License-Identifier: MIT
"""Whatever stands in a vehicle file, the answer is a vehicle or its faults, never a crash."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from descent.errors import VehicleError
from descent.vehicle.catalogue import load_vehicle
from descent.vehicle.schema import FIELDS, WORDS

JUNK = ("-1", "0", "1e30", "nan", "inf", '""', '"x"', '"80000lb"', "[]", "[1, 'a']", "[[1]]", "{}", "{ value = [] }",
        '{ value = 3, unit = "rpm", source = 7 }', "true", '"none"', "1979-05-27", "[3.0, 2.0, 1.0]", "{ value = {} }")
PLACES = [(section, name) for section in FIELDS for name in (*FIELDS[section], *WORDS[section])]
BASES = ("tractor-semitrailer", "motorcoach", "transit-bus", "battery-tractor", "dump-truck-lift", "tank-truck")


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.sampled_from(BASES), st.lists(st.tuples(st.sampled_from(PLACES), st.sampled_from(JUNK)), min_size=1, max_size=3))
def test_junk_in_any_field(tmp_path: Path, base: str, junk: list[tuple[tuple[str, str], str]]) -> None:
    lines = [f'base = "{base}"']
    for (section, name), value in dict(junk).items():
        lines.append(f"{section}{'.drive' if section == 'axles' else ''}.{name} = {value}")
    file = tmp_path / "junk.toml"
    file.write_text("\n".join(lines), encoding="utf-8")
    try:
        vehicle = load_vehicle(str(file))
    except VehicleError as error:
        assert all(fault.sentence() for fault in error.faults)
    else:
        assert vehicle.gross_kg > 0 and vehicle.rollover_threshold_g > 0


@pytest.mark.parametrize("text", [
    *(f"{section} = {value}" for section in (*FIELDS, "base", "title") for value in JUNK),
    *(f"axles.drive = {value}" for value in JUNK), "", "[[axles]]\nx = 1", "\x00", "base = 'base.toml'"])
def test_junk_in_place_of_a_section(tmp_path: Path, text: str) -> None:
    file = tmp_path / "junk.toml"
    file.write_text(("" if text.startswith("base") or not text else 'base = "battery-tractor"\n') + text, encoding="utf-8")
    try:
        assert load_vehicle(str(file)).gross_kg > 0
    except VehicleError as error:
        assert error.faults
