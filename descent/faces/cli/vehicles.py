# SPDX-License-Identifier: MIT
"""`descent vehicles`: the catalogue of generic classes, one class explained, a file checked, balance speeds."""

from __future__ import annotations

from pathlib import Path

import click

from descent.faces.cli.condition import condition
from descent.faces.cli.options import say
from descent.units import POUND_KG


@click.group("vehicles", invoke_without_command=True)
@click.pass_context
def command(ctx: click.Context) -> None:
    """The catalogue of vehicle classes; `show NAME` explains one, `check FILE` validates your own, `balance NAME`
    tells which speed each gear holds on a grade."""
    if ctx.invoked_subcommand is None:
        ctx.invoke(list_classes)


command.add_command(condition)


@command.command("list")
def list_classes() -> None:
    """List the classes with their rated gross weight."""
    from descent.pipeline import vehicles
    for vehicle in vehicles():
        say(f"{vehicle.name:30s} {vehicle.gross_kg / POUND_KG:8,.0f} lb  {vehicle.gross_kg / 1000:5.1f} t  {vehicle.title}")


@command.command("show")
@click.argument("name")
def show(name: str) -> None:
    """Explain a class or a vehicle file in the trade's words."""
    from descent.pipeline import vehicle_with_facts
    from descent.report.vehicle_text import vehicle_text
    say(vehicle_text(*vehicle_with_facts(name)))


@command.command("check")
@click.argument("file")
def check(file: str) -> None:
    """Check a vehicle file: every fault at once, or that it is sound."""
    from descent.pipeline import vehicle_with_facts
    vehicle, _ = vehicle_with_facts(file)
    say(f"{file}: sound. {vehicle.title}, {vehicle.gross_kg / POUND_KG:,.0f} lb "
        f"({vehicle.gross_kg / 1000:.1f} t) rated")


@command.command("balance")
@click.argument("name")
@click.option("--gross", metavar="WEIGHT", help="Gross weight, such as 80000lb (default: rated).")
@click.option("--grade", default="6%", show_default=True, metavar="SHARE", help="Downgrade, such as 6% or 0.06.")
@click.option("--altitude", default="0m", show_default=True, metavar="HEIGHT", help="Such as 2000m or 6500ft.")
@click.option("--air-temp", "air_temp", default="15C", show_default=True, metavar="TEMP", help="Such as 90F or 32C.")
@click.option("--charge", metavar="SHARE", help="State of charge of a battery, such as 60% (default: the table's).")
@click.option("--units", "system", type=click.Choice(["us", "metric"]), default="us", show_default=True)
@click.option("--svg", metavar="FILE", help="Write the plot to this file as well.")
def balance(name: str, gross: str | None, grade: str, altitude: str, air_temp: str, charge: str | None, system: str,
            svg: str | None) -> None:
    """The speed every gear and retarder stage holds on a grade without the service brakes."""
    from descent.faces.cli.run_balance import BalanceAsked, run_balance
    say(run_balance(BalanceAsked(name, gross, grade, altitude, air_temp, charge, system, Path(svg) if svg else None)))
