# SPDX-License-Identifier: MIT
"""How tests call the command: in a process of its own, or (fixture `run`) in the test's own, a second or two quicker."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Done:
    """How a command ended and what it said."""

    returncode: int
    stdout: str
    stderr: str


Run = Callable[..., Done]


def own_process(*arguments: str, stdout: Any = subprocess.PIPE) -> Done:
    """`python -m descent` with the given arguments, as a user starts it; its output may be sent elsewhere."""
    done = subprocess.run([sys.executable, "-m", "descent", *arguments], text=True, check=False, timeout=240,
                          stdout=stdout, stderr=subprocess.PIPE)
    return Done(done.returncode, done.stdout or "", done.stderr)
