# SPDX-License-Identifier: MIT
"""Brake temperatures through time from a known braking force and speed: a drive already driven, not planned."""

from __future__ import annotations

from typing import Any, cast

import numba
import numpy as np
from numpy.typing import NDArray

from descent.physics.brake_heat import packed_rows
from descent.physics.foundation_brake import CAPACITY, COOL_REST, COOL_SPEED, pressure_for_force_kpa
from descent.vehicle.model import Vehicle

FloatArray = NDArray[np.float64]
STANDING_MPS = 0.2


@numba.njit(cache=True)
def _temperatures(rows: FloatArray, seconds: FloatArray, speed: FloatArray, force: FloatArray, cool: FloatArray,
                  air_c: float, parked: float, most_kpa: float, temps: FloatArray, out: FloatArray) -> None:
    share = np.zeros(rows.shape[0])
    out[0, :] = temps
    for i in range(seconds.shape[0]):
        standing = speed[i] < STANDING_MPS
        pressure_for_force_kpa(rows, temps, 0.0 if standing else force[i], most_kpa, share)
        given = share.sum()
        for k in range(rows.shape[0]):
            conductance = (rows[k, COOL_REST] + rows[k, COOL_SPEED] * speed[i]) * cool[i]
            if standing:
                conductance = rows[k, COOL_REST] * cool[i] * parked
            power = share[k] * speed[i] * (force[i] / given if given > 0.0 else 0.0)
            settle = air_c + power / conductance
            temps[k] = settle + (temps[k] - settle) * np.exp(-conductance / rows[k, CAPACITY] * seconds[i])
        out[i + 1, :] = temps


def temperatures_through(vehicle: Vehicle, seconds: FloatArray, speed_mps: FloatArray, force_n: FloatArray, *,
                         cool: FloatArray, air_temp_c: float, start_temps_c: FloatArray, parked_fraction: float,
                         most_kpa: float) -> FloatArray:
    """Temperatures (n + 1, n_rows) [C] over n intervals of steady speed and braking force.

    seconds, speed_mps, force_n (n,) [s, m/s, N at the tyres]: the whole force is given to the brakes, shared as at the
    pressure that gives it (beyond most_kpa in the proportions there). cool (n,) [1]: share of the sea-level cooling, as
    in `march.cells_of`; standing (under 0.2 m/s) parked_fraction [1] of the cooling at rest is counted.
    start_temps_c (n_rows,) [C]. Range and source as in `march` (key derived): the same heat balance, in time.

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> truck, one = load_vehicle("tractor-semitrailer"), np.ones(1)
    >>> after = temperatures_through(truck, one, 10.0 * one, 40e3 * one, cool=one, air_temp_c=20.0,
    ...                              start_temps_c=np.full(3, 20.0), parked_fraction=0.6, most_kpa=690.0)[1]
    >>> stored_j = float(((after - 20.0) * packed_rows(truck)[:, CAPACITY]).sum())
    >>> 0.999 < stored_j / 400e3 < 1.0
    True
    """
    rows = packed_rows(vehicle)
    out = np.empty((len(seconds) + 1, len(rows)))
    cast(Any, _temperatures)(rows, seconds, speed_mps, force_n, cool, air_temp_c, parked_fraction, most_kpa,
                             np.array(start_temps_c, dtype=float), out)
    return out
