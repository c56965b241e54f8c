# SPDX-License-Identifier: MIT
"""`descent lesson`: why low gear matters, in one offline page a class can play with."""

from __future__ import annotations

from typing import Any

import click

from descent.faces.cli.options import Progress, language_option


@click.command("lesson")
@click.argument("route", metavar="[ROUTE]", required=False)
@click.option("--dem", multiple=True, metavar="PATH", help="Elevation file (may be given several times).")
@click.option("--grades", metavar="TABLE", help="CSV of length and grade, with or without a ROUTE.")
@click.option("--route-elevation", "route_elevation", is_flag=True, help="Use the heights recorded in the route file.")
@click.option("--reverse", "reverse", is_flag=True, help="Drive the line the other way.")
@click.option("--grade", metavar="SHARE", help="Grade of an invented hill, without ROUTE [default: 7%].")
@click.option("--length", metavar="LENGTH", help="Its length from crest to foot [default: 8mi].")
@click.option("--vehicle", metavar="NAME|FILE", help="A class (descent vehicles list) or a .toml file.")
@click.option("--gross", metavar="WEIGHT", help="The heaviest weight of the lesson, e.g. 80000lb or 36.3t.")
@click.option("--air-temp", metavar="TEMP", help="Air temperature [default: 90F].")
@click.option("--start-temp", metavar="TEMP", help="Brake temperature at the top [default: 150F].")
@click.option("--units", metavar="us|metric", help="Units to read [default: us].")
@language_option
@click.option("--out", metavar="DIR", default="descent-lesson", show_default=True, help="Folder to write to.")
def command(route: str | None, out: str, **given: Any) -> int:
    """A lesson for a class: one truck, one hill, every choice computed beforehand.

    Without ROUTE the hill is invented: one straight grade with a crest and a foot. With ROUTE it is the road's longest
    fall. Writes lesson.html and lesson.json. A training aid, not a plan.
    """
    from descent.faces.cli.run_lesson import run
    run(route, out, given, Progress())
    return 0
