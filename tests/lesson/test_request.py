# SPDX-License-Identifier: MIT
"""What a lesson may be asked for: defaults, units, and every fault of the options at once."""

from __future__ import annotations

import pytest

from descent.errors import RequestError
from descent.lesson_pipeline import hill_for
from descent.lesson_request import BuiltHill, LessonRequest, lesson_request
from descent.request import Direction, HeightSource, RoadRequest
from descent.units import MILE_M, UnitSystem


def asked(route: str | None = None, *, dem: tuple[str, ...] = (), **texts: str | None) -> LessonRequest:
    given = {"vehicle": "dump-truck", "gross": "26t"} | {name.replace("_", "-"): text for name, text in texts.items()}
    return lesson_request(route, given, dem=dem, direction=Direction.AS_DRAWN, heights_in_route=None)


def test_nothing_given_is_a_built_hill() -> None:
    request = asked()
    assert request.hill == BuiltHill(0.07, 8 * MILE_M) and request.system is UnitSystem.US
    assert asked(grade="6%", length="6mi", units="metric").hill == BuiltHill(0.06, pytest.approx(6 * MILE_M))


def test_a_road_needs_its_heights() -> None:
    request = asked("pass.gpx", dem=("ground.tif",))
    assert isinstance(request.hill, RoadRequest) and request.hill.heights is HeightSource.DEM
    with pytest.raises(RequestError) as caught:
        asked("pass.gpx")
    assert {fault.code for fault in caught.value.faults} == {"height-source"}


def test_every_fault_is_told() -> None:
    with pytest.raises(RequestError) as caught:
        asked("pass.gpx", dem=("ground.tif",), grade="40%", length="6", gross="heavy", vehicle=None, units="furlongs")
    codes = sorted(fault.code for fault in caught.value.faults)
    assert codes == ["lesson-two-hills", "not-a-quantity", "out-of-range", "unit-missing", "unknown-choice", "vehicle-missing"]


def test_heights_without_a_road_are_refused() -> None:
    with pytest.raises(RequestError, match="no road"):
        asked(dem=("ground.tif",))


def test_a_grade_table_alone_is_a_hill(tmp_path: pytest.TempPathFactory) -> None:
    table = tmp_path / "signs.csv"      # type: ignore[operator]
    table.write_text("length [mi],grade [%]\n2,0\n5,-6\n1,-1\n2,1\n", encoding="utf-8")
    hill = hill_for(asked(grades=str(table)).hill, progress=lambda _: None)
    assert hill.name == "signs" and not hill.invented
    assert hill.length_m == pytest.approx(5 * MILE_M, rel=0.25)
    assert hill.profile.grade.min() < -0.06             # the steep side of the band a table carries
