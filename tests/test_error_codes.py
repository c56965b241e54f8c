# SPDX-License-Identifier: MIT
"""Every fault carries a code of the registry, the registry holds no other, and the page is made from it."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from descent import errors
from descent.errors import KINDS, DescentError, ElevationError, InputError, errors_markdown, load_codes

ROOT = Path(__file__).parents[1]
CODE = re.compile(r"[a-z][a-z0-9]*(?:-[a-z0-9]+)+")
SINKS = {"Fault": 0, "_fault": 0, "one_fault": 2, "add": 0}          # where the code stands among the arguments
PASSED_ON = {"add", "one_fault", "_fault"}                           # functions that only hand a code on
# Codes that stand in a table or a choice before they reach a sink: module and variable.
BY_VARIABLE = {("route/features.py", "code"), ("route/vector_layers.py", "code")}
# Raised for the programmer, or caught inside; never reach a user.
INSIDE = {"route/tags.py", "route/kml.py", "report/pdf.py", "report/lesson_pack.py", "physics/brake_heat.py", "sources.py",
          "route/vector_layers.py", "debrief/plan_file.py"}


def modules() -> list[Path]:
    return sorted((ROOT / "descent").rglob("*.py"))


def called(call: ast.Call) -> str:
    return call.func.id if isinstance(call.func, ast.Name) else call.func.attr if isinstance(call.func, ast.Attribute) else ""


def sinks(tree: ast.AST, inside: str = "") -> Iterator[tuple[ast.expr, str]]:
    """The expression of each code that is given, and the function it stands in."""
    for node in ast.iter_child_nodes(tree):
        here = node.name if isinstance(node, ast.FunctionDef) else inside
        if isinstance(node, ast.Call) and called(node) in SINKS:
            at = SINKS[called(node)]
            if called(node) != "add" or len(node.args) >= 3:
                yield node.args[at], here
        yield from sinks(node, here)


def texts(node: ast.AST) -> set[str]:
    return {item.value for item in ast.walk(node)
            if isinstance(item, ast.Constant) and isinstance(item.value, str) and CODE.fullmatch(item.value)}


def given_codes() -> dict[str, set[str]]:
    """Codes by module; a code that is not written down where it is used fails unless its variable is known."""
    found: dict[str, set[str]] = {}
    for path in modules():
        name = path.relative_to(ROOT / "descent").as_posix()
        tree = ast.parse(path.read_text(encoding="utf-8"))
        for code, function in sinks(tree):
            if function in PASSED_ON and isinstance(code, ast.Name):
                continue
            if isinstance(code, ast.Name):
                assert (name, code.id) in BY_VARIABLE, f"{name}: the code is not written where it is used"
                found.setdefault(name, set()).update(texts(tree) & set(load_codes()))
            else:
                assert texts(code), f"{name}: no code in {ast.unparse(code)}"
                found.setdefault(name, set()).update(texts(code))
    return found


def test_every_code_is_registered_and_every_registered_code_is_given() -> None:
    found = given_codes()
    assert len(found) > 20
    assert set().union(*found.values()) == set(load_codes())


def test_the_collector_sees_a_new_code() -> None:
    tree = ast.parse("def f():\n    raise RouteError(Fault('brand-new', 'x', 'y'))")
    (code, function), = sinks(tree)
    assert texts(code) == {"brand-new"} and function == "f"


def test_entries_are_sentences_of_a_known_kind() -> None:
    for entry in load_codes().values():
        assert CODE.fullmatch(entry.code) and entry.kind in KINDS
        assert entry.means.endswith(".") and entry.do.endswith(".")


def test_the_page_is_made_from_the_registry() -> None:
    assert (ROOT / "docs" / "errors.md").read_text(encoding="utf-8") == errors_markdown()


def error_classes(kind: type[DescentError]) -> Iterator[type[DescentError]]:
    for child in kind.__subclasses__():
        yield child
        yield from error_classes(child)


def test_exit_statuses_follow_the_tree() -> None:
    kinds = set(error_classes(DescentError))
    assert {kind for kind in kinds if kind.exit_code == errors.EXIT_ELEVATION} == {ElevationError}
    assert all(kind.exit_code == errors.EXIT_BAD_INPUT for kind in kinds if issubclass(kind, InputError))


@pytest.mark.parametrize("path", modules(), ids=lambda path: str(path.relative_to(ROOT / "descent")))
def test_nothing_else_is_raised_at_users(path: Path) -> None:
    """Other exceptions are raised only where they are caught inside or can only be a programmer's mistake."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for node in ast.walk(tree):
        if isinstance(node, ast.Raise) and isinstance(node.exc, ast.Call | ast.Name):
            name = called(node.exc) if isinstance(node.exc, ast.Call) else node.exc.id
            if name in dir(__builtins__) or name in __import__("builtins").__dict__:
                assert path.relative_to(ROOT / "descent").as_posix() in INSIDE, f"{name} in line {node.lineno}"


def elevation_codes(tree: ast.AST) -> set[str]:
    """Codes handed to ElevationError where it is raised, directly."""
    return {code for node in ast.walk(tree) if isinstance(node, ast.Call) and called(node) == "ElevationError"
            for argument in node.args for code in texts(argument)}


def test_codes_of_elevation_errors_are_of_that_kind() -> None:
    codes = load_codes()
    for path in modules():
        for code in elevation_codes(ast.parse(path.read_text(encoding="utf-8"))) & set(codes):
            assert codes[code].kind == "elevation", code
