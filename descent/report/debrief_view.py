# SPDX-License-Identifier: MIT
"""A debrief document in words and tables: verdict, facts, departures, legs, stops, axles, doubts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from descent.report.shown import Shown
from descent.report.table import Cell, Table, make_table
from descent.units import UnitSystem

Document = Mapping[str, Any]
MOST_EVENTS = 8


@dataclass(frozen=True)
class DebriefFact:
    """A number to remember, with a small line under it."""

    name: str
    value: str
    note: str


def band_words(band: Document, shown: Shown) -> str:
    """A band of temperatures: "180 °C to 210 °C", low rounded down, high rounded up."""
    return shown.words("debrief.band", low=shown.temperature(shown_low(band["low"], shown)),
                       high=shown.hot(band["high"]))


def shown_low(temp_c: float, shown: Shown) -> float:
    """A temperature that, shown, is rounded down."""
    one = shown.units.temperature(1.0) - shown.units.temperature(0.0)
    value = np.floor(shown.units.temperature(temp_c) + 1e-6)
    return float((value - shown.units.temperature(0.0)) / one)


def more_heat(cost_c: float | None, shown: Shown) -> str:
    """A difference of temperature with its sign, to the nearest degree."""
    if cost_c is None:
        return shown.words("none")
    degrees = shown.units.temperature(cost_c) - shown.units.temperature(0.0)
    return _signed(degrees, shown.unit(shown.units.temperature_symbol, shown.number(abs(degrees))), shown)


def more_time(cost_s: float | None, shown: Shown) -> str:
    """A difference of time with its sign: seconds under two minutes."""
    if cost_s is None:
        return shown.words("none")
    size = abs(cost_s)
    text = shown.words("time.seconds", seconds=round(size)) if size < 119.5 \
        else shown.words("time.minutes", minutes=shown.number(size / 60.0))
    return _signed(cost_s, text, shown)


def _signed(value: float, text: str, shown: Shown) -> str:
    if abs(value) < 0.5:
        return shown.words("debrief.same")
    return shown.words("debrief.more" if value > 0 else "debrief.less", value=text)


def minutes_words(minutes: float, shown: Shown) -> str:
    """Minutes stood, to the nearest."""
    return shown.words("time.minutes", minutes=shown.number(minutes))


def tone(document: Document) -> str:
    """One of "inside", "doubtful" or "over": where the band of the margin lies."""
    margin = document["margin_c"]
    return "over" if margin["value"] < 0.0 else "doubtful" if margin["low"] < 0.0 else "inside"


def places_left(document: Document) -> int:
    """In how many places the plan was left; stretches that overlap are one."""
    count, end = 0, -1.0
    for item in sorted(document["departures"], key=lambda item: item["start_m"]):
        count += item["start_m"] > end
        end = max(end, item["end_m"])
    return count


def headline(document: Document, shown: Shown) -> str:
    """The answer in a few words."""
    passed = hottest_axle(document)["peak_c"]["value"] > document["limits"]["brake_temp_c"]
    found = tone(document)
    if found == "over" and document["margin_c"]["high"] >= 0.0:
        found = "likely"                                    # the band reaches back under the limit
    return shown.words("debrief.verdict.passed" if passed else f"debrief.verdict.{found}")


def hottest_axle(document: Document) -> Document:
    """The axle group that got hottest."""
    return next(axle for axle in document["axles"] if axle["name"] == document["hottest_axle"])


def verdict_sentences(document: Document, shown: Shown) -> tuple[str, ...]:
    """Two or three plain sentences: how hot, how the plan was kept."""
    words, axle = shown.words, hottest_axle(document)
    peak = axle["peak_c"]
    found = [words("debrief.verdict.with_stop", hot=shown.hot(peak["value"]), axle=words.said(axle["name"]),
                   low=shown.temperature(shown_low(peak["low"], shown)), high=shown.hot(peak["high"]),
                   limit=shown.temperature(document["limits"]["brake_temp_c"]))]
    if document["margin_c"]["low"] < 0.0 < document["margin_in_gear_c"]["low"]:
        found.append(words("debrief.verdict.only_in_gear"))
    gear_known = document["recording"]["has_engine_speed"]
    if not document["has_plan"]:
        return (*found, words("debrief.no_plan"))
    count = places_left(document)
    if count == 0:
        found.append(words("debrief.verdict.plan_kept" if gear_known else "debrief.verdict.plan_kept_gear_unknown"))
    elif count == 1:
        found.append(words("debrief.verdict.plan_left_one"))
    else:
        found.append(words("debrief.verdict.plan_left", count=count))
    return tuple(found)


def debrief_facts(document: Document, shown: Shown) -> tuple[DebriefFact, ...]:
    """The numbers to remember."""
    words, axle, energy = shown.words, hottest_axle(document), document["energy"]
    peak, margin = axle["peak_c"], document["margin_c"]
    found = [DebriefFact(words("debrief.fact.hottest"), shown.hot(peak["value"]), words(
        "debrief.fact.hottest_note", low=shown.temperature(shown_low(peak["low"], shown)), high=shown.hot(peak["high"]),
        axle=words.said(axle["name"])))]
    if axle["planned_peak_c"] is not None:
        found.append(DebriefFact(words("debrief.fact.planned"), shown.hot(axle["planned_peak_c"]),
                                 words("debrief.fact.planned_note")))
    found.append(DebriefFact(words("debrief.fact.margin"), _margin(margin["value"], shown), words(
        "debrief.fact.margin_note", low=_margin(margin["low"], shown), high=_margin(margin["high"], shown))))
    planned = document["planned_time_s"]
    found.append(DebriefFact(words("debrief.fact.time"), shown.minutes(document["time_s"]),
                             "" if planned is None else words("debrief.fact.time_note", planned=shown.minutes(planned))))
    whole, brakes = energy["planned_brakes_j"], energy["brakes_j"]
    if whole:
        found.append(DebriefFact(words("debrief.fact.energy"), words(
            "debrief.fact.energy_value", share=shown.percent(brakes["value"] / whole, 0)), words(
            "debrief.fact.energy_note", low=shown.percent(brakes["low"] / whole, 0),
            high=shown.percent(brakes["high"] / whole, 0))))
    return tuple(found)


def _margin(margin_c: float, shown: Shown) -> str:
    """A distance to the limit, rounded down; negative when it was passed."""
    return shown.margin(margin_c).replace("-", "\u2212")


def departures_table(document: Document, shown: Shown) -> Table:
    """Where the plan was left and what that cost."""
    rows = [(Cell(shown.span(item["start_m"], item["end_m"])), Cell(departure_words(item, shown)),
             Cell(more_time(item["cost_s"], shown)), Cell(more_heat(item["cost_c"], shown),
                                                          style="alarm" if (item["cost_c"] or 0.0) >= 5.0 else ""))
            for item in document["departures"]]
    return make_table("departures", ("where", "what", "time", "heat"), rows, shown)


def departure_words(item: Document, shown: Shown) -> str:
    """One departure as a phrase."""
    words = shown.words
    values = {
        "place": item.get("place") or words("debrief.departure.place_unknown"), "leg": f"{item.get('leg', 0):.0f}",
        "gear": item.get("gear", ""), "planned": item.get("planned", ""), "real": "", "top": "", "control": ""}
    if "top_speed_mps" in item:
        values |= {"top": shown.speed_up(item["top_speed_mps"]), "control": shown.speed(item["control_speed_mps"])}
    if item["kind"].startswith("stop-"):
        values["real"] = minutes_words(item.get("real", 0.0), shown)
        if "planned" in item:
            values["planned"] = minutes_words(item["planned"], shown)
    return words(f"debrief.departure.{item['kind']}", **values)


def next_time(document: Document, shown: Shown) -> tuple[str, ...]:
    """One sentence for the driver per kind of departure."""
    kinds = dict.fromkeys(item["kind"] for item in document["departures"])
    return tuple(shown.words(f"debrief.next.{kind}") for kind in kinds)


def well_words(document: Document, shown: Shown) -> tuple[str, ...]:
    """What went well, as sentences."""
    words, found = shown.words, []
    for item in document["well"]:
        kind = item["kind"]
        if kind == "control-kept":
            kind = "control-kept-all" if item["all"] else "control-kept" if item["count"] == 1 else "control-kept-many"
        found.append(words(
            f"debrief.well.{kind}", place=item.get("place") or shown.at(item.get("station_m", 0.0)),
            minutes=minutes_words(item.get("minutes", 0.0), shown), legs=item.get("legs", ""),
            margin=shown.margin(item.get("margin_k", 0.0))))
    return tuple(found) or (words("debrief.well.nothing"),)


def legs_table(document: Document, shown: Shown) -> Table:
    """The legs as driven with the plan beside them."""
    words, rows = shown.words, []
    known = document["recording"]["has_engine_speed"]
    us = shown.units.system is UnitSystem.US
    for leg in document["legs"]:
        count, work, planned = leg["applications"], leg["brake_energy_j"], leg["planned_brake_energy_j"]
        share = shown.percent(work["value"] / planned, 0) if planned > 1e5 else ""
        of_plan = words("debrief.cell.of_plan", share=share) if share else ""
        rows.append((
            Cell(str(leg["number"]), shown.span(leg["start_m"], leg["end_m"]), "leg"),
            Cell(", ".join(map(words.said, leg["gears"])) if leg["gears"] else words("debrief.cell.gear_not_known") if not known
                 else words("none"), words("debrief.cell.planned", value=leg["planned_gear"])),
            Cell(shown.speed_up(leg["top_speed_mps"]),
                 words("debrief.cell.control", value=shown.speed(leg["control_speed_mps"]))),
            Cell(shown.percent(leg["share_over_control"], 0),
                 style="alarm" if leg["share_over_control"] >= 0.03 else ""),
            Cell(_times(count, shown)),
            Cell(of_plan or words("none")) if us else Cell(shown.energy(work["value"]), of_plan),
            Cell(shown.hot(leg["peak_c"]["value"]), words("debrief.cell.planned", value=shown.hot(leg["planned_peak_c"]))),
            Cell(shown.minutes(leg["time_s"]), words("debrief.cell.planned", value=shown.minutes(leg["planned_time_s"])))))
    return make_table("driven_legs", ("leg", "gear", "speed", "over", "brakes", "energy", "hottest", "time"), rows, shown)


def _times(count: int | None, shown: Shown) -> str:
    if count is None:
        return shown.words("debrief.cell.not_told")
    key = "never" if count == 0 else "once" if count == 1 else "times"
    return shown.words(f"debrief.cell.{key}", count=count)


def stops_table(document: Document, shown: Shown) -> Table:
    """Stops planned and made."""
    words, rows = shown.words, []
    for stop in document["stops"]:
        planned = stop["planned_minutes"]
        heat = words("stop_heat", arrive=shown.hot(stop["arrive_temp_c"]), leave=shown.hot(stop["leave_temp_c"]))
        rows.append((
            Cell(stop["place"] or words("debrief.departure.place_unknown"), shown.at(stop["station_m"])),
            Cell(words.one_of("debrief.stop", stop["kind"])),
            Cell(words("none") if planned is None else minutes_words(planned, shown)),
            Cell(words("none") if stop["outcome"] == "unseen" else minutes_words(stop["real_minutes"], shown)),
            Cell(words(f"debrief.outcome.{stop['outcome']}"),
                 style="alarm" if stop["outcome"] in ("missed", "short") else ""),
            Cell(shown.hot(stop["arrive_temp_c"]) if stop["outcome"] in ("missed", "unseen") else heat)))
    return make_table("driven_stops", ("where", "what", "planned", "real", "outcome", "heat"), rows, shown)


def axles_table(document: Document, shown: Shown) -> Table:
    """How hot each axle group got."""
    words, known = shown.words, document["recording"]["has_engine_speed"]
    columns = ("axle", "hottest", "band", "in_gear", "where", "planned")
    rows = []
    for axle in document["axles"]:
        planned = axle["planned_peak_c"]
        cells = [Cell(words.said(axle["name"])), Cell(shown.hot(axle["peak_c"]["value"]), style="strong"),
                 Cell(band_words(axle["peak_c"], shown)), Cell(band_words(axle["peak_in_gear_c"], shown)),
                 Cell(shown.at(axle["peak_station_m"])), Cell(words("none") if planned is None else shown.hot(planned))]
        rows.append(tuple(cell for cell, name in zip(cells, columns, strict=True) if not (known and name == "in_gear")))
    return make_table("driven_axles", tuple(name for name in columns if not (known and name == "in_gear")), rows, shown)


def event_words(document: Document, shown: Shown) -> tuple[str, ...]:
    """What befell the recording, the longest first kept, in the order of the road."""
    words, events = shown.words, document["recording"]["events"]
    told = sorted(sorted(events, key=lambda item: -abs(item["seconds"]))[:MOST_EVENTS], key=lambda item: item["time_s"])
    found = []
    for item in told:
        kind = item["kind"]
        if kind == "clock-jump":
            kind = "clock-jump-forward" if item["seconds"] > 0 else "clock-jump-back"
        found.append(words(f"debrief.event.{kind}", at=shown.at(item["station_m"]), seconds=_lasting(item["seconds"], shown)))
    if len(events) > len(told):
        found.append(words("debrief.event.rest", count=len(events) - len(told)))
    return tuple(found)


def _lasting(seconds: float, shown: Shown) -> str:
    size = abs(seconds)
    return shown.seconds(size) if size < 119.5 else minutes_words(size / 60.0, shown) if size < 7200 else shown.minutes(size)


def sure_words(document: Document, shown: Shown) -> tuple[str, ...]:
    """How sure the figures are, and what they rest on."""
    words, recording, conditions = shown.words, document["recording"], document["conditions"]
    series = document["series"]
    moving = [sd for sd, still in zip(series["speed_sd_mps"], series["standing"], strict=True) if not still]
    sd = float(np.median(moving)) * 1.645 if moving else 0.0
    symbol, unit = shown.units.speed
    close = shown.unit(symbol, shown.number(sd / unit, 1))
    found = [words("debrief.sure.used", used=shown.number(recording["points_used"]), points=shown.number(recording["points"])),
             words("debrief.sure.speed_column" if recording["has_speed"] else "debrief.sure.speed_positions", sd=close)]
    if recording["has_engine_speed"]:
        found.append(words("debrief.sure.gear_known"))
    elif document["has_plan"]:
        band = hottest_axle(document)["peak_in_gear_c"]
        found.append(words("debrief.sure.gear_assumed", low=shown.temperature(shown_low(band["low"], shown)),
                           high=shown.hot(band["high"])))
    if document["has_plan"]:
        found.append(words("debrief.sure.retarder"))
    found += [words("debrief.sure.balance"), words("debrief.sure.band", draws=conditions["draws"]),
              words("debrief.sure.start", start=shown.temperature(conditions["start_temp_c"]),
                    air=shown.temperature(conditions["air_temp_c"]))]
    if document["has_plan"]:
        found += [words("debrief.sure.plan_basis"), words("debrief.sure.cost")]
    return (*found, *(note[0].upper() + note[1:] + "." for note in map(words.said, recording["notes"])), *event_words(document, shown))
