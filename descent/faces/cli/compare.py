# SPDX-License-Identifier: MIT
"""`descent compare`: several vehicles, weights, routes or days side by side."""

from __future__ import annotations

from typing import Any

import click

from descent.errors import EXIT_NO_PLAN
from descent.faces.cli.options import Progress, json_option, language_option


@click.command("compare")
@click.argument("routes", metavar="ROUTE...", nargs=-1, required=True)
@click.option("--dem", multiple=True, metavar="PATH", help="Elevation file (may be given several times).")
@click.option("--grades", metavar="TABLE", help="CSV of length and grade, as copied from grade signs.")
@click.option("--route-elevation", "route_elevation", is_flag=True, help="Use the heights recorded in the route files.")
@click.option("--reverse", "reverse", is_flag=True, help="Drive the lines the other way.")
@click.option("--places", metavar="FILE", help="Pull-outs, brake check areas, ramps, towns, mileposts.")
@click.option("--vehicle", multiple=True, metavar="NAME|FILE", help="A class or a .toml file; any number of times.")
@click.option("--gross", multiple=True, metavar="WEIGHT", help="Gross weight; any number of times.")
@click.option("--condition", multiple=True, metavar="FILE", help="A filled-in walk-round; any number of times.")
@click.option("--air-temp", "air_temp", multiple=True, metavar="TEMP", help="Air temperature; any number of times.")
@click.option("--road", multiple=True, metavar="dry|wet|snow|ice", help="Road surface; any number of times.")
@click.option("--retarder", multiple=True, metavar="working|out", help="Count on a fitted retarder or not; or both.")
@click.option("--fleet", metavar="FILE", help="CSV of unit, vehicle, tare: which of them can take --load down.")
@click.option("--load", metavar="WEIGHT", help="The load for the fleet's units, e.g. 22t.")
@click.option("--start-temp", "start_temp", metavar="TEMP", help="Brake temperature when the route starts [default: 150F].")
@click.option("--min-speed", "min_speed", metavar="SPEED", help="Slowest control speed allowed [default: 15mph].")
@click.option("--units", metavar="us|metric", help="Units to read [default: us].")
@language_option
@click.option("--quick", is_flag=True, help="Leave out the most weight each vehicle can take down.")
@click.option("--out", metavar="DIR", default="descent-compare", show_default=True, help="Folder to write to.")
@json_option
def command(routes: tuple[str, ...], out: str, **given: Any) -> int:
    """Plan every combination of what is given and lay the answers side by side.

    Writes compare.html, compare.json and compare.csv. Exit status 3 when none of the cases holds.

    Can the 36-tonner go if the retarder is out: --gross 36t --retarder working --retarder out
    """
    from descent.faces.cli.run_compare import run
    return 0 if run(routes, out, given, Progress()) else EXIT_NO_PLAN
