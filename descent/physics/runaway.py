# SPDX-License-Identifier: MIT
"""No brakes from here: which speed where, what the curves bear, what an escape ramp must be, where a stop ended."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from descent.physics import runaway_kernel
from descent.physics.march import Cells, Day, Driving, ForceTables, Schedule, march
from descent.physics.stopping import BrakesLeft, Timing, brakes_left, distances_from
from descent.units import GRAVITY_MPS2, MPH_MPS
from descent.vehicle.model import FoundationBrake, Vehicle

FloatArray = NDArray[np.float64]

BED_RESISTANCE: Mapping[str, float] = MappingProxyType({
    "concrete": 0.010, "asphalt": 0.012, "compacted gravel": 0.015, "loose sandy earth": 0.037,
    "loose crushed aggregate": 0.050, "loose gravel": 0.100, "sand": 0.150, "pea gravel": 0.250})
"""Rolling resistance of a bed as a share of weight (key aashto_green_book, from memory, high confidence)."""

LEAST_RAMP_ENTRY_MPS = 80 * MPH_MPS
"""Entry speed ramps are made for (key idaho_escape_ramps, seen)."""


@dataclass(frozen=True)
class Runaway:
    """A vehicle without brakes from one node on: nodes (m,).

    reached: last node it gets to (it may come to rest); overturn_node: first node whose curve the load's rollover
    threshold does not bear at that speed; curve_node: first node above the limit a careful driver keeps to.
    """

    node: int
    station_m: FloatArray
    speed_mps: FloatArray
    reached: int
    curve_node: int | None
    overturn_node: int | None

    def speed_at_mps(self, station_m: float) -> float:
        """Speed at a place [m/s]; 0 where it does not get to, NaN before the start."""
        if station_m < self.station_m[0]:
            return math.nan
        return float(np.interp(station_m, self.station_m, self.speed_mps))

    @property
    def top_mps(self) -> float:
        """Highest speed on the way [m/s]."""
        return float(self.speed_mps.max())


def runaway_from(cells: Cells, vehicle: Vehicle, *, node: int, speed_mps: float, curvature_1pm: FloatArray | None = None,
                 curve_limit_mps: FloatArray | None = None) -> Runaway:
    """Roll from a node at a speed in neutral: gravity less rolling and air; no engine, no brakes, no rotating mass (each
    would make it slower).

    speed_mps [m/s]; curvature_1pm [1/m], curve_limit_mps [m/s]: (n + 1,) over all nodes; without them curves are not
    judged. The vehicle stays on the road in the model; in truth it leaves it at overturn_node at the latest. Source:
    key derived (exact in each cell). On an endless grade it ends at `terminal_speed_mps`:

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> truck = load_vehicle("tractor-semitrailer")
    >>> sine, cosine, k_air = 0.06 / math.sqrt(1.0036), 1 / math.sqrt(1.0036), 0.6 * truck.drag_area_m2
    >>> cells = Cells(np.array([0.0, 1e6]), *(np.array([x]) for x in (1e6, sine, cosine, k_air, 1.0, 15.0)))
    >>> end_mps = runaway_from(cells, truck, node=0, speed_mps=20.0).speed_mps[-1]
    >>> round(float(end_mps / terminal_speed_mps(truck, grade=-0.06, density_kgpm3=1.2)), 6)
    1.0
    """
    count = len(cells.station_m) - node
    speed = np.empty(count)
    reached = int(cast(Any, runaway_kernel.run)(
        float(speed_mps), node, cells.step_m, cells.sin_down, cells.cos_road, cells.k_air, vehicle.gross_kg,
        vehicle.rolling_coefficient, speed))
    over = None if curvature_1pm is None else _first(
        speed > overturning_mps(curvature_1pm[node:], vehicle.rollover_threshold_g), node)
    fast = None if curve_limit_mps is None else _first(speed > curve_limit_mps[node:], node)
    return Runaway(node, cells.station_m[node:], speed, reached, fast, over)


def _first(mask: NDArray[np.bool_], node: int) -> int | None:
    hits = np.flatnonzero(mask)
    return node + int(hits[0]) if len(hits) else None


def overturning_mps(curvature_1pm: FloatArray, threshold_g: float, *, superelevation: float = 0.0) -> FloatArray:
    """Speed (n,) [m/s] at which a curve overturns a load: v^2 kappa / g = e + threshold; infinite where straight.

    curvature_1pm (n,) [1/m], either sign; threshold_g, superelevation [1]. Range: steady curves; quick steering and
    moving loads roll over below it. Source: keys nchrp_505, nrc_rollover for thresholds; the equation derived.

    >>> from descent.units import FOOT_M
    >>> v = overturning_mps(np.array([1 / (500 * FOOT_M)]), 0.35, superelevation=0.06)
    >>> round(float(v[0]) / MPH_MPS, 1)
    55.4
    """
    with np.errstate(divide="ignore"):
        return np.sqrt(GRAVITY_MPS2 * (superelevation + threshold_g) / np.abs(curvature_1pm))


def ramp_length_m(speed_mps: float, *, bed: str | float, grade: float) -> float:
    """Length [m] of an escape ramp of one bed and grade [1] (rise over run, positive uphill): v^2 / (2 g (R + G)).

    Design guides print 30 (mph, ft) and 254 (km/h, m), which are 2 g rounded to the short side by 0.3 and 0.1 %; the exact
    constant is used. bed: a name of `BED_RESISTANCE` or a share of weight [1]; speed_mps [m/s]. Infinite where the bed
    does not hold. Range: whole vehicle in the bed, resistance not rising with speed. Source: key aashto_green_book.
    At 80 mph the printed form gives 80^2 / (30 x 0.25) = 853 ft, 260 m:

    >>> round(ramp_length_m(80 * MPH_MPS, bed="pea gravel", grade=0.0), 1)
    260.8
    """
    held = (BED_RESISTANCE[bed] if isinstance(bed, str) else bed) + grade
    return math.inf if held <= 0 else speed_mps * speed_mps / (2 * GRAVITY_MPS2 * held)


def speed_after_ramp_mps(speed_mps: float, pieces: Sequence[tuple[float, float, float]]) -> float:
    """Speed [m/s] left after pieces of (length_m, bed resistance, grade): v_f^2 = v_i^2 - 2 g L (R + G); 0 when it
    stops on the way.

    Lengths [m], resistance and grade [1], positive uphill. Range and source as in `ramp_length_m` (key
    aashto_green_book). Half the ramp takes half the energy:

    >>> half_m = ramp_length_m(30.0, bed=0.25, grade=0.05) / 2
    >>> round(speed_after_ramp_mps(30.0, [(half_m, 0.25, 0.05)]) ** 2, 6)
    450.0
    """
    squared = speed_mps * speed_mps
    for length, resistance, grade in pieces:
        squared -= 2 * GRAVITY_MPS2 * length * (resistance + grade)
        if squared <= 0:
            return 0.0
    return math.sqrt(squared)


def terminal_speed_mps(vehicle: Vehicle, *, grade: float, density_kgpm3: float) -> float:
    """Speed in neutral at which air balances the grade (negative downhill) [m/s]; 0 where rolling alone holds.

    grade [1], density_kgpm3 [kg/m3]. Range: even, endless grade. Source: key derived (balance of forces).

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> truck = load_vehicle("tractor-semitrailer")
    >>> v = terminal_speed_mps(truck, grade=-0.06, density_kgpm3=1.2)
    >>> air_n = 0.6 * truck.drag_area_m2 * v**2
    >>> rolling_n = truck.rolling_coefficient * truck.weight_n / math.sqrt(1.0036)
    >>> round((air_n + rolling_n) / (truck.weight_n * 0.06 / math.sqrt(1.0036)), 9)
    1.0
    """
    cosine = 1 / math.sqrt(1 + grade * grade)
    pull = vehicle.weight_n * cosine * (-grade - vehicle.rolling_coefficient)
    return math.sqrt(2 * pull / (density_kgpm3 * vehicle.drag_area_m2)) if pull > 0 else 0.0


@dataclass(frozen=True)
class LastStopCase:
    """One case: fade floor and share of the way from the stroke as found to the readjustment limit; last node at which a
    full stop was still possible, -1 if nowhere; bottom_reached: it was possible all the way."""

    fade_floor: float
    slack_share: float
    node: int
    bottom_reached: bool


@dataclass(frozen=True)
class LastFullStop:
    """The last place at which a full stop was still possible, as a range over what nobody knows.

    earliest_m, latest_m: stations [m] of the worst and the best case (NaN: nowhere); bottom_reached: in every case a stop
    was possible all the way; some_bottom: in one at least.
    """

    cases: tuple[LastStopCase, ...]
    earliest_m: float
    latest_m: float

    @property
    def bottom_reached(self) -> bool:
        """A stop was possible to the end of the road in every case."""
        return all(case.bottom_reached for case in self.cases)

    @property
    def some_bottom(self) -> bool:
        """A stop was possible to the end of the road in one case at least."""
        return any(case.bottom_reached for case in self.cases)


def with_fade_and_slack(vehicle: Vehicle, *, fade_floor: float, slack_share: float) -> Vehicle:
    """The vehicle with this fade floor [1], and its strokes moved by a share [1] of the way to their readjustment limits.

    Strokes [m] already past the limit stay. Range: shares of 0 to 1. Source: key assumed (what nobody knows is varied).

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> truck = load_vehicle("tractor-semitrailer")
    >>> brakes = [row.brake for row in with_fade_and_slack(truck, fade_floor=0.2, slack_share=1.0).rows]
    >>> all(brake.stroke_m == brake.chamber.stroke_limit_m and brake.fade_floor == 0.2 for brake in brakes)
    True
    """
    def changed(brake: FoundationBrake) -> FoundationBrake:
        limit = max(brake.chamber.stroke_limit_m, brake.stroke_m)
        return replace(brake, fade_floor=fade_floor, stroke_m=brake.stroke_m + slack_share * (limit - brake.stroke_m))

    return replace(vehicle, axles=tuple(replace(axle, brakes=tuple(changed(brake) for brake in axle.brakes))
                                        for axle in vehicle.axles))


def last_full_stop(cells: Cells, vehicle: Vehicle, tables: ForceTables, schedule: Schedule, day: Day, driving: Driving, *,
                   start_speed_mps: float, start_temps_c: FloatArray | None = None,
                   fade_floors: Sequence[float] = (0.2, 0.35, 0.5), slack_shares: Sequence[float] = (0.0, 1.0),
                   timing: Timing | None = None, left: BrakesLeft | None = None) -> LastFullStop:
    """March a failing descent (retarder gone, too high a gear: as `vehicle`, `tables` and `schedule` say) once per case,
    and find the last node before the first from which no full stop is possible.

    A stop is tried from every node with the speed and temperatures the march has there, on the road ahead. Nothing is
    bisected: that a stop is possible further down does not follow from anything (a flat may come). fade_floors,
    slack_shares: assumed ranges [1]. Once the vehicle no longer follows its schedule its speed is the march's own.
    start_speed_mps [m/s], start_temps_c (n_rows,) [C]; stations [m]. Range: as `march` and `stopping_distances`.
    Source: key derived.

    >>> from descent.physics.march import force_tables
    >>> from descent.vehicle.catalogue import load_vehicle
    >>> truck, day, n = load_vehicle("tractor-semitrailer"), Day(15.0, 65.0, 0.6), 100
    >>> cells = Cells(np.arange(n + 1) * 10.0, *(np.full(n, x) for x in (10.0, 0.06, 0.998, 3.0, 1.0, 15.0)))
    >>> plan = Schedule(np.full(n + 1, 10.0), *np.zeros((2, n), dtype=int), np.full(n + 1, -1.0))
    >>> tables = force_tables(truck, (), Driving())
    >>> found = last_full_stop(cells, truck, tables, plan, day, Driving(), start_speed_mps=10.0)
    >>> found.bottom_reached, found.earliest_m, len(found.cases)
    (True, 1000.0, 6)
    """
    timing = timing or Timing()
    cases = []
    for floor in fade_floors:
        for slack in slack_shares:
            changed = with_fade_and_slack(vehicle, fade_floor=floor, slack_share=slack)
            trace = march(cells, changed, tables, schedule, day, driving, start_speed_mps=start_speed_mps,
                          start_temps_c=start_temps_c)
            ways = distances_from(changed, cells, speed_mps=trace.speed_mps, temps_c=trace.leave_temp_c,
                                  adhesion=day.adhesion, before_s=timing.perception_s + timing.reaction_s,
                                  left=left or brakes_left(changed, timing=timing))
            gone = np.flatnonzero(~np.isfinite(ways[:trace.reached + 1]))
            cases.append(LastStopCase(floor, slack, int(gone[0]) - 1 if len(gone) else trace.reached, not len(gone)))
    nodes = [case.node for case in cases]
    at = [math.nan if node < 0 else float(cells.station_m[node]) for node in (min(nodes), max(nodes))]
    return LastFullStop(tuple(cases), *at)
