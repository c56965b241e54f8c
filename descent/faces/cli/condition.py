# SPDX-License-Identifier: MIT
"""`descent vehicles condition`: the walk-round form of a vehicle, to fill in or to print."""

from __future__ import annotations

from pathlib import Path

import click

from descent.faces.cli.options import say


@click.command("condition")
@click.option("--vehicle", "name", metavar="NAME|FILE", default="tractor-semitrailer", show_default=True,
              help="Whose brakes and axles the form is for.")
@click.option("--out", metavar="FILE", help="Write to FILE: .toml to fill in, .html or .txt to print. "
              "Without it the TOML form goes to standard output.")
def condition(name: str, out: str | None) -> None:
    """Write the walk-round form, in the order it is walked."""
    from descent.pipeline import walk_round_form
    if out is None:
        say(walk_round_form(name, suffix=".toml").removesuffix("\n"))
        return
    from descent.report.writing import write_files
    target = Path(out)
    if target.suffix.lower() not in (".toml", ".html", ".txt"):
        raise click.BadParameter("name a file that ends in .toml (to fill in), .html or .txt (to print)", param_hint="--out")
    for path in write_files({target.name: walk_round_form(name, suffix=target.suffix.lower()).encode("utf-8")},
                            out=target.parent):
        say(f"{path}: the walk-round form of {name}")
