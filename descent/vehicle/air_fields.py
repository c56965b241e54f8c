# SPDX-License-Identifier: MIT
"""The [air] section of a vehicle file, and what its axle groups say of air, with every fault and contradiction."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise

from descent.vehicle.air_model import (
    AirFitted,
    Body,
    Circuit,
    Compressor,
    ParkingControls,
    Protection,
    SpringControl,
    WarningRule,
)
from descent.vehicle.model import AxleGroup, Engine
from descent.vehicle.schema import Reader, Table

RESERVOIRS = ("supply_reservoir", "primary_reservoir", "secondary_reservoir", "trailer_reservoir")
CIRCUITS = {"primary": Circuit.PRIMARY, "secondary": Circuit.SECONDARY, "trailer": Circuit.TRAILER}
REQUIRED = ("cut_in", "cut_out", "safety_valve", "spring_on", "spring_full", "spring_force")
OPTIONAL = (*RESERVOIRS, "emergency_reservoir", "build_up", "compressor_displacement", "compressor_drive",
            "compressor_fill", "warning", "leak_released", "leak_applied")


def read_air(table: Table, tables: Mapping[str, Table], axles: tuple[AxleGroup, ...], engine: Engine,
             reader: Reader) -> AirFitted:
    """The air system of a vehicle; where `reader` has faults afterwards it is not to be used.

    tables: the fields of each axle group; axles: those on the road, in order.
    """
    get = {name: float(reader.number("air", table, name, "air")) for name in REQUIRED}
    may: dict[str, float | None] = {
        name: float(reader.number("air", table, name, "air")) if name in table else None for name in OPTIONAL}
    guessed: list[str] = []
    circuits = _circuits(tables, axles, reader, guessed)
    air = AirFitted(
        reader.word(Body, table, "body", "air"), (*(may[name] for name in RESERVOIRS),),  # type: ignore[arg-type]
        may["emergency_reservoir"] or 0.0, _compressor(may, engine, reader), get["cut_in"], get["cut_out"],
        get["safety_valve"], reader.word(WarningRule, table, "warning_rule", "air"), may["warning"], get["spring_on"],
        get["spring_full"], get["spring_force"], may["leak_released"], may["leak_applied"], circuits,
        _spring_axles(tables, axles, circuits, reader, guessed),
        tuple(_spring_chambers_m3(tables[axle.name], axle, reader) for axle in axles),
        reader.word(SpringControl, table, "spring_control", "air"),
        reader.word(ParkingControls, table, "parking_controls", "air"),
        reader.word(Protection, table, "protection", "air"), reader.flag(table, "antilock", "air"),
        reader.flag(table, "evaporator", "air") if "evaporator" in table else None, tuple(guessed))
    if not reader.faults:
        _check_pressures(air, reader)
        _check_fittings(air, reader)
    return air


def _circuits(tables: Mapping[str, Table], axles: tuple[AxleGroup, ...], reader: Reader,
              guessed: list[str]) -> tuple[Circuit, ...]:
    """The circuit of each group: as the file says, else by name and place (trailers and dollies; the first; the rest)."""
    found: list[Circuit] = []
    for index, axle in enumerate(axles):
        said, place = tables[axle.name].get("circuit"), f"axles.{axle.name}.circuit"
        if said is None:
            towed = any(word in axle.name.lower() for word in ("trailer", "dolly"))
            found.append(Circuit.TRAILER if towed else Circuit.PRIMARY if index else Circuit.SECONDARY)
            guessed.append(f"the {axle.name.replace('_', ' ')} axle is taken to be on the {found[-1].name.lower()} circuit")
        elif isinstance(said, str) and said in CIRCUITS:
            found.append(CIRCUITS[said])
        else:
            reader.not_known(place, "this circuit is not known", str(said), list(CIRCUITS))
            found.append(Circuit.PRIMARY)
    return tuple(found)


def _spring_axles(tables: Mapping[str, Table], axles: tuple[AxleGroup, ...], circuits: tuple[Circuit, ...], reader: Reader,
                  guessed: list[str]) -> tuple[bool, ...]:
    found: list[bool] = []
    for axle, circuit in zip(axles, circuits, strict=True):
        if "spring_brakes" in tables[axle.name]:
            found.append(reader.flag(tables[axle.name], "spring_brakes", f"axles.{axle.name}"))
        else:
            found.append(circuit is not Circuit.SECONDARY)
            has = "spring brakes" if found[-1] else "no spring brakes"
            guessed.append(f"the {axle.name.replace('_', ' ')} axle is taken to have {has}")
    return tuple(found)


def _spring_chambers_m3(table: Table, axle: AxleGroup, reader: Reader) -> float:
    """Volume of the group's spring chambers; not said: that of the service chambers beside them (assumed)."""
    place = f"axles.{axle.name}"
    if "spring_chamber_volume" in table:
        return float(reader.number("axles", table, "spring_chamber_volume", place)) * axle.brake_count
    return sum(brake.chamber.volume_m3 * brake.count for brake in axle.brakes)


def _compressor(may: Mapping[str, float | None], engine: Engine, reader: Reader) -> Compressor:
    swept, build_up = may["compressor_displacement"], may["build_up"]
    if swept is None:
        for name in ("compressor_drive", "compressor_fill"):
            if may[name] is not None:
                reader.fault(f"air.{name}", "this says nothing without the compressor's size",
                             "Give compressor_displacement too, or take this away")
        return Compressor(build_up, None)
    if build_up is not None:
        reader.fault("air.build_up", "the compressor is described twice", "Give compressor_displacement or build_up")
    if engine.displacement_m3 <= 0.0:
        reader.fault("air.compressor_displacement", "an electric compressor does not turn with the engine",
                     "Give build_up instead")
    drive, fill = may["compressor_drive"], may["compressor_fill"]
    if drive is None or fill is None:
        reader.fault("air.compressor_displacement", "its size alone does not say how much air it gives",
                     "Give compressor_drive (turns per turn of the engine) and compressor_fill (share it fills) too")
        return Compressor(None, None)
    return Compressor(None, swept * drive * fill)


def _check_pressures(air: AirFitted, reader: Reader) -> None:
    """Faults of pressures that are each in range but do not rise in the order in which they must."""
    warning = air.warning_rule.pressure_kpa(air.cut_out_kpa) if air.warning_at_kpa is None else air.warning_at_kpa
    order = (("spring_full", air.spring_full_kpa), ("spring_on", air.spring_on_kpa), ("warning", warning),
             ("cut_in", air.cut_in_kpa), ("cut_out", air.cut_out_kpa), ("safety_valve", air.safety_valve_kpa))
    for (low, low_kpa), (high, high_kpa) in pairwise(order):
        if low_kpa > high_kpa or (low_kpa == high_kpa and low != "warning"):
            reader.fault(f"air.{high}", f"this pressure ({high_kpa:.0f} kPa) is not above {low} ({low_kpa:.0f} kPa)",
                         "Pressures rise in the order spring_full, spring_on, warning, cut_in, cut_out, safety_valve")
    released, applied = air.leak_released_kpa, air.leak_applied_kpa
    if released is not None and applied is not None and applied < released:
        reader.fault("air.leak_applied", "with the brakes applied no less leaks than with them released", "Check both")


def _check_fittings(air: AirFitted, reader: Reader) -> None:
    """Faults of parts that contradict each other."""
    towed = Circuit.TRAILER in air.circuits
    if air.body is Body.COMBINATION and not towed:
        reader.fault("air.body", "a combination has an axle group on the trailer circuit, and this vehicle has none",
                     'Write body = "single vehicle" or "bus" under [air]', air.body.value)
    if air.body is Body.SINGLE and towed:
        reader.fault("air.body", "a single vehicle has no axle group on the trailer circuit",
                     'Write body = "combination" under [air]', air.body.value)
    if not towed and air.reservoirs_m3[3]:
        reader.fault("air.trailer_reservoir", "there is no axle group on the trailer circuit", "Take it away")
    dual = air.parking_controls is ParkingControls.DUAL
    if dual != (air.emergency_m3 > 0.0):
        reader.fault("air.emergency_reservoir", "dual parking controls and an emergency reservoir go together",
                     'Give a reservoir with parking_controls = "dual", and "0L" with "single"')
    if not any(air.spring_axles):
        reader.fault("axles", "no axle group has spring brakes, so nothing parks the vehicle",
                     "Write spring_brakes = true on one")
