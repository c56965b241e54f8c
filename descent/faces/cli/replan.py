# SPDX-License-Identifier: MIT
"""`descent replan`: from where a driver stands, by what the brakes show, how to go on."""

from __future__ import annotations

import click

from descent.errors import EXIT_NO_PLAN
from descent.faces.cli.options import json_option


@click.command("replan")
@click.argument("plan", metavar="PLAN.json")
@click.option("--at", "at", metavar="DISTANCE", required=True, help="Where you stand, from the start of the route, e.g. 6.2mi.")
@click.option("--temp", metavar="TEMP", help="Hottest brake, measured now, e.g. 450F.")
@click.option("--seen", metavar="smoke|smell|long-snubs|nothing", default="nothing", show_default=True,
              help="What the brakes showed on stopping.")
@click.option("--minutes", metavar="MINUTES", type=click.FloatRange(0.0, 1e5), default=0.0, show_default=True,
              help="Minutes since stopping.")
@click.option("--snubs", metavar="SECONDS SECONDS", type=click.FloatRange(0.0, 1e5), nargs=2,
              help="Counted: seconds braking, and seconds from one snub to the next.")
@json_option
def command(plan: str, at: str, temp: str | None, seen: str, minutes: float, snubs: tuple[float, float] | None,
            as_json: bool) -> int:
    """Look up in PLAN.json how to go on from where you stand."""
    from descent.faces.cli.run_replan import run
    return 0 if run(plan, at, temp, seen, minutes, snubs, as_json=as_json) else EXIT_NO_PLAN
