# SPDX-License-Identifier: MIT
"""The application pressure a driver reads: what the same brake force takes cold, as hot as planned, and fading."""

from __future__ import annotations

from typing import Any, cast

import numba
import numpy as np
from numpy.typing import NDArray

from descent.physics.brake_heat import packed_rows
from descent.physics.foundation_brake import COLD_C, GAIN, pressure_for_force_kpa
from descent.vehicle.model import Vehicle

FloatArray = NDArray[np.float64]

FADING_SHARE = 0.8
"""Torque left, against the same brakes not fading, at which the reading is called fade (assumed: a fifth lost shows
clearly on a gauge and leaves most of the brake)."""


@numba.njit(cache=True)
def _pressures(rows: FloatArray, temps_c: FloatArray, forces_n: FloatArray, most_kpa: float, out: FloatArray) -> None:
    share = np.empty(rows.shape[0])
    for i in range(forces_n.shape[0]):
        out[i] = pressure_for_force_kpa(rows, temps_c[i], forces_n[i], most_kpa, share)
        if share.sum() < 0.999 * forces_n[i]:
            out[i] = most_kpa


def application_kpa(vehicle: Vehicle, forces_n: FloatArray, temps_c: FloatArray, *, most_kpa: float,
                    torque_share: float = 1.0) -> FloatArray:
    """Application pressure (n,) [kPa] for brake forces at the tyres (n,) [N] with brakes at temps_c (n, n_rows) [C].

    torque_share [1] scales every brake (1: as calculated; `FADING_SHARE`: the reading that means fade). `most_kpa`
    [kPa] where the force cannot be given. Range: that of `foundation_brake`. Source: key derived (the brakes' own
    relation of force and pressure, solved for pressure).

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> truck = load_vehicle("tractor-semitrailer")
    >>> cold = application_kpa(truck, np.array([40e3]), np.full((1, 3), 25.0), most_kpa=690.0)
    >>> fading = application_kpa(truck, np.array([40e3]), np.full((1, 3), 25.0), most_kpa=690.0, torque_share=0.8)
    >>> bool(fading[0] > 1.15 * cold[0])
    True
    """
    rows = packed_rows(vehicle)
    rows[:, GAIN] *= torque_share
    out = np.empty(len(forces_n))
    cast(Any, _pressures)(rows, np.ascontiguousarray(temps_c), np.ascontiguousarray(forces_n), most_kpa, out)
    return out


def cold_temps_c(vehicle: Vehicle, n: int) -> FloatArray:
    """Cold brakes at n places (n, n_rows) [C]: `COLD_C` everywhere. Source: key assumed.

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> cold_temps_c(load_vehicle("tractor-semitrailer"), 2).tolist()
    [[25.0, 25.0, 25.0], [25.0, 25.0, 25.0]]
    """
    return np.full((n, len(vehicle.rows)), COLD_C)
