# SPDX-License-Identifier: MIT
"""What a simple instruction costs: about how long a way down takes when gear and speed may change every 600 m."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from descent.plan.layout import CRUISE_X, Lane
from descent.plan.model import Price
from descent.plan.sections import Section, SectionKind
from descent.plan.shop import Workshop

FloatArray = NDArray[np.float64]
PIECE_M = 600.0
STEP_C = 0.5
NEVER_S = 1e12


def free_sections(shop: Workshop) -> tuple[Section, ...]:
    """The shop's sections with every downgrade and run-out cut into pieces of about `PIECE_M`, each a chain by itself."""
    cut: list[Section] = []
    spacing = shop.task.profile.spacing_m
    for part in shop.parts:
        pieces = max(1, round((part.end - part.start) * spacing / PIECE_M)) if part.kind is not SectionKind.CRUISE else 1
        marks = np.unique(np.linspace(part.start, part.end, pieces + 1).round().astype(int)).tolist()
        for start, end in pairwise(marks):
            first = start == part.start
            cut.append(Section(start, end, part.kind, part.group if part.kind is SectionKind.CRUISE else 10_000 + len(cut),
                               part.halt if first else None, part.check if first or part.kind is SectionKind.CRUISE else None))
    return tuple(cut)


def price_of_simplicity(shop: Workshop, simple_s: float, reserve_k: FloatArray | None = None) -> Price | None:
    """The price of the instructions of a shop whose best plan takes `simple_s` [s]; None where there is nothing to choose.

    A dynamic programme backwards over the pieces and the temperature of the hottest row, under the same limits (every row
    on each piece), the same places to stop and whole minutes. Indicative, on the quick side: every piece is begun at its
    cap, so changes of gear and speed cost nothing, and snubs begin anew. No advice: a gear must not be changed on a
    downgrade.
    """
    if not shop.chains or not shop.choices:
        return None
    maker, task, parts = shop.maker, shop.task, free_sections(shop)
    n = len(maker.rows)
    limit = maker.limits_c(np.zeros(len(task.vehicle.rows)) if reserve_k is None else reserve_k)
    least = min(task.day.air_temp_c, task.day.start_temp_c)
    every = range(1, 1 + len(shop.choices))
    lanes = [Lane(part, (), (), False, False, (), ()) for part in parts]
    pieces = [maker.guards(lane, [CRUISE_X] if lane.part.kind is SectionKind.CRUISE else [CRUISE_X, *every], limit,
                           np.full(n, least)) for lane in lanes]
    row = int(np.argmax([sum(float(maps.numbers[maps.ok > 0, 5 + j].sum()) for maps in pieces) for j in range(n)]))
    grid = np.arange(least, float(limit.max()) + STEP_C, STEP_C)
    rules = task.rules
    minutes = np.arange(rules.shortest_stop_minutes, rules.longest_stop_minutes + 1, rules.stop_step_minutes)
    rest = np.zeros(len(grid))
    for part, maps in zip(reversed(parts), reversed(pieces), strict=True):
        best = np.full(len(grid), NEVER_S)
        for number, numbers in enumerate(maps.numbers):
            if maps.ok[number] and (part.kind is not SectionKind.DOWNGRADE or number):
                after = np.interp(numbers[5 + row] + numbers[5 + n + row] * grid, grid, rest)
                best = np.minimum(best, np.where(grid <= numbers[5 + 2 * n + row], numbers[3] + after, NEVER_S))
        if part.halt is not None:
            waits = maker.cooled(np.tile(grid[:, None], (1, n)), minutes * 60.0, float(shop.cells.cool[part.start]))[:, :, row]
            best = np.minimum(best, (np.interp(waits, grid, best) + 60.0 * minutes).min(axis=1))
        rest = best
    free_s = float(np.interp(task.day.start_temp_c, grid, rest))
    return Price(min(free_s, simple_s), simple_s) if free_s < NEVER_S / 1e3 else None
