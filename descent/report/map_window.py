# SPDX-License-Identifier: MIT
"""The window of a map in web-mercator, as fractions of the world map."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from descent.report.trip import FloatArray, Trip


@dataclass(frozen=True)
class MapWindow:
    """A web-mercator window: centre-free fractions of the world map, x to the east and y to the south."""

    west: float
    east: float
    north: float
    south: float

    @property
    def aspect(self) -> float:
        """Height over width."""
        return (self.south - self.north) / (self.east - self.west)

    @property
    def bounds_lonlat(self) -> tuple[float, float, float, float]:
        """West, south, east, north [degree]."""
        lat = [math.degrees(math.atan(math.sinh(math.pi * (1.0 - 2.0 * y)))) for y in (self.south, self.north)]
        return (360.0 * (self.west - 0.5), lat[0], 360.0 * (self.east - 0.5), lat[1])


def mercator_x(lon: FloatArray | float) -> FloatArray:
    """Longitude [degree] as a fraction of the world's width."""
    return np.asarray(lon, dtype=np.float64) / 360.0 + 0.5


def mercator_y(lat: FloatArray | float) -> FloatArray:
    """Latitude [degree] as a fraction of the world's height from the top, spherical web-mercator."""
    angle = np.radians(np.asarray(lat, dtype=np.float64))
    return 0.5 - np.log(np.tan(math.pi / 4 + angle / 2)) / (2 * math.pi)


def route_window(trip: Trip, *, lowest: float = 0.42, highest: float = 0.95) -> MapWindow:
    """The route with a margin, widened where it would be a needle (height over width within the limits)."""
    x, y = mercator_x(trip.road.lon), mercator_y(trip.road.lat)
    west, east, north, south = float(x.min()), float(x.max()), float(y.min()), float(y.max())
    margin = 0.07 * max(east - west, south - north, 1e-9)
    west, east, north, south = west - margin, east + margin, north - margin, south + margin
    width, height = east - west, south - north
    if height < lowest * width:
        grow = (lowest * width - height) / 2
        north, south = north - grow, south + grow
    if height > highest * width:
        grow = (height / highest - width) / 2
        west, east = west - grow, east + grow
    return MapWindow(west, east, north, south)
