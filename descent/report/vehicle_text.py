# SPDX-License-Identifier: MIT
"""A vehicle explained in the trade's words, for a terminal or to be read aloud."""

from __future__ import annotations

import math
import re
import textwrap
from collections.abc import Iterable, Iterator

from descent.physics.characteristics import Characteristics
from descent.sources import TRUST_WORDS, load_sources
from descent.units import FOOT_M, HORSEPOWER_W, INCH_M, MPH_MPS, POUND_KG, PSI_KPA, c_to_fahrenheit
from descent.vehicle.model import AxleGroup, LoadKind, Retarder, RetarderKind, StopRule, Vehicle

WIDTH = 110
INDENT = 12
KWH_J = 3.6e6
DEFER = ("A generic class, not your vehicle: its plates, its maker's instructions, posted signs and the licensed driver "
         "come first.")
LOAD_WORDS = {
    LoadKind.GENERAL: "General: lashed down, no limit of its own.", LoadKind.TANK_BAFFLED: "Liquid in a tank with baffles.",
    LoadKind.TANK_SMOOTH: "Liquid in a smooth tank, no baffles.", LoadKind.STANDING_PASSENGERS: "Standing passengers.",
    LoadKind.HAZARDOUS: "Hazardous goods.", LoadKind.LOGS: "Logs."}


def vehicle_text(vehicle: Vehicle, facts: Characteristics) -> str:
    """Weights, axles and brakes, their heat limit, engine, retarder, gears with their fastest speeds, load, what is assumed, sources."""
    lines = [f"{vehicle.name}: {vehicle.title}", ""]
    lines += _entry("Weight", f"{_weight(vehicle.gross_kg)} loaded, {_weight(vehicle.tare_kg)} empty. "
                              f"{vehicle.length_m / FOOT_M:.0f} ft ({vehicle.length_m:.0f} m) long.")
    for number, axle in enumerate(vehicle.axles):
        lines += _entry("Axles" if number == 0 else "", _axle(axle))
    lines += _entry("Brake heat", _heat(vehicle))
    for number, sentence in enumerate(_air(vehicle)):
        lines += _entry("Air" if number == 0 else "", sentence)
    lines += _entry("Engine" if vehicle.engine.displacement_m3 else "Motor", _engine(vehicle, facts))
    lines += _entry("Retarder", _retarder(vehicle.retarder, facts))
    lines += _entry("Gears", _gears(vehicle, facts))
    lines += _entry("Curves", f"Counted to roll over at {vehicle.rollover_threshold_g:.2f} g sideways; planned to stay under "
                              f"{100 * vehicle.load.curve_share:.0f}% of it.")
    for number, sentence in enumerate(_load(vehicle)):
        lines += _entry("Load" if number == 0 else "", sentence)
    lines += ["", "Assumed, no source; put your own values in a vehicle file where you know them:"]
    lines += [line for text in _assumptions(vehicle) for line in _wrapped(text)]
    lines += ["", "Sources:"]
    sources = load_sources()
    lines += [line for key in vehicle.source_keys if key in sources and key != "assumed"
              for line in _wrapped(f"{sources[key].citation}: {TRUST_WORDS[sources[key].status]}")]
    lines += ["", *_wrapped(DEFER, "", "")]
    return "\n".join(lines)


def _entry(head: str, text: str) -> list[str]:
    return _wrapped(text, head.ljust(INDENT), " " * INDENT)


def _wrapped(text: str, first: str = "  ", rest: str = "    ") -> list[str]:
    """Lines of text; no number stands apart from its unit."""
    kept = re.sub(r"(?<=\d) (?=(?:mph|in|psi|kPa|L|hp|lb|rpm|kW|kWh|t|ft|F|C|g)\b)", "\u00a0", text)
    return [line.replace("\u00a0", " ") for line in textwrap.wrap(
        kept, WIDTH, initial_indent=first, subsequent_indent=rest, break_long_words=False, break_on_hyphens=False)]


def _weight(kg: float) -> str:
    return f"{kg / POUND_KG:,.0f} lb ({kg / 1000:.1f} t)"


def _power(watt: float) -> str:
    return f"{watt / HORSEPOWER_W:,.0f} hp ({watt / 1000:,.0f} kW)"


def _count(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def _axle(axle: AxleGroup) -> str:
    brake = axle.brakes[0]
    strokes = {round(item.stroke_m / INCH_M, 2) for item in axle.brakes}
    stroke = f"{min(strokes):g} in" if len(strokes) == 1 else f"{min(strokes):g} to {max(strokes):g} in"
    driven = ", driven" if axle.driven else ""
    return (f"{axle.name.replace('_', ' ').capitalize()}: {_weight(axle.load_kg)} on {_count(axle.axle_count, 'axle')}"
            f"{driven}; {_count(axle.brake_count, axle.brake_kind.value + ' brake')} with type {brake.chamber.name} "
            f"chambers, push-rod stroke {stroke} of the {brake.chamber.stroke_limit_m / INCH_M:g} in allowed.")


def _heat(vehicle: Vehicle) -> str:
    limits = {axle.name: axle.brakes[0].temp_limit_c for axle in vehicle.axles}
    shown = {name: f"{c_to_fahrenheit(limit):.0f} F ({limit:.0f} C)" for name, limit in limits.items()}
    most = shown[vehicle.axles[0].name] if len(set(limits.values())) == 1 else ", ".join(
        f"{name.replace('_', ' ')} {limit}" for name, limit in shown.items())
    return f"Never above {most}, the heat of one emergency stop included."


def _psi(kpa: float) -> str:
    return f"{kpa / PSI_KPA:.0f} psi ({kpa:.0f} kPa)"


def _air(vehicle: Vehicle) -> Iterator[str]:
    air = vehicle.air
    antilock = "with antilock" if air.antilock else "no antilock"
    warning = (f"warning by the {air.warning_rule.value.replace('-', ' ').replace('psi', ' psi')} rule" if air.warning_at_kpa is None
               else f"warning at {_psi(air.warning_at_kpa)}")
    yield (f"{air.body.value.capitalize()}, {antilock}. Governor {_psi(air.cut_in_kpa)} to {_psi(air.cut_out_kpa)}, "
           f"{warning}, safety valve {_psi(air.safety_valve_kpa)}.")
    yield _reservoirs(vehicle)
    sprung = ", ".join(axle.name.replace("_", " ") for axle, on in zip(vehicle.axles, air.spring_axles, strict=True) if on)
    yield (f"Spring brakes ({sprung}) come on from {_psi(air.spring_on_kpa)}, all on at {_psi(air.spring_full_kpa)}, as "
           f"strong as {_psi(air.spring_force_kpa)} of service pressure; parking control {air.spring_control.value}.")
    if air.emergency_m3:
        yield (f"Dual parking controls: {1000 * air.emergency_m3:.0f} L of separate air let the spring brakes go a few times "
               "when the main air is lost.")


def _reservoirs(vehicle: Vehicle) -> str:
    air, (own_m3, towed_m3) = vehicle.air, vehicle.least_reservoirs_m3
    named = ", ".join(f"{name} {1000 * tank:.0f} L" for name, tank in zip(
        ("supply", "primary", "secondary", "trailer"), air.reservoirs_m3, strict=True) if tank is not None)
    least = f"the least allowed: {1000 * own_m3:.0f} L" + (f", trailers {1000 * towed_m3:.0f} L" if towed_m3 else "")
    compressor = air.compressor
    pump = (f"fills from 85 to 100 psi in {compressor.build_up_s:.0f} s" if compressor.build_up_s is not None else
            f"gives {1000 * compressor.per_turn_m3:.2f} L of free air per turn of the engine"
            if compressor.per_turn_m3 is not None else "just passes the build-up test")
    tanks = f"{named} (least allowed in all {1000 * (own_m3 + towed_m3):.0f} L)" if named else least
    return f"Reservoirs: {tanks}. The compressor {pump}."


def _engine(vehicle: Vehicle, facts: Characteristics) -> str:
    engine = vehicle.engine
    if engine.displacement_m3 == 0:
        return (f"Electric drive of {_power(engine.power_w)}. By itself it holds back nothing; never above "
                f"{engine.overrun_limit_rpm:,.0f} rpm.")
    return (f"{engine.displacement_m3 * 1000:.1f} L Diesel of {_power(engine.power_w)}. Off the fuel at "
            f"{engine.overrun_limit_rpm:,.0f} rpm, the most it may turn, it holds back {_power(facts.drag_power_w)}; "
            f"not to be lugged below {engine.lugging_rpm:,.0f} rpm.")


def _retarder(retarder: Retarder, facts: Characteristics) -> str:
    if retarder.kind is RetarderKind.NONE:
        return "None."
    where = "motor" if retarder.battery else retarder.shaft.value.replace("propshaft", "propeller shaft")
    text = (f"{retarder.kind.value.capitalize()}, {_count(len(retarder.stages), 'stage')}, up to "
            f"{_power(facts.retarder_power_w)} at the {where}.")
    if retarder.kind in (RetarderKind.ENGINE_COMPRESSION, RetarderKind.EXHAUST):
        return text + " Strongest near the top of the engine's speed range; weaker at altitude."
    if retarder.kind is RetarderKind.HYDRODYNAMIC:
        return text + " Its heat goes into the coolant, which sets how much it can do for long; weak at low speed."
    battery = retarder.battery
    assert battery is not None
    room = (f"room for {facts.battery_room_j / KWH_J:,.0f} kWh at the start" if facts.battery_room_j
            else "full at the start unless you tell the charge: it then gives nothing")
    return (f"{text} The battery takes {battery.charge_power_w / 1000:,.0f} kW until it is {100 * battery.taper_from:.0f}% "
            f"charged and nothing from {100 * battery.full_at:.0f}%: {room}.")


def _gears(vehicle: Vehicle, facts: Characteristics) -> str:
    fastest = ", ".join(f"{name}: {math.floor(speed / MPH_MPS + 1e-9)} mph"
                        for name, speed in zip(vehicle.gearbox.names, facts.governed_mps, strict=True))
    return f"{vehicle.gearbox.kind}. Fastest in each gear: {fastest}."


def _load(vehicle: Vehicle) -> Iterator[str]:
    load = vehicle.load
    yield LOAD_WORDS[load.kind]
    yield from load.effects
    if math.isfinite(load.greatest_lateral_g):
        yield f"No more than {load.greatest_lateral_g:.2f} g sideways in curves."
    if math.isfinite(load.greatest_decel_mps2):
        yield (f"Planned braking no firmer than {load.greatest_decel_mps2 / FOOT_M:.1f} ft/s2 "
               f"({load.greatest_decel_mps2:.1f} m/s2).")
    if load.stops is not StopRule.ANY:
        yield f"It may stand only {load.stops.value}."


def _assumptions(vehicle: Vehicle) -> Iterable[str]:
    """The assumed values, those that all axle groups share said once, in words rather than paths."""
    axles = [axle.name.replace("_", " ") for axle in vehicle.axles]
    tails = [text.split(".", 2)[2] for text in vehicle.assumptions if text.startswith("axles.")]
    said: list[str] = []
    for text in vehicle.assumptions:
        if text.startswith("axles."):
            _, axle, tail = text.split(".", 2)
            place = "every axle" if tails.count(tail) == len(axles) else f"{axle} axle" if axle != "trailer" else "trailer"
        else:
            place, tail = text.split(".", 1)
        said.append(f"{place}, {tail.replace(' = ', ': ', 1)}")
    return dict.fromkeys(said)
