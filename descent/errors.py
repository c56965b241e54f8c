# SPDX-License-Identifier: MIT
"""Every error a user can meet: what is wrong, where, the value seen and what to do.

    DescentError
    +-- InputError                exit 2   one or more faults of an input
    |   +-- RequestError          the command or request itself
    |   +-- RouteError            the route file or line
    |   +-- PlacesError           the places file
    |   +-- VehicleError          the vehicle name or file
    |   +-- DemError              an elevation file that cannot be read
    |   +-- OutputError           the output folder
    +-- ElevationError            exit 4   elevation data that cannot carry a plan here

"No safe way down at this load" is an answer, not an error: see `plan.model.DescentPlan.feasible`.
"""

from __future__ import annotations

import sys
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

EXIT_OK = 0
EXIT_BAD_INPUT = 2
EXIT_NO_PLAN = 3
EXIT_ELEVATION = 4
EXIT_INTERNAL = 70              # a mistake in the program (the number of sysexits.h, from memory)
EXIT_BROKEN_PIPE = 1
_LONGEST = 400
EXIT_INTERRUPTED = 130          # 128 + the interrupt signal, common practice of shells

KINDS: Mapping[str, str] = MappingProxyType({
    "request": "the command or request", "route": "the route, places or grade table file",
    "places": "the places file", "vehicle": "the vehicle", "dem": "an elevation file",
    "elevation": "elevation data that cannot carry a plan", "output": "the output folder",
    "program": "the program itself"})


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong: `what` is a sentence without the place; `remedy` says what to do."""

    code: str
    what: str
    remedy: str
    where: str = ""
    value: str = ""

    def sentence(self) -> str:
        """The fault as one line for a person: no control or invisible characters, nothing endless."""
        place = f"{_plain(self.where)}: " if self.where else ""
        seen = f" (got {_plain(self.value)})" if self.value else ""
        return f"{place}{_plain(self.what)}{seen}. {_plain(self.remedy)}".strip()


def _plain(text: str) -> str:
    """Only printable characters, line breaks as spaces, at most _LONGEST of them."""
    line = "".join(char for char in " ".join(text.split()) if char.isprintable())
    return line if len(line) <= _LONGEST else line[:_LONGEST - 1] + "\u2026"


class DescentError(Exception):
    """Root of all errors; carries one or more `Fault`s and the exit status a command ends with."""

    exit_code = EXIT_BAD_INPUT

    def __init__(self, *faults: Fault) -> None:
        self.faults = faults
        super().__init__("\n".join(fault.sentence() for fault in faults))


class InputError(DescentError):
    """Input that cannot be used as it is."""


class RequestError(InputError):
    """The request itself: options, quantities, combinations."""


class RouteError(InputError):
    """The route file or the line in it."""


class PlacesError(InputError):
    """The places file."""


class VehicleError(InputError):
    """A vehicle name or vehicle file."""


class DemError(InputError):
    """An elevation file that cannot be opened or read."""


class OutputError(InputError):
    """The folder or file to write to."""


class ElevationError(DescentError):
    """The elevation data cannot carry a plan here (where, and what would help)."""

    exit_code = EXIT_ELEVATION


@dataclass(frozen=True)
class CodeEntry:
    """What a fault code stands for: the kind of input, its meaning, and what to do about it."""

    code: str
    kind: str
    means: str
    do: str

    @property
    def exit_code(self) -> int:
        """The exit status of a command that ends with this fault."""
        return {"elevation": EXIT_ELEVATION, "program": EXIT_INTERNAL}.get(self.kind, EXIT_BAD_INPUT)


def load_codes() -> Mapping[str, CodeEntry]:
    """Every code by name, in the order of errors.toml (read from the package when asked for).

    >>> load_codes()["dem-void"].exit_code
    4
    """
    import tomllib
    from importlib import resources

    text = (resources.files("descent") / "errors.toml").read_text(encoding="utf-8")
    return MappingProxyType({code: CodeEntry(code, **row) for code, row in tomllib.loads(text).items()})


def errors_markdown() -> str:
    """The page docs/errors.md: exit statuses, then every code by kind of input."""
    lines = ["# Errors", "",
             "Generated from `descent/errors.toml` by `python -m descent.errors > docs/errors.md`; do not edit.", "",
             ("Every fault is one sentence: where, what, the value seen, what to do. All faults of an input are told at "
             "once, and nothing is written. In code a fault is `descent.errors.Fault` with a stable `code`; an error "
             "(`DescentError`) carries one or more."), "", "| exit status | meaning |", "|---|---|",
             f"| {EXIT_OK} | a plan that holds |", f"| {EXIT_BAD_INPUT} | bad input or usage |",
             f"| {EXIT_NO_PLAN} | no way down inside the limits, or a vehicle that may not go: an answer, not an error |",
             f"| {EXIT_ELEVATION} | elevation data that cannot carry a plan here |",
             f"| {EXIT_INTERRUPTED} | stopped from the keyboard; nothing was half-written |",
             f"| {EXIT_INTERNAL} | a mistake in the program; please report it |",
             f"| {EXIT_BROKEN_PIPE} | the reader of the output went away |"]
    codes = load_codes()
    for kind, words in KINDS.items():
        lines += ["", f"## {words[0].upper()}{words[1:]}", "", "| code | what it means | what to do |", "|---|---|---|"]
        lines += [f"| `{entry.code}` | {entry.means} | {entry.do} |" for entry in codes.values() if entry.kind == kind]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    sys.stdout.write(errors_markdown())
