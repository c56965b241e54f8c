# SPDX-License-Identifier: MIT
"""Compiled kernels older than any kernel's module are forgotten; the others stay."""

from __future__ import annotations

import os
from pathlib import Path

from descent.kernel_cache import forget_stale_kernels


def made(path: Path, at_s: float) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(b"x")
    os.utime(path, (at_s, at_s))
    return path


def test_an_edited_kernel_makes_every_older_one_go(tmp_path: Path) -> None:
    made(tmp_path / "physics/march.py", 100.0)
    made(tmp_path / "physics/heat.py", 500.0)                                         # edited after all were compiled
    made(tmp_path / "words.py", 900.0)                                                # no kernel: counts for nothing
    made(tmp_path / "physics/borrowed.py", 400.0)                                     # none either, but built into them
    old = {made(tmp_path / "physics/__pycache__" / name, 200.0)
           for name in ("march.march-12.py311.nbi", "march.march-12.py311.1.nbc", "heat.heat-3.py311.nbi")}
    new = made(tmp_path / "physics/__pycache__/heat.heat-4.py311.nbi", 600.0)
    assert set(forget_stale_kernels(tmp_path)) == old
    assert new.exists() and not any(path.exists() for path in old)
    assert forget_stale_kernels(tmp_path) == ()


def test_what_is_built_into_kernels_counts_as_one(tmp_path: Path) -> None:
    made(tmp_path / "physics/march.py", 100.0)
    made(tmp_path / "physics/borrowed.py", 400.0)
    old = made(tmp_path / "physics/__pycache__/march.march-12.py311.nbi", 200.0)
    assert forget_stale_kernels(tmp_path) == (old,)
