# SPDX-License-Identifier: MIT
"""Between wheel and engine: engine speed in a gear, road speed at an engine speed, torque at the tyre."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from descent.vehicle.model import Gearbox

FloatArray = NDArray[np.float64]
RPM_RADPS = math.pi / 30


def engine_rpm_per_mps(gearbox: Gearbox, gear: int) -> float:
    """Engine speed [rpm] per road speed [m/s] in gear index `gear` (0 = lowest): i_gear i_axle / r.

    Range: no slip of tyre, clutch or converter. Source: kinematics (key derived).

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> round(engine_rpm_per_mps(load_vehicle("tractor-semitrailer").gearbox, 8) * 26.8224)   # 60 mph, direct
    1850
    """
    return gearbox.ratios[gear] * gearbox.final_ratio / gearbox.wheel_radius_m / RPM_RADPS


def propshaft_rpm_per_mps(gearbox: Gearbox) -> float:
    """Propeller shaft speed [rpm] per road speed [m/s]: i_axle / r. Range and source: `engine_rpm_per_mps`.

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> round(propshaft_rpm_per_mps(load_vehicle("motorcoach").gearbox) * 10.0)
    850
    """
    return gearbox.final_ratio / gearbox.wheel_radius_m / RPM_RADPS


def speed_at_rpm_mps(gearbox: Gearbox, gear: int, engine_rpm: float) -> float:
    """Road speed [m/s] at which gear index `gear` turns the engine at `engine_rpm` [rpm]. Range and source:
    `engine_rpm_per_mps`.

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> round(speed_at_rpm_mps(load_vehicle("tractor-semitrailer").gearbox, 6, 2039.6) / 0.44704, 2)   # mph
    35.0
    """
    return engine_rpm / engine_rpm_per_mps(gearbox, gear)


def overrun_force_n(gearbox: Gearbox, gear: int, engine_torque_nm: FloatArray) -> FloatArray:
    """Retarding force at the tyres (n,) [N] of a braking torque at the engine (n,) [N m].

    On the overrun the wheels drive the engine, so the losses of gearbox and axle add to retardation:
    F = T i_gear i_axle / r / (eta_gear eta_axle). Range: efficiencies as constants; at light torque real losses are
    a larger share, which would add. Source: key generic_gear_sets for the efficiencies (memory, medium confidence).

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> round(float(overrun_force_n(load_vehicle("tractor-semitrailer").gearbox, 8, np.array([246.6]))[0]))
    1903
    """
    ratio = gearbox.ratios[gear] * gearbox.final_ratio / gearbox.wheel_radius_m
    return np.asarray(engine_torque_nm * ratio / (gearbox.efficiencies[gear] * gearbox.final_efficiency))


def propshaft_force_n(gearbox: Gearbox, shaft_torque_nm: FloatArray) -> FloatArray:
    """Retarding force at the tyres (n,) [N] of a braking torque at the propeller shaft (n,) [N m]. Range and source:
    `overrun_force_n`, without the gearbox.

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> round(float(propshaft_force_n(load_vehicle("motorcoach").gearbox, np.array([2000.0]))[0]))
    18642
    """
    return np.asarray(shaft_torque_nm * gearbox.final_ratio / gearbox.wheel_radius_m / gearbox.final_efficiency)
