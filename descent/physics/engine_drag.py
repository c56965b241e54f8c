# SPDX-License-Identifier: MIT
"""How much a motored engine holds back, from its speed, displacement and stroke."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from descent.vehicle.model import Engine

FloatArray = NDArray[np.float64]


def motored_pressure_kpa(engine: Engine, speed_rpm: FloatArray) -> FloatArray:
    """Total friction mean effective pressure of the motored engine [kPa]; speed_rpm (n,) [rpm], 500 to rated.

    tfmep = C1 + 48 (N/1000) + 0.4 Sp^2 with mean piston speed Sp = 2 S N / 60 [m/s]: Heywood 1988, chapter 13,
    after Millington and Hartles 1968 (key heywood_1988, from memory, high confidence).
    """
    piston_mps = 2 * engine.stroke_m * speed_rpm / 60
    return np.asarray(engine.drag_constant_kpa + 48 * speed_rpm / 1000 + 0.4 * piston_mps**2)


def drag_torque_nm(engine: Engine, speed_rpm: FloatArray) -> FloatArray:
    """Torque needed to turn the motored engine (n,) [N m]: tfmep Vd / (4 pi), four-stroke."""
    return np.asarray(motored_pressure_kpa(engine, speed_rpm) * 1000 * engine.displacement_m3 / (4 * math.pi))


def drag_power_w(engine: Engine, speed_rpm: FloatArray) -> FloatArray:
    """Power that the motored engine takes up (n,) [W]."""
    return np.asarray(drag_torque_nm(engine, speed_rpm) * speed_rpm * math.pi / 30)
