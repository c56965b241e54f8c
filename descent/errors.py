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

from dataclasses import dataclass

EXIT_OK = 0
EXIT_BAD_INPUT = 2
EXIT_NO_PLAN = 3
EXIT_ELEVATION = 4


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong: `what` is a sentence without the place; `remedy` says what to do."""

    code: str
    what: str
    remedy: str
    where: str = ""
    value: str = ""

    def sentence(self) -> str:
        """The fault as one line for a person."""
        place = f"{self.where}: " if self.where else ""
        seen = f" (got {self.value})" if self.value else ""
        return f"{place}{self.what}{seen}. {self.remedy}".strip()


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
