# SPDX-License-Identifier: MIT
"""What `descent plan` does once its options are read: request, plan, document, files, terminal."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import click

from descent.faces.cli.options import Progress, say
from descent.pipeline import ground_contours, plan_descent, shaded_relief
from descent.report.document import plan_document
from descent.report.export import export_trip, export_trip_with_pdf
from descent.report.plan_json import plan_json, stable_document
from descent.report.sentences import Sentences, plan_words
from descent.report.terminal import trip_text
from descent.report.tiles import tile_source
from descent.report.words import load_words
from descent.request import Direction, Faults, PlanRequest, plan_request, road_request
from descent.units import display_units

TEXTS = ("places", "vehicle", "gross", "air-temp", "start-temp", "road", "min-speed", "units", "date", "condition",
         "accept-risk", "seed", "weight-from", "language")


def read_request(route: str, given: Mapping[str, Any]) -> PlanRequest:
    """The request in the options of the command. Raises RequestError with every fault."""
    faults = Faults()
    road = road_request(route, dem=given["dem"], grades=given["grades"],
                        route_elevation="yes" if given["route_elevation"] else None,
                        direction=Direction.REVERSED if given["reverse"] else Direction.AS_DRAWN, faults=faults)
    return plan_request(road, {name: given[name.replace("-", "_")] for name in TEXTS}, faults)


def run(route: str, out: str, given: Mapping[str, Any], progress: Progress) -> bool:
    """Plan and write everything; True when the plan holds."""
    request = read_request(route, given)
    tiles = tile_source(given["tiles"], credit=given["tiles_credit"] or "") if given["tiles"] else None
    plan, road = plan_descent(request, progress=progress)
    sentences = Sentences(plan.task, plan_words(request.language.value), display_units(request.system))
    document = stable_document(plan_document(plan, request, road.route, sentences))
    words = load_words(request.language.value)
    if given["as_json"]:
        progress.done()
        click.echo(plan_json(document), nl=False)
        return plan.feasible
    progress("drawing the page")
    export = export_trip_with_pdf if given["pdf"] else export_trip
    written = export(document, out=Path(out), hillshade=shaded_relief(request.road, road), words=words,
                     date=request.date, tiles=tiles,
                     contours=ground_contours(request.road, road, units=display_units(request.system)))
    progress.done()
    say(trip_text(document, words=words))
    say(os.fspath(written[0]))
    return plan.feasible
