# SPDX-License-Identifier: MIT
"""`descent grades`: the sustained downgrades of a route."""

from __future__ import annotations

from typing import Any

import click

from descent.faces.cli.options import Progress, json_option, road_options


@click.command("grades")
@road_options
@click.option("--units", metavar="us|metric", default="us", show_default=True, help="Units to read.")
@json_option
def command(route: str, units: str, as_json: bool, **given: Any) -> int:
    """List the sustained downgrades of ROUTE: where, how long, how steep, how sure."""
    from descent.faces.cli.run_survey import run_grades
    run_grades(route, given, units, as_json=as_json, progress=Progress())
    return 0
