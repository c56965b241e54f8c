# SPDX-License-Identifier: MIT
"""The `descent` command: its subcommands load only when they are called, so that help is quick."""

from __future__ import annotations

import importlib
import sys

import click

from descent import __version__
from descent.errors import EXIT_BAD_INPUT, DescentError

COMMANDS = {
    "plan": ("descent.faces.cli.plan", "Plan how a vehicle comes down a route; write page, card and files."),
    "profile": ("descent.faces.cli.profile", "Heights and grades along a route, with their uncertainty."),
    "grades": ("descent.faces.cli.grades", "The sustained downgrades of a route."),
    "vehicles": ("descent.faces.cli.vehicles", "The catalogue of vehicle classes; check a vehicle file."),
    "sources": ("descent.faces.cli.sources", "Where the numbers come from, and how far to trust each."),
}


class _Commands(click.Group):
    """A group whose commands are imported when called; its help needs none of them."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        if ctx.resilient_parsing:
            return None
        command: click.Command = importlib.import_module(COMMANDS[cmd_name][0]).command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, words) for name, (_, words) in COMMANDS.items()])


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="descent")
def cli() -> None:
    """Plan how a heavy vehicle comes down a mountain without overheating its brakes.

    Quantities carry a unit: 80000lb, 36.3t, 35mph, 90F, 6mi. Exit status: 0 a plan that holds; 2 bad input;
    3 no way down inside the limits; 4 elevation data that cannot carry a plan.
    """


def main() -> None:
    """Run the command; errors become one clear sentence each and an exit status."""
    try:
        status = cli(standalone_mode=False)
    except DescentError as error:
        for fault in error.faults:
            click.echo(f"descent: {fault.sentence()}", err=True)
        sys.exit(error.exit_code)
    except click.exceptions.Exit as stop:
        sys.exit(stop.exit_code)
    except click.ClickException as error:
        error.show()
        sys.exit(EXIT_BAD_INPUT)
    except click.Abort:
        click.echo("descent: stopped; nothing was written", err=True)
        sys.exit(130)
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(1)
    sys.exit(status if isinstance(status, int) else 0)
