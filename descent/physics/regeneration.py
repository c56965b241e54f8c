# SPDX-License-Identifier: MIT
"""Electric regeneration: what the battery still takes, and how what it took fills it."""

from __future__ import annotations

from descent.vehicle.model import Battery


def charge_limit_w(battery: Battery, state_of_charge: float) -> float:
    """Shaft power [W] the battery still takes at a state of charge (0 to 1): whole, tapering to nothing when full.

    The losses between shaft and battery are not counted as holding back. Range: a battery neither cold nor hot. That a
    full battery takes none: key un_grva_full_battery; the straight taper is assumed.

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> battery = load_vehicle("battery-tractor").retarder.battery
    >>> [round(charge_limit_w(battery, charge) / 1e3) for charge in (0.5, 0.85, 0.9, 0.95, 1.0)]
    [250, 250, 125, 0, 0]
    """
    if state_of_charge >= battery.full_at:
        return 0.0
    if state_of_charge <= battery.taper_from:
        return battery.charge_power_w
    return battery.charge_power_w * (battery.full_at - state_of_charge) / (battery.full_at - battery.taper_from)


def charged(battery: Battery, state_of_charge: float, *, shaft_energy_j: float) -> float:
    """State of charge (0 to 1) after the shaft gave `shaft_energy_j` [J], never above what counts as full.

    Range: one step, short enough that `charge_limit_w` is about constant over it. Source: energy balance (key derived).

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> battery = load_vehicle("battery-tractor").retarder.battery
    >>> round(charged(battery, 0.60, shaft_energy_j=42 * 3.6e6), 4)      # 42 kWh of 420
    0.695
    """
    gained = battery.charge_efficiency * shaft_energy_j / battery.capacity_j
    return max(state_of_charge, min(battery.full_at, state_of_charge + gained))


def room_j(battery: Battery, state_of_charge: float) -> float:
    """Shaft energy [J] that fits before the battery is full: what a descent may count on at most.

    Range and source: `charged`.

    >>> from descent.vehicle.catalogue import load_vehicle
    >>> battery = load_vehicle("battery-tractor").retarder.battery
    >>> round(room_j(battery, 0.75) / 3.6e6, 1), room_j(battery, 1.0)
    (88.4, 0.0)
    """
    return max(0.0, battery.full_at - state_of_charge) * battery.capacity_j / battery.charge_efficiency
