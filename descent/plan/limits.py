# SPDX-License-Identifier: MIT
"""Speed limits along the road and the cautious side of the grade band, as arrays on the profile's stations."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from descent.downgrades.model import Downgrade
from descent.route.line import TaggedSpan
from descent.route.places import Place
from descent.terrain.road_profile import RoadProfile
from descent.units import LENGTH, SPEED, parse

FloatArray = NDArray[np.float64]
BAND_90 = 1.645  # one-sided 95 %, two-sided 90 % of a normal distribution


def sign_speed_mps(sign: Place) -> float:
    """The limit a truck-limit sign shows [m/s]. Raises RequestError when its `value` carries no speed unit."""
    return parse(str(sign.attributes.get("value", "")), SPEED, where=f'place "{sign.name}", value')


def posted_limits(profile: RoadProfile, spans: Sequence[TaggedSpan], places: Sequence[Place],
                  default_mps: float) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Posted limit at every station (n,) [m/s], and where it is known (n,). Places in travel order.

    From the route's maxspeed tags and the truck limits among the places; a truck limit holds for its `length_m`, else
    to the next one. The lower of the two counts. Where nothing is posted, `default_mps`.
    """
    station = profile.station_m
    limit = np.full(len(station), np.inf)
    for span in spans:
        if span.kind == "maxspeed":
            inside = (station >= span.start_m - 1e-6) & (station <= span.end_m + 1e-6)
            limit[inside] = np.minimum(limit[inside], span.value)
    signs = [place for place in places if place.kind == "truck-speed-limit" and place.side != "left"]
    for index, sign in enumerate(signs):
        end = signs[index + 1].station_m if index + 1 < len(signs) else profile.length_m + 1
        if "length_m" in sign.attributes:
            length = str(sign.attributes["length_m"])
            end = min(end, sign.station_m + parse(length + "m", LENGTH, where=f'place "{sign.name}", length_m'))
        inside = (station >= sign.station_m) & (station < end)
        limit[inside] = np.minimum(limit[inside], sign_speed_mps(sign))
    known = np.isfinite(limit)
    return np.where(known, limit, default_mps), known


def steep_side(profile: RoadProfile, downgrades: Sequence[Downgrade], *, deviations: float = BAND_90) -> FloatArray:
    """The grade (n,) with every sustained downgrade steeper by `deviations` x the standard deviation of its mean grade.

    The mean is what heats brakes; an error of single stations largely cancels within seconds of driving.
    """
    grade = profile.grade.copy()
    for item in downgrades:
        a, b = profile.index_at(item.start_m), profile.index_at(item.end_m)
        grade[a:b + 1] -= deviations * item.mean_grade_sd
    return grade
