# SPDX-License-Identifier: MIT
"""A vehicle explained in the trade's words, for a terminal."""

from __future__ import annotations

from descent.physics.characteristics import Characteristics
from descent.sources import load_sources
from descent.units import HORSEPOWER_W, MPH_MPS, POUND_KG, c_to_fahrenheit
from descent.vehicle.model import Vehicle


def vehicle_text(vehicle: Vehicle, facts: Characteristics) -> str:
    """Axles, brakes, engine, gears with their governed speeds, retarder, what is assumed and the sources."""
    engine, gearbox, retarder = vehicle.engine, vehicle.gearbox, vehicle.retarder
    lines = [f"{vehicle.name}: {vehicle.title}"]
    lines.append(f"  gross weight  {vehicle.gross_kg / POUND_KG:,.0f} lb ({vehicle.gross_kg / 1000:.1f} t), empty "
                 f"{vehicle.tare_kg / POUND_KG:,.0f} lb")
    for axle in vehicle.axles:
        lines.append(f"  {axle.name:12s}  {axle.load_kg / POUND_KG:,.0f} lb on {axle.axle_count} axle"
                     f"{'s' if axle.axle_count > 1 else ''}, {axle.brake_count} {axle.brake_kind.value} brakes, limit "
                     f"{c_to_fahrenheit(axle.brakes[0].temp_limit_c):.0f} F ({axle.brakes[0].temp_limit_c:.0f} C)")
    drag = facts.drag_power_w
    lines.append(f"  engine        {engine.displacement_m3 * 1000:.1f} L; motored at {engine.overrun_limit_rpm:.0f} rpm it "
                 f"holds back {drag / HORSEPOWER_W:.0f} hp ({drag / 1000:.0f} kW)")
    lines.append(f"  gearbox       {gearbox.kind}; governed speed in each gear:")
    lines.append("                " + ", ".join(
        f"{name}: {speed / MPH_MPS:.0f} mph" for name, speed in zip(gearbox.names, facts.governed_mps, strict=True)))
    stages = f", {len(retarder.stages)} stages" if retarder.stages else ""
    lines.append(f"  retarder      {retarder.kind.value}{stages}")
    lines += ["  assumed:", *(f"    {text}" for text in vehicle.assumptions), "  sources:"]
    sources = load_sources()
    lines += [f"    {sources[key].citation}" for key in vehicle.source_keys if key in sources and key != "assumed"]
    return "\n".join(lines)
