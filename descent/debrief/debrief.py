# SPDX-License-Identifier: MIT
"""The debrief of a drive: brakes with their band, legs, stops, where it left the plan and what went well."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from descent.debrief.against_plan import AgainstPlan
from descent.debrief.band import heat_of
from descent.debrief.gears import NEUTRAL
from descent.debrief.legs import departures_on_the_move, legs_driven
from descent.debrief.model import Debrief, Departure, Drive, LegDriven, Planned, StopDriven
from descent.debrief.planned import leg_of
from descent.debrief.stops import stops_driven

DRAWS = 120
KEPT_SHARE = 0.03            # a leg is kept below its control speed when less of its road than this was above


def debriefed(planned: Planned, drive: Drive, *, seed: int = 1, draws: int = DRAWS,
              progress: Callable[[str], None] = lambda _: None) -> Debrief:
    """Lay a drive over a plan. The same inputs and seed give the same answer."""
    progress("working out the brakes")
    heat = heat_of(planned, drive, draws=draws, seed=seed)
    hottest = int(np.argmax([peak.value for peak in heat.peaks_c]))
    side = AgainstPlan(planned, drive, heat, hottest)
    leg = leg_of(planned, drive.between.station_m)
    legs = legs_driven(side, leg) if planned.trace is not None else ()
    stops, departures = stops_driven(side)
    departures += departures_on_the_move(side, leg, legs)
    motion = drive.motion
    start, end = float(motion.station_m[0]), float(motion.station_m[-1])
    total = None
    if planned.trace is not None:
        total = side.planned_at(end, after_stop=True)[0] - side.planned_at(start, after_stop=False)[0]
    found = tuple(sorted(departures, key=lambda item: (item.start_m, item.kind)))
    return Debrief(planned, drive, heat, hottest, legs, stops, found, well_done(side, legs, stops, found), start, end,
                   float(motion.time_s[-1] - motion.time_s[0]), total)


def well_done(side: AgainstPlan, legs: tuple[LegDriven, ...], stops: tuple[StopDriven, ...],
              departures: tuple[Departure, ...]) -> tuple[tuple[str, dict[str, float | str]], ...]:
    """What went well: stops kept, legs held below their control speed, the gear kept, the brakes inside their limit."""
    found: list[tuple[str, dict[str, float | str]]] = []
    for stop in stops:
        if stop.outcome == "kept" and stop.real_minutes is not None:
            found.append(("stop-kept", {"place": stop.place or "", "minutes": stop.real_minutes, "station_m": stop.station_m}))
    kept = [item for item in legs if item.share_over < KEPT_SHARE]
    if kept:
        found.append(("control-kept", {"legs": ", ".join(str(item.number) for item in kept), "count": float(len(kept)),
                                       "all": float(len(kept) == len(legs))}))
    off = {item.kind for item in departures}
    if side.drive.gear_known and legs and not off & {"gear", "out-of-gear"} and (side.drive.gear != NEUTRAL).any():
        found.append(("gear-kept", {}))
    if side.heat.margin_k.low > 0.0:
        found.append(("inside-limit", {"margin_k": side.heat.margin_k.low}))
    if side.planned.trace is not None and side.heat.peaks_c[side.row].value <= float(
            side.planned.trace.temp_c[:, side.row].max()) + 3.0:
        found.append(("no-hotter", {}))
    return tuple(found)
