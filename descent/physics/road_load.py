# SPDX-License-Identifier: MIT
"""Forces of the road and the air: gravity along the grade, rolling resistance, air drag, air density."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from enum import Enum
from functools import cache
from importlib import resources
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from descent.units import GRAVITY_MPS2
from descent.vehicle.model import Vehicle

FloatArray = NDArray[np.float64]

SEA_LEVEL_KGPM3 = 1.225
"""Density of the standard atmosphere at sea level and 15 C (key standard_atmosphere)."""


class RollingSurface(Enum):
    """What the wheels roll on."""

    PAVED = "paved"
    PACKED_SNOW = "packed-snow"
    GRAVEL = "gravel"


@cache
def rolling_factors() -> Mapping[RollingSurface, float]:
    """Factor on the rolling coefficient [1] by surface; low ends, as rolling resistance helps on a descent (assumed).

    Source: tables/surfaces.toml names one per row.

    >>> rolling_factors()[RollingSurface.GRAVEL]
    1.5
    """
    rows = tomllib.loads((resources.files("descent.physics") / "tables" / "surfaces.toml").read_text(encoding="utf-8"))
    return MappingProxyType({RollingSurface(name): float(row["factor"]["value"]) for name, row in rows.items()})


def grade_force_n(mass_kg: float, grade: FloatArray) -> FloatArray:
    """Gravity's pull along travel (n,) [N], positive downhill. grade (n,) [1], rise over run, negative downhill.

    F = -m g sin(atan grade), so steep grades are not overstated as with the small-angle form. Any grade; mechanics
    (key derived).

    >>> round(float(grade_force_n(36287.0, np.array([-0.06]))[0]))
    21313
    """
    return -mass_kg * GRAVITY_MPS2 * grade / np.sqrt(1 + grade * grade)


def rolling_force_n(mass_kg: float, coefficient: float, grade: FloatArray, *,
                    surface: RollingSurface = RollingSurface.PAVED) -> FloatArray:
    """Rolling resistance (n,) [N], always retarding: factor Crr m g cos(atan grade). grade (n,) [1].

    Range: free-rolling tyres at highway speeds; no rise with speed is counted. Source of the coefficients:
    keys wydot_2018_wy1901f, truck_tyre_rolling; of the factors: `rolling_factors`.

    >>> round(float(rolling_force_n(36287.0, 0.00574, np.array([0.0]))[0]))
    2043
    """
    return rolling_factors()[surface] * mass_kg * GRAVITY_MPS2 * coefficient / np.sqrt(1 + grade * grade)


def axle_rolling_force_n(vehicle: Vehicle, grade: FloatArray, *,
                         surface: RollingSurface = RollingSurface.PAVED) -> FloatArray:
    """Rolling resistance of each axle group (n_axles, n) [N] on grade (n,) [1]; range and source of `rolling_force_n`.

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> axle_rolling_force_n(load_vehicle("tractor-semitrailer"), np.array([0.0])).round()[:, 0].tolist()
    [306.0, 868.0, 868.0]
    """
    return np.array([rolling_force_n(axle.load_kg, axle.rolling_coefficient, grade, surface=surface)
                     for axle in vehicle.axles])


def air_density_kgpm3(altitude_m: FloatArray, air_temp_c: float) -> FloatArray:
    """Density of dry air (n,) [kg/m3] from altitude (n,) [m], below 11 km, and local air temperature [C].

    Pressure by the standard atmosphere, p = p0 (1 - 2.25577e-5 h)^5.25588 (key standard_atmosphere, ISO 2533:1975,
    from memory, high confidence), then the ideal gas law with R = 287.053 J/(kg K).

    >>> round(float(air_density_kgpm3(np.array([0.0]), 15.0)[0]), 3)
    1.225
    """
    pressure_pa = 101325.0 * np.power(1 - 2.25577e-5 * altitude_m, 5.25588)
    return np.asarray(pressure_pa / (287.053 * (air_temp_c + 273.15)))


def density_ratio(altitude_m: FloatArray, air_temp_c: float) -> FloatArray:
    """Air density over that of the standard atmosphere at sea level (n,) [1], never above 1: what engines breathe.

    altitude_m (n,) [m], below 11 km; air_temp_c: local air temperature [C]. Cold or low air above 1 would promise more
    drag than the published constants know, so it is not counted. Source: key standard_atmosphere.

    >>> density_ratio(np.array([0.0, 2000.0]), 2.0).round(3).tolist()
    [1.0, 0.822]
    """
    return np.minimum(1.0, air_density_kgpm3(altitude_m, air_temp_c) / SEA_LEVEL_KGPM3)


def air_force_n(density_kgpm3: FloatArray, drag_area_m2: float, speed_mps: FloatArray, *,
                head_wind_mps: FloatArray | float = 0.0) -> FloatArray:
    """Air drag (n,) [N] at road speeds (n,) [m/s]: rho/2 CdA w |w| with w = speed + head wind [m/s].

    A tail wind (negative) faster than the vehicle pushes it. Only the component along the road counts: the drag area
    of a side wind, mostly larger, is not known here. Range: rho [kg/m3] of `air_density_kgpm3`. Source: aerodynamics
    (key derived); drag areas: keys wydot_2018_wy1901f, truck_tyre_rolling.

    >>> [round(float(air_force_n(np.array([1.225]), 6.0, np.array([20.0]), head_wind_mps=w)[0])) for w in (0, 5, -25)]
    [1470, 2297, -92]
    """
    wind = speed_mps + head_wind_mps
    return np.asarray(0.5 * density_kgpm3 * drag_area_m2 * wind * np.abs(wind))


def head_wind_mps(wind_speed_mps: float, wind_from_deg: float, heading_deg: FloatArray) -> FloatArray:
    """Component of a wind against travel (n,) [m/s]: U cos(from - heading).

    wind_from_deg: where it blows from, heading_deg (n,): where the road leads, both clockwise from north [deg]. A wind
    reported at 10 m height over open ground is stronger than at the road: the whole is counted when it pushes, and it
    is for the caller to count less when it holds back. Any angles. Source: geometry (key derived).

    >>> head_wind_mps(10.0, 270.0, np.array([270.0, 90.0, 0.0])).round(6).tolist()
    [10.0, -10.0, -0.0]
    """
    return np.asarray(wind_speed_mps * np.cos(np.radians(wind_from_deg - heading_deg)))
