# SPDX-License-Identifier: MIT
"""The published grade-severity equations: brake temperature, emergency rise and greatest speed on downgrades.

One lumped temperature for all brakes, one constant speed, an engine that always holds its published drag:

    T_f  = T_0 + (T_inf - T_0 + K2 HP_B) (1 - exp(-K1 L / V))
    HP_B = max(0, (W theta - F_drag) V / 375 - HP_eng)
    T_E  = c W V^2
    V_max = the greatest V with T + T_E <= T_lim for every speed up to V

with W in lb, theta downhill positive, L in miles, V in mph, T in degrees Fahrenheit. In here only; every public
function takes SI, and a grade is negative downhill. Source keys: fhwa_grade_severity, wydot_2018_wy1901f; the
constants are from memory. The temperature is not monotone in speed, so the greatest speed is found by scanning upward.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from descent.errors import Fault, InputError
from descent.units import HORSEPOWER_W, MILE_M, MPH_MPS, POUND_KG, c_to_fahrenheit, fahrenheit_to_c

FloatArray = NDArray[np.float64]
Segment = tuple[float, float]

CAP_MPS = 90 * MPH_MPS
_SCAN_STEPS = 900
_REFINE_STEPS = 500
_HP_PER_LBF_MPH = 1 / 375


@dataclass(frozen=True)
class SeverityModel:
    """One published set of constants, in the units it was published in so that it can be checked against the print.

    cooling_per_h: K1 = a + b V [1/h]; conductance_hp_per_f: 1/K2 = a + b V [hp/F]; drag_lbf: F_drag = a + b V + c V^2
    [lbf], V in mph; emergency_f_per_lb_mph2: c of T_E = c W V^2.
    """

    name: str
    cooling_per_h: tuple[float, float]
    conductance_hp_per_f: tuple[float, float]
    drag_lbf: tuple[float, float, float]
    engine_hp: float
    emergency_f_per_lb_mph2: float
    start_temp_c: float
    ambient_temp_c: float
    limit_temp_c: float
    source_keys: tuple[str, ...]


ORIGINAL = SeverityModel(
    name="original",
    cooling_per_h=(1.23, 0.0256),
    conductance_hp_per_f=(0.100, 0.00208),
    drag_lbf=(450.0, 17.25, 0.0),
    engine_hp=73.0,
    emergency_f_per_lb_mph2=3.11e-7,
    start_temp_c=fahrenheit_to_c(150),
    ambient_temp_c=fahrenheit_to_c(90),
    limit_temp_c=fahrenheit_to_c(500),
    source_keys=("fhwa_grade_severity", "myers_1980_fhwa_rd_79_116", "bowman_1989_fhwa_ip_88_015"),
)
"""Constants of 1980/1989, from memory with high confidence: they imply one heat capacity (393 kJ/K) to 0.04 %."""

UPDATED = SeverityModel(
    name="updated",
    cooling_per_h=(1.5 * 1.1852, 1.5 * 0.0331),
    conductance_hp_per_f=(0.1602, 0.0078),
    drag_lbf=(459.35, 0.0, 0.132),
    engine_hp=63.3,
    emergency_f_per_lb_mph2=3.11e-7,
    start_temp_c=fahrenheit_to_c(150),
    ambient_temp_c=fahrenheit_to_c(90),
    limit_temp_c=fahrenheit_to_c(500),
    source_keys=("wydot_2018_wy1901f",),
)
"""Constants of 2018, from memory with medium confidence; that the emergency term was kept, with low confidence."""


@dataclass(frozen=True)
class ChainedSpeed:
    """One downgrade of a chain: its greatest speed (None: no limit below the cap; 0: none is low enough), the
    temperature at its crest and the hottest one at its foot over the speeds up to that one."""

    maximum_mps: float | None
    start_temp_c: float
    end_temp_c: float


def brake_power_w(model: SeverityModel, *, gross_kg: float, grade: float, speed_mps: float) -> float:
    """Heat flow into all brakes at constant speed [W], never below zero (HP_B).

    Range: gross_kg > 0 [kg]; grade [1]: rise over run, negative downhill, below 1; speed_mps > 0 [m/s]. Raises
    InputError out of range. Source: keys fhwa_grade_severity, wydot_2018_wy1901f, by the model given.

    >>> round(brake_power_w(ORIGINAL, gross_kg=36287.39, grade=-0.06, speed_mps=20 * 0.44704) / 1000, 1)
    104.8
    """
    _check(gross_kg, [(0.0, grade)], speed_mps)
    surplus_hp = _surplus_hp(model, -grade * gross_kg / POUND_KG, np.array([speed_mps / MPH_MPS]))
    return max(0.0, float(surplus_hp[0])) * HORSEPOWER_W


def emergency_rise_k(model: SeverityModel, *, gross_kg: float, speed_mps: float) -> float:
    """Temperature rise of all brakes by one emergency stop from `speed_mps` (T_E) [K].

    gross_kg > 0 [kg], speed_mps > 0 [m/s]. About 1.5 times the kinetic energy over the heat capacity; the grade during
    the stop is not in it. Raises InputError out of range. Source: keys fhwa_grade_severity, wydot_2018_wy1901f.

    >>> round(emergency_rise_k(ORIGINAL, gross_kg=36287.39, speed_mps=20 * 0.44704), 2)
    5.53
    """
    _check(gross_kg, [], speed_mps)
    return model.emergency_f_per_lb_mph2 * (gross_kg / POUND_KG) * (speed_mps / MPH_MPS) ** 2 / 1.8


def final_temperature_c(model: SeverityModel, *, gross_kg: float, grade: float, length_m: float, speed_mps: float,
                        start_temp_c: float | None = None, ambient_temp_c: float | None = None) -> float:
    """Brake temperature at the foot of one uniform grade driven at constant speed (T_f) [C].

    gross_kg > 0 [kg]; grade [1]: rise over run, negative downhill; length_m >= 0 [m]; speed_mps > 0 [m/s];
    temperatures default to the model's (150 F, 90 F). A flat or a climb only cools. Raises InputError out of range.
    Source: keys fhwa_grade_severity, wydot_2018_wy1901f, by the model given.

    >>> round(final_temperature_c(ORIGINAL, gross_kg=36287.39, grade=-0.06, length_m=9656.064,
    ...                           speed_mps=20 * 0.44704), 1)
    276.5
    """
    return float(chain_temperatures_c(model, gross_kg=gross_kg, segments=[(length_m, grade)], speed_mps=speed_mps,
                                      start_temp_c=start_temp_c, ambient_temp_c=ambient_temp_c)[0])


def chain_temperatures_c(model: SeverityModel, *, gross_kg: float, segments: Sequence[Segment], speed_mps: float,
                         start_temp_c: float | None = None, ambient_temp_c: float | None = None) -> FloatArray:
    """Brake temperature at the end of every segment at one constant speed [C], shape (n_segments,).

    segments: (length_m, grade) in travel order, grade negative downhill; each starts as hot as the one before ends.
    Units, range and errors as in `final_temperature_c`. Source: keys fhwa_grade_severity, wydot_2018_wy1901f; the
    chain is derived. Two halves of a grade are the whole:

    >>> chain_temperatures_c(ORIGINAL, gross_kg=36287.39, segments=[(4828.032, -0.06)] * 2,
    ...                      speed_mps=20 * 0.44704).round(1).tolist()
    [184.7, 276.5]
    """
    _check(gross_kg, segments, speed_mps)
    chain = _Chain(model, gross_kg / POUND_KG, segments, ambient_temp_c)
    ends_f = chain.ends_f(np.array([speed_mps / MPH_MPS]), _start_f(model, start_temp_c))
    return np.array([fahrenheit_to_c(float(end_f[0])) for end_f in ends_f], dtype=np.float64)


def maximum_speed_mps(model: SeverityModel, *, gross_kg: float, segments: Sequence[Segment],
                      start_temp_c: float | None = None, limit_temp_c: float | None = None,
                      ambient_temp_c: float | None = None, cap_mps: float = CAP_MPS) -> float | None:
    """Greatest constant speed at which no lower or equal speed passes the limit anywhere on the segments [m/s].

    segments: (length_m, grade), negative downhill, one for a single grade. Temperature plus emergency rise is tested
    at the start and at the end of every segment; in between it lies between the two. None: no limit below
    `cap_mps`. 0.0: already the lowest speed scanned (a 900th of the cap) passes the limit. The speeds are scanned
    upward in 900 steps and the first crossing is refined from below by another 500 (0.0002 mph at the usual cap);
    speeds that are allowed again above a forbidden band are never returned. Raises InputError out of range. Source:
    keys fhwa_grade_severity, wydot_2018_wy1901f; the scan is derived.

    >>> speed = maximum_speed_mps(ORIGINAL, gross_kg=36287.39, segments=[(9656.064, -0.06)])
    >>> round(speed / 0.44704, 2)
    17.31
    """
    _check(gross_kg, segments, cap_mps)
    chain = _Chain(model, gross_kg / POUND_KG, segments, ambient_temp_c)
    start_f = _start_f(model, start_temp_c)
    limit_f = c_to_fahrenheit(_finite("limit temperature", model.limit_temp_c if limit_temp_c is None else limit_temp_c))
    cap_mph = cap_mps / MPH_MPS
    speeds_mph = np.linspace(cap_mph / _SCAN_STEPS, cap_mph, _SCAN_STEPS)
    over = chain.hottest_f(speeds_mph, start_f) > limit_f
    if not over.any():
        return None
    first = int(over.argmax())
    if first == 0:
        return 0.0
    speeds_mph = np.linspace(speeds_mph[first - 1], speeds_mph[first], _REFINE_STEPS + 1)
    over = chain.hottest_f(speeds_mph, start_f) > limit_f
    over[-1] = True
    return float(speeds_mph[max(0, int(over.argmax()) - 1)]) * MPH_MPS


def chained_speeds(model: SeverityModel, downgrades: Sequence[Sequence[Segment]], *, gross_kg: float,
                   gaps: Sequence[Sequence[Segment]], gap_speed_mps: float = CAP_MPS,
                   start_temp_c: float | None = None, limit_temp_c: float | None = None,
                   ambient_temp_c: float | None = None, cap_mps: float = CAP_MPS) -> tuple[ChainedSpeed, ...]:
    """The greatest speed of each downgrade with the temperature carried from the one before.

    downgrades: n lists of (length_m, grade); gaps: the n - 1 stretches between them, each possibly empty, driven at
    up to `gap_speed_mps`. A downgrade or gap is left as hot as the hottest of all speeds up to the allowed one leaves
    it (derived, cautious: slower can be hotter). The next never starts afresh at the initial temperature: that would
    be a misuse of the method. Weights [kg], lengths [m], speeds [m/s], temperatures [C], range and errors as in
    `maximum_speed_mps`. Source: keys fhwa_grade_severity, wydot_2018_wy1901f.

    >>> first, second = chained_speeds(ORIGINAL, [[(9656.064, -0.06)]] * 2, gross_kg=36287.39, gaps=[[]])
    >>> round(first.maximum_mps / MPH_MPS, 2), second.start_temp_c == first.end_temp_c
    (17.31, True)
    >>> second.maximum_mps < first.maximum_mps
    True
    """
    if len(gaps) != max(0, len(downgrades) - 1):
        raise _out_of_range("number of gaps", f"{len(gaps)}", "Give one gap between each two downgrades")
    temp_c = model.start_temp_c if start_temp_c is None else start_temp_c
    found: list[ChainedSpeed] = []
    for number, segments in enumerate(downgrades):
        if number:
            temp_c = _hottest_end_c(model, gross_kg, gaps[number - 1], temp_c, ambient_temp_c, gap_speed_mps)
        speed_mps = maximum_speed_mps(model, gross_kg=gross_kg, segments=segments, start_temp_c=temp_c,
                                      limit_temp_c=limit_temp_c, ambient_temp_c=ambient_temp_c, cap_mps=cap_mps)
        allowed_mps = cap_mps if speed_mps is None else speed_mps
        end_c = _hottest_end_c(model, gross_kg, segments, temp_c, ambient_temp_c, allowed_mps) if allowed_mps else temp_c
        found.append(ChainedSpeed(speed_mps, temp_c, end_c))
        temp_c = end_c
    return tuple(found)


def _hottest_end_c(model: SeverityModel, gross_kg: float, segments: Sequence[Segment], start_temp_c: float,
                   ambient_temp_c: float | None, top_mps: float) -> float:
    _check(gross_kg, segments, top_mps)
    if not segments:
        return start_temp_c
    chain = _Chain(model, gross_kg / POUND_KG, segments, ambient_temp_c)
    top_mph = top_mps / MPH_MPS
    speeds_mph = np.linspace(top_mph / _SCAN_STEPS, top_mph, _SCAN_STEPS)
    *_, end_f = chain.ends_f(speeds_mph, _start_f(model, start_temp_c))
    return fahrenheit_to_c(float(end_f.max()))


class _Chain:
    """Segments of one road under one truck, evaluated for arrays of speeds in the published units."""

    def __init__(self, model: SeverityModel, weight_lb: float, segments: Sequence[Segment],
                 ambient_temp_c: float | None) -> None:
        ambient_c = model.ambient_temp_c if ambient_temp_c is None else ambient_temp_c
        self._model, self._weight_lb = model, weight_lb
        self._ambient_f = c_to_fahrenheit(_finite("air temperature", ambient_c))
        self._miles_and_downs = [(length_m / MILE_M, -grade) for length_m, grade in segments]

    def ends_f(self, speeds_mph: FloatArray, start_f: float) -> Iterator[FloatArray]:
        """Temperature at the end of each segment in turn, shape (n_speeds,) [F]."""
        model = self._model
        cooling_per_mi = (model.cooling_per_h[0] + model.cooling_per_h[1] * speeds_mph) / speeds_mph
        rise_f_per_hp = 1 / (model.conductance_hp_per_f[0] + model.conductance_hp_per_f[1] * speeds_mph)
        level_f = rise_f_per_hp * _surplus_hp(model, 0.0, speeds_mph)
        per_grade_f = rise_f_per_hp * self._weight_lb * speeds_mph * _HP_PER_LBF_MPH
        keep = {miles: np.exp(-miles * cooling_per_mi) for miles in {miles for miles, _ in self._miles_and_downs}}
        excess_f = np.full_like(speeds_mph, start_f - self._ambient_f)
        steady_f = np.empty_like(speeds_mph)
        for miles, down in self._miles_and_downs:
            np.multiply(per_grade_f, down, out=steady_f)
            np.add(steady_f, level_f, out=steady_f)
            np.maximum(steady_f, 0.0, out=steady_f)
            np.subtract(excess_f, steady_f, out=excess_f)
            np.multiply(excess_f, keep[miles], out=excess_f)
            np.add(excess_f, steady_f, out=excess_f)
            yield excess_f + self._ambient_f

    def hottest_f(self, speeds_mph: FloatArray, start_f: float) -> FloatArray:
        """The greatest temperature plus emergency rise along the road, shape (n_speeds,) [F]."""
        hottest_f = np.full_like(speeds_mph, start_f)
        for end_f in self.ends_f(speeds_mph, start_f):
            np.maximum(hottest_f, end_f, out=hottest_f)
        return hottest_f + self._model.emergency_f_per_lb_mph2 * self._weight_lb * speeds_mph**2


def _surplus_hp(model: SeverityModel, down_lbf: float, speeds_mph: FloatArray) -> FloatArray:
    """Power of the downhill force not taken by drag and engine; below zero the brakes are not needed."""
    drag_lbf = model.drag_lbf[0] + (model.drag_lbf[1] + model.drag_lbf[2] * speeds_mph) * speeds_mph
    return (down_lbf - drag_lbf) * speeds_mph * _HP_PER_LBF_MPH - model.engine_hp


def _start_f(model: SeverityModel, start_temp_c: float | None) -> float:
    return c_to_fahrenheit(_finite("start temperature", model.start_temp_c if start_temp_c is None else start_temp_c))


def _check(gross_kg: float, segments: Sequence[Segment], speed_mps: float) -> None:
    """A number that is not one would compare as "below the limit": refuse it."""
    if not (math.isfinite(gross_kg) and gross_kg > 0):
        raise _out_of_range("gross weight in kg", f"{gross_kg}", "Give a weight above zero")
    if not (math.isfinite(speed_mps) and speed_mps > 0):
        raise _out_of_range("speed in m/s", f"{speed_mps}", "Give a speed above zero")
    for length_m, grade in segments:
        if not (math.isfinite(length_m) and length_m >= 0 and math.isfinite(grade) and abs(grade) < 1):
            raise _out_of_range("segment", f"{length_m} m at {grade}",
                                "Give a length in m and a grade as rise over run, negative downhill")


def _finite(what: str, temp_c: float) -> float:
    if not math.isfinite(temp_c):
        raise _out_of_range(what, f"{temp_c}", "Give a temperature in C")
    return temp_c


def _out_of_range(what: str, value: str, remedy: str) -> InputError:
    return InputError(Fault("severity-range", f"this {what} is out of range for the grade-severity equations", remedy,
                            "grade severity", value))
