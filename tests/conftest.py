# SPDX-License-Identifier: MIT
"""What tests share: the sample data, and the maintainers' data where it is there."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

ROOT = Path(__file__).resolve().parents[1]


@pytest.fixture(scope="session")
def sample() -> Path:
    """The folder of the sample data."""
    return ROOT / "data" / "sample_dem"


@pytest.fixture(scope="session")
def shared_data() -> Path:
    """The maintainers' folder of real roads and elevation data; the test skips where it is absent."""
    folder = Path(os.environ.get("DESCENT_SHARED_DATA", ROOT.parent / "shared" / "data"))
    if not folder.is_dir():
        pytest.skip("the maintainers' real data is not on this machine (set DESCENT_SHARED_DATA)")
    return folder


settings.register_profile("descent", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("descent")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Files whose tests open pages begin the second half of all tests, the last of them first; nothing depends on it.

    `make test` gives each of two processes a half. The first begins with plans and compiles the kernels; the second has
    pages to open meanwhile, which need none (the debrief's and the lesson's, the later ones, do), and finds them compiled
    when it gets there. Begun together on plans, both would compile the same ones at the same time.
    """
    files = {item.path for item in items if item.get_closest_marker("browser")}
    pages = sorted((item for item in items if item.path in files), key=lambda item: item.path, reverse=True)
    others = [item for item in items if item.path not in files]
    half = len(items) // 2
    items[:] = [*others[:half], *pages, *others[half:]]
