# SPDX-License-Identifier: MIT
"""Opens rasters, on disk or by http(s) range requests, with bounded cache, time limits and clear faults."""

from __future__ import annotations

import os
import re
import sys
import warnings
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any
from urllib.parse import urlsplit

import rasterio
from rasterio.errors import NotGeoreferencedWarning, RasterioError

from descent.errors import DemError, Fault
from descent.route.text import clean_text

CACHE_BYTES = 128_000_000
# Time limits of one request [s] and how often a failed one is repeated (chosen here: a request carries 16 KB or a
# few blocks; a server that needs longer is of no use for a whole road).
NETWORK: Mapping[str, str | int | float] = {
    "GDAL_HTTP_CONNECTTIMEOUT": 10, "GDAL_HTTP_TIMEOUT": 60, "GDAL_HTTP_LOW_SPEED_TIME": 15,
    "GDAL_HTTP_LOW_SPEED_LIMIT": 200, "GDAL_HTTP_MAX_RETRY": 2, "GDAL_HTTP_RETRY_DELAY": 0.5,
}
_NO_LISTING = {"GDAL_DISABLE_READDIR_ON_OPEN": "EMPTY_DIR"}
_ADDRESS = re.compile(r"https?://\S+", re.IGNORECASE)
_FILE = re.compile(r"/\S*?([^/\s]+)(?=[\s:,;]|$)")
_STATUS = re.compile(r"(?:HTTP|response)[^0-9]{0,30}\b([45]\d\d)\b", re.IGNORECASE)


def is_address(path: str) -> bool:
    """Whether a path is an http(s) address."""
    return path.lower().startswith(("http://", "https://"))


def shown(path: str) -> str:
    """A path made safe to print: no control characters; of an address no user, password or query (tokens)."""
    if path.lstrip().startswith("<"):
        return "joined tiles"
    if is_address(path):
        try:
            parts = urlsplit(path)
            host = parts.hostname or ""
            port = f":{parts.port}" if parts.port else ""
        except ValueError:
            return "http address"
        return clean_text(f"{parts.scheme}://{host}{port}{parts.path}", limit=200)
    return clean_text(path, limit=200)


def reason_of(error: BaseException) -> str:
    """What the raster library says first, in one short clean line without addresses and paths."""
    while error.__cause__ is not None:
        error = error.__cause__
    text = str(error)
    status = _STATUS.search(text)
    if status:
        return f"HTTP status {status.group(1)}"
    if "not recognized as being in a supported file format" in text:
        return "no known raster format"
    first = next((line for line in text.splitlines() if line.strip()), type(error).__name__)
    return clean_text(_FILE.sub(r"\1", _ADDRESS.sub("the address", first)), limit=120)


@contextmanager
def opened(path: str) -> Iterator[Any]:
    """An open raster. Network limits hold for addresses, also for those inside a VRT; folders of addresses are
    never listed. Raises the raster library's own error; see `unreadable` for the fault to make of it."""
    remote = is_address(path) or "/vsicurl/" in path
    options: dict[str, Any] = {"GDAL_CACHEMAX": CACHE_BYTES, **NETWORK, **(_NO_LISTING if remote else {})}
    with _quiet_log(), rasterio.Env(**options):
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", NotGeoreferencedWarning)     # told as a fault of its own
            source = rasterio.open(path)
        with source:
            yield source


@contextmanager
def _quiet_log() -> Iterator[None]:
    """Keep the library's log from printing a traceback when a damaged file makes its message no UTF-8."""
    before = sys.unraisablehook

    def hook(seen: sys.UnraisableHookArgs) -> None:
        if not isinstance(seen.exc_value, UnicodeDecodeError):
            before(seen)
    sys.unraisablehook = hook
    try:
        yield
    finally:
        sys.unraisablehook = before


def unreadable(path: str, error: BaseException, *, part: str) -> DemError:
    """The fault for a raster that could not be opened or read; `part` is "file", "part" or another noun."""
    if is_address(path):
        return DemError(Fault(
            "dem-address", "no elevation file can be read at this address" if part == "file" else
            "the elevation file at this address broke off while being read",
            "Check the address and the network; the server must allow range requests. Or download the file and name it",
            shown(path), reason_of(error)))
    if not path.lstrip().startswith("<") and not path.startswith("/vsi") and not os.path.exists(path):
        return DemError(Fault("dem-missing", "this elevation file is not there any more",
                              "Check the path; keep the file in place until the run ends", shown(path)))
    what = "this elevation file cannot be read" if part == "file" else \
        "a part of this elevation file cannot be read"
    return DemError(Fault("dem-unreadable", what,
                          "Give a raster of heights such as a GeoTIFF, or download or copy the file again",
                          shown(path), reason_of(error)))


def stamp_of(path: str) -> tuple[int, int] | None:
    """Size and time of change of a file on disk; None for anything else. Raises DemError when it is gone."""
    if is_address(path) or path.startswith("/vsi") or path.lstrip().startswith("<"):
        return None
    try:
        status = os.stat(path)
    except OSError as error:
        raise unreadable(path, error, part="file") from None
    return status.st_size, status.st_mtime_ns


def check_unchanged(path: str, stamp: tuple[int, int] | None) -> None:
    """Raise DemError when a file is gone or another one than when its header was read."""
    if stamp is not None and stamp_of(path) != stamp:
        raise DemError(Fault("dem-changed", "this elevation file changed while it was read",
                             "Wait until it is written, then run again", shown(path)))


RASTER_ERRORS = (RasterioError, OSError, ValueError, MemoryError)
