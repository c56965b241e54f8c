# SPDX-License-Identifier: MIT
"""Advice to a stopped driver as a short text: what the brakes are taken for, what to do, the orders from here."""

from __future__ import annotations

import math

from descent.plan.next_move import Action, Advice
from descent.report.shown import shown_for
from descent.report.words import Words


def advice_text(advice: Advice, *, system: str, words: Words) -> str:
    """The advice in plain lines. system: "us" or "metric"."""
    shown = shown_for(system, words)
    at = shown.at(advice.station_m)
    measured = math.isclose(advice.low_c, advice.high_c)
    lines = [words("replan.measured" if measured else "replan.taken", at=at, low=shown.temperature(advice.low_c),
                   high=shown.hot(advice.high_c))]
    allowed = "" if math.isinf(advice.allowed_c) else shown.temperature(math.floor(advice.allowed_c))
    lines.append(words(f"replan.{advice.action.value}", allowed=allowed, minutes=shown.stop_minutes(advice.minutes)))
    if advice.action is not Action.DO_NOT_GO:
        lines += ["  " + words("replan.leg" if stage else "replan.leg_bare", at=shown.at(max(start, advice.station_m)), gear=gear,
                               speed=shown.speed(speed), stage=stage) for start, _, gear, speed, stage in advice.legs]
        lines.append(words("replan.stops_stay"))
    if advice.look_over:
        lines.append(words("replan.look_over"))
    if advice.at_halt is not None:
        lines.append(words("replan.standing", name=advice.at_halt))
    elif advice.next_halt is not None:
        lines.append(words("replan.not_halt", at=shown.at(advice.next_halt[0]), name=advice.next_halt[1]))
    else:
        lines.append(words("replan.no_halt"))
    if not measured:
        lines.append(words("replan.assumed"))
    return "\n".join([*lines, words("replan.defer")]).replace("\u00a0", " ")


def advice_document(advice: Advice) -> dict[str, object]:
    """The advice as JSON's plain values, SI."""
    return {"action": advice.action.value, "station_m": advice.station_m, "low_temp_c": advice.low_c,
            "high_temp_c": advice.high_c, "allowed_temp_c": None if math.isinf(advice.allowed_c) else advice.allowed_c,
            "minutes": advice.minutes, "step": advice.step, "look_over": advice.look_over, "at_halt": advice.at_halt,
            "next_halt": None if advice.next_halt is None else {"station_m": advice.next_halt[0], "name": advice.next_halt[1]},
            "legs": [{"start_m": start, "end_m": end, "gear": gear, "control_speed_mps": speed, "retarder_stage": stage}
                     for start, end, gear, speed, stage in advice.legs]}
