# SPDX-License-Identifier: MIT
"""Sentences about one leg: gear, retarder, service brakes, gauge, grade."""

from __future__ import annotations

from descent.report.lower_speeds import lower_speeds
from descent.report.shown import Shown
from descent.report.trip import Row, Trip

_AT_M = 60.0
_LEVEL = 0.005
_FEWEST_REGULAR = 5  # fewer snubs on a leg have no rhythm a driver could keep
_SHORTEST_TOLD_S = 1.5  # a shorter snub is not told in seconds


def retarder_words(stage: object, trip: Trip, shown: Shown) -> str:
    """A retarder setting: "stage 2", "off", "none" for a vehicle without one."""
    stages = (trip.document.get("vehicle") or {}).get("retarder_stages") or ()
    if _is_off(stage):
        return shown.words("retarder.none" if len(stages) == 0 else "retarder.off")
    if isinstance(stage, int | float):
        return shown.words("retarder.stage", stage=f"{stage:g}")
    return str(stage)


def retarder_order(leg: Row, trip: Trip, shown: Shown) -> str:
    """The retarder's order on a leg: a stage to leave on, or the most to use where that stage alone would hold
    the vehicle below the control speed."""
    stage = retarder_words(leg.get("retarder_stage"), trip, shown)
    if _held_below(leg) and not _is_off(leg.get("retarder_stage")):
        return shown.words("retarder.up_to", stage=stage)
    return stage


def snub_words(leg: Row, trip: Trip, shown: Shown) -> str:
    """How the service brakes are used on a leg."""
    snubs, words = leg.get("snubs"), shown.words
    control = shown.speed_number(leg["control_speed_mps"])
    if snubs and snubs_regularly(leg):
        return words("snub.pattern", snub=_one_snub(snubs, shown), rhythm=_rhythm(snubs, shown))
    rare = words("snub.rare", snub=_one_snub(snubs, shown)) if snubs else words("snub.past", control=control)
    if not _held_below(leg):
        return rare if snubs else words("snub.none", control=control)
    values = {
        "control": control,
        "balance": shown.speed_near(leg["balance_speed_mps"]),
        "stage": retarder_words(leg.get("retarder_stage"), trip, shown),
    }
    key = "hold.engine" if _is_off(leg.get("retarder_stage")) else "hold.retarder"
    return f"{words(key, **values)} {rare}"


def snubs_regularly(leg: Row) -> bool:
    """Whether a leg has enough snubs to have a rhythm."""
    snubs: Row | None = leg.get("snubs")
    return snubs is not None and snubs["count"] >= _FEWEST_REGULAR and snubs.get("interval_s") is not None


def gear_by_words(leg: Row, trip: Trip, shown: Shown) -> str:
    """By where the gear must be in: a place on the road, or, after a stop, before the grade begins."""
    return _gear_by("leg", leg, trip, shown)


def brief_gear_by_words(leg: Row, trip: Trip, shown: Shown) -> str:
    """The same in few words: "by mi 6.6"."""
    return _gear_by("brief", leg, trip, shown)


def gear_of_words(leg: Row, trip: Trip, shown: Shown) -> str:
    """Of how many gears this is one, and the engine speed at the control speed; nothing where that is not known."""
    gears, rpm = (trip.document.get("vehicle") or {}).get("gears") or (), leg.get("engine_speed_rpm")
    if not gears or rpm is None:
        return ""
    return shown.words("leg.gear_of", count=len(gears), rpm=shown.number(round(float(rpm) / 10.0) * 10.0))


def _gear_by(wording: str, leg: Row, trip: Trip, shown: Shown) -> str:
    def stops_at(station_m: float) -> bool:
        return any(abs(stop["station_m"] - station_m) <= _AT_M for stop in trip.stops)

    start_m, by_m, gear = leg["start_m"], leg["gear_by_m"], leg["gear"]
    if not stops_at(start_m) and not stops_at(by_m):
        return shown.words(f"{wording}.gear_by", at=shown.before(by_m))
    by_m = max(start_m, by_m)
    if stops_at(by_m) or shown.before(by_m) == shown.at(start_m):
        return shown.words(f"{wording}.gear_moving", gear=gear)
    return shown.words(f"{wording}.gear_moving_by", gear=gear, at=shown.before(by_m))


def gauge_words(leg: Row, shown: Shown) -> str:
    """The application pressure of a snub and the one that means fade, as far as the plan gives them; nothing on
    a leg without regular snubs."""
    normal, fade = leg.get("application_pressure_kpa"), leg.get("fade_pressure_kpa")
    if normal is None or not snubs_regularly(leg):
        return ""
    if fade is None:
        return shown.words("gauge.normal", normal=shown.pressure(normal))
    return shown.words("gauge.pair", normal=shown.pressure(normal), fade=shown.pressure(fade))


def brief_snub_words(leg: Row, trip: Trip, shown: Shown) -> str:
    """The snub pattern as "30 to 25, about 3 s; every 31-47 s"; without a rhythm the same words as ever."""
    snubs = leg.get("snubs")
    if not snubs or not snubs_regularly(leg):
        return snub_words(leg, trip, shown)
    low, high = _interval(snubs)
    return shown.words(
        "brief.snub",
        start=shown.speed_number(snubs["from_mps"]),
        end=shown.speed_number(snubs["to_mps"]),
        duration=shown.seconds(snubs.get("duration_s") or 0.0),
        interval=shown.between_times(low, high),
    )


def brief_gauge_words(leg: Row, shown: Shown) -> str:
    """The gauge's two readings as "gauge 25 psi, fade 34 psi"; nothing where the plan gives none."""
    normal, fade = leg.get("application_pressure_kpa"), leg.get("fade_pressure_kpa")
    if normal is None or fade is None or not snubs_regularly(leg):
        return gauge_words(leg, shown)
    return shown.words("brief.gauge", normal=shown.pressure(normal), fade=shown.pressure(fade))


def steep_words(trip: Trip, leg: Row, shown: Shown) -> str:
    """A leg's mean grade and its steepest 300 m."""
    mean = trip.road.mean_grade(leg["start_m"], leg["end_m"])
    steepest = trip.road.steepest_down(leg["start_m"], leg["end_m"])
    key = "steep.level" if abs(mean) < _LEVEL else "steep.down" if mean < 0 else "steep.up"
    return shown.words(key, mean=shown.grade(mean), steepest=shown.grade(min(steepest, 0.0)))


def slower_words(leg: Row, trip: Trip, shown: Shown) -> str:
    """Where on a leg signs or curves ask for less than the control speed; empty when nowhere."""
    found = [
        shown.words("slower.listed", speed=one.speed, why=one.why) for one in lower_speeds(leg, trip, shown)
    ]
    return " ".join(found)


def _is_off(stage: object) -> bool:
    return stage is None or stage == 0 or stage == "0" or stage == ""


def _held_below(leg: Row) -> bool:
    """Whether gear and retarder stage alone hold the vehicle below the control speed, without regular snubs."""
    balance: float | None = leg.get("balance_speed_mps")
    return balance is not None and not snubs_regularly(leg) and balance < leg["control_speed_mps"] - 0.2


def _one_snub(snubs: Row, shown: Shown) -> str:
    told = float(snubs.get("duration_s") or 0.0) >= _SHORTEST_TOLD_S
    return shown.words(
        "snub.one" if told else "snub.one_short",
        start=shown.speed_number(snubs["from_mps"]),
        end=shown.speed_number(snubs["to_mps"]),
        duration=shown.seconds(snubs.get("duration_s") or 0.0),
    )


def _rhythm(snubs: Row, shown: Shown) -> str:
    low, high = _interval(snubs)
    known = snubs.get("interval_low_s") is not None and snubs.get("interval_high_s") is not None
    return shown.words("snub.every" if known else "snub.about", interval=shown.between_times(low, high))


def _interval(snubs: Row) -> tuple[float, float]:
    """Least and greatest usual time from snub to snub [s]; both the middle where no range is known."""
    low, high = snubs.get("interval_low_s"), snubs.get("interval_high_s")
    if low is None or high is None:
        return float(snubs["interval_s"]), float(snubs["interval_s"])
    return float(low), float(high)
