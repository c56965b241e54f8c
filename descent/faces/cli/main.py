# SPDX-License-Identifier: MIT
"""The `descent` command: its subcommands load only when they are called, so that help is quick."""

from __future__ import annotations

import contextlib
import errno
import importlib
import os
import sys
from typing import Any, NoReturn

import click

from descent import __version__
from descent.errors import (
    EXIT_BAD_INPUT,
    EXIT_BROKEN_PIPE,
    EXIT_INTERNAL,
    EXIT_INTERRUPTED,
    DescentError,
    Fault,
)

COMMANDS = {
    "plan": ("descent.faces.cli.plan", "Plan how a vehicle comes down a route; write page, card and files."),
    "compare": ("descent.faces.cli.compare", "Several vehicles, weights, routes or days side by side."),
    "debrief": ("descent.faces.cli.debrief", "A recorded drive laid over the plan: page and document."),
    "profile": ("descent.faces.cli.profile", "Heights and grades along a route, with their uncertainty."),
    "grades": ("descent.faces.cli.grades", "The sustained downgrades of a route."),
    "lesson": ("descent.faces.cli.lesson", "Why low gear: an offline page a class can play with."),
    "replan": ("descent.faces.cli.replan", "From where you stand: go on, cool or go slower, looked up in a plan."),
    "vehicles": ("descent.faces.cli.vehicles", "The catalogue of vehicle classes; check a vehicle file."),
    "sources": ("descent.faces.cli.sources", "Where the numbers come from, and how far to trust each."),
}


class _OutputLostError(Exception):
    """Carries an OSError past click, which would end with status 0 when the reader of the output went away."""

    def __init__(self, reason: OSError) -> None:
        super().__init__(str(reason))
        self.reason = reason


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

    def invoke(self, ctx: click.Context) -> Any:
        try:
            status = super().invoke(ctx)
            sys.stdout.flush()
        except OSError as error:
            raise _OutputLostError(error) from error
        return status

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
    except (click.Abort, KeyboardInterrupt):
        click.echo("descent: stopped; no file was left half-written", err=True)
        sys.exit(EXIT_INTERRUPTED)
    except _OutputLostError as error:
        _leave_output(error.reason)
    except Exception as error:  # noqa: BLE001 - the last resort: no traceback reaches a user
        _confess(error)
    sys.exit(status if isinstance(status, int) else 0)


def _leave_output(error: OSError) -> NoReturn:
    """The reader of our output went away (no word about it), or its disk is full."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())     # what is still buffered goes nowhere
    if error.errno != errno.EPIPE:
        click.echo(f"descent: the output cannot be written: {error.strerror or type(error).__name__}. "
                   "Check the disk and the place it is sent to", err=True)
        sys.exit(EXIT_BAD_INPUT)
    sys.exit(EXIT_BROKEN_PIPE)


def _confess(error: Exception) -> NoReturn:
    """A mistake of ours: one sentence, no traceback unless it is asked for; never taken for an answer."""
    if os.environ.get("DESCENT_TRACEBACK"):
        raise error
    fault = Fault("internal-error", f"a mistake in this program ({type(error).__name__})",
                  "No file was left half-written. Run again with DESCENT_TRACEBACK=1 set and report what it prints",
                  "descent", str(error)[:120])
    click.echo(fault.sentence(), err=True)
    sys.exit(EXIT_INTERNAL)
