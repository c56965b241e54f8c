# SPDX-License-Identifier: MIT
"""What `descent lesson` does once its options are read: request, grid, document, page, files, a few words."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from descent.faces.cli.options import Progress, say
from descent.lesson_pipeline import lesson_for
from descent.lesson_request import lesson_request
from descent.report.lesson_document import lesson_document
from descent.report.lesson_page import lesson_files
from descent.report.lesson_text import lesson_text
from descent.report.lesson_words import lesson_words
from descent.report.words import load_words
from descent.report.writing import write_files
from descent.request import Direction

TEXTS = ("grades", "grade", "length", "vehicle", "gross", "air-temp", "start-temp", "units", "language")


def run(route: str | None, out: str, given: Mapping[str, Any], progress: Progress) -> None:
    """Compute a lesson and write it; say what becomes of each gear."""
    request = lesson_request(route, {name: given[name.replace("-", "_")] for name in TEXTS}, dem=tuple(given["dem"]),
                             direction=Direction.REVERSED if given["reverse"] else Direction.AS_DRAWN,
                             heights_in_route="yes" if given["route_elevation"] else None)
    document = lesson_document(lesson_for(request, progress=progress), request)
    progress("drawing the page")
    words, own = load_words(request.language.value), lesson_words(request.language.value)
    written = write_files(lesson_files(document, words=words, say=own), out=Path(out))
    progress.done()
    say(lesson_text(document, words=words, own=own))
    say(os.fspath(written[0]))
