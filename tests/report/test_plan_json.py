# SPDX-License-Identifier: MIT
"""plan.json: valid JSON, rounded the same way every time, no NaN, the order of the keys kept."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from descent.report.plan_json import plan_json, stable_document

leaves = st.none() | st.booleans() | st.integers() | st.floats() | st.text()
names = st.sampled_from(["station_m", "grade", "speed_mps", "anything", "temp_c", "steer"])
trees = st.recursive(
    leaves,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(names, inner, max_size=4),
    max_leaves=20,
)


@given(st.dictionaries(names, trees, max_size=5))
def test_twice_changes_nothing_and_json_reads_back(document: dict[str, Any]) -> None:
    once = stable_document(document)
    assert stable_document(once) == once
    assert json.loads(plan_json(document)) == once
    assert list(once) == list(document)


def test_rounding_follows_the_name() -> None:
    stable = stable_document(
        {
            "station_m": 1.00049,
            "lon": 7.123456789,
            "grade": -0.06123456789,
            "brakes_j": 1234.5678,
            "trace": {"brake_temp_c": {"drive": np.array([200.12345, np.nan])}},
            "other": 1 / 3,
        }
    )
    assert stable == {
        "station_m": 1.0,
        "lon": 7.1234568,
        "grade": -0.0612346,
        "brakes_j": 1235.0,
        "trace": {"brake_temp_c": {"drive": [200.123, None]}},
        "other": 0.333333333,
    }


def test_numpy_and_tuples_become_plain() -> None:
    stable = stable_document({"a": np.float64(-0.0), "b": (np.int32(3), np.bool_(True))})
    assert plan_json(stable) == '{\n  "a": 0.0,\n  "b": [3, true]\n}\n'


def test_the_contract_comes_back(document: dict[str, Any]) -> None:
    read = json.loads(plan_json(document))
    assert read["schema"] == "descent-plan/1"
    assert read["legs"][0]["snubs"]["count"] == document["legs"][0]["snubs"]["count"]
    assert len(read["trace"]["station_m"]) == len(document["trace"]["station_m"])
