# SPDX-License-Identifier: MIT
"""The pages on forces and brakes: plots drawn by the code of today, nothing missing, every link leads somewhere."""

from __future__ import annotations

import importlib.util
import re
import sys
import xml.etree.ElementTree as ET
from pathlib import Path
from types import ModuleType

import pytest

from descent.sources import load_sources

DOCS = Path(__file__).parents[2] / "docs"
PAGES = sorted([*(DOCS / "forces").glob("*.md"), *(DOCS / "brakes").glob("*.md")])


def script(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(f"docs_{name}", DOCS / f"{name}.py")
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    before = list(sys.path)
    try:
        spec.loader.exec_module(module)
    finally:
        sys.path[:] = before
    return module


def test_plots_are_fresh_and_whole() -> None:
    figures = script("plots").figures()
    for name, svg in figures.items():
        assert (DOCS / "images" / name).read_text(encoding="utf-8") == svg, f"stale: make docs ({name})"
        assert "nan" not in svg and ET.fromstring(svg) is not None
    used = {found for page in PAGES for found in re.findall(r"images/([\w-]+\.svg)", page.read_text(encoding="utf-8"))}
    assert used == set(figures)


def test_the_catalogue_page_is_fresh() -> None:
    assert (DOCS / "vehicles.md").read_text(encoding="utf-8") == script("catalogue").vehicles_page(), "stale: make docs"


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.stem)
def test_a_page_has_equation_plot_origin_and_end_of_truth(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    assert re.search(r"^    \S", text, re.MULTILINE), "an equation"
    for part in ("../images/", "**Where it comes from.**", "**Where it stops being true.**", "Code: `descent."):
        assert part in text.replace("Code:\n", "Code: "), part
    assert len(text.splitlines()) < 60


@pytest.mark.parametrize("page", [*PAGES, DOCS / "index.md", DOCS / "vehicle-file.md"], ids=lambda page: page.stem)
def test_links_and_source_keys_lead_somewhere(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    for target in re.findall(r"\]\(([^)#]+)(?:#[\w-]+)?\)", text):
        assert (page.parent / target).exists(), target
    for key in re.findall(r"`([a-z]+_[a-z0-9_]*\d[a-z0-9_]*)`", text):
        assert key in load_sources() or not re.search(r"_(?:19|20)\d\d", key), key


def test_the_index_lists_every_page() -> None:
    index = (DOCS / "index.md").read_text(encoding="utf-8")
    assert all(f"({page.parent.name}/{page.name})" in index for page in PAGES)
