# SPDX-License-Identifier: MIT
"""A user's file: the documented example loads and means what it says; every fault is told at once with a near match."""

from __future__ import annotations

import math
import re
from pathlib import Path

import pytest

from descent.errors import VehicleError
from descent.units import INCH_M, POUND_KG
from descent.vehicle.catalogue import load_vehicle
from descent.vehicle.model import BrakeKind, LoadKind, RetarderKind, StopRule, Vehicle

PAGE = Path(__file__).parents[2] / "docs" / "vehicle-file.md"


def loaded(folder: Path, text: str) -> Vehicle:
    file = folder / "mine.toml"
    file.write_text(text, encoding="utf-8")
    return load_vehicle(str(file))


def faults(folder: Path, text: str) -> list[str]:
    with pytest.raises(VehicleError) as caught:
        loaded(folder, text)
    return [fault.sentence() for fault in caught.value.faults]


def test_the_documented_example(tmp_path: Path) -> None:
    example = re.search(r"```toml\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)
    assert example is not None
    vehicle = loaded(tmp_path, example.group(1))
    assert vehicle.tare_kg / POUND_KG == pytest.approx(29_200)
    assert vehicle.rollover_threshold_g == 0.26
    assert vehicle.gearbox.names[2] == "1L" and len(vehicle.gearbox.ratios) == 18
    assert vehicle.axles[2].brakes[0].stroke_m == pytest.approx(2.2 * INCH_M)
    assert vehicle.axles[2].brakes[0].chamber.name == "30LS"
    assert vehicle.axles[1].brakes[0].heat_capacity_jpk == pytest.approx(0.9 * 39286)
    assert "user" in vehicle.source_keys and "practice" in vehicle.source_keys


def test_a_named_set_replaces_the_base_s_gears_and_own_gears_replace_a_set(tmp_path: Path) -> None:
    assert len(loaded(tmp_path, 'base = "dump-truck"\n[gearbox]\nset = "13-speed"\n').gearbox.ratios) == 13
    own = loaded(tmp_path, 'base = "logging-truck"\n[gearbox]\nnames = ["lo", "hi"]\nratios = [2.0, 1.0]\n').gearbox
    assert own.names == ("lo", "hi") and own.efficiencies == (0.96, 0.98)


def test_another_kind_of_retarder_leaves_nothing_of_the_old_one(tmp_path: Path) -> None:
    none = loaded(tmp_path, 'base = "motorcoach"\n[retarder]\nkind = "none"\n').retarder
    assert none.kind is RetarderKind.NONE and none.stages == ()
    said = faults(tmp_path, 'base = "motorcoach"\n[retarder]\nkind = "exhaust brake"\n')
    assert any("retarder.stages" in line for line in said) and any("retarder.speeds" in line for line in said)


def test_a_hydrodynamic_retarder_by_its_law(tmp_path: Path) -> None:
    text = ('base = "tractor-semitrailer"\n[retarder]\nkind = "hydrodynamic retarder"\nshaft = "propshaft"\n'
            'torque_per_speed2 = 0.003\nmost_torque = "3000Nm"\nstages = [0.5, 1.0]\ncontinuous_power = "250kW"\n')
    retarder = loaded(tmp_path, text).retarder
    assert (retarder.torque_per_rpm2_nm, retarder.most_torque_nm, retarder.speeds_rpm) == (0.003, 3000.0, ())


def test_a_lift_axle_up_carries_nothing_and_lowers_the_threshold(tmp_path: Path) -> None:
    """A raised lift axle costs 0.01-0.03 g (nrc_rollover, seen): the upper end is taken."""
    down, up = load_vehicle("dump-truck-lift"), loaded(tmp_path, 'base = "dump-truck-lift"\n[vehicle]\nlift_axle = "up"\n')
    assert [axle.name for axle in up.axles] == ["steer", "drive"]
    assert up.rollover_threshold_g == pytest.approx(down.rollover_threshold_g - 0.03)
    assert (down.rated_gross_kg - up.rated_gross_kg) / POUND_KG == pytest.approx(13_000)
    assert up.tare_kg == pytest.approx(down.tare_kg) == pytest.approx(sum(axle.tare_kg for axle in up.axles))
    assert any("no axle group can be lifted" in line
               for line in faults(tmp_path, 'base = "dump-truck"\n[vehicle]\nlift_axle = "up"\n'))


@pytest.mark.parametrize("kind", LoadKind)
def test_every_kind_of_load_can_be_named(tmp_path: Path, kind: LoadKind) -> None:
    vehicle = loaded(tmp_path, f'base = "tractor-semitrailer"\n[load]\nkind = "{kind.value}"\n')
    assert vehicle.load.kind is kind
    assert vehicle.rollover_threshold_g <= 0.35
    assert (vehicle.load.stops is StopRule.ATTENDED_OFF_ROADWAY) == (kind is LoadKind.HAZARDOUS)


@pytest.mark.parametrize(("text", "part"), [
    ('[gearbox]\nset = "18speed"', "Did you mean 18-speed"), ('[load]\nkind = "tank-smoth"', "Did you mean tank-smooth"),
    ('[retarder]\nkind = "exhaust break"', "Did you mean exhaust brake"),
    ('[axles.drive]\nchamber = "30L"', "Did you mean"), ('[axles.drives]\nwear = 0.1', "Did you mean axles.drive"),
    ('[engin]\nidle = 600', "Did you mean engine"), ('[brakes]\nfadeonset = "300C"', "Did you mean fade_onset"),
    ('[axles.drive]\nbrake_kind = "s-cam drum"', "Did you mean S-cam drum"), ("engine = 3", "must be a table"),
    ('[axles]\ndrive = 3', "must be a table"), ('[vehicle]\nlift_axle = "upp"', "Did you mean up"),
    ('[battery]\ncapacty = 3', "Did you mean capacity")])
def test_near_matches_are_named(tmp_path: Path, text: str, part: str) -> None:
    assert any(part in line for line in faults(tmp_path, f'base = "tractor-semitrailer"\n{text}\n'))


def test_an_unknown_base_hides_no_other_fault(tmp_path: Path) -> None:
    said = faults(tmp_path, 'base = "tractor-semitrailr"\n[engin]\nidle = 600\n[vehicle]\ntre = "3t"\n')
    assert len(said) == 3 and "Did you mean tractor-semitrailer" in said[0]


def test_a_battery_that_contradicts_itself(tmp_path: Path) -> None:
    said = faults(tmp_path, 'base = "battery-tractor"\n[battery]\ntaper_from = 0.99\nfull_at = 0.9\nstate_of_charge = 2\n')
    assert any("taper_from" in line for line in said) and any("state_of_charge" in line for line in said)


def test_a_wedge_brake_in_a_file(tmp_path: Path) -> None:
    """Statics of a wedge: each shoe gets F / (2 tan(angle / 2)); force at the tyre by hand (derived)."""
    text = ('base = "straight-truck"\n[axles.drive]\nbrake_kind = "wedge drum"\nwedge_angle = 12\nchamber = "12"\n'
            'factor = 0.9\nradius = "8in"\n')
    brake = loaded(tmp_path, text).axles[1].brakes[0]
    wheel_m = 1609.344 / 510 / (2 * math.pi)
    by_hand = 12 * INCH_M**2 * 1000 / (2 * math.tan(math.radians(6))) * 0.9 * 8 * INCH_M / wheel_m
    assert brake.kind is BrakeKind.WEDGE_DRUM and brake.force_n_per_kpa == pytest.approx(by_hand)
