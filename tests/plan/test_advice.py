# SPDX-License-Identifier: MIT
"""Cold and wet advice reaches the plan when the day calls for it, where it is needed, and stays away when it does not."""

from __future__ import annotations

from dataclasses import replace

import pytest

from descent.physics.march import Day
from descent.plan.advice import cold_wet_advice, coldest_c, surface_of
from descent.plan.explain import warnings
from descent.plan.model import Reason, Solution, Task
from descent.plan.planner import Found, find, workshop
from descent.request import Road
from descent.units import POUND_KG, fahrenheit_to_c
from descent.vehicle.catalogue import load_vehicle
from descent.vehicle.cold_wet import SURFACES
from made_roads import made_task, pull_out

HILL = [(1500.0, 0.02), (4000.0, -0.05), (3000.0, 0.02), (3000.0, -0.05), (800.0, 0.0)]
PLACES = (pull_out("Alder chains", 900.0, kind="chain-up-area"), pull_out("Top", 1400.0, kind="brake-check-area"),
          pull_out("Other side", 6000.0, kind="chain-up-area"))
PLACES = (*PLACES[:2], replace(PLACES[2], side="left"))
PLAN = Solution((), ())          # any plan at all: with none, nobody is told how to go over a crest


def task(air_f: float, road: Road, name: str = "tractor-semitrailer") -> Task:
    made = made_task(HILL, load_vehicle(name, gross_kg=60_000 * POUND_KG) if name != "motorcoach" else load_vehicle(name),
                     places=PLACES)
    return replace(made, day=Day(fahrenheit_to_c(air_f), 65.6, road.adhesion))


def advised(made: Task, solution: Solution | None = PLAN) -> dict[str, list[Reason]]:
    found: dict[str, list[Reason]] = {}
    for reason in cold_wet_advice(workshop(made), solution):
        found.setdefault(str(reason.values["key"]), []).append(reason)
    return found


def test_a_warm_dry_day_brings_none() -> None:
    assert advised(task(70.0, Road.DRY)) == {}
    assert not [item for item in warnings(workshop(task(70.0, Road.DRY))) if item.kind == "advice"]


def test_frost_and_a_wet_road_each_bring_their_own() -> None:
    frost, wet = set(advised(task(20.0, Road.DRY))), set(advised(task(70.0, Road.WET)))
    assert {"drain-in-frost", "evaporator", "no-evaporator", "frozen-on", "pedal-and-gauges-in-frost",
            "ice-in-the-air-before-the-crest", "chains-carried"} == frost
    assert {"moisture-in-the-wet", "dry-after-water", "before-the-crest-wet"} == wet
    both = set(advised(task(20.0, Road.WET)))
    assert frost | wet < both and both - frost - wet == {"parking-wet-in-frost"}


def test_each_has_the_place_it_is_for() -> None:
    """Two chains of downgrades: their crests lie at 1500 and 8500 m by construction; the one chain-up area on our side
    is at 900 m, and none is before the second crest."""
    made = task(20.0, Road.WET)
    found = find(workshop(made))
    assert isinstance(found, Found)
    at = {key: [(item.values["station_m"], item.values["place"]) for item in items]
          for key, items in advised(made, found.solution).items()}
    crests = [float(made.profile.station_m[chain.crest]) for chain in workshop(made).chains]
    assert crests == pytest.approx([1500.0, 8500.0], abs=150.0)
    assert at["before-the-crest-wet"] == [(crest, "") for crest in crests]
    assert at["chains-carried"] == [(900.0, "Alder chains"), (crests[1], "")]
    assert at["frozen-on"] == [(0.0, "")]
    parked = at["parking-wet-in-frost"]
    assert parked[-1] == (float(made.profile.station_m[-1]), "") and ("Top" in {place for _, place in parked})


def test_an_unnamed_chain_up_area_is_said_to_be_unknown() -> None:
    where = [item.values["where"] for item in advised(task(20.0, Road.DRY))["chains-carried"]]
    assert where == ["chain-up", "chain-up-unknown"]


def test_on_ice_the_refused_plan_still_tells_what_to_do() -> None:
    told = advised(task(20.0, Road.ICE), None)
    assert next(iter(told)) == "not-today" and {"chains-fit", "steady-in-ice"} <= set(told)
    assert not {"before-the-crest-wet", "ice-in-the-air-before-the-crest", "retarder-off-slippery"} & set(told)
    assert "retarder-off-slippery" in advised(task(20.0, Road.ICE, "motorcoach"), None)


@pytest.mark.parametrize("fitted", [True, False])
def test_the_vehicle_file_s_word_on_the_evaporator(fitted: bool) -> None:
    made = task(20.0, Road.DRY)
    made = replace(made, vehicle=replace(made.vehicle, air=replace(made.vehicle.air, evaporator=fitted)))
    assert {"evaporator", "no-evaporator"} & set(advised(made)) == {"evaporator" if fitted else "no-evaporator"}


def test_the_coldest_air_is_that_of_the_top() -> None:
    """Standard atmosphere, 6.5 K per 1000 m (standard_atmosphere, memory-high): 30 m of climb, and 3 K of margin."""
    assert coldest_c(task(50.0, Road.DRY)) == pytest.approx(10.0 - 0.0065 * 30.0 - 3.0, abs=0.01)


@pytest.mark.parametrize("road", Road)
def test_the_surface_is_told_from_its_adhesion(road: Road) -> None:
    assert surface_of(task(50.0, road)) == road.value and road.value in SURFACES
