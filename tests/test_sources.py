# SPDX-License-Identifier: MIT
"""The registry of sources: well-formed, honest about trust, in step with its page and with the keys in use."""

from __future__ import annotations

import ast
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from descent.sources import TRUST_WORDS, Source, Trust, cite, load_sources, sources_markdown

ROOT = Path(__file__).parents[1]


def keys_in_code() -> Iterator[tuple[str, str]]:
    """String constants given as source_keys=... or cite(...) in the package."""
    for path in sorted((ROOT / "descent").rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            for value in _key_expressions(node):
                yield from ((path.name, leaf.value) for leaf in ast.walk(value)
                            if isinstance(leaf, ast.Constant) and isinstance(leaf.value, str))


def _key_expressions(node: ast.AST) -> list[ast.expr]:
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "cite":
        return list(node.args)
    if isinstance(node, ast.keyword) and node.arg == "source_keys":
        return [node.value] if isinstance(node.value, ast.Tuple | ast.List) else []
    return []


def keys_in_tables() -> Iterator[tuple[str, str]]:
    """Values of `source` in the package's tables."""
    def walk(value: object) -> Iterator[str]:
        if isinstance(value, dict):
            for name, below in value.items():
                yield from [below] if name == "source" and isinstance(below, str) else walk(below)
        elif isinstance(value, list):
            for below in value:
                yield from walk(below)

    for path in sorted((ROOT / "descent").rglob("tables/*.toml")):
        yield from ((path.name, key) for key in walk(tomllib.loads(path.read_text(encoding="utf-8"))))


@pytest.mark.parametrize("source", load_sources().values(), ids=lambda source: source.key)
def test_every_source_says_who_what_for_and_how_sure(source: Source) -> None:
    assert source.author
    assert source.used_for
    assert source.title or source.report, "a source needs a title or a number"
    assert source.status in TRUST_WORDS
    assert source.year is None or 1900 < source.year < 2030
    assert not source.citation.endswith((",", " "))


def test_stand_ins_for_no_source_say_so() -> None:
    sources = load_sources()
    assert sources["assumed"].status is Trust.ASSUMED
    assert sources["practice"].status is Trust.PRACTICE
    assert "no source" in TRUST_WORDS[Trust.PRACTICE]


def test_severity_constants_are_marked_as_memory() -> None:
    assert load_sources()["fhwa_grade_severity"].status is Trust.MEMORY_HIGH
    assert load_sources()["wydot_2018_wy1901f"].status is Trust.MEMORY_MEDIUM


def test_cite_gives_each_once_in_the_registry_order() -> None:
    records = cite(["un_r13", "fhwa_grade_severity", "un_r13"])
    assert [record["key"] for record in records] == ["fhwa_grade_severity", "un_r13"]
    assert records[1]["status"] == "memory-high"
    assert records[1]["trust"] == "from memory, high confidence"


def test_unknown_key_names_near_matches() -> None:
    with pytest.raises(KeyError, match="heywood_1988"):
        cite(["heywod_1988"])
    with pytest.raises(KeyError, match=r"sources\.toml"):
        cite(["qqqqqqqq"])


def test_the_registry_cannot_be_changed() -> None:
    with pytest.raises(TypeError):
        load_sources()["assumed"] = load_sources()["practice"]  # type: ignore[index]
    assert load_sources() is load_sources()


def test_keys_in_use_are_known() -> None:
    used = [*keys_in_code(), *keys_in_tables()]
    assert used
    unknown = [f"{place}: {key}" for place, key in used if key not in load_sources()]
    assert not unknown


def test_page_of_sources_is_fresh() -> None:
    page = ROOT / "docs" / "sources.md"
    assert page.read_text(encoding="utf-8") == sources_markdown(), (
        "stale: python -m descent.sources > docs/sources.md")
