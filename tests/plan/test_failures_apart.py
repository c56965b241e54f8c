# SPDX-License-Identifier: MIT
"""The failure rows of air, ice and an upshift against simulations in plain Python, small steps of time, written apart.

Each full stop is tried every 50 m by the rows, so that is the tolerance of a last full stop (one try); what else is
allowed stands beside each check.
"""

from __future__ import annotations

import math
import sys
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest

sys.path[:0] = [str(Path(__file__).parent), str(Path(__file__).parents[1] / "physics")]

from failure_answers import PLACES, Answer, coach_answer, truck_answer
from failure_simulation import Application, Drive, Reservoirs, air_along, drive, over_limit_k, stop_m
from reference_driver import ReferenceDriver

from descent.physics.march import Cells, Schedule, Setting
from descent.physics.stopping import stop
from descent.plan.doubt import Failure
from descent.plan.failures import ICE_ADHESION, failures
from descent.vehicle.air_model import AirSupply
from descent.vehicle.air_supply import Circuit
from descent.vehicle.model import Vehicle

START = 60                   # node of the brake check at which every fault of these roads begins
TRY = 5                      # nodes between two tries of a stop
TRY_M, SNUB_M = 50.0, 60.0   # one try of a stop; the longest a snub of these plans is on
GAUGE_KPA = 3.0              # 1 % of the fall from cut-in to the springs
SPEED_MPS = 0.1              # two integrations differ by 0.02 in snubs; a runaway gains 0.4 % more in whole cells


@dataclass
class Way:
    """One way down with a fault, simulated apart: node `START` is index 0."""

    vehicle: Vehicle
    driven: Drive
    gauge_kpa: list[float]
    given_kpa: list[float]
    last: int | None


def altered(vehicle: Vehicle, *, floor: float | None = None, slack: float = 0.0,
            gone: tuple[int, ...] = ()) -> Vehicle:
    """Brakes with another fade floor, strokes a share nearer to the readjustment limit, axle groups that give nothing."""
    axles = []
    for index, axle in enumerate(vehicle.axles):
        axles.append(replace(axle, brakes=tuple(replace(
            brake, fade_floor=brake.fade_floor if floor is None else floor,
            stroke_m=brake.stroke_m + slack * (brake.chamber.stroke_limit_m - brake.stroke_m),
            force_n_per_kpa=0.0 if index in gone else brake.force_n_per_kpa) for brake in axle.brakes)))
    return replace(vehicle, axles=tuple(axles))


def on_row(answer: Answer, change: dict[Setting, Setting], from_node: int = 0) -> Schedule:
    numbers = {answer.settings.index(a): answer.settings.index(b) for a, b in change.items()}
    return replace(answer.schedule, row=np.array([numbers.get(int(row), int(row)) if node >= from_node else int(row)
                                                  for node, row in enumerate(answer.schedule.row)]))


def higher(answer: Answer) -> dict[Setting, Setting]:
    """Every leg's gear one too high, as far as there is one."""
    return {Setting(held.gear, held.stage): Setting(held.gear + 1, held.stage)
            for held in (leg.instruction for leg in answer.found.solution.legs)}


def no_retarder(answer: Answer) -> Schedule:
    return on_row(answer, {Setting(leg.instruction.gear, leg.instruction.stage): Setting(leg.instruction.gear, 0)
                           for leg in answer.found.solution.legs if leg.instruction.stage})


def driven_apart(answer: Answer, vehicle: Vehicle, schedule: Schedule, *, adhesion: float = 0.6) -> tuple[Drive, float]:
    """A drive from the brake check, and by how much it passes the limits with a stop on top [K]."""
    task, cells = answer.shop.task, answer.shop.cells
    held = ReferenceDriver(cells, vehicle, answer.settings, schedule, task.day, task.driving,
                           density_ratio=task.density_ratio).engine_and_retarder
    found = drive(cells, vehicle, held, schedule, task.driving, adhesion=adhesion, begin=START, end=answer.end,
                  speed_mps=0.0, temps_c=answer.found.trace.leave_temp_c[START])
    return found, over_limit_k(cells, vehicle, found, adhesion)


def simulated(answer: Answer, vehicle: Vehicle, *, schedule: Schedule | None = None, adhesion: float = 0.6,
              air: AirSupply | None = None, dead_air: bool = False, lost: Circuit | None = None,
              dry: Vehicle | None = None) -> Way:
    """Drive from the brake check and find the last full stop. dead_air: by the air that is left; dry: chambers that fill."""
    task, cells, end = answer.shop.task, answer.shop.cells, answer.end
    schedule = schedule or answer.schedule
    driven, _ = driven_apart(answer, vehicle, schedule, adhesion=adhesion)
    air = air or task.air
    assert air is not None
    gauge, given = [math.inf] * len(driven.time_s), [vehicle.emergency_pressure_kpa] * len(driven.time_s)
    if dead_air:
        reservoirs = Reservoirs(dry or vehicle, air, air.cut_in_kpa, lost)
        gauge, given = air_along(driven, reservoirs, vehicle.emergency_pressure_kpa)

    def stops(at: int) -> bool:
        return math.isfinite(stop_m(
            cells, vehicle, air, node=START + at, speed_mps=driven.speed_mps[at], temps_c=driven.temps_c[at],
            adhesion=adhesion, kpa=max(given[at], 0.0), gone=lost))

    springs = next((at for at, kpa in enumerate(gauge) if kpa < air.spring_on_kpa), None)
    count, coarse = end - START if springs is None else springs - 1, 5 * TRY
    last = None if springs is None else springs - 1
    for at in (*range(0, count, coarse), count):
        if not stops(at):
            tried = range((at - 1) // coarse * coarse, at + 1, TRY)
            last = next((near for near in tried if not stops(near)), at) - TRY
            break
    return Way(vehicle, driven, gauge, given, last)


def of_march(answer: Answer) -> Drive:
    """The plan's own march from the brake check, its pressed cells joined to applications."""
    trace, out, pressed = answer.found.trace, Drive(START), False
    left = float(trace.time_s[START] + max(trace.dwell_s[START], 0.0))
    for node in range(START, answer.end + 1):
        out.time_s.append(max(float(trace.time_s[node]) - left, 0.0))
        out.temps_c.append([float(x) for x in trace.temp_c[node]])
        if node == answer.end:
            break
        kpa, begun, seconds = float(trace.pressure_kpa[node + 1]), int(trace.snubs[node, 0]), float(trace.snubs[node, 1])
        temps = [float(x) for x in trace.temp_c[node + 1]]
        for _ in range(begun or (1 if kpa > 0.0 and not pressed else 0)):
            out.applications.append(Application(out.time_s[-1], node, kpa, seconds / max(begun, 1), temps))
        if kpa > 0.0 and pressed and not begun:
            now = out.applications[-1]
            now.kpa, now.seconds = max(now.kpa, kpa), now.seconds + seconds
        pressed = kpa > 0.0
    return out


def range_of(answer: Answer, gone: tuple[int, ...] = (), **how: object) -> tuple[Way, Way]:
    """The best and the worst of what nobody knows (fade to 0.5 or 0.2; strokes as found or at their limit)."""
    vehicle = answer.shop.task.vehicle
    return tuple(simulated(answer, altered(vehicle, floor=floor, slack=slack, gone=gone),  # type: ignore[return-value]
                           dry=altered(vehicle, slack=slack), **how) for floor, slack in ((0.5, 0.0), (0.2, 1.0)))  # type: ignore[arg-type]


def last_stops_agree(answer: Answer, row: Failure, best: Way, worst: Way, spring_on_kpa: float = -math.inf) -> None:
    """The last full stop of the row, as a range, is that of the simulations within one try; where the springs end it, it
    is where the gauge comes down to them."""
    for said, way in ((row.last_full_stop_m, worst), (row.latest_full_stop_m, best)):
        expected = 10.0 * (answer.end if way.last is None else START + way.last)
        if way.last is not None and way.gauge_kpa[way.last + 1] < spring_on_kpa:
            gauge_agrees(way, said, spring_on_kpa)
        elif expected < 10.0 * START:
            assert said is None
        else:
            assert said == pytest.approx(expected, abs=TRY_M)
    assert row.all_the_way == (worst.last is None)


def place_agrees(answer: Answer, row: Failure, worst: Way) -> None:
    """The next place is the first beyond the fault that is a ramp (not where springs end it) or that the worst way reaches
    with a stop in hand; its speed is the highest over the 400 m before it."""
    last_m = 10.0 * (answer.end if worst.last is None else START + worst.last)
    airless = row.what in ("compressor-dead", "half-air-lost")
    expected = next((place for place in PLACES if place.station_m > row.from_m + 60.0 and (
        not airless if place.kind == "escape-ramp" else place.station_m <= last_m)), None)
    assert row.next_place == expected
    if expected is not None:
        at = round(expected.station_m / 10.0) - START
        assert row.speed_there_mps == pytest.approx(max(worst.driven.speed_mps[max(at - 39, 0):at + 1]), abs=SPEED_MPS)


def speed_agrees(answer: Answer, row: Failure, worst: Way) -> None:
    """Where the speed passes the planned one by 5 mph, if it does, and how far it is held past the last full stop."""
    caps = answer.schedule.cap_mps[START:]
    lost = [node for node, speed in enumerate(worst.driven.speed_mps) if speed > caps[node] + 5 * 0.44704]
    assert (row.speed_lost_m is None) == (not lost)
    if lost:
        assert row.speed_lost_m == pytest.approx(10.0 * (START + lost[0]), abs=20.0)
    if row.still_held_m is not None:
        ends = 10.0 * (START + lost[0] if lost else answer.end)
        assert row.last_full_stop_m is not None
        assert row.last_full_stop_m + row.still_held_m == pytest.approx(ends, abs=20.0)


def gauge_agrees(way: Way, said_m: object, kpa: float) -> None:
    """The gauge passes a pressure where the row says, to 1 % of the fall; None: it never does."""
    if said_m is None:
        assert min(way.gauge_kpa) > kpa - GAUGE_KPA
        return
    at, wide = round(float(said_m) / 10.0) - START, round(SNUB_M / 10.0)  # type: ignore[arg-type]
    assert way.gauge_kpa[max(at - wide, 0)] > kpa - GAUGE_KPA
    assert way.gauge_kpa[min(at + wide, len(way.gauge_kpa) - 1)] < kpa + GAUGE_KPA


@pytest.mark.parametrize("make", [truck_answer, coach_answer])
def test_compressor_dead(make: object) -> None:
    """Reservoirs stepped through the drive's own snubs: warning, springs, where springs stop it, the last full stop."""
    answer: Answer = make()  # type: ignore[operator]
    row, task = answer.row("compressor-dead"), answer.shop.task
    assert task.air is not None
    plain = simulated(answer, task.vehicle, dead_air=True)
    best, worst = range_of(answer, dead_air=True)
    gauge_agrees(plain, row.detail.get("warning_m"), task.air.warning_kpa)
    gauge_agrees(plain, row.detail.get("springs_m"), task.air.spring_on_kpa)
    assert row.holds == (plain.last is None and min(plain.gauge_kpa) >= task.air.warning_kpa)
    last_stops_agree(answer, row, best, worst, task.air.spring_on_kpa)
    place_agrees(answer, row, worst)
    speed_agrees(answer, row, worst)


@pytest.mark.parametrize("make", [truck_answer, coach_answer])
def test_the_air_of_the_march_s_own_snubs(make: object) -> None:
    """The reservoirs alone: over the very snubs of the plan's march they pass warning and springs at the row's node (two
    nodes for where in its cell a snub begins)."""
    answer: Answer = make()  # type: ignore[operator]
    row, task = answer.row("compressor-dead"), answer.shop.task
    assert task.air is not None
    keys = (("warning_m", task.air.warning_kpa), ("springs_m", task.air.spring_on_kpa))
    first, at_once = (air_along(of_march(answer), Reservoirs(task.vehicle, task.air, task.air.cut_in_kpa, emptiest_first=way),
                                550.0)[0] for way in (True, False))
    for key, kpa in keys:
        below = [at for at, now in enumerate(first) if now < kpa]
        assert (key in row.detail) == bool(below)
        if below:
            assert row.detail[key] == pytest.approx(10.0 * (START + below[0]), abs=20.0)
            assert at_once[round(float(row.detail[key]) / 10.0) - START - 1] > kpa - GAUGE_KPA
    assert max(abs(one - other) for one, other in zip(first, at_once, strict=True)) < GAUGE_KPA


def test_a_stop_with_little_air_left() -> None:
    """Springs that hold off to 100 kPa: what ends the full stops is then the air, which chambers and reservoir share."""
    answer = coach_answer()
    air = replace(answer.shop.task.air, spring_on_kpa=100.0, spring_full_kpa=50.0)  # type: ignore[type-var]
    shop = replace(answer.shop, task=replace(answer.shop.task, air=air))
    row = next(row for row in failures(shop, answer.found) if row.what == "compressor-dead")
    best, worst = range_of(answer, dead_air=True, air=air)
    assert best.last is not None and best.gauge_kpa[best.last] > 110.0        # not the springs
    last_stops_agree(answer, row, best, worst, air.spring_on_kpa)


@pytest.mark.parametrize("make", [truck_answer, coach_answer])
def test_half_of_the_air_lost(make: object) -> None:
    """Both halves simulated with what is left of brakes and air; the row tells the one with the earlier last stop."""
    answer: Answer = make()  # type: ignore[operator]
    row, task = answer.row("half-air-lost"), answer.shop.task
    air = task.air
    assert air is not None
    ways, end_m = {}, 10.0 * answer.end
    for lost in (Circuit.PRIMARY, Circuit.SECONDARY):
        gone = tuple(index for index, own in enumerate(air.circuits) if own is lost)
        ways[", ".join(task.vehicle.axles[index].name for index in gone)] = (
            gone, lost, range_of(answer, gone, dead_air=True, lost=lost))
    told = {axle: end_m if worst.last is None else 10.0 * (START + worst.last) for axle, (_, _, (_, worst)) in ways.items()}
    assert told[str(row.detail["axle"])] <= min(told.values()) + TRY_M
    gone, lost, (best, worst) = ways[str(row.detail["axle"])]
    plain = simulated(answer, altered(task.vehicle, gone=gone), dead_air=True, lost=lost, dry=task.vehicle)
    assert row.over_k == pytest.approx(answer.over_k(altered(task.vehicle, gone=gone), answer.schedule, ill_from=START),
                                       abs=1.5)
    assert row.holds == (row.over_k <= 0.0 and plain.last is None)
    gauge_agrees(plain, row.detail.get("warning_m"), air.warning_kpa)
    gauge_agrees(plain, row.detail.get("springs_m"), air.spring_on_kpa)
    last_stops_agree(answer, row, best, worst, air.spring_on_kpa)
    place_agrees(answer, row, worst)
    speed_agrees(answer, row, worst)


def test_springs_on_the_axles_that_lost_their_air_still_brake() -> None:
    """Where springs alone bring it to rest from the row's own place, within 1 %; their axles may be those of the lost half."""
    answer = coach_answer()
    task, trace = answer.shop.task, answer.found.trace
    assert task.air is not None
    for what in ("compressor-dead", "half-air-lost"):
        row = answer.row(what)
        node = round(float(row.detail["springs_m"]) / 10.0)
        speed, temps = float(trace.speed_mps[node]), list(trace.temp_c[node])
        if what == "half-air-lost":
            gone = tuple(index for index, axle in enumerate(task.vehicle.axles) if axle.name in str(row.detail["axle"]))
            assert any(task.air.spring_axles[index] for index in gone)
            driven, _ = driven_apart(answer, altered(task.vehicle, gone=gone), answer.schedule)
            speed, temps = driven.speed_mps[node - START], driven.temps_c[node - START]
        way = stop_m(answer.shop.cells, task.vehicle, task.air, node=node, speed_mps=speed, temps_c=temps, adhesion=0.6,
                     kpa=0.0, springs=True)
        assert float(row.detail["springs_stop_m"]) - float(row.detail["springs_m"]) == pytest.approx(way, rel=0.01)


def test_an_upshift_is_driven_on_in_the_higher_gear() -> None:
    """The reference driver (solve_ivp) in the higher gear from where the row begins; no other of the five places it may
    come at is worse."""
    answer = coach_answer()
    row, end = answer.row("upshift"), answer.end
    vehicle = answer.shop.task.vehicle
    places = [START + int(onset) for onset in np.linspace(0, end - START - 1, 5)]
    assert row.from_m in [10.0 * node for node in places]
    by_reference = answer.over_k(vehicle, on_row(answer, higher(answer), round(row.from_m / 10.0)), ill_from=START)
    assert row.over_k == pytest.approx(by_reference, abs=0.1)
    for node in places:
        assert driven_apart(answer, vehicle, on_row(answer, higher(answer), node))[1] <= by_reference + 1.5
    schedule = on_row(answer, higher(answer), round(row.from_m / 10.0))
    best, worst = range_of(answer, schedule=schedule)
    plain = simulated(answer, vehicle, schedule=schedule)
    assert row.holds == (row.over_k <= 0.0 and plain.last is None)
    last_stops_agree(answer, row, best, worst)
    place_agrees(answer, row, worst)
    speed_agrees(answer, row, worst)
    box, held = vehicle.gearbox, min((leg.instruction for leg in answer.found.solution.legs), key=lambda item: item.control_mps)
    for key, gear in (("rpm", held.gear), ("higher_rpm", held.gear + 1)):
        by_hand = held.control_mps / box.wheel_radius_m * box.ratios[gear] * box.final_ratio * 30.0 / math.pi
        assert row.detail[key] == pytest.approx(by_hand, rel=1e-9)


@pytest.mark.parametrize("make", [truck_answer, coach_answer])
def test_ice(make: object) -> None:
    """Grip of 0.05 everywhere, retarder off: the last stop, the place where the speed is lost, the speed at the ramp."""
    answer: Answer = make()  # type: ignore[operator]
    row, schedule = answer.row("ice"), no_retarder(answer)
    best, worst = range_of(answer, schedule=schedule, adhesion=0.05)
    last_stops_agree(answer, row, best, worst)
    place_agrees(answer, row, worst)
    speed_agrees(answer, row, worst)
    steepest = float(answer.shop.cells.sin_down.max())
    assert 0.05 * 9.80665 - 9.80665 * steepest < 0.2 and math.isinf(row.over_k)      # an emergency stop is not to be relied on
    assert not row.holds and row.still_held_m is not None


@pytest.mark.parametrize("grade", [0.0, 0.02, 0.035, 0.05, 0.06])
def test_a_stop_on_ice(grade: float) -> None:
    """Wheels kept at 0.9 of a grip of 0.05 stop on less than 4.5 % and on no more; the way within 0.5 % of the simulation and,
    but for the lag, of v^2 / (2 g (0.9 x 0.05 - sin)) with the turning parts."""
    task = truck_answer().shop.task
    assert task.air is not None
    sine = grade / math.hypot(1.0, grade)
    cells = Cells(np.arange(3) * 1e4, *(np.full(2, x) for x in (1e4, sine, 1.0, 0.0, 1.0, 15.0)))
    row_way = stop(task.vehicle, speed_mps=12.0, grade=-grade, temps_c=np.full(3, 80.0), adhesion=ICE_ADHESION).total_m
    way = stop_m(cells, task.vehicle, task.air, node=0, speed_mps=12.0, temps_c=[80.0] * 3, adhesion=0.05,
                 kpa=task.vehicle.emergency_pressure_kpa)
    assert row_way == pytest.approx(way, rel=0.005)
    if 0.045 > sine:
        by_hand = 12.0**2 * task.vehicle.rotating_mass_factor / (2 * 9.80665 * (0.045 - sine)) + 12.0 * 2.75
        assert by_hand < way < by_hand + 20.0
    else:
        assert math.isinf(way)
