# SPDX-License-Identifier: MIT
"""Read a plan document for drawing: arrays out of lists, and no leg, stop or trace where the answer is no."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from descent.report.named_places import document_mileposts
from descent.route.naming import Mileposts, milepost_at

FloatArray = NDArray[np.float64]
Row = Mapping[str, Any]

# Kinds of places a driver steers by, most telling first.
_LANDMARK_KINDS = (
    "milepost",
    "landmark",
    "town",
    "rest-area",
    "brake-check-area",
    "chain-up-area",
    "scale",
    "pull-out",
    "stop-sign",
    "escape-ramp",
)


class Hillshade(Protocol):
    """A shaded relief picture in web-mercator rows: a data address and its corners in degrees."""

    @property
    def data_uri(self) -> str: ...
    @property
    def south(self) -> float: ...
    @property
    def west(self) -> float: ...
    @property
    def north(self) -> float: ...
    @property
    def east(self) -> float: ...


@dataclass(frozen=True)
class Road:
    """The profile's columns, each (n,): station_m, lon, lat [degree], elevation_m, grade, grade_sd, and the
    two speed limits [m/s], NaN where there is none."""

    station_m: FloatArray
    lon: FloatArray
    lat: FloatArray
    elevation_m: FloatArray
    grade: FloatArray
    grade_sd: FloatArray
    curve_limit_mps: FloatArray
    posted_limit_mps: FloatArray
    confidence: tuple[Row, ...]
    source: str

    @property
    def length_m(self) -> float:
        """Length of the road [m]."""
        return float(self.station_m[-1])

    def at(self, station_m: float, column: FloatArray) -> float:
        """A column's value at a station, between samples by straight line."""
        return float(np.interp(station_m, self.station_m, column))

    def mean_grade(self, start_m: float, end_m: float) -> float:
        """Height change over distance of a stretch, from the profile's heights."""
        rise = self.at(end_m, self.elevation_m) - self.at(start_m, self.elevation_m)
        return rise / max(end_m - start_m, 1.0)

    def sign_spans(
        self, start_m: float, end_m: float, speed_mps: float, *, bridge_m: float = 100.0
    ) -> tuple[tuple[float, float, float], ...]:
        """Where signs ask for less than `speed_mps`: (start, end, limit) per stretch of one limit."""
        limit = self.posted_limit_mps
        inside = (self.station_m >= start_m) & (self.station_m <= end_m) & (limit < speed_mps - 0.2)
        spans: list[tuple[float, float, float]] = []
        for index in np.flatnonzero(inside):
            at, asked = float(self.station_m[index]), float(limit[index])
            if spans and at - spans[-1][1] <= bridge_m and abs(asked - spans[-1][2]) < 0.2:
                spans[-1] = (spans[-1][0], at, asked)
            else:
                spans.append((at, at, asked))
        return tuple(spans)

    def curve_spans(
        self, start_m: float, end_m: float, speed_mps: float, *, bridge_m: float = 800.0
    ) -> tuple[tuple[float, float, float], ...]:
        """Where curves ask for less than `speed_mps` and the signs: (start, end, lowest limit) per group of
        curves less than `bridge_m` apart."""
        limit = np.fmin(self.posted_limit_mps, speed_mps) - 0.2
        inside = (self.station_m >= start_m) & (self.station_m <= end_m) & (self.curve_limit_mps < limit)
        spans: list[tuple[float, float, float]] = []
        for index in np.flatnonzero(inside):
            at, asked = float(self.station_m[index]), float(self.curve_limit_mps[index])
            if spans and at - spans[-1][1] <= bridge_m:
                spans[-1] = (spans[-1][0], at, min(asked, spans[-1][2]))
            else:
                spans.append((at, at, asked))
        return tuple(spans)

    def posted_on(self, start_m: float, end_m: float) -> float | None:
        """The highest posted limit on a stretch [m/s]; None where none is known."""
        inside = (self.station_m >= start_m) & (self.station_m <= end_m) & np.isfinite(self.posted_limit_mps)
        return float(self.posted_limit_mps[inside].max()) if inside.any() else None

    def steepest_down(self, start_m: float, end_m: float, *, window_m: float = 300.0) -> float:
        """The most negative mean grade over `window_m` inside a stretch (its own mean when it is shorter)."""
        if end_m - start_m <= window_m:
            return self.mean_grade(start_m, end_m)
        step = float(self.station_m[1] - self.station_m[0])
        start = np.append(np.arange(start_m, end_m - window_m, step), end_m - window_m)
        fall = np.interp(start + window_m, self.station_m, self.elevation_m) - np.interp(
            start, self.station_m, self.elevation_m
        )
        return float(fall.min() / window_m)


@dataclass(frozen=True)
class Trace:
    """What the vehicle does along the road, each (m,); stations repeat at a stop. A column may be absent
    (None); gear and retarder_stage are "" where none is ordered."""

    station_m: FloatArray
    time_s: FloatArray | None
    speed_mps: FloatArray | None
    gear: tuple[str, ...]
    retarder_stage: tuple[str, ...]
    brake_temp_c: Mapping[str, FloatArray]
    emergency_temp_c: FloatArray | None
    application_kpa: FloatArray | None
    fade_kpa: FloatArray | None
    reservoir_kpa: FloatArray | None = None
    stopping_distance_m: FloatArray | None = None


@dataclass(frozen=True)
class RiskBand:
    """The hottest brake over the draws, each (m,): station_m, and the 5th, 50th and 95th percentile [C]."""

    station_m: FloatArray
    p05_c: FloatArray
    p50_c: FloatArray
    p95_c: FloatArray


@dataclass(frozen=True)
class Trip:
    """A plan document opened for drawing."""

    document: Row
    road: Road
    trace: Trace | None
    feasible: bool
    legs: tuple[Row, ...]
    stops: tuple[Row, ...]
    places: tuple[Row, ...] = field(default=())
    risk_band: RiskBand | None = None
    mileposts: Mileposts = field(default=Mileposts(()))

    @property
    def name(self) -> str:
        """The route's name, as the file gave it."""
        return str(self.document.get("route", {}).get("name") or "")

    def rows(self, key: str) -> tuple[Row, ...]:
        """A list of the document; empty when it is missing."""
        return tuple(self.document.get(key) or ())

    def limit(self, key: str) -> float | None:
        """One of the plan's limits, or None."""
        value = (self.document.get("limits") or {}).get(key)
        return None if value is None else float(value)

    @property
    def reversed(self) -> bool:
        """Whether the road is driven against the direction of its file."""
        return bool((self.document.get("route") or {}).get("reversed"))

    @property
    def warnings(self) -> tuple[str, ...]:
        """What must be read before anything else."""
        return tuple(map(str, self.document.get("warnings") or ()))

    @property
    def margin_c(self) -> float | None:
        """Least distance of any brake, one emergency stop included, to its limit [K]; None when not given."""
        value = self.document.get("margin_c")
        return None if value is None else float(value)

    @property
    def on_drums(self) -> bool:
        """Whether every axle brakes on drums; a vehicle with a disc anywhere has "brakes"."""
        axles = (self.document.get("vehicle") or {}).get("axles") or ()
        kinds = [str(axle.get("brake_kind") or "").lower() for axle in axles]
        return bool(kinds) and all("drum" in kind for kind in kinds)

    def places_of(self, *kinds: str) -> tuple[Row, ...]:
        """The places of these kinds, along the road."""
        return tuple(place for place in self.places if place["kind"] in kinds)

    def side_of(self, stop: Row) -> str | None:
        """The side of the road of a stop's place, if the stop or the places give one."""
        if stop.get("side"):
            return str(stop["side"])
        same = [p for p in self.places if p.get("name") and p["name"] == stop.get("place")]
        nearest = min(same, key=lambda p: abs(p["station_m"] - stop["station_m"]), default=None)
        return None if nearest is None else nearest.get("side")

    def milepost_at(self, station_m: float) -> float | None:
        """The milepost reading of a station; None where no row of posts tells it."""
        return milepost_at(self.mileposts, station_m)

    def landmark_near(self, station_m: float, *, within_m: float = 1200.0) -> tuple[Row, float] | None:
        """The place a driver would name here, and how far past it (negative: before) the station lies [m]; a single
        milepost only where the posts give no reading."""
        posts = self.milepost_at(station_m) is None
        near = [
            (p, station_m - p["station_m"])
            for p in self.places
            if p.get("name") and p["kind"] in _LANDMARK_KINDS and (posts or p["kind"] != "milepost") and abs(station_m - p["station_m"]) <= within_m
        ]
        if not near:
            return None
        return min(
            near,
            key=lambda found: (abs(found[1]) > 250.0, _LANDMARK_KINDS.index(found[0]["kind"]), abs(found[1])),
        )


def read_trip(document: Row) -> Trip:
    """Open a plan document. Where `feasible` is false, legs, stops and trace are left out: a try is not a
    plan."""
    feasible = bool(document.get("feasible"))
    return Trip(
        document=document,
        road=_road(document["profile"]),
        feasible=feasible,
        trace=_trace(document.get("trace")) if feasible else None,
        legs=tuple(document.get("legs") or ()) if feasible else (),
        stops=tuple(sorted(document.get("stops") or (), key=lambda s: s["station_m"])) if feasible else (),
        places=tuple(sorted(document.get("places") or (), key=lambda p: p["station_m"])),
        risk_band=_risk_band(document) if feasible else None,
        mileposts=document_mileposts(document.get("places") or ()),
    )


def _risk_band(document: Row) -> RiskBand | None:
    """The 5th, 50th and 95th percentile of the draws' hottest brake along the road; None where there are none."""
    found = (document.get("risk") or {}).get("band") or {}
    station_m = found.get("station_m") or ()
    names = ("p5_temp_c", "p50_temp_c", "p95_temp_c")
    if len(station_m) < 2 or any(len(found.get(name) or ()) != len(station_m) for name in names):
        return None
    return RiskBand(np.asarray(station_m, dtype=np.float64), *(_column(found[name], len(station_m)) for name in names))


def _column(values: Sequence[float | None] | None, size: int) -> FloatArray:
    if values is None or len(values) == 0:
        return np.full(size, np.nan)
    return np.array([np.nan if value is None else value for value in values], dtype=np.float64)


def _road(profile: Row) -> Road:
    station_m = np.asarray(profile["station_m"], dtype=np.float64)
    size = len(station_m)
    columns = {
        name: _column(profile.get(name), size)
        for name in ("lon", "lat", "elevation_m", "grade", "grade_sd", "curve_limit_mps", "posted_limit_mps")
    }
    return Road(
        station_m=station_m,
        **columns,
        confidence=tuple(profile.get("confidence") or ()),
        source=str(profile.get("source") or ""),
    )


def _names(values: Sequence[object] | None) -> tuple[str, ...]:
    """Gears or stages as text; "" where none is ordered."""
    return tuple("" if value is None else str(value) for value in values or ())


def _trace(trace: Row | None) -> Trace | None:
    if not trace or not len(trace.get("station_m", ())):
        return None
    size = len(trace["station_m"])

    def maybe(name: str) -> FloatArray | None:
        return None if not len(trace.get(name) or ()) else _column(trace[name], size)

    return Trace(
        station_m=np.asarray(trace["station_m"], dtype=np.float64),
        time_s=maybe("time_s"),
        speed_mps=maybe("speed_mps"),
        gear=_names(trace.get("gear")),
        retarder_stage=_names(trace.get("retarder_stage")),
        brake_temp_c={
            str(axle): _column(temps, size) for axle, temps in (trace.get("brake_temp_c") or {}).items()
        },
        emergency_temp_c=maybe("emergency_temp_c"),
        application_kpa=maybe("application_kpa"),
        fade_kpa=maybe("fade_kpa"),
        reservoir_kpa=maybe("reservoir_kpa"),
        stopping_distance_m=maybe("stopping_distance_m"),
    )
