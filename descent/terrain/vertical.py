# SPDX-License-Identifier: MIT
"""What a raster's heights are counted in and from: unit, and geoid or ellipsoid."""

from __future__ import annotations

import re
from dataclasses import dataclass

from pyproj import CRS

from descent.errors import DemError, Fault
from descent.units import FOOT_M

US_SURVEY_FOOT_M = 1200 / 3937
_UNIT_M = {"": 1.0, "m": 1.0, "metre": 1.0, "metres": 1.0, "meter": 1.0, "meters": 1.0, "ft": FOOT_M,
           "foot": FOOT_M, "feet": FOOT_M, "international foot": FOOT_M, "us-ft": US_SURVEY_FOOT_M,
           "ftus": US_SURVEY_FOOT_M, "us survey foot": US_SURVEY_FOOT_M, "us_survey_foot": US_SURVEY_FOOT_M,
           "cm": 0.01, "centimetre": 0.01, "dm": 0.1, "decimetre": 0.1, "mm": 0.001, "millimetre": 0.001,
           "km": 1000.0}
# Slope of the geoid against the ellipsoid: deflections of the vertical reach about 100 arc-seconds in high
# mountains (from memory), 5e-4.
GEOID_SLOPE = 5e-4


@dataclass(frozen=True)
class Vertical:
    """unit_m: one unit of height [m]; datum: what heights count from, as the file says ("" when it does not);
    ellipsoidal: from the ellipsoid (True), from the geoid or a levelled datum (False), not said (None)."""

    unit_m: float
    datum: str = ""
    ellipsoidal: bool | None = None

    def note(self, name: str) -> str:
        """One sentence for a person about a file's heights."""
        if self.ellipsoidal:
            return (f"Heights in {name} count from the ellipsoid, tens of metres from sea level; grades are changed "
                    f"by at most about {100 * GEOID_SLOPE:.2f} points by that.")
        if self.ellipsoidal is False:
            return f"Heights in {name} count from {self.datum}."
        return f"{name} does not say what its heights count from; mean sea level is taken."


METRES = Vertical(1.0)


def vertical_of(crs: CRS, *, band_unit: str | None, where: str) -> Vertical:
    """The unit from the band, else from the vertical axis of the coordinate system, else metres; the datum from a
    compound or three-dimensional system. Raises DemError dem-unit-unknown."""
    text = (band_unit or "").strip().lower()
    if text not in _UNIT_M:
        raise DemError(Fault("dem-unit-unknown", "the height unit of this elevation file is not known",
                             "Set the band unit to m, ft or US survey foot", where, repr(band_unit)[:60]))
    axis_m, datum, ellipsoidal = None, "", None
    for part in (crs.sub_crs_list if crs.is_compound else [crs]):
        for axis in part.axis_info:
            if axis.direction in ("up", "down"):
                axis_m = float(axis.unit_conversion_factor) or None
                ellipsoidal = not part.is_vertical
                datum = re.sub(r"\s*\(.*?\)", "", part.name) if part.is_vertical else "the ellipsoid"
    return Vertical(_UNIT_M[text] if text else (axis_m or 1.0), datum, ellipsoidal)
