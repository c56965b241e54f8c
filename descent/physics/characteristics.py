# SPDX-License-Identifier: MIT
"""What a vehicle's engine and gears can do, as numbers a driver knows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from descent.physics.balance import Balance, BalancePoint, BalanceTable, balance_table
from descent.physics.driveline import speed_at_rpm_mps
from descent.physics.engine_drag import drag_power_w
from descent.physics.regeneration import room_j
from descent.physics.retarder import power_limit_w, shaft_torque_nm
from descent.vehicle.catalogue import at_weight
from descent.vehicle.model import Vehicle

__all__ = ["Balance", "BalancePoint", "BalanceTable", "Characteristics", "characteristics"]


@dataclass(frozen=True)
class Characteristics:
    """Numbers of one vehicle, and its balance on any grade.

    governed_mps: governed speed of each gear; drag_power_w: of the motored engine at its overrun limit;
    retarder_power_w: most the retarder holds back at its shaft, with an empty battery where it has one; battery_room_j:
    shaft energy that still fits into the battery as the vehicle's table has it charged.
    """

    vehicle: Vehicle
    governed_mps: tuple[float, ...]
    drag_power_w: float
    retarder_power_w: float
    battery_room_j: float

    def balance(self, *, grade: float, gross_kg: float | None = None, altitude_m: float = 0.0, air_temp_c: float = 15.0,
                state_of_charge: float | None = None) -> BalanceTable:
        """`balance_table` at a gross weight [kg] (default: as loaded); the battery as told, else as the table has it.

        Raises VehicleError for a weight the vehicle cannot have.
        """
        battery = self.vehicle.retarder.battery
        charge = state_of_charge if state_of_charge is not None else battery.state_of_charge if battery else 1.0
        return balance_table(at_weight(self.vehicle, gross_kg), grade=grade, altitude_m=altitude_m,
                             air_temp_c=air_temp_c, state_of_charge=charge)


def characteristics(vehicle: Vehicle) -> Characteristics:
    """Governed speeds (n_gears,) [m/s], engine drag [W], retarder power [W] and battery room [J] of a vehicle.

    Range and source: `driveline`, `engine_drag`, `retarder`, `regeneration`.

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> facts = characteristics(load_vehicle("tractor-semitrailer-retarder"))
    >>> round(facts.governed_mps[8] / 0.44704), round(facts.drag_power_w / 1e3), round(facts.retarder_power_w / 1e3)
    (68, 54, 250)
    """
    limit = vehicle.engine.overrun_limit_rpm
    battery = vehicle.retarder.battery
    shaft = np.arange(10.0, 6000.0 if vehicle.retarder.shaft.value == "propshaft" else limit + 1, 10.0)
    torque = shaft_torque_nm(vehicle.retarder, len(vehicle.retarder.stages), shaft, state_of_charge=0.0)
    return Characteristics(
        vehicle, tuple(speed_at_rpm_mps(vehicle.gearbox, gear, limit) for gear in range(len(vehicle.gearbox.ratios))),
        float(drag_power_w(vehicle.engine, np.array([limit]))[0]),
        float(min(np.max(torque * shaft * np.pi / 30), np.max(power_limit_w(vehicle.retarder, state_of_charge=0.0)))),
        room_j(battery, battery.state_of_charge) if battery else 0.0)
