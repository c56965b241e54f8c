# SPDX-License-Identifier: MIT
"""How much a motored engine holds back, from its speed, displacement and stroke, and from the air it breathes."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from descent.vehicle.model import Engine

FloatArray = NDArray[np.float64]


def motored_pressure_kpa(engine: Engine, speed_rpm: FloatArray, *, density_ratio: FloatArray | float = 1.0) -> FloatArray:
    """Total friction mean effective pressure of the motored engine (n,) [kPa]; speed_rpm (n,) [rpm].

    tfmep = C1 + 48 (N/1000) + 0.4 Sp^2 with mean piston speed Sp = 2 S N / 60 [m/s]: Heywood 1988, chapter 13,
    after Millington and Hartles 1968 (key heywood_1988, from memory, high confidence). Range: 500 rpm to rated speed.
    density_ratio (n,) or one value [1]: air density over sea level; it scales the last term, the turbulent losses of
    the gas being pumped (a cautious default: a turbocharger gives some of it back; that this term is the pumping share
    is assumed).

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> round(float(motored_pressure_kpa(load_vehicle("tractor-semitrailer").engine, np.array([2100.0]))[0]), 2)
    221.32
    """
    piston_mps = 2 * engine.stroke_m * speed_rpm / 60
    return np.asarray(engine.drag_constant_kpa + 48 * speed_rpm / 1000 + 0.4 * piston_mps**2 * density_ratio)


def drag_torque_nm(engine: Engine, speed_rpm: FloatArray, *, density_ratio: FloatArray | float = 1.0) -> FloatArray:
    """Torque needed to turn the motored engine (n,) [N m] at speeds (n,) [rpm]: tfmep Vd / (4 pi), four-stroke.

    An electric drive has no displacement and drags nothing. Range and source: `motored_pressure_kpa`.

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> round(float(drag_torque_nm(load_vehicle("tractor-semitrailer").engine, np.array([2100.0]))[0]), 1)
    246.6
    """
    pressure_pa = motored_pressure_kpa(engine, speed_rpm, density_ratio=density_ratio) * 1000
    return np.asarray(pressure_pa * engine.displacement_m3 / (4 * math.pi))


def drag_power_w(engine: Engine, speed_rpm: FloatArray, *, density_ratio: FloatArray | float = 1.0) -> FloatArray:
    """Power that the motored engine takes up (n,) [W] at speeds (n,) [rpm]: tfmep Vd N / 120. Range and source:
    `motored_pressure_kpa`.

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> round(float(drag_power_w(load_vehicle("tractor-semitrailer").engine, np.array([2100.0]))[0]) / 745.7, 1)
    72.7
    """
    return np.asarray(drag_torque_nm(engine, speed_rpm, density_ratio=density_ratio) * speed_rpm * math.pi / 30)


def mean_effective_pressure_kpa(power_w: float, displacement_m3: float, speed_rpm: float) -> float:
    """Mean effective pressure [kPa] of a power [W] of a four-stroke engine of a displacement [m3] at a speed [rpm].

    120 P / (Vd N): the measure by which retarders of engines of different size compare. Any four-stroke engine;
    source: definition (key heywood_1988).

    >>> round(mean_effective_pressure_kpa(336e3, 0.013, 2100.0) / 100, 2)
    14.77
    """
    return 120 * power_w / (displacement_m3 * speed_rpm) / 1000
