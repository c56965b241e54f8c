# SPDX-License-Identifier: MIT
"""Nothing of the machine it was written on, and nothing fetched from someone else's host, stands in the project."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
TEXT = {".py", ".toml", ".md", ".css", ".js", ".jinja", ".html", ".svg", ".json", ".geojson", ".gpx", ".csv", ".sh"}
OWN_PATH = re.compile(r"""(?:^|[\s"'(=`])(?:/(?:home|root|work|mnt|Users)/|[A-Z]:\\\\?Users)""", re.MULTILINE)
FOREIGN_HOST = re.compile(
    r"""(?:https?:)?//[^\s"')]*(?:cdn|unpkg|jsdelivr|googleapis|gstatic|cloudflare|bootstrap)""", re.IGNORECASE)


def files(*places: str) -> list[Path]:
    found = [path for place in places for path in [ROOT / place, *sorted((ROOT / place).rglob("*"))]]
    return [path for path in found if path.suffix in TEXT and path.is_file() and path != Path(__file__)]


@pytest.mark.parametrize("path", files("descent", "tests", "docs", "data", "README.md", "DEVELOPERS.md", "pyproject.toml"),
                         ids=lambda path: str(path.relative_to(ROOT)))
def test_no_path_of_a_machine(path: Path) -> None:
    found = OWN_PATH.search(path.read_text(encoding="utf-8", errors="replace"))
    assert found is None, f"a path of one machine: {found.group().strip()!r}"


@pytest.mark.parametrize("path", files("descent"), ids=lambda path: str(path.relative_to(ROOT)))
def test_no_foreign_host(path: Path) -> None:
    found = FOREIGN_HOST.search(path.read_text(encoding="utf-8", errors="replace"))
    assert found is None, f"a page must load nothing from elsewhere: {found.group()!r}"


def test_the_patterns_catch_what_they_are_for() -> None:
    assert OWN_PATH.search('open("/ho' + 'me/someone/roads.gpx")')
    assert FOREIGN_HOST.search('<script src="https://un' + 'pkg.example/leaflet.js">')
    assert not OWN_PATH.search("rise/run, see docs/home/notes and https://example.org/home/")
