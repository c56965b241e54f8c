# SPDX-License-Identifier: MIT
"""The registry of sources: what each key stands for, how far it can be trusted and what it is used for."""

from __future__ import annotations

import difflib
import sys
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import Enum
from functools import cache
from importlib import resources
from types import MappingProxyType


class Trust(Enum):
    """How far the numbers taken from a source can be trusted."""

    SEEN = "seen"
    SEEN_SECONDARY = "seen-2"
    MEMORY_HIGH = "memory-high"
    MEMORY_MEDIUM = "memory-medium"
    MEMORY_LOW = "memory-low"
    DERIVED = "derived"
    ASSUMED = "assumed"
    PRACTICE = "practice"


TRUST_WORDS: Mapping[Trust, str] = MappingProxyType({
    Trust.SEEN: "read in the source itself or on an official page",
    Trust.SEEN_SECONDARY: "read in a secondary text that quotes the source",
    Trust.MEMORY_HIGH: "from memory, high confidence",
    Trust.MEMORY_MEDIUM: "from memory, medium confidence",
    Trust.MEMORY_LOW: "from memory, low confidence",
    Trust.DERIVED: "derived by arithmetic from other sources",
    Trust.ASSUMED: "assumed here, no source",
    Trust.PRACTICE: "common practice, no source",
})


@dataclass(frozen=True)
class Source:
    """One work, or one stand-in for none: citation, trust and use. year is None where not known."""

    key: str
    author: str
    year: int | None
    title: str
    report: str
    place: str
    status: Trust
    used_for: str
    note: str

    @property
    def citation(self) -> str:
        """Author, year, title, report number and place in one line."""
        who = f"{self.author} ({self.year})" if self.year is not None else self.author
        return ", ".join(part for part in (who, self.title, self.report, self.place) if part)


@cache
def load_sources() -> Mapping[str, Source]:
    """All sources by key, in the registry's order (read once, read-only).

    >>> load_sources()["bowman_1989_fhwa_ip_88_015"].status.value
    'memory-high'
    """
    text = (resources.files("descent") / "sources.toml").read_text(encoding="utf-8")
    return MappingProxyType({key: _source(key, row) for key, row in tomllib.loads(text).items()})


def cite(keys: Iterable[str]) -> list[dict[str, str | int | None]]:
    """The sources of `keys` as plain records for plan.json: each once, in the registry's order.

    Raises KeyError for a key the registry does not have; the message names near matches.

    >>> [record["key"] for record in cite(["practice", "mutcd", "practice"])]
    ['practice', 'mutcd']
    """
    sources = load_sources()
    wanted = set(keys)
    for key in sorted(wanted):
        if key not in sources:
            near = difflib.get_close_matches(key, sources, 3, 0.5)
            hint = f"did you mean {' or '.join(near)}?" if near else "see sources.toml for the known keys"
            raise KeyError(f"no source has the key {key!r}; {hint}")
    return [_record(source) for key, source in sources.items() if key in wanted]


def sources_markdown() -> str:
    """The registry as the page docs/sources.md."""
    lines = ["# Sources", "",
             "Generated from `descent/sources.toml` by `python -m descent.sources > docs/sources.md`; do not edit.", "",
             "How far a number can be trusted:", ""]
    lines += [f"- **{trust.value}**: {words}" for trust, words in TRUST_WORDS.items()]
    lines += ["", "| key | source | trust | used for | note |", "|---|---|---|---|---|"]
    for source in load_sources().values():
        cells = (f"`{source.key}`", source.citation, source.status.value, source.used_for, source.note)
        lines.append("| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |")
    return "\n".join(lines) + "\n"


def _source(key: str, row: Mapping[str, str | int]) -> Source:
    year = row.get("year")
    known = {"author", "year", "title", "report", "place", "status", "used_for", "note"}
    if unknown := set(row) - known:
        raise ValueError(f"sources.toml [{key}]: unknown field {', '.join(sorted(unknown))}")
    return Source(key, str(row["author"]), int(year) if year is not None else None, str(row.get("title", "")),
                  str(row.get("report", "")), str(row.get("place", "")), Trust(row["status"]), str(row["used_for"]),
                  str(row.get("note", "")))


def _record(source: Source) -> dict[str, str | int | None]:
    return {"key": source.key, "author": source.author, "year": source.year, "title": source.title,
            "report": source.report, "place": source.place, "status": source.status.value,
            "trust": TRUST_WORDS[source.status], "used_for": source.used_for, "note": source.note,
            "citation": source.citation}


if __name__ == "__main__":
    sys.stdout.write(sources_markdown())
