# SPDX-License-Identifier: MIT
"""Every class: weights that add up, gears that make sense, loads that change what they should, contract numbers kept."""

from __future__ import annotations

import math

import numpy as np
import pytest

from descent.physics.driveline import speed_at_rpm_mps
from descent.units import MPH_MPS, POUND_KG, PSI_KPA
from descent.vehicle.brakes import chambers
from descent.vehicle.catalogue import class_names, load_vehicle, vehicle_table
from descent.vehicle.model import BrakeKind, LoadKind, RetarderKind, StopRule
from descent.vehicle.shared_tables import SHARED, shared_table

ADDED = ("battery-tractor", "doubles", "dump-truck-lift", "logging-truck", "school-bus", "tank-truck",
         "tractor-semitrailer-disc", "tractor-semitrailer-mixed", "transit-bus")


def test_the_classes_asked_for_are_there_and_shared_tables_are_not_classes() -> None:
    assert set(ADDED) <= set(class_names())
    assert not set(SHARED) & set(class_names())


@pytest.mark.parametrize("name", class_names())
def test_axle_ratings_and_empty_weights_add_up_to_the_vehicle(name: str) -> None:
    vehicle = load_vehicle(name)
    assert sum(axle.rating_kg for axle in vehicle.axles) == pytest.approx(vehicle.rated_gross_kg)
    assert sum(axle.tare_kg for axle in vehicle.axles) == pytest.approx(vehicle.tare_kg)


@pytest.mark.parametrize("name", class_names())
def test_steer_axles_carry_a_steer_axle_s_load(name: str) -> None:
    """10,000 to 20,000 lb loaded: common practice, no source."""
    steer = load_vehicle(name).axles[0]
    assert steer.name == "steer" and 10_000 <= steer.load_kg / POUND_KG <= 20_000


@pytest.mark.parametrize("name", class_names())
def test_gears_are_usable_on_the_road(name: str) -> None:
    """Top gear reaches highway speed, first gear is a crawl or a bus's start, and there is a name per gear."""
    vehicle = load_vehicle(name)
    fastest = [speed_at_rpm_mps(vehicle.gearbox, gear, vehicle.engine.overrun_limit_rpm) / MPH_MPS
               for gear in range(len(vehicle.gearbox.ratios))]
    assert fastest[0] < 30 and 50 < fastest[-1] < 120
    assert len(set(vehicle.gearbox.names)) == len(fastest)


@pytest.mark.parametrize("name", class_names())
def test_service_brakes_can_stop_the_loaded_vehicle(name: str) -> None:
    """Cold force at 85 psi is at least the 43.5 % of weight of 49 CFR 393.52 (from memory, high confidence)."""
    vehicle = load_vehicle(name)
    force = sum(row.brake.count * row.brake.force_n_per_kpa * (85 * PSI_KPA - row.brake.crack_kpa) for row in vehicle.rows)
    assert force / vehicle.weight_n > 0.435


def test_contract_numbers_are_kept() -> None:
    """What the five first classes had before gear sets and loads came (rated lb, gears, threshold g, retarder stages)."""
    expected = {"tractor-semitrailer": (80_000, 10, 0.35, 0), "tractor-semitrailer-retarder": (80_000, 10, 0.35, 3),
                "dump-truck": (58_000, 10, 0.35, 0), "straight-truck": (33_000, 6, 0.35, 0),
                "motorcoach": (50_000, 6, 0.45, 4)}
    for name, (pounds, gears, threshold, stages) in expected.items():
        vehicle = load_vehicle(name)
        assert vehicle.gross_kg / POUND_KG == pytest.approx(pounds)
        assert len(vehicle.gearbox.ratios) == gears
        assert vehicle.rollover_threshold_g == threshold
        assert len(vehicle.retarder.stages) == stages
        assert vehicle.load.kind is LoadKind.GENERAL
    assert load_vehicle("tractor-semitrailer").gearbox.ratios == (12.8, 9.25, 6.76, 4.9, 3.58, 2.61, 1.89, 1.38, 1.0, 0.73)
    assert load_vehicle("motorcoach").gearbox.ratios == (3.49, 1.86, 1.41, 1.0, 0.75, 0.65)


@pytest.mark.parametrize(("name", "count"), [("9-speed", 9), ("10-speed", 10), ("13-speed", 13), ("18-speed", 18),
                                             ("12-speed-automated", 12), ("6-speed-automatic", 6)])
def test_gear_sets_have_their_gears(name: str, count: int) -> None:
    row = shared_table("gearboxes")[name]
    ratios = row["ratios"]["value"]
    assert len(row["names"]) == len(ratios) == count
    assert ratios == sorted(ratios, reverse=True)
    assert max(np.array(ratios[:-1]) / np.array(ratios[1:])) < 2.0, "no gap a driver cannot shift across"


@pytest.mark.parametrize(("name", "ratios"), [
    ("18-speed", [14.40, 12.29, 8.51, 7.26, 6.05, 5.16, 4.38, 3.74, 3.20, 2.73, 2.28, 1.94, 1.62, 1.38, 1.17, 1.00, .86, .73]),
    ("12-speed-automated", [14.94, 11.73, 9.04, 7.09, 5.54, 4.35, 3.44, 2.70, 2.08, 1.63, 1.27, 1.00])])
def test_gear_sets_from_public_files(name: str, ratios: list[float]) -> None:
    """Generic sets of regulatory and public simulation files (key generic_gear_sets, from memory, medium confidence)."""
    assert shared_table("gearboxes")[name]["ratios"]["value"] == ratios


def test_brake_kinds_of_the_combinations() -> None:
    kinds = {name: [axle.brake_kind for axle in load_vehicle(name).axles] for name in ADDED}
    assert set(kinds["tractor-semitrailer-disc"]) == {BrakeKind.AIR_DISC}
    assert kinds["tractor-semitrailer-mixed"] == [BrakeKind.AIR_DISC, BrakeKind.S_CAM_DRUM, BrakeKind.S_CAM_DRUM]
    assert sum(axle.axle_count for axle in load_vehicle("doubles").axles) == 5
    assert sum(axle.axle_count for axle in load_vehicle("dump-truck-lift").axles) == 4


@pytest.mark.parametrize("name", ["tractor-semitrailer-disc", "tractor-semitrailer-mixed"])
def test_a_disc_s_stroke_does_not_grow_with_heat(name: str) -> None:
    assert all(row.brake.stroke_per_k_m == 0 for row in load_vehicle(name).rows if row.brake.kind is BrakeKind.AIR_DISC)


def test_chambers_named_by_the_classes_exist_with_limit_below_full_stroke() -> None:
    assert all(chamber.stroke_limit_m < chamber.full_stroke_m for chamber in chambers().values())


def test_the_lower_rollover_threshold_counts() -> None:
    """Tank and logs: worst loads 0.24-0.30 g (umtri_99_19, from memory, medium confidence), below the class's 0.35 g."""
    assert load_vehicle("tank-truck").rollover_threshold_g == 0.30
    assert load_vehicle("logging-truck").rollover_threshold_g == 0.27
    assert load_vehicle("transit-bus").rollover_threshold_g == 0.45


def test_what_loads_change() -> None:
    standing = load_vehicle("transit-bus").load
    assert standing.greatest_lateral_g < 0.2 and standing.greatest_decel_mps2 < 2.0
    assert "railway crossing" in standing.must_stop_at and standing.stops is StopRule.ANY
    general = load_vehicle("tractor-semitrailer").load
    assert math.isinf(general.greatest_lateral_g) and math.isinf(general.greatest_decel_mps2) and general.effects == ()
    for kind, row in shared_table("loads").items():
        assert LoadKind(kind)
        assert kind == "general" or row["effects"]
        assert row["curve_share"]["value"] <= 0.6


def test_a_battery_is_full_unless_told_and_the_motor_drags_nothing() -> None:
    vehicle = load_vehicle("battery-tractor")
    assert vehicle.retarder.kind is RetarderKind.ELECTRIC and vehicle.retarder.battery is not None
    assert vehicle.retarder.battery.state_of_charge == 1.0
    assert vehicle.engine.displacement_m3 == 0


def test_class_tables_parse_without_a_bare_number() -> None:
    """A bare number in a class would count as the user's; none may."""
    for name in class_names():
        load = load_vehicle(name)
        assert "user" not in load.source_keys, name
        assert vehicle_table(name)["title"]
