# SPDX-License-Identifier: MIT
"""The air system of a vehicle file: what it says is what counts, what it leaves out is the published least, faults at once."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from descent.errors import VehicleError
from descent.units import INCH_M, PSI_KPA
from descent.vehicle.air_supply import (
    ATMOSPHERE_KPA,
    AirSupply,
    Body,
    Circuit,
    ParkingControls,
    Protection,
    SpringControl,
    WarningRule,
    air_supply,
    leak_limits,
    least_compressor_m3ps,
)
from descent.vehicle.catalogue import class_names, load_vehicle

LITRE = 1e-3


def supply(tmp_path: Path, air: str, base: str = "tractor-semitrailer", axles: str = "") -> AirSupply:
    file = tmp_path / "mine.toml"
    file.write_text(f'base = "{base}"\n[air]\n{air}\n{axles}\n', encoding="utf-8")
    return air_supply(load_vehicle(str(file)))


def faults(tmp_path: Path, air: str, base: str = "tractor-semitrailer", axles: str = "") -> list[str]:
    with pytest.raises(VehicleError) as caught:
        supply(tmp_path, air, base, axles)
    return [fault.sentence() for fault in caught.value.faults]


@pytest.mark.parametrize("name", class_names())
def test_every_class_says_what_its_air_system_is(name: str) -> None:
    """Nothing is guessed from names; the pressures of a bus are those of a bus (fmvss_121: cut-in at least 85 psi on
    buses and 100 psi on trucks, seen; the warning of large buses 80 to 85 psi, common practice, no source)."""
    vehicle = load_vehicle(name)
    air = air_supply(vehicle)
    bus = name in ("motorcoach", "transit-bus", "school-bus")
    assert vehicle.air.guessed == ()
    assert (air.body is Body.BUS) == bus
    assert air.cut_in_kpa / PSI_KPA == pytest.approx(85 if bus else 100)
    assert air.warning_kpa / PSI_KPA == pytest.approx(80 if bus else 60)
    assert (Circuit.TRAILER in air.circuits) == (air.body is Body.COMBINATION)
    assert (air.spring_on_kpa / PSI_KPA, air.spring_full_kpa / PSI_KPA) == (pytest.approx(45), pytest.approx(20))


def test_what_the_file_says_counts(tmp_path: Path) -> None:
    air = supply(tmp_path, 'supply_reservoir = "25L"\nprimary_reservoir = "40L"\nsecondary_reservoir = "40L"\n'
                 'trailer_reservoir = "60L"\nbuild_up = "20s"\ncut_in = "105psi"\ncut_out = "130psi"\nsafety_valve = "148psi"\n'
                 'warning = "70psi"\nspring_on = "50psi"\nspring_full = "25psi"\nspring_force = "65psi"\n'
                 'leak_released = "1psi"\nleak_applied = "2psi"\nprotection = "protection valves"\nantilock = false\n')
    assert air.tanks_m3 == pytest.approx((25 * LITRE, 40 * LITRE, 40 * LITRE, 60 * LITRE))
    in_psi = [value / PSI_KPA for value in (air.cut_in_kpa, air.cut_out_kpa, air.safety_valve_kpa, air.warning_kpa,
                                            air.spring_on_kpa, air.spring_full_kpa, air.spring_force_kpa)]
    assert in_psi == pytest.approx([105, 130, 148, 70, 50, 25, 65])
    assert (60 * air.leak_released_kpaps / PSI_KPA, 60 * air.leak_applied_kpaps / PSI_KPA) == (pytest.approx(1), pytest.approx(2))
    assert air.protection is Protection.PROTECTION_VALVES
    # 15 psi into 105 L in 20 s, by the gas law
    assert air.compressor_m3ps == pytest.approx(105 * LITRE * 15 * PSI_KPA / ATMOSPHERE_KPA / 20)
    said = " ".join(air.assumptions)
    assert "12 times" not in said and "8 times" not in said and "build-up" not in said and "leaks as much" not in said
    assert "70 psi, as the vehicle file says" in said


def test_what_it_leaves_out_is_the_published_least_and_said(tmp_path: Path) -> None:
    """F3 (fmvss_121, seen): 12 x 464 in3 on the vehicle, 8 x 356 in3 on the trailer; leaks cdl_manual_air_brakes, seen-2."""
    air = supply(tmp_path, "")
    assert sum(air.tanks_m3[:3]) / INCH_M**3 == pytest.approx(5568)
    assert air.tanks_m3[3] / INCH_M**3 == pytest.approx(2848)
    assert air.compressor_m3ps == pytest.approx(least_compressor_m3ps(5568 * INCH_M**3))
    assert air.leak_released_kpaps * 60 == pytest.approx(leak_limits(Body.COMBINATION).released_kpa)
    said = " ".join(air.assumptions)
    for part in ("12 times", "8 times", "equally", "build-up", "leaks as much", "60psi rule", "editions"):
        assert part in said
    mixed = supply(tmp_path, 'supply_reservoir = "31.2429L"')              # 5568 in3 are 91.2429 L: 30 L each for the rest
    assert mixed.tanks_m3[1:3] == pytest.approx((30 * LITRE, 30 * LITRE), abs=1e-6)


def test_a_compressor_by_its_size(tmp_path: Path) -> None:
    """Swept volume x turns per turn of the engine x what it fills, at 2100 rpm (derived)."""
    text = 'compressor_displacement = "0.3L"\ncompressor_drive = 1.0\ncompressor_fill = 0.6\n'
    assert supply(tmp_path, text).compressor_m3ps == pytest.approx(0.3e-3 * 0.6 * 2100 / 60)


def test_chamber_volumes_of_the_file_beat_the_table(tmp_path: Path) -> None:
    drive = '[axles.drive]\nchamber_volume = "2L"\nspring_chamber_volume = "1.5L"\n'
    air = supply(tmp_path, "", axles=drive)
    assert sum(air.tanks_m3[:3]) == pytest.approx(12 * (4 * 2 * LITRE + 2 * 54 * INCH_M**3))
    assert air.spring_chambers_m3[1] == pytest.approx(6 * LITRE)


@pytest.mark.parametrize(("rule", "psi"), [("60psi", 60), ("55psi", 55), ("half-of-cut-out", 55), ("80psi", 80)])
def test_each_edition_of_the_warning_can_be_named(tmp_path: Path, rule: str, psi: float) -> None:
    air = supply(tmp_path, f'warning_rule = "{rule}"')
    assert air.warning_kpa / PSI_KPA == pytest.approx(psi) and air.warning_rule is WarningRule(rule)
    assert f"{rule.replace('-', ' ')} rule" in " ".join(air.assumptions)


def test_a_new_axle_without_its_circuit_is_told_from_its_name_and_said(tmp_path: Path) -> None:
    extra = '[axles.pup_trailer]\naxle_count = 1\nrated_load = "9t"\ntare_load = "3t"\nrolling = 0.006\nbrake_count = 2\n' \
            'brake_kind = "S-cam drum"\nchamber = "30"\nradius = "8.25in"\n'
    air = supply(tmp_path, "", axles=extra)
    assert air.circuits[-1] is Circuit.TRAILER and air.spring_axles[-1]
    assert sum("pup trailer axle is taken" in text for text in air.assumptions) == 2


@pytest.mark.parametrize(("base", "air", "part"), [
    ("tractor-semitrailer", 'cut_out = "95psi"', "cut_out"), ("tractor-semitrailer", 'safety_valve = "120psi"', "safety_valve"),
    ("tractor-semitrailer", 'warning = "104psi"', "cut_in"), ("tractor-semitrailer", 'spring_on = "15psi"', "spring_on"),
    ("tractor-semitrailer", 'spring_on = "62psi"', "warning"), ("tractor-semitrailer", 'body = "single vehicle"', "combination"),
    ("straight-truck", 'body = "combination"', "trailer circuit"), ("straight-truck", 'trailer_reservoir = "40L"', "trailer_reservoir"),
    ("motorcoach", 'emergency_reservoir = "0L"', "go together"), ("motorcoach", 'parking_controls = "single"', "go together"),
    ("tractor-semitrailer", 'body = "buss"', "Did you mean bus"), ("tractor-semitrailer", 'antilock = "yes"', "true or false"),
    ("tractor-semitrailer", 'protection = "check valve"', "Did you mean check valves"), ("tractor-semitrailer", 'cut_inn = "1psi"', "cut_in"),
    ("tractor-semitrailer", 'leak_released = "3psi"\nleak_applied = "1psi"', "no less leaks"),
    ("tractor-semitrailer", 'build_up = "20s"\ncompressor_displacement = "0.3L"\ncompressor_drive = 1\ncompressor_fill = 0.6', "twice"),
    ("tractor-semitrailer", 'compressor_displacement = "0.3L"', "compressor_drive"),
    ("tractor-semitrailer", "compressor_fill = 0.5", "without the compressor's size"),
    ("battery-tractor", 'compressor_displacement = "0.3L"\ncompressor_drive = 1\ncompressor_fill = 0.6', "build_up"),
    ("tractor-semitrailer", 'cut_in = "100"', "unit"), ("tractor-semitrailer", 'cut_in = "10psi"', "range")])
def test_contradictions_are_told_in_a_sentence(tmp_path: Path, base: str, air: str, part: str) -> None:
    assert any(part in line for line in faults(tmp_path, air, base))


def test_all_faults_at_once(tmp_path: Path) -> None:
    said = faults(tmp_path, 'cut_in = "9psi"\nbody = "car"\nantilock = 3\nwarning_rule = "50psi"',
                  axles='[axles.drive]\ncircuit = "third"\nspring_brakes = "yes"\n')
    assert len(said) == 6
    assert len(faults(tmp_path, 'cut_out = "95psi"\nbody = "single vehicle"')) == 2


def test_nothing_parks_a_vehicle_without_springs(tmp_path: Path) -> None:
    axles = "[axles.drive]\nspring_brakes = false\n[axles.trailer]\nspring_brakes = false\n"
    assert any("parks" in line for line in faults(tmp_path, "", axles=axles))


def test_a_vehicle_file_without_a_base_must_say_all_of_it(tmp_path: Path) -> None:
    file = tmp_path / "bare.toml"
    file.write_text('title = "bare"\n', encoding="utf-8")
    with pytest.raises(VehicleError) as caught:
        load_vehicle(str(file))
    said = [fault.sentence() for fault in caught.value.faults]
    for name in ("body", "cut_in", "warning_rule", "spring_control", "antilock"):
        assert any(f"air.{name}" in line and "missing" in line for line in said)


def test_buses_differ_in_their_parking_controls() -> None:
    coach, school = (air_supply(load_vehicle(name)) for name in ("motorcoach", "school-bus"))
    assert (coach.spring_control, coach.parking_controls) == (SpringControl.MODULATING, ParkingControls.DUAL)
    assert (school.spring_control, school.parking_controls, school.emergency_m3) == (
        SpringControl.ON_OFF, ParkingControls.SINGLE, 0.0)
    assert replace(coach, warning_at_kpa=85 * PSI_KPA).warning_kpa / PSI_KPA == pytest.approx(85)
