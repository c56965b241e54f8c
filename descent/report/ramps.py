# SPDX-License-Identifier: MIT
"""Which escape ramps a vehicle on this way down can reach, and what to say of them."""

from __future__ import annotations

from descent.report.shown import Shown
from descent.report.trip import Row, Trip

FAR_SIDE = "left"  # traffic keeps right: what lies on the left is across the oncoming lane
_PAST_FOOT_M = 1000.0


def useful_ramps(trip: Trip) -> tuple[Row, ...]:
    """The escape ramps not across the road, inside a downgrade or within 1 km past its foot."""
    spans = [(row["start_m"], row["end_m"] + _PAST_FOOT_M) for row in trip.rows("downgrades")]
    return tuple(
        ramp
        for ramp in trip.places_of("escape-ramp")
        if ramp.get("side") != FAR_SIDE
        and ramp.get("usable") != "other side"
        and any(start_m <= ramp["station_m"] <= end_m for start_m, end_m in spans)
    )


def ramp_sentence(trip: Trip, shown: Shown) -> str:
    """Where the ramps are, by mile and leg, and where there are none."""
    words, ramps = shown.words, useful_ramps(trip)
    if not ramps:
        return words("ramp.none" if trip.places else "ramp.unknown")
    listed = ", ".join(_listed(ramp, trip, shown) for ramp in ramps)
    first, last = shown.at(ramps[0]["station_m"]), shown.at(ramps[-1]["station_m"])
    return words("ramp.one" if len(ramps) == 1 else "ramp.several", listed=listed, first=first, last=last)


def ramp_order(ramp: Row, trip: Trip, shown: Shown) -> str:
    """What the card says of one ramp: where it is, on which leg, when to use it."""
    where = [shown.words(f"side.{ramp['side']}")] if ramp.get("side") in ("left", "right") else []
    leg = _leg_of(ramp, trip)
    if leg is not None:
        where.append(shown.words("ramp.leg", number=leg["number"]))
    return shown.words("card.ramp", where="".join(f", {part}" for part in where))


def _listed(ramp: Row, trip: Trip, shown: Shown) -> str:
    leg, at = _leg_of(ramp, trip), shown.at(ramp["station_m"])
    return at if leg is None else shown.words("ramp.at_leg", at=at, number=leg["number"])


def _leg_of(ramp: Row, trip: Trip) -> Row | None:
    """The leg a ramp lies on."""
    return next((leg for leg in trip.legs if leg["start_m"] <= ramp["station_m"] <= leg["end_m"]), None)
