# SPDX-License-Identifier: MIT
"""Turns what a person names as elevation (files, folders, addresses) into the list of rasters to open."""

from __future__ import annotations

import os
import re
import stat
from collections.abc import Sequence
from pathlib import Path

from descent.errors import Fault
from descent.terrain.raster_access import is_address, shown

FILE_SUFFIXES = (".tif", ".tiff", ".vrt", ".hgt", ".img", ".asc")
MAX_FILES = 20_000
_TILE = re.compile(r"[NS]\d{2}[EW]\d{3}", re.IGNORECASE)


def expand(paths: Sequence[str], faults: list[Fault]) -> list[str]:
    """Folders to the files in them (not in folders below); addresses and files as they are, each once.

    Adds one fault for each path that cannot be used: dem-missing, dem-folder-empty, dem-folder-unreadable,
    dem-too-many, dem-not-plain, dem-scheme, dem-hgt-name.
    """
    found: list[str] = []
    for text in paths:
        if is_address(text) or text.startswith("/vsi"):
            found.append(text)
        elif "://" in text:
            faults.append(Fault("dem-scheme", "elevation files are read from disk, http or https only",
                                "Give a path or an http(s) address", shown(text)))
        else:
            found.extend(_local(text, faults))
    return list(dict.fromkeys(found))


def _local(text: str, faults: list[Fault]) -> list[str]:
    try:
        mode = os.stat(text).st_mode
    except (OSError, ValueError):
        faults.append(Fault("dem-missing", "this elevation file does not exist",
                            "Check the path; give a GeoTIFF, a folder of them or an http(s) address", shown(text)))
        return []
    if stat.S_ISDIR(mode):
        return _folder(Path(text), faults)
    if not stat.S_ISREG(mode):
        faults.append(Fault("dem-not-plain", "this is a pipe or a device, not an elevation file",
                            "Save the data in a file and name that", shown(text)))
        return []
    if _misnamed(text):
        faults.append(Fault("dem-hgt-name", "the name of an .hgt file must say which tile it is",
                            "Name it like N46E007.hgt: the south-west corner in whole degrees", shown(text)))
        return []
    return [text]


def _folder(folder: Path, faults: list[Fault]) -> list[str]:
    try:
        names = sorted(entry.name for entry in os.scandir(folder))
    except OSError as error:
        faults.append(Fault("dem-folder-unreadable", "this folder cannot be read", "Check that you may read it",
                            shown(str(folder)), error.strerror or ""))
        return []
    inside = [str(folder / name) for name in names
              if name.lower().endswith(FILE_SUFFIXES) and not name.startswith(".") and (folder / name).is_file()]
    if not inside:
        faults.append(Fault("dem-folder-empty", "this folder has no elevation file",
                            f"Put {', '.join(FILE_SUFFIXES)} files there or name another folder", shown(str(folder))))
    if len(inside) > MAX_FILES:
        faults.append(Fault("dem-too-many", f"this folder has more than {MAX_FILES:,} elevation files",
                            "Name the ones the road crosses, or make a VRT of them", shown(str(folder)),
                            str(len(inside))))
        return []
    wrong = [path for path in inside if _misnamed(path)]
    for path in wrong[:5]:
        _local(path, faults)
    return [path for path in inside if path not in wrong] if wrong else inside


def _misnamed(path: str) -> bool:
    """An .hgt file whose name is no tile (the format has no other georeference)."""
    name = os.path.basename(path)
    return name.lower().endswith(".hgt") and not _TILE.match(name)
