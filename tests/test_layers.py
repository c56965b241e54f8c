# SPDX-License-Identifier: MIT
"""The import rule: each layer of the package imports only the layers before it, and heavy packages stay at home."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "descent"
COMMON = ("", "kernel_cache", "errors", "units", "constants", "settings", "sources")
ENGINE_ROOM = ("route", "terrain", "downgrades", "vehicle", "physics", "plan")
MAY_IMPORT: dict[str, tuple[str, ...]] = {
    "route": (),
    "terrain": ("route",),
    "downgrades": ("terrain.road_profile",),
    "vehicle": (),
    "physics": ("terrain.road_profile", "vehicle"),
    "plan": ("downgrades", "physics", "vehicle", "terrain.road_profile", "route.places", "route.line"),
    "debrief": ENGINE_ROOM,
    "debrief_pipeline": (*ENGINE_ROOM, "request", "pipeline", "debrief"),
    "lesson": ("physics", "vehicle", "terrain.road_profile", "terrain.from_grades", "downgrades.model"),
    "report": ("request", "lesson_request", "lesson.model", "debrief.model", "route.line", "route.naming",
               "route.places",
               "terrain.road_profile", "downgrades.model", "vehicle.model", "physics.trace", "physics.characteristics",
               "plan.model", "plan.doubt", "plan.next_move"),
    "request": ENGINE_ROOM,
    "pipeline": (*ENGINE_ROOM, "request"),
    "compare": (*ENGINE_ROOM, "request", "pipeline"),
    "lesson_request": ("request",),
    "lesson_pipeline": (*ENGINE_ROOM, "lesson", "lesson_request", "request", "pipeline"),
    "faces": ("pipeline", "request", "report", "compare", "debrief_pipeline", "lesson_pipeline", "lesson_request"),
} | dict.fromkeys(COMMON, ())
HOMES = {
    "rasterio": ("terrain",), "numba": ("terrain", "downgrades", "physics", "plan"), "geopandas": ("route", "report"),
    "pyogrio": ("route", "report"), "folium": ("report",), "weasyprint": ("report",), "jinja2": ("report", "faces"),
    "click": ("faces",), "rich": ("faces",),
}


def imports(path: Path) -> Iterator[str]:
    """Dotted names a module imports, at any depth; `from a import b` counts as a.b."""
    here = ("descent", *path.relative_to(PACKAGE).parts)
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = [*here[:-node.level]] if node.level else []
            base += node.module.split(".") if node.module else []
            yield from (".".join([*base, alias.name]) for alias in node.names)


def layer(path: Path) -> str:
    first = path.relative_to(PACKAGE).parts[0].removesuffix(".py")
    return "" if first in ("__init__", "__main__") else first


@pytest.mark.parametrize("path", sorted(PACKAGE.rglob("*.py")), ids=lambda path: str(path.relative_to(PACKAGE)))
def test_module_imports_only_earlier_layers(path: Path) -> None:
    allowed = (*MAY_IMPORT[layer(path)], layer(path), *COMMON[1:], "__version__")
    for name in imports(path):
        top, _, inner = name.partition(".")
        if top == "descent":
            assert path.name == "__main__.py" or any((inner + ".").startswith(f"{prefix}.") for prefix in allowed), name
        assert layer(path) in HOMES.get(top, (layer(path),)), f"{name} belongs in {HOMES[top]}"
