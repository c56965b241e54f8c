# SPDX-License-Identifier: MIT
"""Writing: all files or none, the same bytes each time, no old card beside a new refusal."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import pytest

from descent.errors import OutputError
from descent.report.export import export_trip, trip_files, write_files
from descent.report.words import Words
from report.make_document import FakeHillshade

NAMES = ["trip.html", "plan.json", "profile.csv", "plan.geojson", "stops.gpx"]


def test_the_files_of_a_trip(
    document: dict[str, Any], hillshade: FakeHillshade, words: Words, tmp_path: Path
) -> None:
    written = export_trip(document, out=tmp_path / "new" / "trip", hillshade=hillshade, words=words)
    assert [path.name for path in written] == NAMES
    assert sorted(path.name for path in (tmp_path / "new" / "trip").iterdir()) == sorted(NAMES)


def test_same_bytes_from_the_document_and_from_its_plan_json(document: dict[str, Any], words: Words) -> None:
    first = trip_files(document, hillshade=None, words=words)
    again = trip_files(json.loads(first["plan.json"]), hillshade=None, words=words)
    assert again == first


def test_nothing_half_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The disk fills up at the second file: the first, from an earlier run, is as it was."""
    (tmp_path / "a.txt").write_bytes(b"old")
    real, calls = os.fsync, []

    def full(handle: int) -> None:
        calls.append(handle)
        if len(calls) == 2:
            raise OSError(28, "No space left on device")
        real(handle)

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OutputError, match="No space left"):
        write_files({"a.txt": b"new", "b.txt": b"new"}, out=tmp_path)
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == {"a.txt": b"old"}


def test_a_file_in_the_folders_place(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("a file")
    with pytest.raises(OutputError, match="--out"):
        write_files({"a.txt": b""}, out=tmp_path / "out")


def test_an_old_card_does_not_stay_beside_a_refusal(
    refusal: dict[str, Any], words: Words, tmp_path: Path
) -> None:
    (tmp_path / "card.pdf").write_bytes(b"an earlier plan")
    export_trip(refusal, out=tmp_path, hillshade=None, words=words)
    assert not (tmp_path / "card.pdf").exists()
