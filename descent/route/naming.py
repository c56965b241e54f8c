# SPDX-License-Identifier: MIT
"""Names a point of the road by milepost, by a landmark nearby, or by odometer from a chosen zero.

Everything here is a function of stations and places; how many decimals and which unit are the caller's choice.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from descent.route.places import Place
from descent.units import MILE_M, DisplayUnits

MILEPOST = "milepost"
LANDMARK_KINDS = ("town", "landmark", "rest-area", "scale", "brake-check-area", "chain-up-area", "pull-out",
                  "escape-ramp")
# A posted mile is rarely off by more: roads are rebuilt, the posts stay (common practice, no source).
SPACING_OFF = 0.15
BEYOND_MILES = 1.0
NEAR_M = 1500.0
_NUMBER = re.compile(r"(?<![\d.])(\d{1,4}(?:\.\d+)?)(?![\d.])")
_NUMBER_KEYS = ("milepost", "mile", "distance", "ref", "value")


@dataclass(frozen=True)
class Post:
    """A milepost along the travelled way: its posted number and its station [m]."""

    number: float
    station_m: float


@dataclass(frozen=True)
class Mileposts:
    """Posts in travel order, in runs whose numbers go one way (`rising`: up along travel) and whose spacing is that
    of miles; a road that changes its number or its counting has several runs."""

    runs: tuple[tuple[Post, ...], ...]
    left_out: tuple[str, ...] = ()

    @property
    def known(self) -> bool:
        """Whether any point can be named by milepost."""
        return bool(self.runs)


def mileposts_of(places: Sequence[Place]) -> Mileposts:
    """The mileposts among places, as runs of at least two posts a mile apart for each mile they count.

    A post without a number, or one that fits neither the post before it nor the one after, is left out and named.
    The number is that of the attribute milepost, mile, distance, ref or value, else the one in the name.
    """
    posts, left_out = [], []
    for place in sorted((item for item in places if item.kind == MILEPOST), key=lambda item: item.station_m):
        number = posted_number(place)
        if number is None:
            left_out.append(place.name)
        else:
            posts.append(Post(number, place.station_m))
    runs: list[list[Post]] = []
    for post in posts:
        if runs and _follows(runs[-1], post):
            runs[-1].append(post)
        elif len(runs) > 1 and len(runs[-1]) == 1 and _follows(runs[-2], post):
            runs[-2].append(post)                       # the lone post between does not belong to the row
            left_out.append(f"{runs.pop(-1)[0].number:g}")
        else:
            runs.append([post])
    left_out += [f"{run[0].number:g}" for run in runs if len(run) < 2]
    return Mileposts(tuple(tuple(run) for run in runs if len(run) > 1), tuple(left_out))


def posted_number(place: Place) -> float | None:
    """The number on a milepost; None when there is none or it is not clear which."""
    tags = {key.lower(): value for key, value in place.attributes.items()}
    for text in (*(tags[key] for key in _NUMBER_KEYS if key in tags), place.name):
        found = _NUMBER.findall(text)
        if len(found) == 1:
            return float(found[0])
    return None


def _follows(run: Sequence[Post], post: Post) -> bool:
    """Whether a post goes on with a run: the distance is that of its miles, the numbers go the same way."""
    last = run[-1]
    miles = post.number - last.number
    if miles == 0 or (len(run) > 1 and (miles > 0) != (last.number > run[-2].number)):
        return False
    return abs((post.station_m - last.station_m) / (abs(miles) * MILE_M) - 1.0) <= SPACING_OFF


def milepost_at(posts: Mileposts, station_m: float) -> float | None:
    """The milepost reading of a station, linear between posts; None farther than a mile beyond a run."""
    best: tuple[float, float] | None = None
    for run in posts.runs:
        beyond = max(run[0].station_m - station_m, station_m - run[-1].station_m, 0.0)
        if beyond <= BEYOND_MILES * MILE_M and (best is None or beyond < best[0]):
            best = beyond, _reading(run, station_m)
    if best is None or best[1] < 0:
        return None
    return best[1]


def _reading(run: Sequence[Post], station_m: float) -> float:
    """Linear between the posts around; beyond the ends in true miles."""
    step = 1.0 if run[1].number > run[0].number else -1.0
    if station_m <= run[0].station_m:
        return run[0].number - step * (run[0].station_m - station_m) / MILE_M
    if station_m >= run[-1].station_m:
        return run[-1].number + step * (station_m - run[-1].station_m) / MILE_M
    before, after = next((a, b) for a, b in pairwise(run) if station_m <= b.station_m)
    share = (station_m - before.station_m) / (after.station_m - before.station_m)
    return before.number + share * (after.number - before.number)


@dataclass(frozen=True)
class NearPlace:
    """A place near a station: `after_m` is the travel from it on to the station (negative: it is still ahead)."""

    place: Place
    after_m: float


def near_place(places: Sequence[Place], station_m: float, *, within_m: float = NEAR_M) -> NearPlace | None:
    """The nearest named landmark along the road; of two equally near the better known kind, then the one passed."""
    found = [NearPlace(place, station_m - place.station_m) for place in places
             if place.kind in LANDMARK_KINDS and place.name and abs(station_m - place.station_m) <= within_m]
    return min(found, key=lambda item: (round(abs(item.after_m), 1), LANDMARK_KINDS.index(item.place.kind),
                                        -item.after_m, item.place.name), default=None)


def odometer_m(station_m: float, *, zero_m: float = 0.0) -> float:
    """Distance on an odometer that was set to zero at station `zero_m` [m]; negative before it."""
    return station_m - zero_m


@dataclass(frozen=True)
class StationName:
    """All the names a station has: milepost reading or None, place nearby or None, odometer [m]."""

    milepost: float | None
    near: NearPlace | None
    odometer_m: float


def name_station(places: Sequence[Place], station_m: float, *, zero_m: float = 0.0,
                 posts: Mileposts | None = None) -> StationName:
    """The names of a station from the places of its route; `posts` saves finding the runs again for each station."""
    rows = mileposts_of(places) if posts is None else posts
    return StationName(milepost_at(rows, station_m), near_place(places, station_m),
                       odometer_m(station_m, zero_m=zero_m))


def station_text(name: StationName, units: DisplayUnits) -> str:
    """The shortest name a driver can use: the milepost, else the place, else the odometer, for example "MP 12.4",
    "0.3 mi past Greywater", "4.7 mi"."""
    symbol, metre = units.distance
    if name.milepost is not None:
        return f"MP {name.milepost:.1f}"
    if name.near is not None:
        away = round(abs(name.near.after_m) / metre, 1)
        if away == 0.0:
            return f"at {name.near.place.name}"
        return f"{away:.1f} {symbol} {'past' if name.near.after_m > 0 else 'before'} {name.near.place.name}"
    return f"{name.odometer_m / metre:.1f} {symbol}"
