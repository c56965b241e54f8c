# SPDX-License-Identifier: MIT
"""Cold and wet advice: whole sentences, known conditions, and the right ones on the right day."""

from __future__ import annotations

import pytest

from descent.sources import load_sources
from descent.vehicle.cold_wet import (
    EQUIPMENT,
    STAGES,
    SURFACES,
    WHERE,
    advice_for,
    all_advice,
    coldest_on_road_c,
)


def keys(**day: object) -> set[str]:
    return {item.key for item in advice_for(**day)}           # type: ignore[arg-type]


def test_the_table_is_well_formed() -> None:
    found = all_advice()
    assert len({item.key for item in found}) == len(found) > 10
    for item in found:
        assert item.when in STAGES and item.where in WHERE and set(item.surfaces) <= set(SURFACES) and item.text.endswith(".")
        assert item.short == "" or (item.short.endswith(".") and len(item.short) <= len(item.text))
        assert {item.fitted, item.missing} - {None} <= set(EQUIPMENT)
        assert set(item.source_keys) <= set(load_sources())


def test_a_warm_dry_day_has_little_to_say() -> None:
    assert keys(coldest_air_c=25.0, surface="dry") == {"drain-daily", "no-water-on-hot"}


def test_frost_speaks_of_water_and_ice() -> None:
    cold = keys(coldest_air_c=-5.0, surface="ice", fitted=frozenset(("evaporator", "retarder")))
    assert {"drain-in-frost", "evaporator", "frozen-on", "retarder-off-slippery", "not-today", "chains-fit"} <= cold
    assert "no-evaporator" not in cold
    assert {"evaporator", "no-evaporator"} <= keys(coldest_air_c=-5.0, surface="dry")       # not known: both
    assert "evaporator" not in keys(coldest_air_c=-5.0, surface="dry", known=frozenset(EQUIPMENT))


def test_no_frost_advice_above_freezing_and_none_lost_in_the_cold() -> None:
    for surface in SURFACES:
        warm, cold = keys(coldest_air_c=10.0, surface=surface), keys(coldest_air_c=-20.0, surface=surface)
        assert warm <= cold


def test_a_pass_is_colder_than_its_foot() -> None:
    """Standard atmosphere: 6.5 K per 1000 m (standard_atmosphere, memory-high)."""
    assert coldest_on_road_c(10.0, climb_m=1000.0) == pytest.approx(10 - 6.5 - 3)
    assert coldest_on_road_c(10.0, climb_m=-500.0) == pytest.approx(7.0)
