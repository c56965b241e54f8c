# SPDX-License-Identifier: MIT
"""How a section may be begun and left, as columns: what the compiled maps and labels read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
STANDING = -1


def starts(lists: Sequence[Sequence[object]]) -> IntArray:
    """Where each list begins when all are laid end to end (n + 1,); the last: where they end."""
    return np.concatenate([[0], np.cumsum([len(item) for item in lists])]).astype(np.int64)


@dataclass(frozen=True)
class Entries:
    """Ways to begin a section: x (n,), the instruction; way (n,), the way of it (`STANDING`: from standing, any); begin (n, 4):
    speed squared [m2/s2], braking, rising, and cap squared at the first node [m2/s2]."""

    x: IntArray
    way: IntArray
    begin: FloatArray

    def __len__(self) -> int:
        return len(self.x)

    def and_standing(self, instructions: tuple[int, ...]) -> Entries:
        """With moving off from standing under each of these instructions added."""
        x = np.array(instructions, dtype=np.int64)
        begin = np.tile([0.0, 0.0, 1.0, 0.0], (len(x), 1))
        return Entries(np.concatenate([self.x, x]), np.concatenate([self.way, np.full(len(x), STANDING)]),
                       np.concatenate([self.begin, begin]))


def at_cap(x: list[int], way: list[int], cap_u: list[float]) -> Entries:
    """Entries that roll in at their cap [m2/s2]."""
    begin = np.zeros((len(x), 4))
    begin[:, 0] = np.round(cap_u, 8)
    begin[:, 2] = 1.0
    begin[:, 3] = cap_u
    return Entries(np.array(x, dtype=np.int64), np.array(way, dtype=np.int64), begin)


@dataclass(frozen=True)
class ExitTable:
    """The exits of a section, instruction after instruction: first (n_x + 1,) into end_u (cap squared), way, stops; and
    target_first (n_exits + 1,) into targets: ways of the next section that follow each."""

    first: IntArray
    end_u: FloatArray
    way: IntArray
    stops: NDArray[np.bool_]
    target_first: IntArray
    targets: IntArray
