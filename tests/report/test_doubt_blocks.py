# SPDX-License-Identifier: MIT
"""The blocks on doubt: names of the contract, words for every case, the same bytes for the same seed."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from descent.plan.chance import Chance
from descent.plan.explain import explained
from descent.plan.model import DescentPlan
from descent.report.doubt_blocks import doubt_blocks
from descent.report.plan_json import plan_json
from descent.report.sentences import Sentences, plan_words
from descent.units import US
from descent.vehicle.air_supply import air_supply
from descent.vehicle.catalogue import load_vehicle
from made_roads import made_task, pull_out

ROAD = [(1000.0, 0.0), (2500.0, -0.05), (800.0, 0.0)]
PLACES = (pull_out("Top", 800.0, kind="brake-check-area"), pull_out("Gate", 3800.0))


def planned(name: str = "motorcoach", accepted: float = 0.05, seed: int = 1) -> DescentPlan:
    task = made_task(ROAD, load_vehicle(name), places=PLACES)
    return explained(replace(task, air=air_supply(task.vehicle), chance=Chance(accepted, 200, seed)), slippery=False)


def blocks(plan: DescentPlan) -> dict[str, Any]:
    return doubt_blocks(plan, Sentences(plan.task, plan_words("en"), US))


@pytest.fixture(scope="module")
def document() -> dict[str, Any]:
    return blocks(planned())


def test_the_names_of_the_contract(document: dict[str, Any]) -> None:
    assert {"draws", "seed", "accepted", "probability_over_limit", "upper_95", "temperature_percentiles_c"} <= set(document["risk"])
    band = document["risk"]["band"]
    assert len({len(band[key]) for key in ("station_m", "p5_temp_c", "p50_temp_c", "p95_temp_c")}) == 1
    for row in document["failures"]:
        assert {"what", "downgrade", "holds", "first_sign", "do_this", "last_full_stop_m", "next_place",
                "speed_there_mps"} <= set(row)
    assert {"levels", "halts", "station_m"} <= set(document["replan"])
    assert {row["key"] for row in document["sensitivities"]} >= {"weight", "air", "adjustment"}


def test_every_case_has_words_and_values(document: dict[str, Any]) -> None:
    for row in document["failures"]:
        for key in ("what", "first_sign", "do_this"):
            assert row[key] and "?" not in row[key] and "{" not in row[key], row["key"]


def test_same_seed_same_bytes() -> None:
    first, again, other = (plan_json(blocks(planned(seed=seed))) for seed in (1, 1, 2))
    assert first == again != other


def test_a_refusal_tells_the_chance_and_no_table() -> None:
    plan = planned(accepted=0.0)
    assert not plan.feasible and plan.verdict.kind == "chance-too-small"
    assert set(blocks(plan)) == {"risk"}
    text = Sentences(plan.task, plan_words("en"), US).reason(plan.verdict, "verdict")
    assert "200 draws" in text
    assert [item.kind for item in plan.alternatives] == ["accept"]


def test_without_a_chance_nothing_is_said() -> None:
    task = made_task(ROAD, load_vehicle("motorcoach"), places=PLACES)
    assert blocks(explained(task, slippery=False)) == {}
