# SPDX-License-Identifier: MIT
"""Reads members of a zip archive with bounds on their number and true size; nothing is written under their names."""

from __future__ import annotations

import zipfile
import zlib
from collections.abc import Callable

from descent.errors import RouteError
from descent.route.faultbook import one_fault
from descent.route.files import MEGABYTE, SourceFile, check_size

LIMIT_BYTES = 100 * MEGABYTE
MEMBER_LIMIT_BYTES = 64 * MEGABYTE
MAX_MEMBERS = 2000
Wanted = Callable[[list[str]], list[str]]


def read_members(source: SourceFile, wanted: Wanted) -> dict[str, bytes]:
    """The members that `wanted` picks from the names in the archive, by name.

    The size of what comes out is counted while it is unpacked, not believed. Raises RouteError:
    archive-malformed, archive-too-many, archive-too-large, archive-encrypted, file-too-large.
    """
    check_size(source, LIMIT_BYTES)
    try:
        with zipfile.ZipFile(source.path) as archive:
            infos = archive.infolist()
            if len(infos) > MAX_MEMBERS:
                raise one_fault(RouteError, source.where, "archive-too-many",
                                f"the archive holds more than {MAX_MEMBERS} files", "Pack only the route in it",
                                value=f"{len(infos)} files")
            by_name = {info.filename: info for info in infos if not info.filename.endswith("/")}
            return _read(archive, [by_name[name] for name in wanted(list(by_name))], source.where)
    except (zipfile.BadZipFile, zlib.error, EOFError, ValueError, LookupError, NotImplementedError, OSError) as error:
        raise one_fault(RouteError, source.where, "archive-malformed", "the archive is damaged or not a zip archive",
                        "Pack it again as an ordinary zip", value=error) from None


def _read(archive: zipfile.ZipFile, infos: list[zipfile.ZipInfo], where: str) -> dict[str, bytes]:
    members, left = {}, MEMBER_LIMIT_BYTES
    for info in infos:
        if info.flag_bits & 1:
            raise one_fault(RouteError, where, "archive-encrypted", "the archive is locked with a password",
                            "Pack it again without one", value=info.filename)
        with archive.open(info) as stream:
            data = stream.read(left + 1)
        left -= len(data)
        if left < 0:
            raise one_fault(RouteError, where, "archive-too-large",
                            f"the archive unpacks to more than {MEMBER_LIMIT_BYTES / MEGABYTE:.0f} MB",
                            "Pack only the route in it", value=info.filename)
        members[info.filename] = data
    return members
