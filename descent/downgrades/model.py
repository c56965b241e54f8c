# SPDX-License-Identifier: MIT
"""A sustained downgrade: where it starts and ends, how long and steep it is, and how sure that is."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Downgrade:
    """One sustained downgrade, crest to foot. Grades are ratios and negative; steepest_* are means over the
    steepest 1 km and 300 m inside it (None when it is shorter); hill_sign: the length-and-grade rule is met;
    boundary_uncertain: within the height band it might start, end, merge or split elsewhere."""

    number: int
    start_m: float
    end_m: float
    drop_m: float
    mean_grade: float
    mean_grade_sd: float
    steepest_1km: float | None
    steepest_300m: float | None
    hill_sign: bool
    boundary_uncertain: bool

    @property
    def length_m(self) -> float:
        """Crest to foot along the road [m]."""
        return self.end_m - self.start_m
