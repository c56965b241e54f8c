# SPDX-License-Identifier: MIT
"""Work of `descent vehicles balance`: parse what was asked, compute, print, and write the plot."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from descent import units
from descent.errors import DescentError, Fault, OutputError, RequestError


@dataclass(frozen=True)
class BalanceAsked:
    """The options as texts."""

    name: str
    gross: str | None
    grade: str
    altitude: str
    air_temp: str
    charge: str | None
    system: str
    svg: Path | None


def run_balance(asked: BalanceAsked) -> str:
    """The text to print; the plot is written where one was asked for. Raises every fault of the options at once."""
    from descent.pipeline import vehicle_with_facts
    from descent.report.balance_plot import balance_svg
    from descent.report.balance_text import balance_text
    faults: list[Fault] = []
    gross_kg = _read(asked.gross, units.MASS, "--gross", (100.0, 5e5), faults)
    grade = _read(asked.grade, units.RATIO, "--grade", (0.0, 0.4), faults)
    altitude_m = _read(asked.altitude, units.LENGTH, "--altitude", (-400.0, 6000.0), faults)
    air_temp_c = _read(asked.air_temp, units.TEMPERATURE, "--air-temp", (-50.0, 55.0), faults)
    charge = _read(asked.charge, units.RATIO, "--charge", (0.0, 1.0), faults)
    try:
        _, facts = vehicle_with_facts(asked.name)
    except DescentError as error:
        faults += error.faults
    if faults:
        raise RequestError(*faults)
    table = facts.balance(grade=-(grade or 0.0), gross_kg=gross_kg, altitude_m=altitude_m or 0.0,
                          air_temp_c=15.0 if air_temp_c is None else air_temp_c, state_of_charge=charge)
    shown = units.display_units(units.UnitSystem(asked.system))
    text = balance_text(table, shown)
    if asked.svg is not None:
        _write(asked.svg, balance_svg(table, shown))
        text += f"\nPlot: {asked.svg}"
    return text


def _read(text: str | None, quantity: units.Quantity, where: str, within: tuple[float, float],
          faults: list[Fault]) -> float | None:
    """A quantity in SI, None where not given or faulty; a fault is kept."""
    if text is None:
        return None
    try:
        value = units.parse(text, quantity, where=where)
    except RequestError as error:
        faults += error.faults
        return None
    if not within[0] <= value <= within[1]:
        faults.append(Fault("not-a-quantity", f"this {quantity.name} is out of all range",
                            f"It must lie between {within[0]:g} and {within[1]:g} {quantity.si_unit}", where, repr(text)))
        return None
    return value


def _write(path: Path, svg: str) -> None:
    from descent.report.writing import write_files
    try:
        write_files({path.name: svg.encode("utf-8")}, out=path.parent)
    except OutputError as error:
        raise OutputError(*(replace(fault, remedy="Choose a file in a folder that can be written, with --svg")
                            for fault in error.faults)) from None
