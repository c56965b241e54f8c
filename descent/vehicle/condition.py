# SPDX-License-Identifier: MIT
"""What the walk-round found: each answer against its limit, and the same vehicle with its numbers as found."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from descent.units import PSI_KPA
from descent.vehicle.air_supply import ATMOSPHERE_KPA, BUILD_UP_KPA, AirSupply, WarningRule, body_of
from descent.vehicle.condition_reader import Answers, read_answers
from descent.vehicle.model import BrakeKind, FoundationBrake, Vehicle, without_retarder
from descent.vehicle.walk_round_items import REPAIRS, Item, Stage, inches, stages
from descent.vehicle.walk_round_limits import (
    STROKE_CARE_M,
    STROKE_SPREAD_M,
    PressureLimits,
    Verdict,
    least_lining_m,
    out_of_service,
    two_pad_lining_m,
)


@dataclass(frozen=True)
class Finding:
    """One answer against its limit. code: stable; place: stage of the walk; repair: "" where nothing is to be done."""

    code: str
    place: str
    what: str
    found: str
    limit: str
    verdict: Verdict
    repair: str
    source_keys: tuple[str, ...]

    def sentence(self) -> str:
        """The finding as one line for a person."""
        what = self.what.rstrip("?")
        limit = f" (limit: {self.limit})" if self.limit else ""
        repair = f". {self.repair[0].upper()}{self.repair[1:]}" if self.repair else ""
        return f"{self.place}: {what}: {self.found}{limit}: {self.verdict.value}{repair}"


@dataclass(frozen=True)
class Findings:
    """A walk-round of one vehicle. Numbers are None, strokes NaN, where nothing was written down."""

    vehicle: str
    findings: tuple[Finding, ...]
    strokes_m: Mapping[str, tuple[float, ...]]
    pressures_kpa: Mapping[str, float]
    build_up_s: float | None
    warning_rule: WarningRule | None
    retarder_dead: bool
    defective: int
    brakes: int

    @property
    def verdict(self) -> Verdict:
        """The worst of all findings."""
        return max((item.verdict for item in self.findings), key=lambda verdict: verdict.rank, default=Verdict.GO)

    def with_verdict(self, verdict: Verdict) -> tuple[Finding, ...]:
        """The findings that mean this, in the order of the walk."""
        return tuple(item for item in self.findings if item.verdict is verdict)

    @property
    def out_of_service(self) -> bool:
        """So many brakes are defective that a roadside inspection takes the vehicle out of service."""
        return out_of_service(self.defective, self.brakes)


def read_condition(path: str | Path, vehicle: Vehicle) -> Findings:
    """The findings of a filled-in form. Raises VehicleError with every fault: condition-file, -toml, -field."""
    return judged(read_answers(path, vehicle), vehicle)


def judged(answers: Answers, vehicle: Vehicle) -> Findings:
    """Every answer of a walk-round against its published limit."""
    rule = next((item for item in WarningRule if item.value == answers.words.get("warnings.rule")), None)
    limits = PressureLimits(body_of(vehicle), rule)
    judge = _Judge(answers, limits)
    found = [finding for stage in stages(vehicle, limits) for item in stage.items for finding in judge.item(stage, item)]
    return Findings(
        vehicle.name, tuple(found), {name.removeprefix("axles.").removesuffix(".strokes"): values
                                     for name, values in answers.lists.items()},
        {name: value for name, value in answers.numbers.items() if not name.endswith((".build_up", ".lining"))},
        answers.numbers.get("supply.build_up"), rule, answers.words.get("moving.retarder") in ("does not work", "none fitted"),
        judge.defective(vehicle), sum(axle.brake_count for axle in vehicle.axles))


@dataclass(frozen=True)
class _Judge:
    answers: Answers
    limits: PressureLimits

    def item(self, stage: Stage, item: Item) -> list[Finding]:
        """The findings of one item: none asked in vain, one per answer, one per brake for strokes past their limit."""
        key = f"{stage.section}.{item.key}"
        if item.key == "strokes":
            return self._strokes(stage, item, self.answers.lists.get(key, ()))
        if key in self.answers.words:
            verdict, repair, limit = self._word(key, self.answers.words[key])
            return [_finding(stage, item, self.answers.words[key], verdict, repair, limit)]
        if key in self.answers.numbers:
            verdict, repair, limit = self._number(stage, item, key, self.answers.numbers[key])
            return [_finding(stage, item, _shown(item, self.answers.numbers[key]), verdict, repair, limit)]
        if item.key in ("rule", "frost", "evaporator"):
            return []
        return [_finding(stage, item, "not looked at", Verdict.CARE, "", "")]

    def _word(self, key: str, word: str) -> tuple[Verdict, str, str]:
        frost = self.answers.words.get("tanks.frost") == "yes"
        bad = {"long": "cracks", "leaking": "hoses"}
        care = {"oil": "oil", "short": "cracks", "worn": "hoses", "does not work": "retarder"}
        if key == "moving.parking" and word == "no":
            return Verdict.NO_GO, REPAIRS["parking"], ""
        if key == "moving.service" and word == "pulls":
            return Verdict.NO_GO, REPAIRS["service"], ""
        if key == "tanks.drained" and word == "no":
            return (Verdict.NO_GO if frost else Verdict.CARE), REPAIRS["tanks"], ""
        if word == "water":
            return Verdict.CARE, REPAIRS["tanks"], ""
        if key == "tanks.evaporator" and word == "empty" and frost:
            return Verdict.CARE, REPAIRS["evaporator"], ""
        if word in bad:
            return Verdict.NO_GO, REPAIRS[bad[word]], ""
        return (Verdict.CARE, REPAIRS[care[word]], "") if word in care else (Verdict.GO, "", "")

    def _number(self, stage: Stage, item: Item, key: str, value: float) -> tuple[Verdict, str, str]:
        limits = self.limits
        low, high = limits.spring_kpa
        if key == "warnings.warning":
            return self._warning(value)
        if key == "supply.cut_out":
            return self._cut_out(value)
        if item.key == "lining" and stage.axle is not None:
            least = least_lining_m(stage.axle.brake_kind, steer_axle=int(stage.axle.name == self.answers.first_axle))
            strip = stage.axle.brake_kind is not BrakeKind.AIR_DISC and least * (1 - 1e-9) <= value < two_pad_lining_m()
            return (Verdict.CARE, REPAIRS["strip"], "") if strip else _holds(value >= least * (1 - 1e-9), REPAIRS["lining"])
        return {"supply.build_up": lambda: _holds(value <= limits.build_up_s, REPAIRS["build_up"]),
                "supply.cut_in": lambda: _holds(value >= limits.least_cut_in_kpa * (1 - 1e-9), REPAIRS["governor"]),
                "supply.primary": lambda: _holds(value >= limits.ready_kpa * (1 - 1e-9), REPAIRS["air"]),
                "supply.secondary": lambda: _holds(value >= limits.ready_kpa * (1 - 1e-9), REPAIRS["air"]),
                "leaks.released": lambda: _holds(value <= limits.leaks.released_kpa * (1 + 1e-9), REPAIRS["leak"]),
                "leaks.applied": lambda: _holds(value <= limits.leaks.applied_kpa * (1 + 1e-9), REPAIRS["leak"]),
                "warnings.springs": lambda: _holds(low * (1 - 1e-9) <= value <= high * (1 + 1e-9), REPAIRS["springs"]),
                }[key]()

    def _warning(self, value: float) -> tuple[Verdict, str, str]:
        cut_out = self.answers.numbers.get("supply.cut_out", 125 * PSI_KPA)
        low, high = self.limits.warning_kpa(cut_out)
        rule = self.limits.warning_rule
        named = f"at least {high / PSI_KPA:.0f} psi" + (f" by the rule {rule.value}" if rule else "")
        if value >= high * (1 - 1e-9):
            return Verdict.GO, "", named
        if value < low * (1 - 1e-9):
            return Verdict.NO_GO, REPAIRS["warning"], f"at least {low / PSI_KPA:.0f} psi" + (" by any edition" if not rule else "")
        return (Verdict.CARE, "find out which rule holds for this vehicle and name it in the form",
                f"editions disagree: at least {low / PSI_KPA:.0f} psi by one, {high / PSI_KPA:.0f} psi by another")

    def _cut_out(self, value: float) -> tuple[Verdict, str, str]:
        low, high = self.limits.cut_out_kpa
        if value > self.limits.safety_valve_kpa:
            return Verdict.NO_GO, REPAIRS["governor"], ""
        inside = low * (1 - 1e-9) <= value <= high * (1 + 1e-9)
        return (Verdict.GO, "", "") if inside else (Verdict.CARE, REPAIRS["governor"], "")

    def _strokes(self, stage: Stage, item: Item, strokes: tuple[float, ...]) -> list[Finding]:
        seen = [value for value in strokes if not math.isnan(value)]
        assert stage.axle is not None
        limit = stage.axle.brakes[0].chamber.stroke_limit_m
        out = [_finding(stage, item, f"brake {number}: {inches(value)}", Verdict.NO_GO, REPAIRS["stroke"], "", "stroke-over")
               for number, value in enumerate(strokes, start=1) if value > limit * (1 + 1e-9)]
        if len(seen) < item.count:
            out.append(_finding(stage, item, f"{item.count - len(seen)} of {item.count} not measured", Verdict.CARE, "", "",
                                "stroke-missing"))
        if out:
            return out
        spread = max(seen) - min(seen)
        near = max(seen) > limit - STROKE_CARE_M + 1e-9
        uneven = spread > STROKE_SPREAD_M + 1e-9
        shown = f"{inches(min(seen))} to {inches(max(seen))}"
        code = "stroke-near" if near else "stroke-uneven" if uneven else "stroke-good"
        words = "near the limit cold is past it hot: have it seen to soon" if near else \
            "strokes differ: the short ones do the work and get hot" if uneven else ""
        return [_finding(stage, item, shown, Verdict.CARE if words else Verdict.GO, words, "", code)]

    def defective(self, vehicle: Vehicle) -> int:
        """Brakes past their stroke limit, or of a group with a thin lining or a long crack (counted as one)."""
        count = 0
        for index, axle in enumerate(vehicle.axles):
            place = f"axles.{axle.name}"
            limit = axle.brakes[0].chamber.stroke_limit_m
            over = sum(value > limit * (1 + 1e-9) for value in self.answers.lists.get(f"{place}.strokes", ()))
            lining = self.answers.numbers.get(f"{place}.lining", math.inf)
            worn = lining < least_lining_m(axle.brake_kind, steer_axle=int(index == 0)) * (1 - 1e-9)
            cracked = self.answers.words.get(f"{place}.cracks") == "long"
            count += max(over, int(worn or cracked))
        return count


def _holds(inside: bool, repair: str) -> tuple[Verdict, str, str]:
    return (Verdict.GO, "", "") if inside else (Verdict.NO_GO, repair, "")


def _shown(item: Item, value: float) -> str:
    return {"s": f"{value:.0f} s", "psi or kPa": f"{value / PSI_KPA:.1f} psi ({value:.0f} kPa)"}.get(
        item.kind.value, inches(value))


def _finding(stage: Stage, item: Item, found: str, verdict: Verdict, repair: str, limit: str, code: str = "") -> Finding:
    name = item.key.replace("_", "-")
    tail = "unchecked" if found == "not looked at" else {Verdict.GO: "good", Verdict.CARE: "care", Verdict.NO_GO: "bad"}[verdict]
    return Finding(code or f"{name}-{tail}", stage.title, item.question, found, limit or item.limit, verdict, repair,
                   item.source_keys)


def apply(vehicle: Vehicle, findings: Findings) -> Vehicle:
    """The vehicle as it was found: strokes brake by brake, a dead retarder gone.

    Brakes of a group with equal strokes stay one row. A brake nobody measured has the longest stroke of its group, or
    its usual one where that is longer. Whether the vehicle may go at all is `Findings.verdict`'s to say.
    """
    axles = tuple(replace(axle, brakes=_as_found(axle.brakes, findings.strokes_m.get(axle.name, ())))
                  for axle in vehicle.axles)
    said = (*vehicle.assumptions, *(f"{item.place}: {item.what.rstrip('?').lower()}: {item.found}"
                                    for item in findings.with_verdict(Verdict.CARE) if item.found == "not looked at"))
    keys = tuple(dict.fromkeys((*vehicle.source_keys, *(key for item in findings.findings for key in item.source_keys))))
    found = replace(vehicle, axles=axles, assumptions=said, source_keys=keys)
    return without_retarder(found) if findings.retarder_dead else found


def _as_found(brakes: tuple[FoundationBrake, ...], strokes: tuple[float, ...]) -> tuple[FoundationBrake, ...]:
    if all(math.isnan(value) for value in strokes):
        return brakes
    each = [brake for brake in brakes for _ in range(brake.count)]
    longest = max(value for value in strokes if not math.isnan(value))
    taken = [max(longest, brake.stroke_m) if math.isnan(value) else value
             for brake, value in zip(each, strokes, strict=True)]
    rows: dict[tuple[FoundationBrake, float], int] = {}
    for brake, stroke in zip(each, taken, strict=True):
        like = replace(brake, count=1, stroke_m=stroke)
        rows[like, stroke] = rows.get((like, stroke), 0) + 1
    return tuple(replace(brake, count=count) for (brake, _), count in rows.items())


def _warning(air: AirSupply, findings: Findings) -> dict[str, object]:
    """The edition named in the form, else the file's; the pressure the warning came on at, where that is earlier."""
    rule = findings.warning_rule or air.warning_rule
    own = None if findings.warning_rule else air.warning_at_kpa
    cut_out = findings.pressures_kpa.get("supply.cut_out", air.cut_out_kpa)
    least = rule.pressure_kpa(cut_out) if own is None else own
    measured = findings.pressures_kpa.get("warnings.warning")
    return {"warning_rule": rule, "warning_at_kpa": measured if measured is not None and measured > least else own}


def apply_air(air: AirSupply, findings: Findings) -> AirSupply:
    """The air supply as it was found: governor, leaks, warning rule, springs, compressor by its build-up time.

    The compressor is taken to have been tested at its rated speed; it was likely tested slower, so it is not
    overrated.
    """
    at = findings.pressures_kpa
    changes: dict[str, object] = {
        "cut_in_kpa": at.get("supply.cut_in", air.cut_in_kpa), "cut_out_kpa": at.get("supply.cut_out", air.cut_out_kpa),
        "spring_on_kpa": at.get("warnings.springs", air.spring_on_kpa),
        "leak_released_kpaps": at.get("leaks.released", 60 * air.leak_released_kpaps) / 60,
        "leak_applied_kpaps": at.get("leaks.applied", 60 * air.leak_applied_kpaps) / 60,
        **_warning(air, findings)}
    if findings.build_up_s:
        changes["compressor_m3ps"] = sum(air.tanks_m3[:3]) * BUILD_UP_KPA / ATMOSPHERE_KPA / findings.build_up_s
    return replace(air, **changes)  # type: ignore[arg-type]
