# SPDX-License-Identifier: MIT
"""`descent plan`: a route, heights, a vehicle and a weight in; a page, a card and files out."""

from __future__ import annotations

from typing import Any

import click

from descent.errors import EXIT_NO_PLAN
from descent.faces.cli.options import Progress, json_option, language_option, road_options


@click.command("plan")
@road_options
@click.option("--places", metavar="FILE", help="Pull-outs, brake check areas, ramps, towns, mileposts.")
@click.option("--vehicle", metavar="NAME|FILE", help="A class (descent vehicles list) or a .toml file.")
@click.option("--gross", metavar="WEIGHT", help="Gross weight from the scale ticket, e.g. 80000lb or 36.3t.")
@click.option("--condition", metavar="FILE", help="The filled-in walk-round (descent vehicles condition writes the form).")
@click.option("--air-temp", metavar="TEMP", help="Air temperature on the way [default: 90F].")
@click.option("--start-temp", metavar="TEMP", help="Brake temperature when the route starts [default: 150F].")
@click.option("--road", metavar="dry|wet|snow|ice", help="Road surface [default: dry].")
@click.option("--min-speed", metavar="SPEED", help="Slowest control speed allowed [default: 15mph].")
@click.option("--accept-risk", metavar="SHARE", help="Chance of passing the brakes' limit that is accepted [default: 5%].")
@click.option("--seed", metavar="N", help="Seed of the draws that chance is judged on [default: 1].")
@click.option("--weight-from", metavar="ticket|papers", help="Where the gross weight was read [default: ticket].")
@click.option("--units", metavar="us|metric", help="Units to read [default: us].")
@language_option
@click.option("--tiles", metavar="URL", help="Server of map pictures, https://.../{z}/{x}/{y}.png, that the page's reader may "
              "turn on; none by default.")
@click.option("--tiles-credit", metavar="TEXT", help="Whose map that is, shown while it is on.")
@click.option("--date", metavar="TEXT", help="A date to print on page and card; none by default.")
@click.option("--pdf", is_flag=True, help="Also write the card as PDF (needs the pdf extra).")
@click.option("--out", metavar="DIR", default="descent-trip", show_default=True, help="Folder to write to.")
@json_option
def command(route: str, out: str, **given: Any) -> int:
    """Plan how a vehicle comes down ROUTE.

    Writes trip.html (report, map, strip and card in one file), plan.json, profile.csv, plan.geojson and stops.gpx.
    """
    from descent.faces.cli.run_plan import run
    return EXIT_NO_PLAN if not run(route, out, given, Progress()) else 0
