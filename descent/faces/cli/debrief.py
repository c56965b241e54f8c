# SPDX-License-Identifier: MIT
"""`descent debrief`: a recorded drive laid over the plan; a page and a document out."""

from __future__ import annotations

from typing import Any

import click

from descent.faces.cli.options import Progress, json_option, language_option


@click.command("debrief")
@click.argument("recording", metavar="RECORDING")
@click.option("--plan", metavar="FILE", help="The plan.json of this road; without it the drive is planned here.")
@click.option("--route", metavar="FILE", help="The planned road, where the recording's own line is not to be used.")
@click.option("--dem", multiple=True, metavar="PATH", help="Elevation file (may be given several times).")
@click.option("--grades", metavar="TABLE", help="CSV of length and grade, as copied from grade signs.")
@click.option("--route-elevation", "route_elevation", is_flag=True, help="Use the heights recorded in the route file.")
@click.option("--reverse", "reverse", is_flag=True, help="With --route: drive its line the other way.")
@click.option("--places", metavar="FILE", help="Pull-outs, brake check areas, ramps, towns, mileposts.")
@click.option("--vehicle", metavar="NAME|FILE", help="A class or a .toml file [default with --plan: the plan's].")
@click.option("--gross", metavar="WEIGHT", help="Gross weight driven, e.g. 80000lb [default with --plan: the plan's].")
@click.option("--condition", metavar="FILE", help="The filled-in walk-round of that day.")
@click.option("--air-temp", metavar="TEMP", help="Air temperature on the way [default: the plan's, else 90F].")
@click.option("--start-temp", metavar="TEMP", help="Brake temperature at the start [default: the plan's, else 150F].")
@click.option("--road", metavar="dry|wet|snow|ice", help="Road surface [default: the plan's, else dry].")
@click.option("--min-speed", metavar="SPEED", help="Slowest control speed allowed [default: 15mph].")
@click.option("--units", metavar="us|metric", help="Units to read [default: the plan's, else us].")
@language_option
@click.option("--seed", type=click.IntRange(0, 2**31 - 1), default=1, show_default=True,
              help="Of the draws that make the band.")
@click.option("--out", metavar="DIR", default="descent-debrief", show_default=True, help="Folder to write to.")
@json_option
def command(recording: str, out: str, **given: Any) -> None:
    """Lay RECORDING, a recorded drive (GPX, FIT, TCX or CSV with times), over the plan.

    Writes debrief.html and debrief.json: speed against control speed, gear, what the service brakes took and how hot
    they got, with its band, where the plan was left and what that cost, stops kept or missed, what went well. A CSV may
    carry columns speed [km/h], [mph] or [m/s] and engine_rpm.
    """
    from descent.faces.cli.run_debrief import run
    run(recording, out, given, Progress())
