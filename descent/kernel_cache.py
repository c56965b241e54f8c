# SPDX-License-Identifier: MIT
"""Forgets compiled kernels that an edited kernel of another module may be built into.

The compiler's cache beside each module is renewed when that module changes, not when a function it calls in another
module does. After an update or an edit the old machine code would go on being used, silently.
"""

from __future__ import annotations

import contextlib
from pathlib import Path

EXTENSION = "borrowed.py"      # teaches the compiler something, and so is built into kernels without being one


def forget_stale_kernels(package: Path) -> tuple[Path, ...]:
    """Remove cached kernels older than the newest module that has any, below a package folder; returns the paths removed.

    Where nothing may be removed (an installation one can only read) they stay.
    """
    cached = sorted(package.rglob("__pycache__/*.nb[ic]"))
    modules = {path.parents[1] / (path.name.split(".")[0].split("-")[0] + ".py") for path in cached}
    modules |= set(package.rglob(EXTENSION))
    newest = max((path.stat().st_mtime for path in modules if path.exists()), default=0.0)
    removed = []
    for path in cached:
        with contextlib.suppress(OSError):
            if path.stat().st_mtime < newest:
                path.unlink()
                removed.append(path)
    return tuple(removed)
