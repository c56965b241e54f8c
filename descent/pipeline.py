# SPDX-License-Identifier: MIT
"""The order of it all: route, profile, downgrades, vehicle, plan. The only module that knows the whole."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from descent.downgrades.find import sustained_downgrades
from descent.downgrades.model import Downgrade
from descent.errors import ElevationError, Fault, RequestError
from descent.physics.characteristics import Characteristics, characteristics
from descent.physics.curves import curve_limit_mps
from descent.physics.march import Day, Driving
from descent.plan.chance import Chance, spread_for
from descent.plan.explain import explained
from descent.plan.limits import posted_limits, steep_side
from descent.plan.model import DescentPlan, Rules, Task
from descent.plan.next_move import Advice, Seen, Snubs, observed_c, replan, table_from
from descent.plan.sight import sight_limit_mps
from descent.request import Direction, HeightSource, PlanRequest, Road, RoadRequest, choice
from descent.route.line import Route
from descent.route.places import PlacesRead, survey_places
from descent.terrain.road_profile import RoadProfile
from descent.units import METRIC, US, DisplayUnits, UnitSystem
from descent.vehicle.air_supply import air_supply
from descent.vehicle.catalogue import class_names, load_vehicle
from descent.vehicle.condition import apply, apply_air, read_condition
from descent.vehicle.model import Vehicle

if TYPE_CHECKING:
    from descent.terrain.contours import Contour
    from descent.terrain.hillshade import Hillshade

Progress = Callable[[str], None]
CONTOUR_STEPS = (10, 20, 50, 100, 200, 500, 1000)   # feet or metres
CONTOURS_ON_THE_ROAD = 20
UNKNOWN_ALTITUDE_M = 2500.0   # a grade table tells no altitude; brakes cool less the higher, so a high one is assumed


@dataclass(frozen=True)
class SurveyedRoad:
    """A route with its profile and its sustained downgrades."""

    route: Route
    profile: RoadProfile
    downgrades: tuple[Downgrade, ...]


def vehicles() -> tuple[Vehicle, ...]:
    """Every class of the catalogue at its rated weight."""
    return tuple(load_vehicle(name) for name in class_names())


def vehicle_with_facts(name_or_path: str) -> tuple[Vehicle, Characteristics]:
    """A class or vehicle file and what its engine and gears can do. Raises VehicleError."""
    vehicle = load_vehicle(name_or_path)
    return vehicle, characteristics(vehicle)


def walk_round_form(name_or_path: str, *, suffix: str) -> str:
    """The walk-round form of a vehicle: ".toml" to fill in, ".html" or ".txt" to print. Raises VehicleError."""
    from descent.vehicle.condition_form import form_text
    return form_text(load_vehicle(name_or_path), suffix=suffix)


def _quiet(_: str) -> None:
    pass


def survey(request: RoadRequest, *, progress: Progress = _quiet) -> SurveyedRoad:
    """Read the route, take its heights, estimate the profile and find the sustained downgrades.

    Raises RouteError, DemError (exit 2) and ElevationError (exit 4).
    """
    progress("reading the route")
    return survey_of(_read(request), request, progress=progress)


def survey_of(route: Route, request: RoadRequest, *, progress: Progress = _quiet) -> SurveyedRoad:
    """`survey` of a route that is already read; heights as the request says."""
    if request.heights is HeightSource.GRADE_TABLE:
        from descent.terrain.from_grades import profile_from_grades
        profile = laid_along(profile_from_grades(_rows_in_travel_order(request)), route)
    elif request.heights is HeightSource.ROUTE:
        from descent.terrain.from_route import profile_from_route_elevation
        profile = profile_from_route_elevation(route)
    else:
        from descent.terrain.build import profile_from_dem
        from descent.terrain.placement_checks import record_notes
        profile = profile_from_dem(route, request.dem, progress=lambda text, share: progress(text))
        raw = profile.elevation_m if profile.raw_elevation_m is None else profile.raw_elevation_m
        profile = replace(profile, notes=(*profile.notes, *record_notes(route, profile.station_m, raw)))
    progress("finding sustained downgrades")
    return SurveyedRoad(route, profile, sustained_downgrades(profile))


def _read(request: RoadRequest) -> Route:
    from descent.route.readers import read_route
    return read_route(request.route, direction=request.direction)


def _rows_in_travel_order(request: RoadRequest) -> list[tuple[float, float]]:
    """The table's rows; the table follows the line as drawn, so a reversed route turns it round."""
    from descent.route.grade_table import read_grade_table
    rows = [(row.length_m, row.grade) for row in read_grade_table(request.grades)]
    if request.direction is Direction.REVERSED:
        return [(length, -grade) for length, grade in reversed(rows)]
    return rows


def laid_along(profile: RoadProfile, route: Route) -> RoadProfile:
    """A profile without positions, laid along a route of about its length.

    Raises RequestError when the lengths differ by more than 5 %: the table is then not of this road.
    """
    stretch = route.length_m / profile.length_m
    if not 0.95 <= stretch <= 1.05:
        raise RequestError(Fault(
            "grades-length", "the grade table and the route are not equally long",
            "Give a table of the whole route, in travel order", "--grades",
            f"{profile.length_m / 1000:.2f} km of table on {route.length_m / 1000:.2f} km of route"))
    at = profile.station_m * stretch
    note = (f"a grade table tells no altitude: {UNKNOWN_ALTITUDE_M:.0f} m at the start is assumed, where brakes cool less; "
            f"the table was stretched by {100 * (stretch - 1):+.1f} % to the length of the route")
    return replace(profile, station_m=at, elevation_m=profile.elevation_m[0] + (
        profile.elevation_m - profile.elevation_m[0]) * stretch, lon=np.interp(at, route.station_m, route.lon),
        lat=np.interp(at, route.station_m, route.lat), notes=(*profile.notes, note))


def shaded_relief(request: RoadRequest, road: SurveyedRoad, *, width_px: int = 900) -> Hillshade | None:
    """The relief around a surveyed road, for the map; None where no elevation files were given."""
    if request.heights is not HeightSource.DEM:
        return None
    from descent.terrain.hillshade import hillshade
    return hillshade(request.dem, _map_box(road.profile), width_px=width_px)


def ground_contours(request: RoadRequest, road: SurveyedRoad, *, units: DisplayUnits) -> tuple[Contour, ...]:
    """Contour lines around a surveyed road at round heights of the reader's unit; none without elevation files."""
    if request.heights is not HeightSource.DEM:
        return ()
    from descent.terrain.contours import contours
    unit_m, rise_m = units.height[1], float(np.ptp(road.profile.elevation_m))
    steps_m = [step * unit_m for step in CONTOUR_STEPS]
    step_m = next((step for step in steps_m if step >= rise_m / CONTOURS_ON_THE_ROAD), steps_m[-1])
    return contours(request.dem, _map_box(road.profile), width_px=480, interval_m=step_m, tolerance_px=0.25)


def _map_box(profile: RoadProfile) -> tuple[float, float, float, float]:
    """West, south, east, north [degree] of the ground drawn around a road."""
    lon, lat = profile.lon, profile.lat
    pad = 0.12 * max(float(np.ptp(lon)), float(np.ptp(lat)), 0.02)
    return float(lon.min()) - pad, float(lat.min()) - pad, float(lon.max()) + pad, float(lat.max()) + pad


def task_for(request: PlanRequest, road: SurveyedRoad) -> Task:
    """Everything a plan needs, from a request and a surveyed road."""
    vehicle = load_vehicle(request.vehicle, gross_kg=request.gross_kg)
    air = air_supply(vehicle)
    findings = read_condition(request.condition, vehicle) if request.condition else None
    if findings is not None:
        vehicle, air = apply(vehicle, findings), apply_air(air, findings)
    units = METRIC if request.system is UnitSystem.METRIC else US
    read = survey_places(request.places, road.route) if request.places else PlacesRead(())
    places = read.places
    rules = Rules(min_speed_mps=request.min_speed_mps, speed_step_mps=units.speed_step_mps,
                  speed_unit_mps=units.speed[1])
    posted, known = posted_limits(road.profile, road.route.spans, places, rules.default_posted_mps)
    curve = curve_limit_mps(road.profile.curvature_1pm, rollover_threshold_g=vehicle.rollover_threshold_g,
                            rollover_share=vehicle.load.curve_share, greatest_lateral_g=vehicle.load.greatest_lateral_g)
    curve = np.minimum(curve, sight_limit_mps(road.profile.grade, road.profile.spacing_m))
    firmest = vehicle.load.greatest_decel_mps2
    driving = Driving(snub_drop_mps=units.snub_drop_mps, snub_decel_mps2=min(units.snub_drop_mps / 3.0, firmest),
                      approach_mps2=min(Driving().approach_mps2, firmest))
    day = Day(request.air_temp_c, request.start_temp_c, request.surface.adhesion)
    return Task(road.profile, road.downgrades, places, vehicle, day, driving, rules, posted, known, curve,
                steep_side(road.profile, road.downgrades), (*road.route.mended, *read.said),
                UNKNOWN_ALTITUDE_M if request.road.heights is HeightSource.GRADE_TABLE else 0.0, air, findings,
                Chance(request.accepted_risk, seed=request.seed, spread=spread_for(request.weight_from)))


def replan_from(path: str, station_m: float, *, temp_c: float | None = None, seen: str = "nothing", minutes: float = 0.0,
                snubs: tuple[float, float] | None = None) -> tuple[Advice, UnitSystem]:
    """What a driver who stands at a station should do next, from a plan.json; and the units the plan is read in.

    temp_c [C]: the hottest brake as measured, else `seen` on stopping, `minutes` ago, and, if counted, (seconds braking,
    seconds from one snub to the next). Raises RequestError.
    """
    try:
        document = json.loads(Path(path).read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, ValueError) as error:
        raise RequestError(Fault("plan-unreadable", "this is not a plan.json that can be read",
                                 "Give the plan.json that `descent plan` wrote", "PLAN.json", repr(path))) from error
    document = document if isinstance(document, dict) else {}
    block = document.get("replan")
    table = table_from(block if isinstance(block, dict) else {})
    if not 0.0 <= station_m <= float(table.station_m[-1]):
        raise RequestError(Fault("out-of-range", "this place is not on the plan's road",
                                 f"It must lie between 0 and {table.station_m[-1]:.0f} m", "--at", f"{station_m:.0f} m"))
    noticed = choice(Seen, seen, "--seen")
    if temp_c is not None:
        low = high = temp_c
    else:
        low, high = observed_c(table, station_m, noticed, minutes=minutes, snubs=_counted(document, station_m, snubs))
    system = (document.get("conditions") or {}).get("units")
    return (replan(table, station_m, low_c=low, high_c=high, seen=noticed),
            UnitSystem.METRIC if system == "metric" else UnitSystem.US)


def _counted(document: dict[str, Any], station_m: float, snubs: tuple[float, float] | None) -> Snubs | None:
    """The rhythm counted beside the planned one of the leg there; None where either is missing."""
    before = [leg for leg in document.get("legs") or () if float(leg["start_m"]) < station_m]
    rhythm = (before[-1].get("snubs") or {}) if before else {}
    if snubs is None or not rhythm.get("duration_s") or not rhythm.get("interval_s") or min(snubs) <= 0.0:
        return None
    return Snubs(*snubs, float(rhythm["duration_s"]), float(rhythm["interval_s"]))


def refuse_untrusted(profile: RoadProfile) -> None:
    """Raise ElevationError (exit 4) when a stretch of the profile cannot carry a plan."""
    bad = [span for span in profile.confidence if span.level == "none"]
    if bad:
        raise ElevationError(*(Fault(
            "elevation-untrusted", f"the elevation data cannot carry a plan here: {', '.join(span.reasons)}",
            "Use a finer or complete elevation model, tag bridges and tunnels, or give a grade table",
            f"km {span.start_m / 1000:.1f} to {span.end_m / 1000:.1f} ({span.start_m / 1609.344:.1f} to "
            f"{span.end_m / 1609.344:.1f} mi)") for span in bad))


def plan_descent(request: PlanRequest, *, progress: Progress = _quiet) -> tuple[DescentPlan, SurveyedRoad]:
    """The plan for a request, and the road it is for.

    A request with no way down gives a plan with `feasible` False; only bad input and elevation data that cannot
    carry a plan raise.
    """
    load_vehicle(request.vehicle, gross_kg=request.gross_kg)
    road = survey(request.road, progress=progress)
    refuse_untrusted(road.profile)
    progress("planning")
    return plan_task(request, task_for(request, road), progress=progress), road


def plan_task(request: PlanRequest, task: Task, *, progress: Progress = _quiet) -> DescentPlan:
    """The plan for a task that was made for a request."""
    return explained(task, slippery=request.surface in (Road.SNOW, Road.ICE), progress=progress)
