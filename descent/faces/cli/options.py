# SPDX-License-Identifier: MIT
"""Options that several commands share, and the way they report progress."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from typing import Any, TypeVar

import click

Command = TypeVar("Command", bound=Callable[..., Any])


def road_options(command: Command) -> Command:
    """ROUTE and where its heights come from."""
    for option in (
            click.option("--reverse", "reverse", is_flag=True, help="Drive the line the other way."),
            click.option("--route-elevation", "route_elevation", is_flag=True,
                         help="Use the heights recorded in the route file."),
            click.option("--grades", metavar="TABLE", help="CSV of length and grade, as copied from grade signs."),
            click.option("--dem", multiple=True, metavar="PATH", help="Elevation file (may be given several times)."),
            click.argument("route", metavar="ROUTE")):
        command = option(command)
    return command


def json_option(command: Command) -> Command:
    """--json: the document on standard output."""
    return click.option("--json", "as_json", is_flag=True,
                        help="Print JSON on standard output; the log goes to standard error.")(command)


def language_option(command: Command) -> Command:
    """--language: what the pages and the terminal speak."""
    return click.option("--language", metavar="en|es", help="Language of pages and terminal [default: en].")(command)


def say(text: str, *, err: bool = False) -> None:
    """Print text for a person; whatever files and options put into it, no control character reaches the terminal."""
    click.echo("".join(char for char in text if char.isprintable() or char == "\n"), err=err)


class Progress:
    """Says what is being done on standard error: on a terminal one line that is rewritten, else only what is slow."""

    def __init__(self) -> None:
        self._began = time.perf_counter()
        self._live = sys.stderr.isatty()
        self._shown = 0

    def __call__(self, text: str) -> None:
        """Show what is being done now."""
        text = "".join(char for char in text if char.isprintable())
        if self._live:
            line = f"  {text} ..."
            click.echo("\r" + line.ljust(self._shown), nl=False, err=True)
            self._shown = len(line)
        elif time.perf_counter() - self._began > 1.0:
            click.echo(f"  {text} ...", err=True)

    def done(self) -> None:
        """Clear the line."""
        if self._live and self._shown:
            click.echo("\r" + " " * self._shown + "\r", nl=False, err=True)
