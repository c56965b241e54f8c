# SPDX-License-Identifier: MIT
"""Coordinate systems of input files to WGS84 longitude and latitude."""

from __future__ import annotations

import re
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from pyproj import CRS, Transformer
from pyproj.exceptions import CRSError, ProjError

from descent.errors import InputError, RouteError
from descent.route.faultbook import one_fault

FloatArray = NDArray[np.float64]
_CODE = re.compile(r"(?:urn:(?:x-)?ogc:def:crs:)?(?P<authority>EPSG|OGC|ESRI)(?::[\d.]*)?:(?P<code>CRS84h?|\d{3,6})$",
                   re.IGNORECASE)


class CrsNotKnown(Exception):
    """The named coordinate system is not known or cannot be converted."""


def crs_unknown(where: str, name: str, *, of: str = "") -> InputError:
    """The error for a system that is not known; `of` says whose it is."""
    return one_fault(RouteError, where, "crs-unknown", f"the coordinate system{of} is not known or cannot be converted",
                     "Export the file in longitude and latitude (WGS84, EPSG:4326)", value=name)


def named_crs(name: str) -> CRS | None:
    """The system of an authority code such as "EPSG:32611" or "urn:ogc:def:crs:OGC:1.3:CRS84"; None for WGS84.

    Only codes are understood, never file names, addresses or definitions. Raises CrsNotKnown.
    """
    match = _CODE.match(name.strip())
    if match is None:
        raise CrsNotKnown(name)
    code = match["code"].upper()
    if code in ("CRS84", "CRS84H", "4326"):
        return None
    try:
        return CRS.from_authority(match["authority"].upper(), code)
    except CRSError:
        raise CrsNotKnown(name) from None


def crs_from_definition(definition: str) -> CRS | None:
    """The system a vector file declares (WKT or code); None for WGS84. Raises CrsNotKnown."""
    try:
        crs = CRS.from_user_input(definition)
    except CRSError:
        raise CrsNotKnown(definition) from None
    return None if crs.equals(CRS.from_epsg(4326), ignore_axis_order=True) else crs


@lru_cache(maxsize=32)
def _transformer(crs: CRS) -> Transformer:
    return Transformer.from_crs(crs, "EPSG:4326", always_xy=True)


def to_wgs84(crs: CRS, x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
    """x, y: (n,) in `crs` (east, north order) to (lon, lat) [degree]; infinite where it cannot be converted.

    Raises CrsNotKnown when there is no conversion from this system.
    """
    try:
        lon, lat = _transformer(crs).transform(x, y)
    except ProjError:
        raise CrsNotKnown(crs.name) from None
    return np.asarray(lon, dtype=float), np.asarray(lat, dtype=float)


def height_factor(crs: CRS) -> float:
    """Metres per unit of the system's heights; 1 where it says nothing of heights."""
    for part in (*crs.sub_crs_list, crs):
        for axis in part.axis_info:
            if axis.direction == "up" and axis.unit_conversion_factor > 0:
                return float(axis.unit_conversion_factor)
    return 1.0
