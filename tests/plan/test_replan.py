# SPDX-License-Identifier: MIT
"""Going on from a place: the thresholds hold in the full march and little more does; advice errs to the cautious side."""

from __future__ import annotations

import math
import time
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from descent.errors import RequestError
from descent.physics.march import Cells, Schedule, march
from descent.plan.doubt import ReplanTable
from descent.plan.next_move import LONGEST_MINUTES, Action, Seen, Snubs, observed_c, replan, table_from
from descent.plan.planner import Found, Workshop, find, workshop
from descent.plan.replan import replan_table
from descent.plan.sensitivities import longer_strokes, sensitivities
from descent.plan.verify import excess_k, schedule_of
from descent.report.doubt_blocks import _replan
from descent.report.plan_json import stable_document
from descent.vehicle.catalogue import load_vehicle
from made_roads import made_task, pull_out

ROAD = [(1500.0, 0.01), (5000.0, -0.055), (900.0, 0.0), (3000.0, -0.06), (1000.0, 0.0)]
PLACES = (pull_out("Top", 1200.0, kind="brake-check-area"), pull_out("Shelf", 6900.0))
STATIONS = [1500.0, 3000.0, 5000.0, 6900.0, 8000.0, 9500.0]


@pytest.fixture(scope="module")
def shop() -> Workshop:
    return workshop(made_task(ROAD, load_vehicle("tractor-semitrailer"), places=PLACES))


@pytest.fixture(scope="module")
def found(shop: Workshop) -> Found:
    answer = find(shop)
    assert isinstance(answer, Found)
    return answer


@pytest.fixture(scope="module")
def table(shop: Workshop, found: Found) -> ReplanTable:
    return replan_table(shop, found, np.zeros(3), None)


def over_k(shop: Workshop, found: Found, station_m: float, temp_c: float) -> float:
    """The rest of the plan begun standing with every brake at one temperature: by how much it passes the limit."""
    schedule = schedule_of(shop.task, shop.cells, shop.tables, found.solution)
    node = shop.task.profile.index_at(station_m)
    cells = Cells(shop.cells.station_m[node:], *(getattr(shop.cells, name)[node:] for name in (
        "step_m", "sin_down", "cos_road", "k_air", "cool", "air_temp")))
    rest = Schedule(schedule.cap_mps[node:], schedule.row[node:], schedule.snubbed[node:], schedule.dwell_s[node:].copy())
    rest.dwell_s[0] = -1.0
    trace = march(cells, shop.task.vehicle, shop.tables, rest, shop.task.day, shop.task.driving,
                  start_temps_c=np.full(3, temp_c))
    return float((trace.temp_c + trace.rise_k).max() - 260.0)


@pytest.mark.parametrize("station_m", STATIONS)
def test_the_threshold_holds_in_the_full_march_and_little_more_does(shop: Workshop, found: Found, table: ReplanTable,
                                                                    station_m: float) -> None:
    allowed = float(table.levels[0].threshold_c[np.searchsorted(table.station_m, station_m)])
    assert over_k(shop, found, station_m, allowed) <= 0.3
    assert over_k(shop, found, station_m, allowed + 12.0) > 0.0


def test_the_plan_itself_is_inside_its_thresholds(shop: Workshop, found: Found, table: ReplanTable) -> None:
    leaving = found.trace.leave_temp_c.max(axis=1)
    at = [shop.task.profile.index_at(float(x)) for x in table.station_m]
    assert np.all(table.levels[0].threshold_c >= leaving[at] - 3.0)


def test_a_reserve_asks_for_cooler_brakes(shop: Workshop, found: Found, table: ReplanTable) -> None:
    kept = replan_table(shop, found, np.full(3, 20.0), None)
    assert np.all(kept.levels[0].threshold_c <= table.levels[0].threshold_c + 1e-9)


def test_the_table_comes_back_from_plan_json(table: ReplanTable) -> None:
    back = table_from(stable_document({"replan": _replan(table)})["replan"])
    assert back.levels[0].threshold_c == pytest.approx(table.levels[0].threshold_c, abs=0.01)
    assert [level.legs for level in back.levels] == [tuple(
        (round(a, 3), round(b, 3), gear, round(v, 4), stage) for a, b, gear, v, stage in level.legs) for level in table.levels]


@pytest.mark.parametrize("broken", [{}, {"levels": []}, {"levels": 3}, {"station_m": [1.0]}])
def test_a_broken_table_is_told(table: ReplanTable, broken: dict[str, object]) -> None:
    block = {**stable_document({"replan": _replan(table)})["replan"], **broken} if broken else {}
    with pytest.raises(RequestError, match="no table"):
        table_from(block)


@given(st.floats(0.0, 11_000.0), st.floats(0.0, 500.0), st.floats(0.0, 80.0))
def test_hotter_brakes_never_get_bolder_advice(table: ReplanTable, station_m: float, temp_c: float, more_k: float) -> None:
    cool, hot = (replan(table, station_m, low_c=temp, high_c=temp) for temp in (temp_c, temp_c + more_k))
    if cool.action is Action.DO_NOT_GO:
        assert hot.action is Action.DO_NOT_GO
    elif hot.action is not Action.DO_NOT_GO:
        rest = {level.step: np.interp(station_m, table.station_m, level.rest_s) for level in table.levels}
        assert hot.minutes * 60 + rest[hot.step] >= cool.minutes * 60 + rest[cool.step] - 600.0
        assert hot.minutes <= LONGEST_MINUTES
        if hot.minutes == 0.0:
            assert temp_c + more_k <= hot.allowed_c


def test_after_the_wait_the_brakes_are_under_the_threshold(table: ReplanTable) -> None:
    """Newton's law of cooling by hand at the table's own slow rate."""
    advice = replan(table, 6900.0, low_c=330.0, high_c=330.0)
    assert advice.minutes > 0 and advice.at_halt == "Shelf" and advice.look_over
    rate = float(table.cool_1ps[np.searchsorted(table.station_m, 6900.0 - 1e-6)])
    after = table.air_temp_c + (330.0 - table.air_temp_c) * math.exp(-rate * 60.0 * advice.minutes)
    assert after <= advice.allowed_c


def test_signs_are_ordered_and_cool_with_time(table: ReplanTable) -> None:
    now = [observed_c(table, 5000.0, seen) for seen in Seen]
    assert [high for _, high in now] == sorted(high for _, high in now)
    assert all(low <= high for low, high in now)
    later = [observed_c(table, 5000.0, seen, minutes=30.0) for seen in Seen]
    assert all(b[1] < a[1] for a, b in zip(now, later, strict=True))
    counted = observed_c(table, 5000.0, Seen.NOTHING, snubs=Snubs(5.0, 6.0, 3.0, 10.0))
    assert counted[1] > now[0][1]
    assert observed_c(table, 5000.0, Seen.NOTHING, snubs=Snubs(1.0, 60.0, 3.0, 10.0))[1] == now[0][1]
    assert replan(table, 6900.0, low_c=300.0, high_c=450.0, seen=Seen.SMOKE).minutes >= 30.0


def test_standing_at_a_place_its_planned_stop_is_behind(table: ReplanTable) -> None:
    """Just before and just after a place to stand the answer is the one of the place itself."""
    before, at, after = (replan(table, 6900.0 + x, low_c=250.0, high_c=250.0) for x in (-80.0, 0.0, 80.0))
    assert before.minutes == at.minutes == after.minutes and before.at_halt == at.at_halt == "Shelf"


def test_advice_takes_less_than_a_millisecond(table: ReplanTable) -> None:
    began = time.perf_counter()
    for number in range(200):
        low, high = observed_c(table, 40.0 * number, Seen.SMELL, minutes=3.0)
        replan(table, 40.0 * number, low_c=low, high_c=high)
    assert (time.perf_counter() - began) / 200 < 1e-3


def test_sensitivities_are_what_the_changed_march_gives(shop: Workshop, found: Found) -> None:
    rows = {row.what: row for row in sensitivities(shop, found, np.zeros(3))}
    assert set(rows) == {"weight", "air", "adjustment"}
    assert rows["weight"].change_k > 0 and rows["air"].change_k > 0
    for row in rows.values():
        assert row.change_s is None or row.change_s >= -60.0
    slack = replace(shop.task, vehicle=longer_strokes(shop.task.vehicle, rows["adjustment"].per))
    trace = workshop(slack).drive(found.solution)
    base = float(excess_k(shop.task, found.trace).max())
    assert rows["adjustment"].change_k == pytest.approx(float(excess_k(slack, trace).max()) - base, abs=1e-9)


def test_a_retarder_stage_less_is_among_them() -> None:
    shop = workshop(made_task(ROAD, load_vehicle("tractor-semitrailer-retarder"), places=PLACES))
    found = find(shop)
    assert isinstance(found, Found)
    row = next(row for row in sensitivities(shop, found, np.zeros(3)) if row.what == "retarder")
    assert row.change_k > 0
