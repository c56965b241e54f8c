# SPDX-License-Identifier: MIT
"""What a lesson's outcomes say in words: places counted from the crest, the story of a descent, shares of energy."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from descent.report.shown import Shown
from descent.report.words import Words

Key = tuple[int, ...]
Row = Mapping[str, Any]
SINKS = ("rolling_j", "air_j", "engine_j", "retarder_j", "brakes_j")


@dataclass(frozen=True)
class Teller:
    """A lesson document with the words and units it is told in; outcomes by grid point."""

    document: Mapping[str, Any]
    outcomes: Mapping[Key, Row]
    shown: Shown
    say: Words

    def preset(self, name: str) -> Key:
        """The grid point of a preset."""
        return next(tuple(item["at"]) for item in self.document["presets"] if item["name"] == name)

    def of(self, name: str) -> Row:
        """The outcome of a preset."""
        return self.outcomes[self.preset(name)]

    def gear(self, key: Key) -> str:
        """The name of a grid point's gear."""
        return str(self.document["vehicle"]["gears"][key[0]]["name"])

    def speed(self, key: Key) -> str:
        """The control speed of a grid point."""
        return self.shown.speed(self.document["axes"]["speed_mps"][key[0]][key[4]])

    def weight(self, key: Key) -> str:
        """The weight of a grid point."""
        return self.shown.mass(self.document["axes"]["gross_kg"][key[5]])

    def stage(self, index: int) -> str:
        """A retarder stage in words."""
        if index == 0:
            return self.say("play.off")
        return self.say("play.stage_name", name=self.document["vehicle"]["stages"][index - 1])

    @property
    def limit(self) -> str:
        """The limit of the brakes."""
        return self.shown.temperature(self.document["limits"]["brake_temp_c"])

    def emergency(self, row: Row) -> str:
        """The hottest brake with one emergency stop on top."""
        value = row["with_stop_temp_c"]
        return self.say("gears.no_stop") if value is None else self.shown.hot(value)

    def where(self, station_m: float) -> str:
        """A place counted from the crest: "3.2 mi from the crest"."""
        hill = self.document["hill"]
        if station_m > hill["foot_m"] + 1.0:
            return self.say("where.foot")
        if station_m <= hill["crest_m"] + 0.05 * self.shown.units.distance[1]:
            return self.say("where.crest")
        return self.say("where.below", distance=self.shown.distance(station_m - hill["crest_m"]))

    def plain_where(self, station_m: float) -> str:
        """A place as it begins a line."""
        text = self.where(station_m)
        return text[:1].upper() + text[1:]

    def share(self, row: Row, *names: str) -> str:
        """The share of some sinks in all that was turned to heat."""
        energy = row["energy"]
        return self.shown.percent(sum(energy[name] for name in names) / sum(energy[name] for name in SINKS), 0)

    def speed_shown(self, speed_mps: float) -> str:
        """A speed that was reached, rounded up past a hair."""
        symbol, size = self.shown.units.speed
        return self.shown.unit(symbol, self.shown.number(math.ceil(speed_mps / size - 0.05)))

    def ramp(self, length_m: float) -> str:
        """A length of ramp, rounded up: to 50 ft, 10 m."""
        symbol, size = self.shown.units.short
        step = 50.0 if symbol == "ft" else 10.0
        return self.shown.unit(symbol, self.shown.number(math.ceil(length_m / size / step - 1e-6) * step))

    def story(self, key: Key) -> list[str]:
        """The story of a grid point, one sentence per event, in the order of the road."""
        row = self.outcomes[key]
        if row["state"] == "holds":
            return [self.say("story.fine")]
        story, end_m = row["story"], self.document["hill"]["station_m"][-1]
        control = self.speed(key)
        events: list[tuple[float, str]] = []
        for name in ("limit_m", "fade_m", "full_m", "governed_m"):
            if story[name] is not None:
                events.append((story[name], self.say(
                    f"story.{name[:-2]}", where=self.plain_where(story[name]), limit=self.limit, speed=control,
                    pressure=self.shown.pressure(self.document["limits"]["application_kpa"]))))
        tail = [self.say("story.hot_only")]
        if row["state"] != "hot":
            tail = []
            if story["stop_earliest_m"] < end_m:
                events.append((story["stop_earliest_m"], self._last_stop(story, end_m)))
            events += self._left(story, end_m)
            if story["left_m"] is None and story["left_worst_m"] is None:
                tail.append(self.say("story.held"))
            if story["foot_free_mps"] is not None:
                tail += self.foot(story)
        return [text for _, text in sorted(events, key=lambda item: item[0])] + tail

    def foot(self, story: Row) -> list[str]:
        """Speed at the foot and the ramp it would need."""
        return [self.say("story.foot", speed=self.speed_shown(story["foot_mps"]),
                         worst=self.speed_shown(story["foot_worst_mps"]), free=self.speed_shown(story["foot_free_mps"])),
                self.say("story.ramp", low=self.ramp(story["ramp_low_m"]), high=self.ramp(story["ramp_high_m"]),
                         up=self.ramp(story["ramp_up_m"]))]

    def _last_stop(self, story: Row, end_m: float) -> str:
        drawn = self.say("story.drawn_all")
        if story["stop_assumed_m"] < end_m:
            drawn = self.say("story.drawn_at", where=self.where(story["stop_assumed_m"]))
        kind = "stop_some" if story["stop_latest_m"] >= end_m else "stop_range"
        return self.say(f"story.{kind}", first=self.plain_where(story["stop_earliest_m"]),
                        last=self.where(story["stop_latest_m"]), drawn=drawn)

    def _left(self, story: Row, end_m: float) -> list[tuple[float, str]]:
        found = []
        if story["left_m"] is not None:
            gap = self.shown.distance(max(story["left_m"] - story["stop_assumed_m"], 0.0))
            found.append((story["left_m"], self.say("story.left", where=self.plain_where(story["left_m"]), gap=gap,
                                                    worst=self.say("story.gap_drawn"))))
        elif story["left_worst_m"] is not None:
            gap = self.shown.distance(max(story["left_worst_m"] - story["stop_earliest_m"], 0.0))
            found.append((story["left_worst_m"], self.say("story.left_worst", gap=gap,
                                                          where=self.plain_where(story["left_worst_m"]))))
        return found
