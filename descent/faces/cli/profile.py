# SPDX-License-Identifier: MIT
"""`descent profile`: heights and grades along a route with their uncertainty."""

from __future__ import annotations

from typing import Any

import click

from descent.faces.cli.options import Progress, json_option, road_options


@click.command("profile")
@road_options
@click.option("--out", metavar="FILE.csv", help="Write the stations to this CSV file.")
@click.option("--plot", metavar="FILE.svg", help="Draw the profile with its band, samples and confidence.")
@json_option
def command(route: str, out: str | None, plot: str | None, as_json: bool, **given: Any) -> int:
    """Estimate the road profile of ROUTE: height, grade and how sure both are."""
    from descent.faces.cli.run_survey import run_profile
    run_profile(route, given, out, plot, as_json=as_json, progress=Progress())
    return 0
