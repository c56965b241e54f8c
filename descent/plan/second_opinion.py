# SPDX-License-Identifier: MIT
"""The published grade-severity speeds beside the plan, chained from downgrade to downgrade with carried temperature."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from descent.physics.grade_severity import ORIGINAL, UPDATED, chained_speeds
from descent.plan.model import SecondOpinion, Task

PIECE_M = 250.0  # the equations are for uniform grades: a downgrade is cut into pieces of about this length


def second_opinions(task: Task) -> tuple[SecondOpinion, ...]:
    """The original and the updated equations' greatest speed for every downgrade of a task."""
    profile = task.profile
    bounds = [(profile.index_at(item.start_m), profile.index_at(item.end_m)) for item in task.downgrades]
    pieces = [_pieces(task, start, end) for start, end in bounds]
    gaps = [_pieces(task, before[1], after[0]) for before, after in pairwise(bounds)]
    original, updated = (
        chained_speeds(model, pieces, gross_kg=task.vehicle.gross_kg, gaps=gaps, start_temp_c=task.day.start_temp_c,
                       ambient_temp_c=task.day.air_temp_c, gap_speed_mps=float(task.posted_mps.max()))
        for model in (ORIGINAL, UPDATED))
    return tuple(SecondOpinion(item.number, first.maximum_mps, second.maximum_mps)
                 for item, first, second in zip(task.downgrades, original, updated, strict=True))


def _pieces(task: Task, start: int, end: int) -> list[tuple[float, float]]:
    profile = task.profile
    count = max(1, round((end - start) * profile.spacing_m / PIECE_M)) if end > start else 0
    marks = np.linspace(start, end, count + 1).round().astype(int)
    return [(float(profile.station_m[b] - profile.station_m[a]),
             float((profile.elevation_m[b] - profile.elevation_m[a]) / (profile.station_m[b] - profile.station_m[a])))
            for a, b in pairwise(marks) if b > a]
