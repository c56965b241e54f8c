# SPDX-License-Identifier: MIT
"""What `descent profile` and `descent grades` do once their options are read."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import click

from descent.errors import ElevationError
from descent.faces.cli.options import Progress, say
from descent.pipeline import SurveyedRoad, refuse_untrusted, survey
from descent.report.exchange import profile_csv
from descent.report.export import write_files
from descent.report.plan_json import plan_json
from descent.report.profile_plot import profile_plot
from descent.report.survey_document import survey_document
from descent.report.survey_text import downgrades_text
from descent.request import Direction, Faults, RoadRequest, choice, road_request
from descent.units import UnitSystem, display_units


def read_road_request(route: str, given: Mapping[str, Any]) -> RoadRequest:
    """The road in the options of a command. Raises RequestError with every fault."""
    faults = Faults()
    road = road_request(route, dem=given["dem"], grades=given["grades"],
                        route_elevation="yes" if given["route_elevation"] else None,
                        direction=Direction.REVERSED if given["reverse"] else Direction.AS_DRAWN, faults=faults)
    faults.raise_if_any()
    return road


def _warn(road: SurveyedRoad) -> None:
    try:
        refuse_untrusted(road.profile)
    except ElevationError as error:
        for fault in error.faults:
            say(f"descent: warning: {fault.sentence()}", err=True)


def run_profile(route: str, given: Mapping[str, Any], out: str | None, plot: str | None, *, as_json: bool,
                progress: Progress) -> None:
    """Survey the road; print JSON, write the CSV and the picture, or print the downgrades and a summary."""
    road = survey(read_road_request(route, given), progress=progress)
    progress.done()
    _warn(road)
    document = survey_document(road.route, road.profile, road.downgrades)
    if as_json:
        click.echo(plan_json(document), nl=False)
    if out is not None:
        path = Path(out)
        write_files({path.name: profile_csv({"profile": document}).encode("utf-8")}, out=path.parent)
        say(out, err=as_json)
    if plot is not None:
        picture = profile_plot(road.profile, road.downgrades, name=road.route.name)
        path = Path(plot)
        write_files({path.name: picture.encode("utf-8")}, out=path.parent)
        say(plot, err=as_json)
    if not as_json and out is None and plot is None:
        say(downgrades_text(road.route, road.profile, road.downgrades, display_units(UnitSystem.US)))


def run_grades(route: str, given: Mapping[str, Any], units: str, *, as_json: bool, progress: Progress) -> None:
    """Survey the road and print its sustained downgrades."""
    system = choice(UnitSystem, units, "--units")
    road = survey(read_road_request(route, given), progress=progress)
    progress.done()
    _warn(road)
    if as_json:
        document = survey_document(road.route, road.profile, road.downgrades)
        click.echo(plan_json({key: document[key] for key in ("route", "downgrades", "structures")}), nl=False)
    else:
        say(downgrades_text(road.route, road.profile, road.downgrades, display_units(system)))
