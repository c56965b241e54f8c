# SPDX-License-Identifier: MIT
"""Foundation brakes from their table: chamber, lever, lining, stroke, heat."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from importlib import resources
from types import MappingProxyType

from descent.units import INCH_M, PSI_KPA
from descent.vehicle.model import BrakeKind, Chamber, FoundationBrake
from descent.vehicle.schema import Reader, Table

FULL_APPLICATION_KPA = 85 * PSI_KPA     # strokes are measured at 80-90 psi (key cfr_396_appendix_a)
STROKE_SHARE = 0.905                    # of the readjustment limit: 1.81 in of 2.0 in on a type 30 (seen second hand)
REFERENCE_STROKE_M = 2.5 * INCH_M       # the give of a brake is stated for a type 30 chamber
KELVIN_PER_100F = 100 / 1.8


@cache
def chambers() -> Mapping[str, Chamber]:
    """Brake chambers by type name, such as "30" or "30LS" (read once, read-only)."""
    text = (resources.files("descent.vehicle") / "tables" / "chambers.toml").read_text(encoding="utf-8")
    rows = tomllib.loads(text)["chambers"]
    return MappingProxyType({str(row["type"]): Chamber(
        str(row["type"]), row["area_in2"] * INCH_M**2, row["full_stroke_in"] * INCH_M, row["limit_in"] * INCH_M,
        row["volume_in3"] * INCH_M**3) for row in rows})


def lever_ratio(kind: BrakeKind, table: Table, place: str, reader: Reader) -> float:
    """Force at one shoe or pad over chamber force: slack over twice the cam radius, wedge, or caliper lever.

    S-cam: torque of the slack adjuster on two shoes at the cam's effective radius. Wedge: 1 / (2 tan(angle / 2)).
    Disc: the caliper's lever ratio.
    """
    if kind is BrakeKind.S_CAM_DRUM:
        return float(reader.number("brakes", table, "slack", place) / reader.number("brakes", table, "cam_radius", place)
                     / 2)
    if kind is BrakeKind.WEDGE_DRUM:
        return 1 / (2 * math.tan(math.radians(reader.number("brakes", table, "wedge_angle", place)) / 2))
    return float(reader.number("brakes", table, "disc_ratio", place))


def foundation_brake(table: Table, place: str, wheel_radius_m: float, reader: Reader) -> FoundationBrake:
    """The brakes of one axle group from its fields (the common `brakes` fields filled in underneath)."""
    kind = reader.choice(BrakeKind, table.get("brake_kind"), f"{place}.brake_kind")
    chamber = chambers().get(str(table.get("chamber")))
    if chamber is None:
        reader.not_known(f"{place}.chamber", "this chamber type is not known", str(table.get("chamber")),
                         list(chambers()))
        chamber = chambers()["30"]
    if "chamber_volume" in table:
        chamber = replace(chamber, volume_m3=reader.number("axles", table, "chamber_volume", place))
    get = {name: reader.number("brakes", table, name, place) for name in (
        "heat_capacity", "cooling", "cooling_per_speed", "wear", "temp_limit", "fade_onset", "fade_end", "fade_floor",
        "factor", "crack", "stroke_give", "stroke_growth", "valve_share", "valve_open")}
    torque_nm_per_kpa = (chamber.area_m2 * 1000 * lever_ratio(kind, table, place, reader) * get["factor"]
                         * reader.number("axles", table, "radius", place))
    stroke = (reader.number("axles", table, "stroke", place) if "stroke" in table
              else STROKE_SHARE * chamber.stroke_limit_m)
    give = get["stroke_give"] * INCH_M / PSI_KPA * chamber.full_stroke_m / REFERENCE_STROKE_M
    return FoundationBrake(
        kind, reader.count(table, "brake_count", place), chamber, torque_nm_per_kpa / wheel_radius_m, get["crack"],
        get["heat_capacity"] * (1 - get["wear"]), get["cooling"], get["cooling_per_speed"], stroke, give,
        get["stroke_growth"] * INCH_M / KELVIN_PER_100F, get["valve_share"], get["valve_open"], get["temp_limit"],
        get["fade_onset"], get["fade_end"], get["fade_floor"])
