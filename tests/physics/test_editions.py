# SPDX-License-Identifier: MIT
"""Where editions contradict each other the edition is a parameter, changes the answer, and is stated; never chosen in silence."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import numpy as np
import pytest

import descent.report
from descent.physics.stopping import LagEdition, Timing, brakes_left, stop
from descent.units import FOOT_M, MPH_MPS, PSI_KPA
from descent.vehicle.air_supply import WarningRule, air_supply
from descent.vehicle.catalogue import load_vehicle
from descent.vehicle.walk_round_items import WARNING_CHOICES

ROOT = Path(__file__).parents[2]
TRUCK = load_vehicle("tractor-semitrailer")
PAGE = (ROOT / "docs" / "air.md").read_text(encoding="utf-8")
TABLE = PAGE.split("## Where editions disagree")[1].split("##")[0]


def test_the_warning_s_editions_are_parameters_and_change_the_answer() -> None:
    """60 psi (fmvss_121_tables, memory-high; older manuals, seen-2), 55 psi or half of cut-out (cfr_393_51, memory-medium),
    80 psi (practice)."""
    at = {rule: air_supply(TRUCK, warning_rule=rule).warning_kpa / PSI_KPA for rule in WarningRule}
    assert at == {WarningRule.BEFORE_60: pytest.approx(60), WarningRule.BEFORE_55: pytest.approx(55),
                  WarningRule.HALF_OF_CUT_OUT: pytest.approx(55), WarningRule.LARGE_BUS: pytest.approx(80)}
    assert set(WARNING_CHOICES) == {rule.value for rule in WarningRule}           # the walk-round asks which


@pytest.mark.parametrize("rule", [None, *WarningRule])
def test_the_edition_in_force_and_the_others_stand_among_the_assumptions(rule: WarningRule | None) -> None:
    said = [text for text in air_supply(TRUCK, warning_rule=rule).assumptions if "low-air warning" in text]
    named = (rule or TRUCK.air.warning_rule).value.replace("-", " ")
    assert len(said) == 1 and f"by the {named} rule" in said[0]
    assert all(part in said[0] for part in ("55 or 60 psi", "half of cut-out", "80 to 85 psi"))


def test_the_lag_s_editions_are_parameters_and_change_the_answer() -> None:
    """32 ft at 55 mph is 32 / 80.667 = 0.397 s (cdl_manual_air_brakes, seen-2); half a second or more (same); 60 psi of 100
    in 0.45 s (fmvss_121, seen) is 0.45 / ln 2.5 = 0.491 s of a first-order build."""
    assert LagEdition.PUBLISHED_WAY.seconds == pytest.approx(32 / 80.667, abs=1e-4)
    assert LagEdition.HALF_SECOND.seconds == 0.5 and LagEdition.STANDARD.seconds == pytest.approx(0.45 / np.log(2.5))
    ways = {edition: stop(TRUCK, speed_mps=55 * MPH_MPS, grade=0.0, temps_c=np.full(3, 25.0), adhesion=0.6,
                          timing=Timing(lag=edition), left=brakes_left(TRUCK, timing=Timing(lag=edition)))
            for edition in LagEdition}
    assert ways[LagEdition.PUBLISHED_WAY].lag_m / FOOT_M == pytest.approx(32.0, abs=0.05)
    assert ways[LagEdition.PUBLISHED_WAY].total_m < ways[LagEdition.STANDARD].total_m < ways[LagEdition.HALF_SECOND].total_m


def test_a_plan_s_assumptions_name_the_lag_it_uses_and_the_others() -> None:
    words = Path(descent.report.__file__).parent / "plan_words_en.toml"
    said = tomllib.loads(words.read_text(encoding="utf-8"))["assumption"]["lag"]
    used = Timing()
    for number in (f"perception {used.perception_s:g} s", f"reaction {used.reaction_s:g} s", f"lag {used.lag.seconds:.2f} s",
                   "0.45 s to 60 psi", f"{LagEdition.PUBLISHED_WAY.seconds:.2f} s (32 ft at 55 mph)", "half a second"):
        assert number in said, number


@pytest.mark.parametrize("parts", [
    ("60 psi", "55 psi", "half of cut-out", "80 to 85 psi", "WarningRule"),
    ("0.45 s", "0.40 s", "32 ft at 55 mph", "alf a second", "LagEdition"), ("45 s", "25 s")], ids=["warning", "lag", "build-up"])
def test_the_page_tells_every_conflict_in_one_row(parts: tuple[str, ...]) -> None:
    rows = [row for row in TABLE.splitlines() if row.startswith("|")]
    assert any(all(part in row for part in parts) for row in rows)
    assert not re.search(r"correct edition|true value", TABLE)
