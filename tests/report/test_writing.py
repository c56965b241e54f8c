# SPDX-License-Identifier: MIT
"""Writing a set of files: all or none when the disk is full, a rename fails, the run is stopped, or two runs meet."""

from __future__ import annotations

import errno
import os
import signal
import subprocess
import sys
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from descent.errors import OutputError
from descent.report import writing
from descent.report.writing import write_files

OLD = {"trip.html": b"old page", "plan.json": b"old plan"}
NEW = {"trip.html": b"new page", "plan.json": b"new plan", "stops.gpx": b"new stops"}


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    write_files(OLD, out=tmp_path / "trip")
    return tmp_path / "trip"


def failing(real: Callable[..., Any], at: int, error: BaseException) -> Callable[..., Any]:
    """`real`, with its call number `at` raising."""
    calls: list[int] = []

    def stand_in(*given: Any, **more: Any) -> Any:
        calls.append(1)
        if len(calls) == at:
            raise error
        return real(*given, **more)
    return stand_in


def test_a_new_set_replaces_the_old(folder: Path) -> None:
    assert [path.name for path in write_files(NEW, out=folder)] == list(NEW)
    assert contents(folder) == NEW


@pytest.mark.parametrize("stop", [OSError(errno.EACCES, "Permission denied"), KeyboardInterrupt()])
@pytest.mark.parametrize("at", [1, 2, 3])
def test_a_rename_that_fails_undoes_those_before(folder: Path, monkeypatch: pytest.MonkeyPatch, at: int,
                                                 stop: BaseException) -> None:
    monkeypatch.setattr(os, "replace", failing(os.replace, at, stop))
    with pytest.raises(KeyboardInterrupt if isinstance(stop, KeyboardInterrupt) else OutputError):
        write_files(NEW, out=folder, obsolete=("card.pdf",))
    assert contents(folder) == OLD


@pytest.mark.parametrize("at", [1, 2, 3])
def test_a_full_disk_leaves_the_old_files(folder: Path, monkeypatch: pytest.MonkeyPatch, at: int) -> None:
    monkeypatch.setattr(writing, "_write", failing(writing._write, at, OSError(errno.ENOSPC, "No space left on device")))
    with pytest.raises(OutputError, match="No space left") as error:
        write_files(NEW, out=folder)
    assert contents(folder) == OLD
    assert error.value.faults[0].code == "output-folder" and error.value.exit_code == 2


def test_a_folder_that_was_made_for_nothing_is_taken_away(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "fsync", failing(os.fsync, 2, OSError(errno.ENOSPC, "No space left on device")))
    with pytest.raises(OutputError):
        write_files(NEW, out=tmp_path / "a" / "b" / "c")
    assert list(tmp_path.iterdir()) == []


def test_a_disk_without_second_names(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "link", failing(os.link, 1, OSError(errno.EPERM, "Operation not permitted")))
    monkeypatch.setattr(os, "replace", failing(os.replace, 3, OSError(errno.EIO, "Input/output error")))
    with pytest.raises(OutputError):
        write_files(NEW, out=folder)
    assert contents(folder) == OLD


def test_obsolete_files_go_and_others_stay(folder: Path) -> None:
    (folder / "card.pdf").write_bytes(b"old card")
    (folder / "notes.txt").write_bytes(b"mine")
    write_files(NEW, out=folder)
    assert "card.pdf" in contents(folder)
    write_files(NEW, out=folder, obsolete=("card.pdf",))
    assert contents(folder) == {**NEW, "notes.txt": b"mine"}


@pytest.mark.parametrize("where", ["file", "file/below", "nul\0byte", "x" * 300])
def test_places_that_are_no_folder(tmp_path: Path, where: str) -> None:
    (tmp_path / "file").write_text("a file")
    with pytest.raises(OutputError, match="--out"):
        write_files(NEW, out=tmp_path / where)
    assert contents(tmp_path) == {"file": b"a file"}


def test_a_folder_in_the_place_of_a_file(folder: Path) -> None:
    (folder / "stops.gpx").mkdir()
    with pytest.raises(OutputError):
        write_files(NEW, out=folder)
    assert sorted(path.name for path in folder.iterdir()) == ["plan.json", "stops.gpx", "trip.html"]
    assert (folder / "plan.json").read_bytes() == b"old plan"


def test_many_runs_into_one_folder_end_with_one_whole_set(tmp_path: Path) -> None:
    sets = [{name: bytes([65 + k]) * 200_000 for name in NEW} for k in range(8)]
    with ThreadPoolExecutor(8) as pool:
        for _ in range(5):
            list(pool.map(lambda files: write_files(files, out=tmp_path), sets))
            found = contents(tmp_path)
            assert found in sets


STOPPED = """
import os, pathlib, signal, sys
from descent.report import writing
real, number, at = getattr(os, sys.argv[2]), getattr(signal, sys.argv[3]), int(sys.argv[4])
signal.signal(signal.SIGINT, signal.default_int_handler)      # a suite run in the background is born deaf to it
calls = []
def stand_in(*given, **more):
    calls.append(1)
    done = real(*given, **more)
    if len(calls) == at:
        os.kill(os.getpid(), number)
    return done
setattr(os, sys.argv[2], stand_in)
writing.write_files({"trip.html": b"new page", "plan.json": b"new plan", "stops.gpx": b"new stops"},
                    out=pathlib.Path(sys.argv[1]))
"""


@pytest.mark.parametrize(("call", "at", "number", "expected"), [
    ("fsync", 2, "SIGINT", OLD), ("replace", 1, "SIGINT", NEW), ("replace", 2, "SIGTERM", NEW), ("link", 1, "SIGINT", NEW)])
def test_a_run_that_is_stopped_leaves_one_whole_set(folder: Path, call: str, at: int, number: str,
                                                    expected: dict[str, bytes]) -> None:
    """Before the files are put in place the old set stays; once that has begun it is finished."""
    done = subprocess.run([sys.executable, "-c", STOPPED, str(folder), call, number, str(at)], check=False,
                          capture_output=True)
    assert done.returncode == -getattr(signal, number), done.stderr
    assert contents(folder) == expected
