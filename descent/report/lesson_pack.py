# SPDX-License-Identifier: MIT
"""A lesson's numbers packed into text for the page: curves two characters a number, figures three and nothing lost."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Any

ALPHABET = "".join(chr(code) for code in range(35, 127) if chr(code) not in "<\\")
BASE = len(ALPHABET)
CURVE_WIDTH, FIGURE_WIDTH = 2, 3     # characters a number
STATES = ("holds", "hot", "doubtful", "runaway")
CURVES = ("temp_c", "pressure_kpa", "speed_mps")
STORY = ("limit_m", "fade_m", "full_m", "stop_earliest_m", "stop_latest_m", "stop_assumed_m", "left_m", "left_worst_m",
         "governed_m", "foot_mps", "foot_worst_mps", "foot_free_mps", "ramp_low_m", "ramp_high_m", "ramp_up_m")
ENERGIES = ("rolling_j", "air_j", "engine_j", "retarder_j", "brakes_j", "gravity_j", "drive_j")
FIGURES = ("peak_temp_c", "with_stop_temp_c", "peak_kpa", "cold_kpa", "fade_kpa", "time_s", *ENERGIES)
FINEST = {"_c": 0.1, "_kpa": 0.1, "_mps": 0.01}
"""Steps of the packed curves, doubled until the largest number fits."""

STEPS = {"_c": 0.1, "_kpa": 0.1, "_mps": 0.001, "_m": 0.1, "_s": 0.1, "_j": 5e4}
"""Steps the document rounds its figures to, and the steps they are packed in."""


def unit_of(name: str) -> str:
    """The unit a name ends in, with its underscore: "_mps" of "foot_mps"."""
    return name[name.rindex("_"):]


def on_step(value: float, name: str) -> float:
    """A figure on its step; infinite and no number stay as they are."""
    step = STEPS[unit_of(name)]
    return round(round(value / step) * step, 6) if math.isfinite(value) else value


def scales_of(document: dict[str, Any]) -> dict[str, float]:
    """The step of the packed curves by unit: the finest, or coarser where the largest number would not fit."""
    most = dict.fromkeys(FINEST, 0.0)
    for item in document["outcomes"]:
        for curve in (item["curve"], item["worst"]):
            for name in CURVES if curve else ():
                most[unit_of(name)] = max(most[unit_of(name)], *curve[name])
    return {unit: _step(finest, most[unit]) for unit, finest in FINEST.items()}


def _step(finest: float, most: float) -> float:
    step = finest
    while most > step * (BASE**CURVE_WIDTH - 2):
        step *= 2
    return step


def packed(values: Iterable[float | None], step: float, *, width: int) -> str:
    """Numbers as text, `width` characters each: the nearest multiple of a step; None as the last code. Raises ValueError for
    a number that does not fit, which `scales_of` and the ranges of a request exclude."""
    none = BASE**width - 1
    found = []
    for value in values:
        code = none if value is None else math.floor(value / step + 0.5)
        if not 0 <= code <= none or (code == none and value is not None):
            raise ValueError(f"{value} does not fit into {width} characters at {step}")
        found += [ALPHABET[code // BASE**place % BASE] for place in range(width - 1, -1, -1)]
    return "".join(found)


def unpacked(text: str, step: float, *, width: int) -> list[float | None]:
    """The numbers of a packed text."""
    found: list[float | None] = []
    for begin in range(0, len(text), width):
        code = 0
        for letter in text[begin:begin + width]:
            code = code * BASE + ALPHABET.index(letter)
        found.append(None if code == BASE**width - 1 else code * step)
    return found


def packed_outcomes(document: dict[str, Any]) -> dict[str, Any]:
    """states: a digit per outcome; kinds: what is stored of its curves; figures, stories, curves: one text each, in the
    order of the grid, stories only from "hot" on. kinds: 0 two curves that are one, at the control speed throughout;
    +1 with its speed; +2 the worst case beside it; +4 with the speed of that."""
    scales = scales_of(document)
    figures, stories, curves, kinds, states = [], [], [], [], []
    for item in document["outcomes"]:
        gear, speed = item["at"][0], item["at"][4]
        control = document["axes"]["speed_mps"][gear][speed]
        states.append(str(STATES.index(item["state"])))
        figures += [packed([_figure(item, name)], STEPS[unit_of(name)], width=FIGURE_WIDTH) for name in FIGURES]
        if item["state"] != "holds":
            stories += [packed([item["story"][name]], STEPS[unit_of(name)], width=FIGURE_WIDTH) for name in STORY]
        kind = 0
        for curve, bits in ((item["curve"], (0, 1)), (item["worst"], (2, 4))):
            if curve is None:
                continue
            varies = any(abs(value - control) > 0.03 for value in curve["speed_mps"])
            kind += bits[0] + (bits[1] if varies else 0)
            for name in CURVES if varies else CURVES[:2]:
                curves.append(packed(curve[name], scales[unit_of(name)], width=CURVE_WIDTH))
        kinds.append(str(kind))
    return {"scales": scales, "steps": STEPS, "states": "".join(states), "kinds": "".join(kinds), "figures": "".join(figures),
            "stories": "".join(stories), "curves": "".join(curves)}


def packed_cells(document: dict[str, Any]) -> str:
    """One digit per cell of the grid, in its order: 1 where it may be read between."""
    readable = {tuple(cell) for cell in document["readable"]}
    return "".join("1" if cell in readable else "0" for cell in _cells(document["axes"]))


def _cells(axes: dict[str, Any]) -> Iterable[tuple[int, ...]]:
    weights = max(len(axes["gross_kg"]) - 1, 1)
    for gear, speeds in enumerate(axes["speed_mps"]):
        for stage in range(len(axes["stage"])):
            for adjustment in range(len(axes["adjustment"])):
                for braking in range(len(axes["braking"])):
                    for at in range(max(len(speeds) - 1, 1)):
                        for heavy in range(weights):
                            yield gear, stage, adjustment, braking, at, heavy


def _figure(item: dict[str, Any], name: str) -> float | None:
    value: float | None = item["energy"][name] if name in ENERGIES else item[name]
    return value


def outcomes_by_key(document: dict[str, Any]) -> dict[tuple[int, ...], dict[str, Any]]:
    """The document's outcomes by grid point."""
    return {tuple(item["at"]): item for item in document["outcomes"]}


def at_fastest(document: dict[str, Any], gear: int) -> tuple[int, ...]:
    """The grid point gears are compared at: the fastest speed, the lesson's retarder stage, in adjustment, snubbed, full
    weight."""
    axes: dict[str, Sequence[Any]] = document["axes"]
    return gear, document["basis_stage"], 0, 0, len(axes["speed_mps"][gear]) - 1, len(axes["gross_kg"]) - 1
