# SPDX-License-Identifier: MIT
"""The ten-minute script: questions for the class, each answer filled in from the computed document."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from descent.report.lesson_tell import Key, Teller


@dataclass(frozen=True)
class Question:
    """One question: its minutes, its words, and the choices A and B that show it."""

    minutes: int
    title: str
    ask: str
    answer: Sequence[str]
    a: Key
    b: Key


def questions(tell: Teller) -> tuple[Question, ...]:
    """The script, ten minutes in all. A question that a vehicle cannot be asked (no retarder on) leaves its time to another."""
    with_retarder = tell.document["basis_stage"] > 0
    found = [_energy(tell), _choose(tell), _one_higher(tell), _slow(tell)]
    if with_retarder:
        found.append(_retarder(tell))
    found += [_weight(tell), _runaway(tell, minutes=2 if with_retarder else 3)]
    ramp = _ramp(tell)
    found += [ramp] if ramp is not None else []
    found.append(_signs(tell, minutes=1 if ramp is not None else 2))
    return tuple(found)


def _question(tell: Teller, name: str, minutes: int, ask: str, answer: Sequence[str], a: Key, b: Key) -> Question:
    return Question(minutes, tell.say(f"q.{name}.title"), ask, answer, a, b)


def _energy(tell: Teller) -> Question:
    a, b = tell.preset("right-gear"), tell.preset("too-high")
    row, high = tell.outcomes[a], tell.outcomes[b]
    hill = tell.document["hill"]
    answer = tell.say("q.energy.answer", gear=tell.gear(a), passive=tell.share(row, "rolling_j", "air_j"),
                      held=tell.share(row, "engine_j", "retarder_j"), brakes=tell.share(row, "brakes_j"),
                      high=tell.gear(b), brakes_high=tell.share(high, "brakes_j"))
    drop = tell.shown.height(-hill["mean_grade"] * hill["length_m"])
    return _question(tell, "energy", 1, tell.say("q.energy.ask", drop=drop), [answer], a, b)


def _choose(tell: Teller) -> Question:
    a, b = tell.preset("right-gear"), tell.preset("one-too-high")
    row = tell.outcomes[a]
    key = "q.choose.answer" if tell.document["right_gear"] is not None else "q.choose.none"
    answer = tell.say(key, gear=tell.gear(a), speed=tell.speed(a), hottest=tell.shown.hot(row["peak_temp_c"]),
                      emergency=tell.emergency(row), limit=tell.limit)
    return _question(tell, "choose", 1, tell.say("q.choose.ask"), [answer], a, b)


def _one_higher(tell: Teller) -> Question:
    a, b = tell.preset("right-gear"), tell.preset("one-too-high")
    right, one = tell.outcomes[a], tell.outcomes[b]
    values = {"one": tell.shown.hot(one["peak_temp_c"]), "right": tell.shown.hot(right["peak_temp_c"]),
              "emergency": tell.emergency(one)}
    where = "" if one["story"]["limit_m"] is None else tell.where(one["story"]["limit_m"])
    case = "under" if one["state"] == "holds" else "over" if right["state"] == "holds" else "neither"
    ask = tell.say("q.one.ask", from_speed=tell.speed(a), to_speed=tell.speed(b))
    return _question(tell, "one", 1, ask, [tell.say(f"q.one.{case}", where=where, **values)], a, b)


def _slow(tell: Teller) -> Question:
    a, b = tell.preset("right-gear"), tell.preset("drag-all-the-way")
    row = tell.outcomes[b]
    answer = tell.say("q.slow.answer", gear=tell.gear(b), speed=tell.speed(b), hottest=tell.shown.hot(row["peak_temp_c"]),
                      right_speed=tell.speed(a), right=tell.shown.hot(tell.outcomes[a]["peak_temp_c"]),
                      pressure=tell.shown.pressure(row["cold_kpa"]))
    drag = (*a[:3], tell.document["axes"]["braking"].index("drag"), *a[4:])
    alike = tell.say("q.slow.alike", gear=tell.gear(a), speed=tell.speed(a), right=tell.shown.hot(tell.outcomes[a]["peak_temp_c"]),
                     dragged=tell.shown.hot(tell.outcomes[drag]["peak_temp_c"]))
    return _question(tell, "slow", 1, tell.say("q.slow.ask", speed=tell.speed(b)), [answer, alike], a, b)


def _retarder(tell: Teller) -> Question:
    a = tell.preset("right-gear")
    b = (a[0], 0, *a[2:])
    off = tell.outcomes[b]
    if off["state"] == "holds":
        verdict = tell.say("q.retarder.under")
    else:
        verdict = tell.say("q.retarder.over", where=tell.where(off["story"]["limit_m"]))
    answer = tell.say("q.retarder.answer", off=tell.shown.hot(off["peak_temp_c"]),
                      on=tell.shown.hot(tell.outcomes[a]["peak_temp_c"]), verdict=verdict)
    return _question(tell, "retarder", 1, tell.say("q.retarder.ask"), [answer], a, b)


def _weight(tell: Teller) -> Question:
    a = tell.preset("one-too-high")
    b = (*a[:5], 0)
    light, heavy = tell.outcomes[b], tell.outcomes[a]
    case = "under" if light["state"] == "holds" else "over"
    answer = tell.say(f"q.weight.{case}", temp_light=tell.shown.hot(light["peak_temp_c"]),
                      temp_heavy=tell.shown.hot(heavy["peak_temp_c"]))
    return _question(tell, "weight", 1, tell.say("q.weight.ask", light=tell.weight(b), heavy=tell.weight(a)), [answer], a, b)


def _runaway(tell: Teller, *, minutes: int) -> Question:
    a, b = tell.preset("too-high"), tell.preset("everything-wrong")
    row = tell.outcomes[b]
    story, end_m = row["story"], tell.document["hill"]["station_m"][-1]
    if story["stop_earliest_m"] >= end_m:
        answer = [tell.say("q.runaway.not_here", hottest=tell.shown.hot(row["peak_temp_c"]))]
    else:
        answer = [tell.say("q.runaway.answer", first=tell.where(story["stop_earliest_m"]), speed=tell.speed(b))]
        left = story["left_worst_m"] if story["left_m"] is None else min(story["left_m"], story["left_worst_m"] or end_m)
        if left is None:
            answer.append(tell.say("q.runaway.held"))
        else:
            gap = tell.shown.distance(max(left - story["stop_earliest_m"], 0.0))
            answer.append(tell.say("q.runaway.left", where=tell.where(left), gap=gap))
        last = tell.say("q.runaway.all_the_way")
        if story["stop_latest_m"] < end_m:
            last = tell.say("q.runaway.until", last=tell.where(story["stop_latest_m"]))
        answer.append(tell.say("q.runaway.range", last=last))
    return _question(tell, "runaway", minutes, tell.say("q.runaway.ask", gear=tell.gear(b), speed=tell.speed(b)), answer, a,
                     b)


def _ramp(tell: Teller) -> Question | None:
    a, b = tell.preset("too-high"), tell.preset("everything-wrong")
    story = tell.outcomes[b]["story"]
    if story["foot_free_mps"] is None:
        return None
    return _question(tell, "ramp", 1, tell.say("q.ramp.ask"), tell.foot(story), a, b)


def _signs(tell: Teller, *, minutes: int) -> Question:
    a, b = tell.preset("right-gear"), tell.preset("one-too-high")
    row = tell.outcomes[b]
    if row["peak_kpa"] > 0.0:
        answer = tell.say("q.signs.answer", cold=tell.shown.pressure(row["cold_kpa"]),
                          fade=tell.shown.pressure(row["fade_kpa"]))
    else:
        answer = tell.say("q.signs.no_brake")
    return _question(tell, "signs", minutes, tell.say("q.signs.ask"), [answer], a, b)
