# SPDX-License-Identifier: MIT
"""A plan's reasons, changes, assumptions and cautions as sentences in the reader's units."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from descent.plan.model import Alternative, DescentPlan, Reason, Task
from descent.report.shown import marked
from descent.report.vehicle_assumptions import assumed_values
from descent.report.words import Words, words_of
from descent.units import DisplayUnits, UnitSystem


def plan_words(language: str) -> Words:
    """The wording of `plan_words_<language>.toml` and `doubt_words_<language>.toml`."""
    return words_of(language, "plan_words", "doubt_words")


class Sentences:
    """Sentences of one plan in one language and unit system."""

    def __init__(self, task: Task, words: Words, units: DisplayUnits) -> None:
        self._task, self._words, self._units = task, words, units

    def number(self, text: str) -> str:
        """A number written with a decimal point and commas, with the reader's marks."""
        return marked(text, self._words, self._units.system)

    def speed(self, value_mps: float) -> str:
        """A speed in whole units."""
        return f"{value_mps / self._units.speed[1]:.0f} {self._units.speed[0]}"

    def place(self, station_m: float) -> str:
        """A distance from the start."""
        symbol, size = self._units.distance
        return f"{symbol} {self.number(f'{station_m / size:.1f}')}"

    def temperature(self, value_c: float) -> str:
        """A temperature, rounded."""
        return f"{self._units.temperature(value_c):.0f} {self._units.temperature_symbol}"

    def kelvin(self, value_k: float) -> str:
        """A temperature difference, rounded up: it is always a warning."""
        scale = 1.8 if self._units.system is UnitSystem.US else 1.0
        return f"{max(1, -int(-value_k * scale // 1))} {self._units.temperature_symbol}"

    def weight(self, value_kg: float) -> str:
        """A weight in pounds (to the hundred, down) or tonnes."""
        if self._units.system is UnitSystem.US:
            return f"{self.number(f'{value_kg / self._units.mass[1] // 100 * 100:,.0f}')} lb"
        return f"{self.number(f'{value_kg / 1000:.2f}')} t"

    def way(self, length_m: float) -> str:
        """A length along the road."""
        symbol, size = self._units.distance
        return f"{self.number(f'{length_m / size:.1f}')} {symbol}"

    def pressure(self, value_kpa: float) -> str:
        """A pressure in whole units."""
        return f"{value_kpa / self._units.pressure[1]:.0f} {self._units.pressure[0]}"

    @property
    def words(self) -> Words:
        """The wording."""
        return self._words

    def share(self, value: float) -> str:
        """A chance in per cent, to two figures."""
        return f"{self.number(f'{100 * value:.2g}')} %"

    def reason(self, reason: Reason, group: str) -> str:
        """One reason ("reason") or verdict ("verdict") as a sentence."""
        values = reason.values
        filled: dict[str, object] = {
            "text": self._words.said(values.get("text", "")), "repairs": self._words.said(values.get("repairs", "")),
            "axle": self._words.said(values.get("axle", "")),
            "downgrade": f"{float(values.get('downgrade', 0)):.0f}"}
        for key, name in (("gross_kg", "gross"), ("rated_kg", "rated")):
            if key in values:
                filled[name] = self.weight(float(values[key]))
        for key, name, make in (("station_m", "where", self.place), ("temp_c", "temp", self.temperature),
                                ("rise_k", "rise", self.kelvin), ("limit_c", "limit", self.temperature),
                                ("control_mps", "speed", self.speed), ("min_speed_mps", "min_speed", self.speed),
                                ("excess_k", "excess", self.kelvin), ("arrive_kpa", "arrive", self.pressure),
                                ("leave_kpa", "leave", self.pressure)):
            if key in values:
                filled[name] = make(float(values[key]))
        for key in ("accepted", "nominal", "upper"):
            if key in values:
                filled[key] = self.share(float(values[key]))
        for key in ("draws", "fading"):
            if key in values:
                filled[key] = self.number(f"{float(values[key]):,.0f}")
        if "minutes" in values:
            filled["minutes"] = f"{float(values['minutes']):.0f}"
        if "gear" in values:
            filled["gear"] = self._task.vehicle.gearbox.names[int(values["gear"])]
        return self._words(f"{group}.{reason.kind}", **filled)

    def alternative(self, item: Alternative) -> dict[str, str]:
        """A change and its effect."""
        values = item.values
        if item.kind == "weight":
            change_kg = float(values["change_kg"])
            change = self._words("change.weight-less" if change_kg < 0 else "change.weight-more",
                                 weight=self.weight(abs(change_kg)))
        else:
            change = self._words(f"change.{item.kind}", weight=self.weight(float(values.get("gross_kg", 0.0))), accepted=self.share(float(values.get("accepted", 0.0))), speed=self.speed(float(values.get("min_speed_mps", 0.0))))
        return {"change": change, "effect": self._effect(item)}

    def _effect(self, item: Alternative) -> str:
        values = item.values
        if item.kind in ("dry-road", "repair", "accept"):
            return self._words(f"effect.{item.kind}")
        if "total_time_s" in values:
            return self._words("effect.holds", minutes=f"{float(values['total_time_s']) / 60:.0f}")
        if "change_s" not in values:
            return self._words("effect.nothing-holds")
        minutes = float(values["change_s"]) / 60
        kind = "same" if abs(minutes) < 0.5 else "saves" if minutes < 0 else "costs"
        return self._words(f"effect.{kind}", minutes=f"{abs(minutes):.0f}")

    def assumptions(self, plan: DescentPlan, surface: str) -> list[str]:
        """Every default and assumption this plan rests on."""
        task, words = self._task, self._words
        unknown = 100 * float((~task.posted_known).mean())
        found = [words("assumption.min_speed", speed=self.speed(task.rules.min_speed_mps)),
                 words("assumption.air", air=self.temperature(task.day.air_temp_c),
                       start=self.temperature(task.day.start_temp_c)),
                 words("assumption.surface", surface=words.said(surface), adhesion=self.number(f"{task.day.adhesion:g}"))]
        if unknown > 0:
            found.append(words("assumption.posted", speed=self.speed(task.rules.default_posted_mps), share=f"{unknown:.0f}"))
        found += [words("assumption.curve", threshold=self.number(f"{task.vehicle.rollover_threshold_g:g}"),
                        share=f"{100 * task.vehicle.load.curve_share:.0f}"), words("assumption.steep"),
                  words("assumption.altitude"), words("assumption.parked", share=f"{100 * task.driving.parked_cooling_fraction:.0f}"),
                  words("assumption.snub", drop=self.speed(task.driving.snub_drop_mps))]
        found += [words("assumption.heights", text=words.said(text).rstrip(".")) for text in task.profile.notes]
        found.append(words("assumption.lag"))
        if task.air is not None:
            found += [words("assumption.air_supply", text=words.said(text)) for text in task.air.assumptions]
        found += [words("assumption.read", text=words.said(text).rstrip(".")) for text in task.notes]
        return found + [words("assumption.vehicle", text=text)
                        for text in assumed_values(task.vehicle.assumptions, words)]

    def advice(self, reasons: Sequence[Reason]) -> list[dict[str, Any]]:
        """Advice for a cold or wet day: one row per piece and kind of place, with every place it is for."""
        rows: dict[tuple[object, object], dict[str, Any]] = {}
        for values in (reason.values for reason in reasons if reason.kind == "advice"):
            row = rows.setdefault((values["key"], values["where"]), {name: values[name] for name in ("key", "when", "where", "text", "short")}
                                  | {"at": []})
            row["at"].append({"station_m": float(values["station_m"]), "place": values["place"] or None})
        return list(rows.values())

    def cautions(self, advice: Sequence[dict[str, Any]]) -> list[str]:
        """The cautions every plan carries, and the advice for its day."""
        return [*self._words.lines("caution"), *(self._advised(row) for row in advice)]

    def _advised(self, row: dict[str, Any]) -> str:
        listed = ", ".join(self.place(at["station_m"]) + (f" {at['place']}" if at["place"] else "") for at in row["at"])
        return self._words(f"advice.{row['where']}", text=self._words.said(row["text"]), listed=listed)
