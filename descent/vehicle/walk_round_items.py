# SPDX-License-Identifier: MIT
"""What is looked at on a walk-round, in the order it is walked: the one list that form and reader share."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum
from types import MappingProxyType

from descent.units import INCH_M, PSI_KPA
from descent.vehicle.air_supply import Body, WarningRule
from descent.vehicle.model import AxleGroup, BrakeKind, RetarderKind, Vehicle
from descent.vehicle.walk_round_limits import PressureLimits, least_lining_m, two_pad_lining_m


class Kind(Enum):
    """How an answer is written."""

    PRESSURE = "psi or kPa"
    TIME = "s"
    LENGTH = "in or mm"
    LENGTHS = "in or mm, one per brake"
    CHOICE = "one of the words"


@dataclass(frozen=True)
class Item:
    """One thing to look at: its key in the form, the question, how it is answered, the limit in words, its source."""

    key: str
    question: str
    kind: Kind
    limit: str
    source_keys: tuple[str, ...]
    choices: tuple[str, ...] = ()
    count: int = 1


@dataclass(frozen=True)
class Stage:
    """A stretch of the walk: section of the form, what to do before looking, and the items in order."""

    section: str
    title: str
    how: str
    items: tuple[Item, ...]
    axle: AxleGroup | None = None


def _psi(kpa: float) -> str:
    return f"{kpa / PSI_KPA:.0f} psi ({kpa:.1f} kPa)"


def inches(length_m: float) -> str:
    """A length in inches to the sixteenth, with millimetres."""
    sixteenths = length_m / INCH_M * 16
    whole, rest = divmod(round(sixteenths), 16)
    if abs(sixteenths - round(sixteenths)) > 0.02:
        return f"{length_m / INCH_M:.2f} in ({1000 * length_m:.4g} mm)"
    part = {1: 16, 2: 8, 4: 4, 8: 2}
    low = next((key for key in (8, 4, 2, 1) if rest % key == 0), 1)
    fraction = f"{rest // low}/{part[low]}" if rest else ""
    text = " ".join(item for item in (str(whole) if whole or not rest else "", fraction) if item)
    return f"{text} in ({1000 * length_m:.4g} mm)"


def _choice(key: str, question: str, limit: str, choices: tuple[str, ...], *source_keys: str) -> Item:
    return Item(key, question, Kind.CHOICE, limit, source_keys or ("practice",), choices)


WARNING_CHOICES = tuple(rule.value for rule in WarningRule)


def stages(vehicle: Vehicle, limits: PressureLimits) -> tuple[Stage, ...]:
    """The walk-round of a vehicle, in the order it is walked."""
    return (_before(), _running(limits), _engine_off(limits), _fanned_down(limits),
            *(_at_axle(axle, first=index == 0) for index, axle in enumerate(vehicle.axles)), _rolling(vehicle))


def _before() -> Stage:
    return Stage("tanks", "Before starting", "On the level, wheels chocked, parking brake on. Open every drain until only air "
                 "comes.", (
                     _choice("drained", "Were all reservoirs drained?", "every day, and before a start in frost",
                             ("yes", "no")),
                     _choice("came_out", "What came out?", "nothing but air", ("air", "water", "oil")),
                     _choice("frost", "Is it freezing, here or on the pass?", "", ("yes", "no")),
                     _choice("evaporator", "Alcohol evaporator, where fitted", "filled before frost",
                             ("filled", "empty", "none fitted"))))


def _running(limits: PressureLimits) -> Stage:
    low, high = limits.cut_out_kpa
    return Stage("supply", "Engine running", "Fast idle. Let the gauges rise; press the pedal a few times and watch them fall.", (
        Item("build_up", "Time from 85 to 100 psi", Kind.TIME, f"at most {limits.build_up_s:.0f} s",
             ("cdl_manual_air_brakes",)),
        Item("cut_out", "Governor cuts out at", Kind.PRESSURE,
             f"{low / PSI_KPA:.0f} to {high / PSI_KPA:.0f} psi; never above {_psi(limits.safety_valve_kpa)}",
             ("cdl_manual", "practice")),
        Item("cut_in", "Governor cuts in at", Kind.PRESSURE, f"at least {_psi(limits.least_cut_in_kpa)}", ("fmvss_121",)),
        Item("primary", "Primary gauge, ready to go", Kind.PRESSURE, f"at least {_psi(limits.ready_kpa)}", ("practice",)),
        Item("secondary", "Secondary gauge, ready to go", Kind.PRESSURE, f"at least {_psi(limits.ready_kpa)}",
             ("practice",))))


def _engine_off(limits: PressureLimits) -> Stage:
    leaks = limits.leaks
    return Stage("leaks", "Engine off, parking brake released", "Wheels chocked. Wait for the gauges to settle, then watch them "
                 "for one minute; then once more with the pedal fully down.", (
                     Item("released", "Fall in one minute, pedal up", Kind.PRESSURE,
                          f"at most {_psi(leaks.released_kpa)}", ("cdl_manual_air_brakes",)),
                     Item("applied", "Fall in one minute, pedal fully down", Kind.PRESSURE,
                          f"at most {_psi(leaks.applied_kpa)}", ("cdl_manual_air_brakes", "practice"))))


def _fanned_down(limits: PressureLimits) -> Stage:
    if limits.body is Body.BUS:
        warns = "large buses 80 to 85 psi, others 55 or 60 psi: name the rule"
    else:
        warns = "60 psi or 55 psi by edition, half of cut-out if older: name the rule"
    low, high = limits.spring_kpa
    return Stage("warnings", "Engine off, ignition on", "Press and release the pedal until the warning comes, and on until the "
                 "parking control pops out.", (
                     _choice("rule", "Which warning rule holds for this vehicle?", warns, WARNING_CHOICES, "cfr_393_51",
                             "fmvss_121_tables", "practice"),
                     Item("warning", "Low-air warning comes on at", Kind.PRESSURE, "at or above the rule's pressure",
                          ("cfr_393_51", "fmvss_121_tables", "cdl_manual_air_brakes")),
                     Item("springs", "Spring brakes come on at", Kind.PRESSURE,
                          f"{low / PSI_KPA:.0f} to {high / PSI_KPA:.0f} psi", ("cdl_manual_air_brakes",))))


AIR_BACK = ("Build the air up again to 80 to 90 psi; engine off, wheels chocked, parking brake released, pedal held fully "
            "down while strokes are measured. ")


def _at_axle(axle: AxleGroup, *, first: bool) -> Stage:
    brake = axle.brakes[0]
    chamber = brake.chamber
    lining = least_lining_m(brake.kind, steer_axle=int(first))
    return Stage(f"axles.{axle.name}", f"Axle group: {axle.name.replace('_', ' ')}",
                 (AIR_BACK if first else "") + f"{axle.brake_count} brakes, type {chamber.name} chambers, left before right, "
                 f"front before rear.", (
                     Item("strokes", "Push-rod strokes", Kind.LENGTHS, f"each at most {inches(chamber.stroke_limit_m)}",
                          ("cfr_393_47", "cfr_396_appendix_a"), count=axle.brake_count),
                     Item("lining", "Thinnest lining", Kind.LENGTH, f"at least {inches(lining)}"
                          + (" in one strip" if lining < two_pad_lining_m() and brake.kind is not BrakeKind.AIR_DISC else ""),
                          ("cfr_393_47_text",)),
                     _choice("cracks", "Cracks in drums or discs", "none longer than half the friction surface is wide",
                             ("none", "short", "long")),
                     _choice("hoses", "Hoses and lines", "not leaking, bulging, or worn into the cords",
                             ("sound", "worn", "leaking"))), axle)


def _rolling(vehicle: Vehicle) -> Stage:
    fitted = vehicle.retarder.kind is not RetarderKind.NONE
    return Stage("moving", "Rolling at walking pace", "Pull gently against the parking brake; then roll and brake.", (
        _choice("parking", "Does the parking brake hold?", "it holds", ("yes", "no"), "fmvss_121"),
        _choice("service", "Does it brake straight?", "no pull, no delay", ("straight", "pulls"), "cfr_392_7"),
        _choice("retarder", f"Retarder ({vehicle.retarder.kind.value})" if fitted else "Retarder", "works in every stage",
                ("works", "does not work", "none fitted"))))


REPAIRS: Mapping[str, str] = MappingProxyType({
    "stroke": "have a qualified person find why the brake is out of adjustment and mend it; an automatic adjuster is not "
              "set back as a cure",
    "lining": "have the brake relined",
    "strip": "see that the lining is one strip: one of two pads must be 1/4 in", "cracks": "have the drum or disc replaced", "hoses": "have the hose replaced",
    "leak": "have the leak found and mended", "build_up": "have the compressor, its drive and its filter seen to",
    "governor": "have the governor set or replaced", "warning": "have the low-air warning mended",
    "springs": "have the spring brakes and the parking control seen to", "tanks": "drain every reservoir until only air comes",
    "oil": "have the compressor seen to: oil passes it", "evaporator": "fill the alcohol evaporator",
    "parking": "have the parking brake seen to", "service": "have the brakes and their balance seen to",
    "retarder": "plan without the retarder, or have it mended", "air": "let the pressure build up before moving off",
})
