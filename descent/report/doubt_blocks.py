# SPDX-License-Identifier: MIT
"""plan.json's blocks on doubt: how sure, what could go wrong, how to go on from a place, and what a change does."""

from __future__ import annotations

import math
from typing import Any

from descent.plan.doubt import ReplanTable, Risk
from descent.plan.model import DescentPlan
from descent.report.failure_words import failure_row
from descent.report.sentences import Sentences


def doubt_blocks(plan: DescentPlan, sentences: Sentences) -> dict[str, Any]:
    """`risk`, `failures`, `replan` and `sensitivities` of plan.json; what was not computed is left out."""
    document: dict[str, Any] = {}
    if plan.risk is not None:
        document["risk"] = _risk(plan.risk, plan)
    if plan.failures:
        document["failures"] = [failure_row(row, sentences) for row in plan.failures]
    if plan.replan is not None:
        document["replan"] = _replan(plan.replan)
    if plan.sensitivities:
        document["sensitivities"] = [
            {"what": sentences.words(f"sensitivity.{row.what}"), "key": row.what, "per": row.per, "per_unit": row.unit,
             "change_c": row.change_k if math.isfinite(row.change_k) else None, "change_s": row.change_s} for row in plan.sensitivities]
    return document


def _replan(table: ReplanTable) -> dict[str, Any]:
    """The table a stopped driver goes on by: null where no temperature would do."""
    return {"station_m": table.station_m, "planned_c": table.planned_c, "likely_c": table.likely_c,
            "cool_1ps": [float(f"{value:.6g}") for value in table.cool_1ps], "air_temp_c": table.air_temp_c,
            "limit_c": table.limit_c, "fade_onset_c": table.fade_onset_c,
            "halts": [{"station_m": at, "name": name} for at, name in table.halts],
            "levels": [{"step": level.step, "legs": [
                {"start_m": start, "end_m": end, "gear": gear, "control_speed_mps": speed, "retarder_stage": stage}
                for start, end, gear, speed, stage in level.legs],
                "threshold_c": level.threshold_c, "rest_s": level.rest_s} for level in table.levels]}


def _risk(risk: Risk, plan: DescentPlan) -> dict[str, Any]:
    """The chance, what it costs, and the band of the hottest brake along the road."""
    chance = plan.task.chance
    spread = [] if chance is None else [{"name": name, "value": value, "source": source}
                                       for name, value, source in chance.spread.sources]
    return {"draws": risk.draws, "seed": risk.seed, "accepted": risk.accepted,
            "probability_over_limit": risk.probability, "upper_95": risk.upper_95, "draws_at_fade": risk.fading,
            "temperature_percentiles_c": {str(rank): temp for rank, temp in risk.temperature_percentiles_c.items()},
            "nominal_time_s": risk.nominal_s, "cost_s": risk.cost_s,
            "band": {"station_m": risk.station_m, "p5_temp_c": risk.low_c, "p50_temp_c": risk.middle_c,
                     "p95_temp_c": risk.high_c}, "spread": spread}
