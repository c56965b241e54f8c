# SPDX-License-Identifier: MIT
"""What `descent replan` does once its options are read: look up and say it."""

from __future__ import annotations

import json

import click

from descent import units
from descent.faces.cli.options import say
from descent.pipeline import replan_from
from descent.report.advice_text import advice_document, advice_text
from descent.report.words import load_words


def run(plan: str, at: str, temp: str | None, seen: str, minutes: float, snubs: tuple[float, float] | None, *,
        as_json: bool) -> bool:
    """Print the advice; True when there is a way to go on."""
    station_m = units.parse(at, units.LENGTH, where="--at")
    temp_c = None if temp is None else units.parse(temp, units.TEMPERATURE, where="--temp")
    advice, system = replan_from(plan, station_m, temp_c=temp_c, seen=seen, minutes=minutes, snubs=snubs)
    if as_json:
        click.echo(json.dumps(advice_document(advice), indent=2))
    else:
        say(advice_text(advice, system=system.value, words=load_words("en")))
    return bool(advice.legs) or advice.action.value != "do-not-go"
