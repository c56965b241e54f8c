# SPDX-License-Identifier: MIT
"""Forces of the road and the air: gravity along the grade, rolling resistance, air drag, air density."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from descent.units import GRAVITY_MPS2

FloatArray = NDArray[np.float64]


def grade_force_n(mass_kg: float, grade: FloatArray) -> FloatArray:
    """Gravity's pull along travel [N], positive downhill. grade (n,) ratio, negative downhill.

    F = -m g sin(atan grade), so steep grades are not overstated as with the small-angle form.

    >>> round(float(grade_force_n(36287.0, np.array([-0.06]))[0]))
    21313
    """
    return -mass_kg * GRAVITY_MPS2 * grade / np.sqrt(1 + grade * grade)


def rolling_force_n(mass_kg: float, coefficient: float, grade: FloatArray) -> FloatArray:
    """Rolling resistance [N], (n,), always retarding: Crr m g cos(atan grade). Dry paved road."""
    return mass_kg * GRAVITY_MPS2 * coefficient / np.sqrt(1 + grade * grade)


def air_density_kgpm3(altitude_m: FloatArray, air_temp_c: float) -> FloatArray:
    """Density of dry air [kg/m3] from altitude (n,) [m] and local air temperature [C].

    Pressure by the standard atmosphere below 11 km, p = p0 (1 - 2.25577e-5 h)^5.25588 (ISO 2533:1975, from
    memory), then the ideal gas law with R = 287.053 J/(kg K).

    >>> round(float(air_density_kgpm3(np.array([0.0]), 15.0)[0]), 3)
    1.225
    """
    pressure_pa = 101325.0 * np.power(1 - 2.25577e-5 * altitude_m, 5.25588)
    return np.asarray(pressure_pa / (287.053 * (air_temp_c + 273.15)))


def air_force_n(density_kgpm3: FloatArray, drag_area_m2: float, speed_mps: FloatArray) -> FloatArray:
    """Air drag [N] in still air: rho/2 CdA v^2."""
    return np.asarray(0.5 * density_kgpm3 * drag_area_m2 * speed_mps * speed_mps)
