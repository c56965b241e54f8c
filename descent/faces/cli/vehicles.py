# SPDX-License-Identifier: MIT
"""`descent vehicles`: the catalogue of generic classes, one class explained, a vehicle file checked."""

from __future__ import annotations

import click

from descent.units import POUND_KG


@click.group("vehicles", invoke_without_command=True)
@click.pass_context
def command(ctx: click.Context) -> None:
    """The catalogue of vehicle classes; `show NAME` explains one, `check FILE` validates your own."""
    if ctx.invoked_subcommand is None:
        ctx.invoke(list_classes)


@command.command("list")
def list_classes() -> None:
    """List the classes with their rated gross weight."""
    from descent.pipeline import vehicles
    for vehicle in vehicles():
        click.echo(f"{vehicle.name:30s} {vehicle.gross_kg / POUND_KG:8,.0f} lb  {vehicle.gross_kg / 1000:5.1f} t  {vehicle.title}")


@command.command("show")
@click.argument("name")
def show(name: str) -> None:
    """Explain a class or a vehicle file in the trade's words."""
    from descent.pipeline import vehicle_with_facts
    from descent.report.vehicle_text import vehicle_text
    click.echo(vehicle_text(*vehicle_with_facts(name)))


@command.command("check")
@click.argument("file")
def check(file: str) -> None:
    """Check a vehicle file: every fault at once, or that it is sound."""
    from descent.pipeline import vehicle_with_facts
    vehicle, _ = vehicle_with_facts(file)
    click.echo(f"{file}: sound. {vehicle.title}, {vehicle.gross_kg / POUND_KG:,.0f} lb "
               f"({vehicle.gross_kg / 1000:.1f} t) rated")
