# SPDX-License-Identifier: MIT
"""What `descent debrief` does once its options are read: request, debrief, document, page."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import click

from descent.debrief_pipeline import DebriefRequest, debrief_drive, debrief_request
from descent.faces.cli.options import Progress, say
from descent.report.debrief_document import debrief_document
from descent.report.debrief_page import debrief_files
from descent.report.debrief_text import debrief_text
from descent.report.debrief_words import debrief_words
from descent.report.plan_json import plan_json, stable_document
from descent.report.writing import write_files
from descent.request import Direction

TEXTS = ("places", "vehicle", "gross", "air-temp", "start-temp", "road", "min-speed", "units", "condition", "language")


def read_request(recording: str, given: Mapping[str, Any]) -> DebriefRequest:
    """The request in the options of the command. Raises RequestError with every fault."""
    return debrief_request(
        recording, plan=given["plan"], route=given["route"], dem=given["dem"], grades=given["grades"],
        route_elevation="yes" if given["route_elevation"] else None,
        direction=Direction.REVERSED if given["reverse"] else Direction.AS_DRAWN, seed=given["seed"],
        texts={name: given[name.replace("-", "_")] for name in TEXTS})


def run(recording: str, out: str, given: Mapping[str, Any], progress: Progress) -> None:
    """Debrief the drive and write everything, or print the document."""
    request = read_request(recording, given)
    debrief = debrief_drive(request, progress=progress)
    document = stable_document(debrief_document(debrief, request.plan, recording=recording, plan=given["plan"],
                                                seed=request.seed))
    progress.done()
    if given["as_json"]:
        click.echo(plan_json(document), nl=False)
        return
    words = debrief_words(request.plan.language.value)
    written = write_files(debrief_files(document, words=words), out=Path(out))
    say(debrief_text(document, words=words))
    say(os.fspath(written[0]))
