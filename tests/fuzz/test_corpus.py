# SPDX-License-Identifier: MIT
"""Inputs the fuzzer found, and files mutated at random, give an answer or a clean error from every reader."""

from __future__ import annotations

import tempfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from .fuzz_readers import raster
from .fuzz_targets import DEM_FORMS, TARGETS, one_input

CORPUS = Path(__file__).parent / "corpus"
KEPT = sorted(path for path in CORPUS.rglob("*") if path.is_file())
FEW = settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))


@pytest.mark.parametrize("path", KEPT, ids=lambda path: str(path.relative_to(CORPUS)))
def test_kept_inputs(path: Path, tmp_path: Path) -> None:
    assert one_input(path.parent.name, path.read_bytes(), tmp_path)


def test_the_corpus_is_small_and_known() -> None:
    assert sum(path.stat().st_size for path in KEPT) < 200_000
    assert {path.parent.name for path in KEPT} <= set(TARGETS)


def mutated(draw: st.DrawFn, good: bytes) -> bytes:
    content = bytearray(good)
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(content)))
        junk = draw(st.binary(max_size=12))
        content[at:at + draw(st.sampled_from([0, 1, len(junk), 40]))] = junk
    return bytes(content)


@FEW
@given(data=st.data())
@pytest.mark.parametrize("form", [form for form in DEM_FORMS if form != "hgt"])
def test_mutated_elevation_files(form: str, data: st.DataObject) -> None:
    content = data.draw(st.composite(lambda draw: mutated(draw, raster(form)))())
    with tempfile.TemporaryDirectory() as folder:
        one_input(form, content, Path(folder))


@FEW
@given(data=st.data())
def test_mutated_vehicle_files(data: st.DataObject) -> None:
    good = b'base = "dump-truck"\ntitle = "x"\n[engine]\ndisplacement = { value = "12L", source = "assumed" }\n'
    content = data.draw(st.composite(lambda draw: mutated(draw, good))())
    with tempfile.TemporaryDirectory() as folder:
        one_input("vehicle", content, Path(folder))


@FEW
@given(text=st.text(max_size=30))
def test_any_quantity(text: str) -> None:
    with tempfile.TemporaryDirectory() as folder:
        one_input("quantity", text.encode("utf-8", "replace"), Path(folder))
