# SPDX-License-Identifier: MIT
"""Writes a set of files into a folder: all or none, whole or not at all, whatever happens on the way."""

from __future__ import annotations

import contextlib
import os
import secrets
import shutil
import signal
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from descent.errors import Fault, OutputError

try:
    import fcntl
except ImportError:             # no such locks on this system; each file is still whole
    fcntl = None  # type: ignore[assignment]


def write_files(files: Mapping[str, bytes], *, out: Path, obsolete: Sequence[str] = ()) -> tuple[Path, ...]:
    """Write files by name into `out` (made if missing), remove those named `obsolete`, and return the paths.

    Everything is written beside its place first; then, while no other run may do the same in this folder, each file
    is put in place by one rename. Where anything fails or the run is stopped, the old files are as they were and
    nothing new is left. Raises OutputError output-folder.
    """
    made = _missing_folders(out)
    waiting: list[tuple[Path, Path]] = []
    try:
        out.mkdir(parents=True, exist_ok=True)
        for name, content in files.items():
            temporary = out / f".{name}.{secrets.token_hex(4)}.part"
            waiting.append((temporary, out / name))
            _write(temporary, content)
        with _alone_in(out), _undisturbed():
            _put_in_place(waiting, [out / name for name in obsolete])
    except BaseException as error:
        for temporary, _ in waiting:
            _forget(temporary)
        for folder in made:
            with contextlib.suppress(OSError, ValueError):
                folder.rmdir()
        if isinstance(error, OSError | ValueError):
            raise OutputError(Fault("output-folder", f"the files cannot be written here: {_reason(error)}",
                                    "Choose a folder that can be written, with room on its disk, with --out",
                                    str(out))) from error
        raise
    return tuple(final for _, final in waiting)


def _reason(error: OSError | ValueError) -> str:
    return (error.strerror if isinstance(error, OSError) else None) or str(error)


def _missing_folders(out: Path) -> list[Path]:
    """The folders that making `out` will make, the innermost first."""
    try:
        return [folder for folder in (out, *out.parents) if not os.path.lexists(folder)]
    except (OSError, ValueError):
        return []


def _write(path: Path, content: bytes) -> None:
    with path.open("xb") as handle:
        handle.write(content)
        handle.flush()
        os.fsync(handle.fileno())


@contextlib.contextmanager
def _alone_in(folder: Path) -> Iterator[None]:
    """Hold the folder's lock, where the system has one: of two runs one waits until the other's set is whole."""
    if fcntl is None:
        yield
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        with contextlib.suppress(OSError):      # some network disks know no locks
            fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)


@contextlib.contextmanager
def _undisturbed() -> Iterator[None]:
    """Hold back the signals that stop a run, where the system can, for the moment the renames take."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT, signal.SIGTERM})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


@dataclass(frozen=True)
class _Step:
    """One change: the file in place and where its old content is kept (None: there was none)."""

    final: Path
    kept: Path | None


def _put_in_place(waiting: Sequence[tuple[Path, Path]], obsolete: Sequence[Path]) -> None:
    """Rename all into place; undo everything when one fails or the run is stopped."""
    steps: list[_Step] = []
    try:
        for final in (*(final for _, final in waiting), *obsolete):
            steps.append(_Step(final, _keep(final)))
        for temporary, final in waiting:
            os.replace(temporary, final)
        for final in obsolete:
            final.unlink(missing_ok=True)
    except BaseException:
        for step in steps:
            _undo(step)
        raise
    for step in steps:
        if step.kept is not None:
            _forget(step.kept)


def _keep(final: Path) -> Path | None:
    """A second name for the old content (a copy where there can be none); None when there is no old content."""
    if not os.path.lexists(final):
        return None
    kept = final.with_name(f".{final.name}.{secrets.token_hex(4)}.old")
    try:
        os.link(final, kept)
    except OSError:
        shutil.copy2(final, kept)
    return kept


def _undo(step: _Step) -> None:
    with contextlib.suppress(OSError):
        if step.kept is None:
            step.final.unlink(missing_ok=True)
        else:
            os.replace(step.kept, step.final)
    if step.kept is not None:
        _forget(step.kept)


def _forget(path: Path) -> None:
    with contextlib.suppress(OSError, ValueError):
        path.unlink(missing_ok=True)
