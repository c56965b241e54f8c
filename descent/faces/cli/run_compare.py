# SPDX-License-Identifier: MIT
"""What `descent compare` does once its options are read: cases, plans, document, files, terminal."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import click

from descent.compare.answers import Answer, answers, answers_with_heaviest
from descent.compare.cases import Case, Heights, read_cases
from descent.compare.fleet import FleetUnit, read_fleet
from descent.errors import Fault, RequestError
from descent.faces.cli.options import Progress, say
from descent.report.compare_document import CaseGiven, compare_document, route_name
from descent.report.compare_page import comparison_text, export_comparison
from descent.report.document import plan_document
from descent.report.plan_json import plan_json, stable_document
from descent.report.sentences import Sentences, plan_words
from descent.request import Direction
from descent.units import MASS, display_units, parse

AXES = ("vehicle", "gross", "condition", "air-temp", "road", "retarder")
COMMON = ("places", "start-temp", "min-speed", "units", "language")


def run(routes: Sequence[str], out: str, given: Mapping[str, Any], progress: Progress) -> bool:
    """Plan all cases and write everything; True when at least one holds."""
    cases = _read(routes, given)
    found = answers(cases, progress=progress) if given["quick"] else answers_with_heaviest(cases, progress=progress)
    document = stable_document(compare_document([(_given(answer), _plan_document(answer)) for answer in found]))
    if given["as_json"]:
        progress.done()
        click.echo(plan_json(document), nl=False)
    else:
        language = cases[0].request.language.value
        written = export_comparison(document, out=Path(out), language=language)
        progress.done()
        say(comparison_text(document, language=language))
        say(os.fspath(written[0]))
    return any(answer.plan is not None and answer.plan.feasible for answer in found)


def _read(routes: Sequence[str], given: Mapping[str, Any]) -> tuple[Case, ...]:
    heights = Heights(tuple(given["dem"]), given["grades"], "yes" if given["route_elevation"] else None,
                      Direction.REVERSED if given["reverse"] else Direction.AS_DRAWN)
    axes = {name: given[name.replace("-", "_")] for name in AXES}
    common = {name: given[name.replace("-", "_")] for name in COMMON}
    return read_cases(routes, heights, axes, common, _fleet(given))


def _fleet(given: Mapping[str, Any]) -> tuple[FleetUnit, ...]:
    if not given["fleet"] and not given["load"]:
        return ()
    if not given["fleet"] or not given["load"]:
        raise RequestError(Fault("fleet-and-load", "a fleet and a load belong together",
                                 "Give both --fleet FILE and --load WEIGHT", "compare"))
    if given["vehicle"] or given["gross"] or given["condition"]:
        raise RequestError(Fault("fleet-and-load", "the fleet file already names vehicles, weights and walk-rounds",
                                 "Leave out --vehicle, --gross and --condition, or leave out --fleet", "compare"))
    return read_fleet(given["fleet"], load_kg=parse(given["load"], MASS, where="--load"))


def _plan_document(answer: Answer) -> dict[str, Any] | None:
    if answer.plan is None or answer.road is None:
        return None
    request = answer.case.request
    sentences = Sentences(answer.plan.task, plan_words(request.language.value), display_units(request.system))
    return stable_document(plan_document(answer.plan, request, answer.road.route, sentences))


def _given(answer: Answer) -> CaseGiven:
    case, plan = answer.case, answer.plan
    most, tonne = None, None
    if answer.heaviest is not None and plan is not None:
        most = {"no_cool_down_kg": answer.heaviest.no_cool_down_kg, "any_stop_kg": answer.heaviest.any_stop_kg,
                "rated_kg": plan.task.vehicle.rated_gross_kg}
    more = [] if plan is None else [item for item in plan.alternatives
                                    if item.kind == "weight" and float(item.values["change_kg"]) > 0]
    if more:
        tonne = {key: float(value) for key, value in more[0].values.items() if key == "change_s"}
    fault = plan_words(case.request.language.value).said(answer.fault)
    return CaseGiven(case.unit, route_name(case.request.road.route), case.retarder.value, fault, most, tonne)
