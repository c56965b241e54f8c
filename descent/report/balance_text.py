# SPDX-License-Identifier: MIT
"""Balance speeds of every gear and retarder stage on a grade: the table for a terminal."""

from __future__ import annotations

import math

from descent.physics.characteristics import Balance, BalancePoint, BalanceTable
from descent.units import FOOT_M, POUND_KG, DisplayUnits, UnitSystem

FAST, SLOW = "runs away", "too slow"


def balance_text(table: BalanceTable, units: DisplayUnits) -> str:
    """A line per gear: its governed speed, then the speed each retarder stage holds, or what happens instead."""
    vehicle = table.vehicle
    symbol, unit = units.speed
    stages = ("off", *(name for name, _ in vehicle.retarder.stages))
    heads = ["gear", f"fastest {symbol}", *(f"stage {name}" if name != "off" else "retarder off" for name in stages)]
    if len(stages) == 1:
        heads[2] = "engine alone"
    rows = [[vehicle.gearbox.names[gear], str(_whole(table.governed_mps[gear], unit)),
             *(_cell(point, unit) for point in line)] for gear, line in enumerate(table.points)]
    widths = [max(len(row[column]) for row in [heads, *rows]) for column in range(len(heads))]
    lines = [f"{vehicle.name}: speed held without the service brakes, {symbol}", condition_text(table, units), ""]
    lines += ["  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
              for row in [heads, *rows]]
    return "\n".join([*lines, "", *_legend(table)])


def condition_text(table: BalanceTable, units: DisplayUnits) -> str:
    """Weight, grade, altitude, air and battery as one line."""
    metric = units.system is UnitSystem.METRIC
    kg = table.vehicle.gross_kg
    weight = f"{kg / 1000:.1f} t" if metric else f"{kg / POUND_KG:,.0f} lb"
    height = f"{table.altitude_m:,.0f} m" if metric else f"{table.altitude_m / FOOT_M:,.0f} ft"
    way = "down" if table.grade < 0 else "up"
    text = (f"{weight}, {abs(table.grade) * 100:.3g}% {way}, {height} above the sea, air "
            f"{units.temperature(table.air_temp_c):.0f} {units.temperature_symbol}")
    if table.vehicle.retarder.battery is not None:
        text += f", battery {100 * table.state_of_charge:.0f}% charged"
    return text


def _cell(point: BalancePoint, unit: float) -> str:
    if point.balance is Balance.RUNS_AWAY:
        return FAST
    text = SLOW if point.speed_mps is None else f"{point.speed_mps / unit:.1f}"
    return text if point.lost_mps is None else f"{text}, lost above {math.floor(point.lost_mps / unit)}"


def _whole(speed_mps: float, unit: float) -> int:
    return math.floor(speed_mps / unit + 1e-9)


def _legend(table: BalanceTable) -> list[str]:
    seen = {point.balance for line in table.points for point in line}
    lines = []
    if any(point.lost_mps is not None for line in table.points for point in line):
        lines.append("lost above: it holds up to this speed and no faster; beyond it the vehicle runs away in this gear and stage.")
    if Balance.RUNS_AWAY in seen:
        lines.append(f"{FAST}: gravity wins at every speed the engine allows; the service brakes must work.")
    if Balance.NEEDS_POWER in seen:
        lines.append(f"{SLOW}: it holds more than the grade gives even at idle; the vehicle slows down.")
    lines.append("fastest: the engine turns as fast as it may. A speed held is not yet a safe speed: curves, signs and a stop "
                 "come first.")
    return lines
