# SPDX-License-Identifier: MIT
"""A surveyed road as a document: the profile's columns at the top level, structures and downgrades beside them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from descent.downgrades.model import Downgrade
from descent.report.document import downgrades_block, profile_columns, structures_block
from descent.route.line import Route
from descent.terrain.road_profile import RoadProfile


def survey_document(route: Route, profile: RoadProfile, downgrades: Sequence[Downgrade]) -> dict[str, Any]:
    """What `descent profile --json` prints: station_m, elevation_m, elevation_sd_m, grade, grade_sd and the rest."""
    columns = profile_columns(profile)
    return {"schema": "descent-profile/1",
            "route": {"name": route.name, "length_m": profile.length_m, "reversed": route.reversed,
                      "mended": list(route.mended)},
            **columns, "structures": structures_block(profile), "downgrades": downgrades_block(downgrades)}
