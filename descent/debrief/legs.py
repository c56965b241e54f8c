# SPDX-License-Identifier: MIT
"""The legs of the plan as they were driven, and the stretches on which speed or gear left the plan."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from descent.debrief.against_plan import AgainstPlan
from descent.debrief.band import band
from descent.debrief.gears import NEUTRAL, IntArray
from descent.debrief.model import Band, Departure, LegDriven

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
TOLERANCE_MPS = 0.9          # about 2 mph: a needle is not read closer (assumed)
LEAST_S = 6.0
TOGETHER_S = 40.0
GEAR_LEAST_S = 12.0
SLOWER_S = 60.0
SHORT_S = 14.0               # applications as short as this are told apart
TOP_SMOOTH = 3


def over_control(side: AgainstPlan, leg: IntArray) -> BoolArray:
    """Intervals (n,) above the leg's control speed by more than the tolerance and the doubt of the speed."""
    control = control_speeds(side, leg)
    motion = side.drive.motion
    doubt = 1.6 * 0.5 * (motion.speed_sd_mps[1:] + motion.speed_sd_mps[:-1])
    return side.drive.between.speed_mps > control + np.maximum(TOLERANCE_MPS, doubt)


def control_speeds(side: AgainstPlan, leg: IntArray) -> FloatArray:
    """Control speed at each interval (n,) [m/s], infinite where no leg is."""
    controls = np.array([*(item.instruction.control_mps for item in side.planned.solution.legs), np.inf])
    return np.asarray(controls[leg])


def legs_driven(side: AgainstPlan, leg: IntArray) -> tuple[LegDriven, ...]:
    """Every leg of which at least a tenth was driven."""
    found = []
    over = over_control(side, leg)
    stations = side.planned.task.profile.station_m
    for index, span in enumerate(side.planned.solution.legs):
        here = np.flatnonzero(leg == index)
        start, end = float(stations[span.start]), float(stations[span.end])
        if not len(here) or float(side.drive.between.station_m[here[-1]] - side.drive.between.station_m[here[0]]) \
                < 0.1 * (end - start):
            continue
        found.append(_leg(side, index, here, over, start, end))
    return tuple(found)


def _leg(side: AgainstPlan, index: int, here: IntArray, over: BoolArray, start: float, end: float) -> LegDriven:
    drive, heat, trace = side.drive, side.heat, side.planned.trace
    assert trace is not None
    between, span = drive.between, side.planned.solution.legs[index]
    moving = here[between.speed_mps[here] > 0.3]
    road = between.speed_mps * between.seconds
    nodes = slice(side.planned.task.profile.index_at(float(between.station_m[here[0]])),
                  side.planned.task.profile.index_at(float(between.station_m[here[-1]])) + 1)
    dwell = float(np.maximum(trace.dwell_s[nodes][1:-1], 0.0).sum()) if nodes.stop - nodes.start > 2 else 0.0
    begin = float(trace.time_s[nodes.start] + max(float(trace.dwell_s[nodes.start]), 0.0))
    gears = ()
    if drive.gear_known:
        held = [(float(between.seconds[moving][drive.gear[moving] == gear].sum()), gear)
                for gear in sorted(set(drive.gear[moving].tolist())) if gear >= 0 or gear == NEUTRAL]
        gears = tuple(gear for seconds, gear in sorted(held, reverse=True) if seconds >= GEAR_LEAST_S)
    samples = slice(int(here[0]), int(here[-1]) + 2)
    work = heat.work_j[here]
    row = side.row
    return LegDriven(
        index + 1, start, end, float(between.seconds[moving].sum()),
        float(trace.time_s[nodes.stop - 1]) - begin - dwell, _top(between.speed_mps[here]),
        float(road[here][over[here]].sum() / max(float(road[here].sum()), 1.0)), gears, _applications(side, here),
        band(float(work.sum()), heat.work_draws_j[:, here].sum(axis=1)),
        float(trace.work_j[nodes.start:nodes.stop - 1, 0].sum()),
        Band(float(heat.temp_c[samples, row].max()), float(heat.low_c[samples, row].max()),
             float(heat.high_c[samples, row].max())), float(trace.temp_c[span.start:span.end + 1, row].max()))


def _top(speed: FloatArray) -> float:
    """Highest speed [m/s], over three intervals so that one noisy fix does not make it."""
    if len(speed) < TOP_SMOOTH:
        return float(speed.max())
    return float(np.convolve(speed, np.full(TOP_SMOOTH, 1 / TOP_SMOOTH), "valid").max())


def _applications(side: AgainstPlan, here: IntArray) -> int | None:
    """How often the brakes were applied; None where applications run into each other or no speed was noted."""
    if not side.drive.has_speed:
        return None
    inside = [(start, end) for start, end, light in side.heat.braking.applications if here[0] <= start <= here[-1] and not light]
    work, seconds = side.heat.work_j, side.drive.between.seconds
    short = [item for item in inside if float(seconds[item[0]:item[1]].sum()) <= SHORT_S]
    total = float(work[here].sum())
    told = sum(float(work[start:end].sum()) for start, end in short)
    return len(short) if not inside or (total > 0.0 and told >= 0.8 * total) else None


def departures_on_the_move(side: AgainstPlan, leg: IntArray, legs: tuple[LegDriven, ...]) -> list[Departure]:
    """Stretches above the control speed, in another gear or out of gear, and legs driven much slower than planned."""
    drive = side.drive
    over = over_control(side, leg)
    found = [_over(side, leg, start, end) for start, end in _by_leg(over, leg, drive.between.seconds, LEAST_S)]
    if drive.gear_known:
        planned = np.array([*(item.instruction.gear for item in side.planned.solution.legs), -1])[leg]
        moving = drive.between.speed_mps > 2.0
        out = (drive.gear == NEUTRAL) & moving
        other = (leg >= 0) & (drive.gear >= 0) & (drive.gear != planned) & moving & side_of_gear_by(side, leg)
        for kind, flags in (("out-of-gear", out), ("gear", other)):
            for start, end in _by_leg(flags, leg, drive.between.seconds, GEAR_LEAST_S):
                cost_s, cost_k = side.cost(start, end)
                taken = int(np.bincount(np.maximum(drive.gear[start:end][flags[start:end]], 0)).argmax())
                names = side.planned.task.vehicle.gearbox.names
                found.append(Departure(kind, float(drive.motion.station_m[start]), float(drive.motion.station_m[end]), cost_s,
                                       cost_k, {"gear": names[taken], "planned": names[max(int(planned[start]), 0)]}))
    for item in legs:
        late = item.moving_s - item.planned_s
        if late > max(SLOWER_S, 0.1 * item.planned_s) and item.share_over < 0.2:
            first, last = side.sample_at(item.start_m), side.sample_at(item.end_m)
            found.append(Departure("slower", item.start_m, item.end_m, late, side.cost(first, last)[1],
                                   {"leg": float(item.number)}))
    return found


def side_of_gear_by(side: AgainstPlan, leg: IntArray) -> BoolArray:
    """Where the leg's gear must be in already: past its gear-by station."""
    stations = side.planned.task.profile.station_m
    by = np.array([*(float(stations[item.gear_by]) for item in side.planned.solution.legs), np.inf])[leg]
    return np.asarray(side.drive.between.station_m >= by)


def _over(side: AgainstPlan, leg: IntArray, start: int, end: int) -> Departure:
    control = control_speeds(side, leg)[start:end]
    speed = side.drive.between.speed_mps[start:end]
    finite = np.isfinite(control)
    cost_s, cost_k = side.cost(start, end)
    top = _top(speed[finite])
    station = side.drive.motion.station_m
    return Departure("over-control", float(station[start]), float(station[end]), cost_s, cost_k,
                     {"top_mps": top, "control_mps": float(control[finite].min())})


def _by_leg(flags: BoolArray, leg: IntArray, seconds: FloatArray, least: float) -> list[tuple[int, int]]:
    """Flagged stretches, none of them over the end of a leg."""
    return [stretch for number in sorted(set(leg.tolist()))
            for stretch in _stretches(flags & (leg == number), seconds, least)]


def _stretches(flags: BoolArray, seconds: FloatArray, least: float) -> list[tuple[int, int]]:
    """Stretches of flagged intervals, those less than TOGETHER_S apart as one, with at least `least` seconds flagged."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], flags.astype(int), [0]])))
    clock = np.concatenate([[0.0], np.cumsum(seconds)])
    merged: list[list[int]] = []
    for start, end in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        if merged and clock[start] - clock[merged[-1][1]] < TOGETHER_S:
            merged[-1][1] = end
        else:
            merged.append([start, end])
    return [(start, end) for start, end in merged if float(seconds[start:end][flags[start:end]].sum()) >= least]
