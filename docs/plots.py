# SPDX-License-Identifier: MIT
"""Draws the plots of the pages on forces and brakes with the package's own functions: `python docs/plots.py`."""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, cast

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
from chart import Chart, FloatArray, Line, chart_svg

from descent.physics import foundation_brake as brake_law
from descent.physics.balance import held_back_n, natural_surplus_n
from descent.physics.brake_heat import packed_rows
from descent.physics.characteristics import characteristics
from descent.physics.curves import curve_limit_mps
from descent.physics.driveline import RPM_RADPS, engine_rpm_per_mps, overrun_force_n
from descent.physics.engine_drag import drag_power_w, drag_torque_nm
from descent.physics.regeneration import charge_limit_w
from descent.physics.retarder import retarder_force_n, shaft_torque_nm
from descent.physics.road_load import (
    RollingSurface,
    air_density_kgpm3,
    air_force_n,
    grade_force_n,
    rolling_force_n,
)
from descent.report.balance_plot import balance_svg
from descent.units import GRAVITY_MPS2, PSI_KPA, US
from descent.vehicle.brakes import chambers
from descent.vehicle.catalogue import load_vehicle
from descent.vehicle.model import Retarder, Vehicle
from descent.vehicle.shared_tables import shared_table

IMAGES = Path(__file__).parent / "images"
KMH = 1 / 3.6
SPEED_KMH = np.linspace(1.0, 110.0, 110)
TRUCK = "tractor-semitrailer"


def gravity() -> Chart:
    grade = np.linspace(0.0, 0.30, 61)
    exact = grade_force_n(36287.0, -grade) / 1000
    return Chart("Pull of gravity on 36.3 t (80,000 lb)", "grade, percent", "force along the road, kN",
                 (Line("m g sin(atan G)", 100 * grade, exact), Line("m g G", 100 * grade, 36.287 * GRAVITY_MPS2 * grade)))


def rolling() -> Chart:
    mass = np.linspace(5e3, 40e3, 36)
    level = np.zeros(1)
    return Chart("Rolling resistance by surface, coefficient 0.00574", "gross weight, t", "force, kN", tuple(
        Line(surface.value.replace("-", " "), mass / 1000, np.array(
            [float(rolling_force_n(kg, 0.00574, level, surface=surface)[0]) for kg in mass]) / 1000)
        for surface in RollingSurface))


def air() -> Chart:
    speed = SPEED_KMH * KMH
    sea, high = (air_density_kgpm3(np.full_like(speed, h), 15.0 - 0.0065 * h) for h in (0.0, 2000.0))
    return Chart("Air drag of the reference truck, drag area 4.8 m2", "road speed, km/h", "force, kN", (
        Line("at sea level", SPEED_KMH, air_force_n(sea, 4.797, speed) / 1000),
        Line("at 2,000 m", SPEED_KMH, air_force_n(high, 4.797, speed) / 1000),
        Line("head wind 10 m/s", SPEED_KMH, air_force_n(sea, 4.797, speed, head_wind_mps=10.0) / 1000),
        Line("tail wind 10 m/s", SPEED_KMH, air_force_n(sea, 4.797, speed, head_wind_mps=-10.0) / 1000)))


def engine_drag() -> Chart:
    rpm = np.linspace(600.0, 2100.0, 76)
    lines = [Line(f"{engine.displacement_m3 * 1000:.1f} L", rpm, drag_power_w(engine, rpm) / 1000)
             for engine in (load_vehicle(name).engine for name in (TRUCK, "dump-truck", "school-bus"))]
    thin = drag_power_w(load_vehicle(TRUCK).engine, rpm, density_ratio=0.742) / 1000
    return Chart("Power that a motored Diesel engine takes up", "engine speed, rpm", "power, kW",
                 (*lines, Line("14.0 L at 3,000 m", rpm, thin)))


def stages_of(title: str, retarder: Retarder, rpm: FloatArray, shaft: str, ratio: float = 0.742) -> Chart:
    lines = [Line(f"stage {name}", rpm, shaft_torque_nm(retarder, stage, rpm) * rpm * RPM_RADPS / 1000)
             for stage, (name, _) in enumerate(retarder.stages, start=1)]
    top = len(retarder.stages)
    thin = shaft_torque_nm(retarder, top, rpm, density_ratio=ratio) * rpm * RPM_RADPS / 1000
    return Chart(title, f"{shaft} speed, rpm", "power held back at the shaft, kW",
                 (*lines, Line(f"stage {top} at 3,000 m", rpm, thin)))


def compression_retarder() -> Chart:
    return stages_of("Engine compression retarder of a 14 L engine", load_vehicle(f"{TRUCK}-retarder").retarder,
                     np.linspace(800.0, 2300.0, 151), "engine")


def exhaust_brake() -> Chart:
    return stages_of("Exhaust brake of a 6.7 L engine", load_vehicle("school-bus").retarder,
                     np.linspace(800.0, 2500.0, 171), "engine")


def hydrodynamic_retarder() -> Chart:
    retarder, rpm = load_vehicle("transit-bus").retarder, np.linspace(100.0, 3000.0, 146)
    lines = [Line(f"stage {name}", rpm, shaft_torque_nm(retarder, stage, rpm))
             for stage, (name, _) in enumerate(retarder.stages, start=1)]
    return Chart("Hydrodynamic retarder: square law, torque limit, coolant limit", "propeller shaft speed, rpm",
                 "torque, N m", tuple(lines))


def electric_regeneration() -> Chart:
    truck = load_vehicle("battery-tractor")
    lines = [Line(f"charged {percent}%", SPEED_KMH, retarder_force_n(
        truck.retarder, truck.gearbox, 1, 4, SPEED_KMH * KMH, state_of_charge=percent / 100) / 1000)
        for percent in (50, 88, 92, 95)]
    return Chart("Electric regeneration in the higher gear, full stage", "road speed, km/h", "force at the tyres, kN",
                 tuple(lines))


def battery_charge() -> Chart:
    battery = load_vehicle("battery-tractor").retarder.battery
    assert battery is not None
    charge = np.linspace(0.5, 1.0, 101)
    return Chart("What the battery still takes", "state of charge, percent", "power, kW", (Line(
        "charge limit", 100 * charge, np.array([charge_limit_w(battery, float(c)) for c in charge]) / 1000),))


def driveline() -> Chart:
    truck = load_vehicle(TRUCK)
    lines = []
    for gear in (4, 5, 6, 7):
        rpm = np.linspace(truck.engine.idle_rpm, truck.engine.overrun_limit_rpm, 60)
        kmh = rpm / engine_rpm_per_mps(truck.gearbox, gear) / KMH
        lines.append(Line(f"gear {truck.gearbox.names[gear]}", kmh, overrun_force_n(
            truck.gearbox, gear, drag_torque_nm(truck.engine, rpm)) / 1000))
    return Chart("Engine drag at the tyres, each gear from idle to 2,100 rpm", "road speed, km/h", "force, kN", tuple(lines))


def balance() -> Chart:
    truck, speed = load_vehicle(f"{TRUCK}-retarder"), SPEED_KMH[4:80] * KMH
    lines = [Line(f"to hold on {percent}%", speed / KMH, natural_surplus_n(truck, grade=-percent / 100, speed_mps=speed) / 1000)
             for percent in (4, 6)]
    facts = characteristics(truck)
    for gear in (5, 6, 7):
        own = np.linspace(1000 / engine_rpm_per_mps(truck.gearbox, gear), facts.governed_mps[gear], 60)
        lines.append(Line(f"gear {truck.gearbox.names[gear]}, stage 3", own / KMH,
                          held_back_n(truck, gear=gear, stage=3, speed_mps=own) / 1000))
    return Chart("Held back against what must be held, 36.3 t", "road speed, km/h", "force, kN", tuple(lines))


def curves() -> Chart:
    radius = np.linspace(15.0, 400.0, 386)
    rows = shared_table("loads")
    lines = []
    for kind, threshold in (("general", 0.35), ("tank-baffled", 0.30), ("logs", 0.27), ("standing-passengers", 0.45)):
        lateral = rows[kind].get("greatest_lateral", {"value": np.inf})["value"]
        lines.append(Line(kind.replace("-", " "), radius, curve_limit_mps(
            1 / radius, rollover_threshold_g=threshold, rollover_share=rows[kind]["curve_share"]["value"],
            greatest_lateral_g=lateral) / KMH))
    return Chart("Highest speed in a curve by load", "radius, m", "speed, km/h", tuple(lines))


def _row_of(vehicle: Vehicle, row: int, temp_c: float, pressure_kpa: FloatArray) -> FloatArray:
    table = packed_rows(vehicle)[row]
    force = cast(Any, brake_law.row_force_n)
    return np.array([force(table, float(kpa), temp_c) for kpa in pressure_kpa]) / 1000


def s_cam() -> Chart:
    truck, psi = load_vehicle(TRUCK), np.linspace(0.0, 100.0, 101)
    return Chart("S-cam drum brakes, cold and in adjustment", "application pressure, psi", "force of one brake at the tyre, kN",
                 tuple(Line(f"type {truck.rows[row].brake.chamber.name}", psi,
                            _row_of(truck, row, 25.0, psi * PSI_KPA) / truck.rows[row].brake.count) for row in (0, 1)))


def wedge() -> Chart:
    angle = np.linspace(8.0, 24.0, 81)
    area = chambers()["12"].area_m2
    return Chart("Wedge brake: what the wedge makes of a type 12 chamber at 60 psi", "wedge angle, degrees", "force on each shoe, kN",
                 (Line("F / (2 tan(a/2))", angle, 60 * PSI_KPA * area / (2 * np.tan(np.radians(angle) / 2))),))


def drum_and_disc() -> Chart:
    temp = np.linspace(25.0, 500.0, 96)
    lines = []
    for name, truck in (("S-cam drum", load_vehicle(TRUCK)), ("air disc", load_vehicle(f"{TRUCK}-disc"))):
        table = packed_rows(truck)[1]
        force = np.array([cast(Any, brake_law.row_force_n)(table, 60 * PSI_KPA, float(t)) for t in temp])
        lines.append(Line(name, temp, 100 * force / force[0]))
    return Chart("What is left of brake force as the brake heats, 60 psi", "brake temperature, C", "percent of cold force",
                 tuple(lines))


def stroke() -> Chart:
    chamber = chambers()["30"]
    inch = np.linspace(0.5, 2.6, 106)
    left = np.array([cast(Any, brake_law.stroke_efficiency)(s * 0.0254, chamber.stroke_limit_m, chamber.full_stroke_m)
                     for s in inch])
    return Chart("Chamber force by push-rod stroke, type 30", "stroke, in", "percent of full force",
                 (Line("limit 2 in, bottom 2.5 in", inch, 100 * left),))


def hot_stroke() -> Chart:
    brake = load_vehicle(TRUCK).rows[1].brake
    temp = np.linspace(25.0, 450.0, 86)
    lines = []
    for cold_in in (1.5, 1.8, 2.0):
        free = cold_in * 0.0254 - brake.stroke_per_kpa_m * 85 * PSI_KPA
        lines.append(Line(f"{cold_in:g} in cold", temp, np.array([cast(Any, brake_law.push_rod_stroke_m)(
            free, brake.stroke_per_kpa_m, brake.stroke_per_k_m, 85 * PSI_KPA, float(t)) for t in temp]) / 0.0254))
    lines.append(Line("limit, type 30", temp, np.full_like(temp, 2.0)))
    return Chart("A hot drum is larger: stroke at a full application", "drum temperature, C", "stroke, in", tuple(lines), 2.8)


def fade() -> Chart:
    temp = np.linspace(0.0, 600.0, 121)
    brake = load_vehicle(TRUCK).rows[1].brake
    left = [cast(Any, brake_law.fade)(float(t), brake.fade_onset_c, brake.fade_end_c, brake.fade_floor) for t in temp]
    return Chart("Fade: what is left of lining friction", "brake temperature, C", "percent of cold friction",
                 (Line("default", temp, 100 * np.array(left)),))


def limiting_valve() -> Chart:
    psi = np.linspace(0.0, 100.0, 201)
    through = cast(Any, brake_law.valve_pressure_kpa)
    return Chart("Older automatic front-axle limiting valve", "application pressure, psi", "pressure at the front axle, psi", (
        Line("no valve", psi, psi),
        Line("half to 60 psi", psi, np.array([through(float(p), 0.5, 60.0) for p in psi]))))


def heat() -> Chart:
    minutes = np.linspace(0.0, 40.0, 161)
    lines = []
    for name, row in ((TRUCK, 1), (f"{TRUCK}-disc", 1)):
        brake = load_vehicle(name).rows[row].brake
        for mph in (20, 40):
            cooling = brake.cooling_wpk + brake.cooling_wpk_per_mps * mph * 0.44704
            tau_min = brake.heat_capacity_jpk / cooling / 60
            rise = 6000.0 / cooling * (1 - np.exp(-np.minimum(minutes, 20.0) / tau_min))
            rise = rise * np.exp(-np.maximum(minutes - 20.0, 0.0) / tau_min)
            lines.append(Line(f"{brake.kind.value.split()[-1]}, {mph} mph", minutes, 32.0 + rise))
    return Chart("One brake under 6 kW for 20 minutes, then released", "time, min", "temperature, C", tuple(lines))


CHARTS: Mapping[str, Callable[[], Chart]] = {item.__name__.replace("_", "-"): item for item in (
    gravity, rolling, air, engine_drag, compression_retarder, exhaust_brake, hydrodynamic_retarder, electric_regeneration,
    battery_charge, driveline, balance, curves, s_cam, wedge, drum_and_disc, stroke, hot_stroke, fade, limiting_valve, heat)}


def figures() -> dict[str, str]:
    """Every figure by file name."""
    made = {f"{name}.svg": chart_svg(draw()) for name, draw in CHARTS.items()}
    table = characteristics(load_vehicle(f"{TRUCK}-retarder")).balance(grade=-0.06)
    return {**made, "balance-by-gear.svg": balance_svg(table, US)}


if __name__ == "__main__":
    IMAGES.mkdir(exist_ok=True)
    for file, svg in figures().items():
        (IMAGES / file).write_text(svg, encoding="utf-8")
