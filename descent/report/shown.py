# SPDX-License-Identifier: MIT
"""SI values as a reader sees them: display units, rounding toward caution, the language's number marks."""

from __future__ import annotations

import math
from dataclasses import dataclass

from descent.report.words import Words
from descent.units import DisplayUnits, UnitSystem, display_units

# A value this close above a step of rounding is that step: speeds and temperatures come from floats.
_HAIR = 1e-6
_SECONDS_UP_TO = 120


def marks(words: Words, system: UnitSystem) -> tuple[str, str]:
    """The marks of thousands and decimals: the language's, but those of US custom beside US units."""
    end = "_us" if system is UnitSystem.US else ""
    return words(f"number.thousands{end}"), words(f"number.decimal{end}")


def marked(text: str, words: Words, system: UnitSystem) -> str:
    """A number written with commas and a point, with the reader's marks."""
    thousands, decimal = marks(words, system)
    return text.translate({ord(","): thousands, ord("."): decimal})


@dataclass(frozen=True)
class Shown:
    """How one reader sees numbers."""

    units: DisplayUnits
    words: Words

    def number(self, value: float, decimals: int = 0) -> str:
        """A number with the language's marks; never "-0"."""
        rounded = round(value, decimals) + 0.0
        text = f"{rounded:,.{decimals}f}"
        return marked(text, self.words, self.units.system)

    def unit(self, symbol: str, value: str) -> str:
        """Number and unit with a no-break space."""
        return f"{value}\u00a0{symbol}"

    def distance(self, distance_m: float) -> str:
        """A long distance, one decimal: "4.2 mi"."""
        symbol, size = self.units.distance
        return self.unit(symbol, self.number(distance_m / size, 1))

    def distance_number(self, distance_m: float) -> str:
        """A long distance without its unit."""
        return self.number(distance_m / self.units.distance[1], 1)

    def at(self, station_m: float) -> str:
        """A place on the road as the trip meter shows it: "mi 4.2"."""
        return f"{self.units.distance[0]}\u00a0{self.distance_number(station_m)}"

    def before(self, station_m: float) -> str:
        """A place to be ready by, rounded up the road: never later than meant."""
        number = math.floor(station_m / self.units.distance[1] * 10.0 + 1e-3) / 10.0
        return f"{self.units.distance[0]}\u00a0{self.number(number, 1)}"

    def span(self, start_m: float, end_m: float) -> str:
        """A stretch of road: "mi 4.2-9.1"; a short one is where it starts."""
        start, end = self.distance_number(start_m), self.distance_number(end_m)
        return self.at(start_m) if start == end else f"{self.at(start_m)}\u2013{end}"

    def stretch(self, length_m: float) -> str:
        """A length of road: "1.2 mi", "300 ft" under a fifth of the long unit."""
        return self.short(length_m) if length_m < 0.2 * self.units.distance[1] else self.distance(length_m)

    def short(self, distance_m: float) -> str:
        """A short distance, rounded to two figures or so: "1,200 ft"."""
        symbol, size = self.units.short
        value = distance_m / size
        step = 100.0 if value >= 1000 else 50.0 if value >= 500 else 10.0
        return self.unit(symbol, self.number(round(value / step) * step))

    def room(self, length_m: float) -> str:
        """Room to stand in, rounded down: "290 ft", "90 m"."""
        symbol, size = self.units.short
        step = 10.0 if self.units.system is UnitSystem.US else 1.0
        return self.unit(symbol, self.number(math.floor(length_m / size / step + 1e-6) * step))

    def height(self, height_m: float) -> str:
        """A height: "6,430 ft"."""
        symbol, size = self.units.height
        return self.unit(symbol, self.number(height_m / size))

    def speed(self, speed_mps: float) -> str:
        """A speed never to pass, rounded down: "35 mph"."""
        return self.unit(self.units.speed[0], self.speed_number(speed_mps))

    def speed_number(self, speed_mps: float) -> str:
        """A speed never to pass without its unit, rounded down."""
        return self.number(math.floor(speed_mps / self.units.speed[1] + 1e-3))

    def speed_near(self, speed_mps: float) -> str:
        """A speed that something settles near, without its unit, to the nearest."""
        return self.number(speed_mps / self.units.speed[1])

    def speed_up(self, speed_mps: float) -> str:
        """A speed reached, rounded up."""
        return self.unit(self.units.speed[0], self.number(math.ceil(speed_mps / self.units.speed[1] - 1e-3)))

    def temperature(self, temp_c: float) -> str:
        """A temperature: "214 °C"."""
        return self.unit(self.units.temperature_symbol, self.number(self.units.temperature(temp_c)))

    def hot(self, temp_c: float) -> str:
        """A temperature reached, rounded up."""
        value = math.ceil(self.units.temperature(temp_c) - _HAIR)
        return self.unit(self.units.temperature_symbol, self.number(value))

    def rise(self, rise_c: float) -> str:
        """A temperature difference, rounded up."""
        value = math.ceil(self.units.temperature(rise_c) - self.units.temperature(0.0) - _HAIR)
        return self.unit(self.units.temperature_symbol, self.number(value))

    def mass(self, mass_kg: float) -> str:
        """A weight: "80,000 lb" or "36.3 t"."""
        symbol, size = self.units.mass
        value = mass_kg / size
        if self.units.system is UnitSystem.US:
            return self.unit(symbol, self.number(round(value / 10.0) * 10.0))
        return self.unit(symbol, self.number(value, 1))

    def mass_down(self, mass_kg: float) -> str:
        """A weight never to pass, rounded down: to the hundred pounds, or the tenth of a tonne."""
        symbol, size = self.units.mass
        if self.units.system is UnitSystem.US:
            return self.unit(symbol, self.number(math.floor(mass_kg / size / 100.0 + _HAIR) * 100.0))
        return self.unit(symbol, self.number(math.floor(mass_kg / size * 10.0 + _HAIR) / 10.0, 1))

    def pressure(self, pressure_kpa: float) -> str:
        """A pressure: "32 psi"."""
        symbol, size = self.units.pressure
        step = 1.0 if self.units.system is UnitSystem.US else 5.0
        return self.unit(symbol, self.number(round(pressure_kpa / size / step) * step))

    def grade(self, grade: float) -> str:
        """A grade as drivers say it: the size in percent, one decimal, its direction left to the words around
        it."""
        return self.percent(abs(grade))

    def percent(self, ratio: float, decimals: int = 1) -> str:
        """A ratio in percent."""
        return self.words("number.percent", number=self.number(100.0 * ratio, decimals))

    def percent_up(self, ratio: float) -> str:
        """A doubt in percent, rounded up to one decimal."""
        return self.percent(math.ceil(1000.0 * ratio - _HAIR) / 1000.0)

    def minutes(self, time_s: float) -> str:
        """A time, rounded up to the minute: "52 min" or "1 h 12 min"."""
        hours, minutes = divmod(math.ceil(time_s / 60.0 - _HAIR), 60)
        if hours == 0:
            return self.words("time.minutes", minutes=minutes)
        return self.words("time.hours", hours=hours, minutes=minutes)

    def stop_minutes(self, minutes: float) -> str:
        """How long a stop lasts, in minutes as the plan gives it, never less: "63 min"."""
        return self.words("time.minutes", minutes=math.ceil(minutes - _HAIR))

    def seconds(self, time_s: float) -> str:
        """A short time in whole seconds, at least one."""
        return self.words("time.seconds", seconds=max(1, round(time_s)))

    def between_times(self, low_s: float, high_s: float) -> str:
        """A range of times, outward: "8-11 s", "2-6 min", "35 s to 6 min"."""
        low, high = max(1, math.floor(low_s + _HAIR)), math.ceil(high_s - _HAIR)
        low_min, high_min = math.floor(low_s / 60.0 + _HAIR), math.ceil(high_s / 60.0 - _HAIR)
        if high < _SECONDS_UP_TO:
            values, unit = (low, high), "seconds"
        elif low >= _SECONDS_UP_TO:
            values, unit = (low_min, high_min), "minutes"
        else:
            first = self.words("time.seconds", seconds=low)
            return self.words("time.between", low=first, high=self.words("time.minutes", minutes=high_min))
        text = f"{values[0]}" if values[0] >= values[1] else f"{values[0]}\u2013{values[1]}"
        return self.words(f"time.{unit}", **{unit: text})

    def energy(self, energy_j: float) -> str:
        """An energy in megajoules; nothing for a reader of US units, who is told the share only."""
        return "" if self.units.system is UnitSystem.US else self.unit("MJ", self.number(energy_j / 1e6))

    def margin(self, margin_c: float) -> str:
        """A distance to a limit, rounded down."""
        value = math.floor(self.units.temperature(margin_c) - self.units.temperature(0.0) + _HAIR)
        return self.unit(self.units.temperature_symbol, self.number(value))


def shown_for(system: str, words: Words) -> Shown:
    """The `Shown` of `conditions.units` ("us" or "metric")."""
    return Shown(display_units(UnitSystem(system)), words)
