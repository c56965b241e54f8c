# SPDX-License-Identifier: MIT
"""Opens an input file with the checks every reader needs: there, a plain file, not empty, not too large."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from descent.errors import InputError, RouteError
from descent.route.faultbook import one_fault
from descent.route.text import clean_text

MEGABYTE = 1_000_000
CHUNK_BYTES = 1 << 18


@dataclass(frozen=True)
class SourceFile:
    """An input file that can be read: its path, its name made safe to show, its size and time of change."""

    path: Path
    where: str
    size_bytes: int
    changed_ns: int

    @property
    def stem(self) -> str:
        """The file name without its last suffix, safe to show."""
        return clean_text(self.path.stem)


def _unreadable(where: str, error: OSError) -> InputError:
    if isinstance(error, FileNotFoundError | NotADirectoryError):
        return one_fault(RouteError, where, "file-missing", "there is no such file",
                         "Check the name and the folder")
    return one_fault(RouteError, where, "file-unreadable", "the file cannot be read",
                     "Check that it is still there and that you may read it", value=error.strerror or error)


def find_source(path: str | os.PathLike[str]) -> SourceFile:
    """The file at `path`, checked but not yet read.

    Raises RouteError: file-missing, file-is-folder, file-not-plain (a pipe or device), file-empty,
    file-unreadable.
    """
    where = clean_text(os.fspath(path), limit=200)
    try:
        status = os.stat(path)
    except ValueError:
        raise one_fault(RouteError, where, "file-missing", "this cannot be the name of a file",
                        "Check the name and the folder") from None
    except OSError as error:
        raise _unreadable(where, error) from None
    if stat.S_ISDIR(status.st_mode):
        raise one_fault(RouteError, where, "file-is-folder", "this is a folder, not a file",
                        "Name the file in it")
    if not stat.S_ISREG(status.st_mode):
        raise one_fault(RouteError, where, "file-not-plain", "this is a pipe or a device, not a plain file",
                        "Save the data in a file and name that")
    if status.st_size == 0:
        raise one_fault(RouteError, where, "file-empty", "the file is empty (0 bytes)",
                        "Export it again or name another file")
    return SourceFile(Path(path), where, status.st_size, status.st_mtime_ns)


def check_size(source: SourceFile, limit_bytes: int) -> None:
    """Refuse a file larger than its reader may hold. Raises RouteError: file-too-large."""
    if source.size_bytes > limit_bytes:
        raise one_fault(RouteError, source.where, "file-too-large",
                        f"the file is larger than the {limit_bytes / MEGABYTE:.0f} MB read in this format",
                        "Cut out the road that is driven, or thin the points to one per 5 m",
                        value=f"{source.size_bytes / MEGABYTE:.0f} MB")


@contextmanager
def chunks_of(source: SourceFile, limit_bytes: int) -> Iterator[Iterator[bytes]]:
    """The bytes of the file in pieces; on leaving, a file that changed meanwhile is refused.

    Raises RouteError: file-too-large, file-unreadable, file-changed.
    """
    check_size(source, limit_bytes)
    try:
        with open(source.path, "rb") as stream:
            yield _pieces(stream.fileno(), source, limit_bytes)
            status = os.fstat(stream.fileno())
    except OSError as error:
        raise _unreadable(source.where, error) from None
    if (status.st_size, status.st_mtime_ns) != (source.size_bytes, source.changed_ns):
        raise one_fault(RouteError, source.where, "file-changed", "the file changed while it was read",
                        "Wait until it is written, then run again")


def _pieces(descriptor: int, source: SourceFile, limit_bytes: int) -> Iterator[bytes]:
    total = 0
    while piece := os.read(descriptor, CHUNK_BYTES):
        total += len(piece)
        if total > limit_bytes:
            raise one_fault(RouteError, source.where, "file-changed", "the file grew while it was read",
                            "Wait until it is written, then run again")
        yield piece


def read_bytes(source: SourceFile, limit_bytes: int) -> bytes:
    """The whole file. Raises RouteError like `chunks_of`."""
    with chunks_of(source, limit_bytes) as pieces:
        return b"".join(pieces)


def read_text(source: SourceFile, limit_bytes: int) -> str:
    """The whole file as UTF-8 (UTF-16 when it says so). Raises RouteError also: text-encoding."""
    return decode(read_bytes(source, limit_bytes), source.where)


def decode(data: bytes, where: str) -> str:
    """Bytes as text: UTF-8 with or without a mark, UTF-16 with one. Raises RouteError: text-encoding."""
    wide = data[:2] in (b"\xff\xfe", b"\xfe\xff")
    try:
        return data.decode("utf-16" if wide else "utf-8-sig")
    except UnicodeDecodeError as error:
        raise one_fault(RouteError, where, "text-encoding", f"byte {error.start + 1} is not UTF-8 text",
                        "Save the file as UTF-8", value=data[error.start:error.start + 4].hex()) from None
