# SPDX-License-Identifier: MIT
"""The debrief as a short text for a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping
from typing import Any

from descent.report import debrief_view as view
from descent.report.debrief_page import given_words
from descent.report.shown import shown_for
from descent.report.words import Words


def debrief_text(document: Mapping[str, Any], *, words: Words, width: int = 88) -> str:
    """Verdict, the numbers to remember, where the plan was left, what went well; no line wider than `width`."""
    shown = shown_for(str(document["conditions"]["units"]), words)
    title = str(document["route"].get("name") or "") or words("debrief.unnamed")
    blocks = [f"{title}: {given_words(document, shown)}", "", view.headline(document, shown).upper() + ".",
              *view.verdict_sentences(document, shown), ""]
    blocks += [words("debrief.terminal.line", name=fact.name, value=fact.value, note=fact.note) if fact.note
               else f"{fact.name}: {fact.value}" for fact in view.debrief_facts(document, shown)]
    if document["departures"]:
        blocks += ["", words("debrief.terminal.left")]
        blocks += [words("debrief.terminal.item", where=shown.span(item["start_m"], item["end_m"]),
                         what=view.departure_words(item, shown), time=view.more_time(item["cost_s"], shown),
                         heat=view.more_heat(item["cost_c"], shown)) for item in document["departures"]]
    blocks += ["", words("debrief.terminal.well"),
               *(words("debrief.terminal.point", text=text) for text in view.well_words(document, shown)),
               "", words("debrief.defer")]
    lines = [line for block in blocks for line in (textwrap.wrap(
        block, width, subsequent_indent="    " if block.startswith("  ") else "") or [""])]
    return "\n".join(lines).replace("\u00a0", " ") + "\n"
