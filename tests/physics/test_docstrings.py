# SPDX-License-Identifier: MIT
"""Every example in the docstrings of physics and vehicle runs, and public functions say units, range, source, example."""

from __future__ import annotations

import doctest
import importlib
import inspect
import pkgutil
import re
import tomllib
from importlib import resources
from types import FunctionType, ModuleType

import pytest

import descent.physics
import descent.vehicle

MODULES = [f"{package.__name__}.{item.name}" for package in (descent.physics, descent.vehicle)
           for item in pkgutil.iter_modules(package.__path__)]
PHYSICS = [name for name in MODULES if name.startswith("descent.physics.")]
UNIT = re.compile(r"\[[^\]]*(?:1|N|N m|m|m/s|rpm|W|J|K|kPa|kg/m3|kg|C|s)\]|\(0 to 1\)")
SHAPE = re.compile(r"\((?:n|m|\d)[\w +]*(?:, ?[\w +]*)?\)")
KEYS = re.compile(r"\bkeys?\s+([a-z]\w*(?:,\s+[a-z]\w*_\w*)*)")
SEEN_IN = re.compile(r"Example:\s+`(descent\.physics\.\w+)\.(\w+)`")


@pytest.mark.parametrize("name", MODULES)
def test_examples_run(name: str) -> None:
    result = doctest.testmod(importlib.import_module(name))
    assert result.failed == 0


def functions(module: ModuleType) -> list[FunctionType]:
    """Public functions of a module, compiled and cached ones unwrapped."""
    plain = [inspect.unwrap(getattr(item, "py_func", item)) for name, item in vars(module).items()
             if not name.startswith("_") and callable(item) and not inspect.isclass(item)]
    return [item for item in plain if inspect.isfunction(item) and item.__module__ == module.__name__]


def test_compiled_and_cached_functions_are_found() -> None:
    names = {item.__name__ for module in ("foundation_brake", "stop_kernel", "road_load")
             for item in functions(importlib.import_module(f"descent.physics.{module}"))}
    assert {"forces_at", "stops_along", "rolling_factors"} <= names


@pytest.mark.parametrize("name", PHYSICS)
def test_public_functions_name_units_shapes_source_and_example(name: str) -> None:
    """A module without functions (`trace`) is held to the same by its public classes. A function of a compiled kernel
    must name shapes, units and source; its example may stand in the wrapper that its docstring names."""
    module = importlib.import_module(name)
    found = functions(module) or [item for item in vars(module).values()
                                  if inspect.isclass(item) and item.__module__ == name]
    assert found
    for item in found:
        text = item.__doc__ or ""
        assert UNIT.search(text) or "arguments, range and source of" in text, f"{item.__name__} names no unit"
        assert ">>>" in text or (name.endswith("_kernel") and shown_elsewhere(text)), f"{item.__name__} has no example"
        assert re.search(r"[Ss]ource", text) or KEYS.search(text), f"{item.__name__} names no source"
        if any("FloatArray" in str(kind) for kind in item.__annotations__.values()):
            assert SHAPE.search(text) or "arguments, range and source of" in text, f"{item.__name__} names no shape"


def shown_elsewhere(text: str) -> bool:
    named = SEEN_IN.search(text)
    return named is not None and ">>>" in (getattr(importlib.import_module(named[1]), named[2]).__doc__ or "")


def test_the_wrapper_named_must_have_an_example() -> None:
    assert shown_elsewhere("Example: `descent.physics.march.march`.")
    assert not shown_elsewhere("Example: `descent.physics.air_system.dataclass`.")
    assert not shown_elsewhere("The wrapper shows it.")


@pytest.mark.parametrize("name", PHYSICS)
def test_source_keys_exist(name: str) -> None:
    known = tomllib.loads((resources.files("descent") / "sources.toml").read_text(encoding="utf-8"))
    for item in functions(importlib.import_module(name)):
        for group in KEYS.findall(item.__doc__ or ""):
            for key in re.split(r",\s+", group):
                assert key in known, f"{item.__name__} names the source key {key}, which is not in sources.toml"


def test_the_example_runner_sees_compiled_functions() -> None:
    module = importlib.import_module("descent.physics.foundation_brake")
    assert sum(len(item.examples) for item in doctest.DocTestFinder().find(module)) >= 2
