# SPDX-License-Identifier: MIT
"""Every example in the docstrings of physics and vehicle runs, and public functions say units, range, source, example."""

from __future__ import annotations

import doctest
import importlib
import inspect
import pkgutil
import re
from types import FunctionType, ModuleType

import pytest

import descent.physics
import descent.vehicle

MODULES = [f"{package.__name__}.{item.name}" for package in (descent.physics, descent.vehicle)
           for item in pkgutil.iter_modules(package.__path__)]
WRITTEN_OUT = ("balance", "characteristics", "curves", "driveline", "engine_drag", "regeneration", "retarder", "road_load")
UNIT = re.compile(r"\[[^\]]*(?:1|N|N m|m|m/s|rpm|W|J|kPa|kg/m3|kg|C|s)\]|\(0 to 1\)")


@pytest.mark.parametrize("name", MODULES)
def test_examples_run(name: str) -> None:
    result = doctest.testmod(importlib.import_module(name))
    assert result.failed == 0


def functions(module: ModuleType) -> list[FunctionType]:
    return [item for name, item in vars(module).items() if inspect.isfunction(item) and not name.startswith("_")
            and item.__module__ == module.__name__]


@pytest.mark.parametrize("name", WRITTEN_OUT)
def test_public_functions_name_units_range_source_and_example(name: str) -> None:
    found = functions(importlib.import_module(f"descent.physics.{name}"))
    assert found
    for item in found:
        text = item.__doc__ or ""
        assert UNIT.search(text) or "arguments, range and source of" in text, f"{item.__name__} names no unit"
        assert ">>>" in text, f"{item.__name__} has no example"
        assert re.search(r"[Ss]ource|\bkeys? [a-z]", text), f"{item.__name__} names no source"
        if inspect.signature(item).return_annotation == "FloatArray":
            assert re.search(r"\(n\w*(?:, ?n?)?\)|\(n_axles, n\)|\(\) or \(n,\)", text), f"{item.__name__} names no shape"


def test_the_example_runner_sees_compiled_functions() -> None:
    module = importlib.import_module("descent.physics.foundation_brake")
    assert sum(len(item.examples) for item in doctest.DocTestFinder().find(module)) >= 2
