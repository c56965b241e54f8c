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
