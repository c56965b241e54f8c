# SPDX-License-Identifier: MIT
"""Every figure of a lesson is the core's; reading between keeps its stated error; runaways are never read across."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import numpy as np
import pytest

from descent.downgrades.find import sustained_downgrades
from descent.errors import RequestError
from descent.lesson.accuracy import STATED, errors_at
from descent.lesson.between import ENERGIES, alike, cell_of, corners, read
from descent.lesson.choices import axes_of, basis
from descent.lesson.drive import adjusted, drive, run
from descent.lesson.grid import choice_at
from descent.lesson.hill import SPACING_M, constructed_hill, hill_of_road
from descent.lesson.model import Adjustment, Choice, State
from descent.lesson.story import SLACK_SHARES, STOP_FLOORS
from descent.physics.march import Braking, Setting, cells_of, force_tables
from descent.physics.runaway import last_full_stop, with_fade_and_slack
from descent.plan.model import Instruction, LegSpan, Rules, Solution, Task
from descent.plan.verify import drive as drive_plan
from descent.units import INCH_M, MPH_MPS, US
from descent.vehicle.catalogue import load_vehicle
from lesson.lesson_sample import AXES, GROSS_KG, TRUCK, ground, sample
from made_roads import straight_profile

KEYS = [(0, 1, 0, 0, 2, 2), (1, 1, 0, 0, 2, 2), (2, 0, 0, 1, 2, 2), (2, 0, 2, 0, 0, 1), (1, 0, 1, 1, 1, 0)]


@pytest.mark.parametrize("key", KEYS)
def test_an_outcome_is_the_march_that_checks_plans(key: tuple[int, ...]) -> None:
    """The same instruction as one leg of a plan over the same profile, driven by `plan.verify`."""
    lesson = sample()
    choice, found = choice_at(AXES, key), lesson.outcomes[key]      # type: ignore[arg-type,index]
    hill, here = lesson.ground.hill, lesson.ground
    n = len(hill.profile.station_m)
    vehicle = adjusted(load_vehicle(TRUCK, gross_kg=choice.gross_kg), choice.adjustment)
    task = Task(hill.profile, sustained_downgrades(hill.profile), (), vehicle, here.day, here.driving,
                Rules(1.0, 5 * MPH_MPS, MPH_MPS), np.full(n, 60.0), np.ones(n, dtype=bool), np.full(n, 60.0), hill.profile.grade,
                altitude_offset_m=hill.altitude_offset_m)
    cells = cells_of(task.profile, vehicle, task.day, altitude_offset_m=task.altitude_offset_m)
    tables = force_tables(vehicle, (Setting(choice.gear, choice.stage),), task.driving, density_ratio=task.density_ratio)
    leg = LegSpan(0, n - 1, 0, 1, Instruction(choice.gear, choice.speed_mps, choice.stage), choice.braking)
    trace = drive_plan(task, cells, tables, Solution((leg,), ()))
    tight = {"rel": 1e-9}                           # the same march; the caps pass once more through a square root
    assert found.peak_c == pytest.approx(trace.temp_c.max(), **tight)
    assert found.peak_kpa == pytest.approx(trace.pressure_kpa.max(), **tight)
    assert found.time_s == pytest.approx(trace.total_time_s, **tight)
    assert found.energy_j == pytest.approx(trace.energy_j, rel=1e-9, abs=1e-3)
    assert found.with_stop_c == pytest.approx((trace.temp_c + trace.rise_k).max(), **tight)
    begins = 0.0
    for k, ends in enumerate(here.ends_m):
        inside = (trace.station_m > begins + 1e-6) & (trace.station_m <= ends + 1e-6)
        assert found.curve.temp_c[k] == pytest.approx(max(trace.temp_c[inside].max(), trace.temp_c[0].max() if k == 0 else 0))
        begins = ends


def test_energy_closes() -> None:
    """First law: what gravity and engine give is what the sinks take and what is left in motion."""
    for outcome in sample().outcomes.values():
        energy = outcome.energy_j
        given = energy["gravity_j"] + energy["drive_j"]
        taken = sum(energy[name] for name in ENERGIES) + energy["kinetic_change_j"]
        assert taken == pytest.approx(given, rel=1e-6)


def test_last_stops_are_those_of_the_core_and_the_short_cut_misses_none() -> None:
    """Where the worst case is found able to stop everywhere, so is every case of `last_full_stop`; elsewhere the range is its
    own."""
    lesson = sample()
    here, end_m = lesson.ground, float(lesson.ground.hill.profile.station_m[-1])
    chosen = random.Random(3).sample(sorted(lesson.outcomes), 12) + [(2, 0, 2, 0, 2, 2), (2, 0, 0, 0, 2, 2)]
    lost = 0
    for key in chosen:
        choice, story = choice_at(AXES, key), lesson.outcomes[key].story
        made = run(here, choice)
        direct = last_full_stop(made.cells, made.vehicle, made.tables, made.schedule, here.day, here.driving,
                                start_speed_mps=choice.speed_mps, fade_floors=STOP_FLOORS, slack_shares=SLACK_SHARES)
        assert story.stop_earliest_m == direct.earliest_m and story.stop_latest_m == direct.latest_m
        assert direct.bottom_reached == (story.stop_earliest_m == end_m)
        lost += not direct.bottom_reached
    assert lost >= 2


def test_a_runaway_is_lost_while_the_speed_is_held() -> None:
    """The story's order: the earliest last stop, the one drawn, the latest; the speed rises only after the first."""
    lesson = sample()
    gone = [item for item in lesson.outcomes.values() if item.state is State.RUNAWAY]
    assert len(gone) >= 6
    after = 0
    for outcome in gone:
        story = outcome.story
        assert story.stop_earliest_m <= story.stop_assumed_m <= story.stop_latest_m
        if not math.isnan(story.left_worst_m):
            assert story.left_worst_m > story.stop_earliest_m
            after += 1
        if not math.isnan(story.foot_free_mps):
            assert story.ramp_low_m <= story.ramp_high_m and story.ramp_up_m < story.ramp_high_m
            # v^2 / (2 g R) on the level, R = 0.25 (as in test_runaway)
            most = max(story.foot_free_mps, story.foot_mps, story.foot_worst_mps)
            assert story.ramp_high_m == pytest.approx(most**2 / (2 * 9.80665 * 0.25))
    assert after >= 2


def test_states_are_what_they_say() -> None:
    lesson = sample()
    limit_c, end_m = 260.0, float(lesson.ground.hill.profile.station_m[-1])
    states = {outcome.state for outcome in lesson.outcomes.values()}
    assert {State.HOLDS, State.HOT, State.RUNAWAY} <= states
    for outcome in lesson.outcomes.values():
        if outcome.state is State.HOLDS:
            assert outcome.with_stop_c <= limit_c and math.isnan(outcome.story.limit_m)
        else:
            assert outcome.with_stop_c > limit_c
        if outcome.state in (State.HOLDS, State.HOT):
            assert outcome.story.stop_earliest_m == end_m and math.isnan(outcome.story.left_worst_m)


def test_heavier_is_hotter_when_dragged() -> None:
    """A law: at one speed and gear more weight is more heat. Dragged, since a snub's phase hides some kelvin."""
    lesson = sample()
    for key, outcome in lesson.outcomes.items():
        if key[3] == 1 and key[5] > 0 and outcome.peak_kpa > 0 and outcome.state in (State.HOLDS, State.HOT):
            lighter = lesson.outcomes[(*key[:5], key[5] - 1)]
            assert outcome.energy_j["brakes_j"] > lighter.energy_j["brakes_j"] and outcome.peak_c >= lighter.peak_c


def test_reading_between_keeps_its_stated_error_at_new_places() -> None:
    """Places the grid was not probed at, each marched directly."""
    lesson, chance = sample(), random.Random(11)
    checked = 0
    for cell in sorted(lesson.readable):
        speeds, weights = AXES.speeds_mps[cell[0]], AXES.weights_kg
        speed = speeds[cell[4]] + chance.random() * (speeds[cell[4] + 1] - speeds[cell[4]])
        gross = weights[cell[5]] + chance.random() * (weights[cell[5] + 1] - weights[cell[5]])
        errors = errors_at(lesson.ground, AXES, lesson.outcomes, cell[:4], speed, gross)
        assert (errors <= np.array(STATED)).all(), (cell, speed, gross, errors)
        checked += 1
    assert checked >= 30
    found = lesson.accuracy
    assert found.points == 3 * len(lesson.readable)
    assert 0.0 < found.temp_k <= STATED[0] and found.pressure_kpa <= STATED[1] and found.energy_share <= STATED[2]


def test_on_the_grid_reading_is_the_grid() -> None:
    lesson = sample()
    for cell in sorted(lesson.readable)[:20]:
        speed, gross = AXES.speeds_mps[cell[0]][cell[4]], AXES.weights_kg[cell[5]]
        assert cell_of(AXES, cell[:4], speed, gross) == cell
        found = read(lesson.outcomes, corners(AXES, cell, speed, gross))
        assert found.peak_c == pytest.approx(lesson.outcomes[cell].peak_c)
        np.testing.assert_allclose(found.curve.pressure_kpa, lesson.outcomes[cell].curve.pressure_kpa)


def test_nothing_is_read_across_a_runaway() -> None:
    lesson = sample()
    for cell in lesson.readable:
        around = {(*cell[:4], cell[4] + i, cell[5] + j): 0.25 for i in (0, 1) for j in (0, 1)}
        assert alike(lesson.outcomes, around)
        assert not {lesson.outcomes[key].state for key in around} & {State.DOUBTFUL, State.RUNAWAY}
    gone = [key for key, item in lesson.outcomes.items() if item.state is State.RUNAWAY]
    around = {(*key[:4], key[4] - i, key[5] - j) for key in gone for i in (0, 1) for j in (0, 1)}
    assert gone and not lesson.readable & around


def test_adjustment_moves_the_strokes() -> None:
    truck = load_vehicle(TRUCK)
    limits = [row.brake.chamber.stroke_limit_m for row in truck.rows]
    assert adjusted(truck, Adjustment.AS_BUILT) == truck
    assert [row.brake.stroke_m for row in adjusted(truck, Adjustment.AT_LIMIT).rows] == limits
    past = [row.brake.stroke_m for row in adjusted(truck, Adjustment.PAST_LIMIT).rows]
    assert past == pytest.approx([limit + 0.25 * INCH_M for limit in limits])


def test_the_worst_curve_is_the_worst_of_the_range() -> None:
    here, choice = ground(), Choice(8, 0, Adjustment.AS_BUILT, Braking.DRAG, 24.0, GROSS_KG)
    made, found = run(here, choice), drive(here, choice)
    poor = with_fade_and_slack(made.vehicle, fade_floor=0.2, slack_share=1.0)
    assert {row.brake.fade_floor for row in poor.rows} == {0.2}
    assert (found.worst.pressure_kpa >= found.curve.pressure_kpa - 1e-6).all()


def test_the_right_gear_holds_and_the_next_does_not() -> None:
    here = ground(grade=0.06, length_m=8000.0)
    right, stage = basis(here, GROSS_KG, US)
    assert right is not None and stage == 3
    axes = axes_of(here, GROSS_KG, right, US)
    assert axes.gears == tuple(sorted(axes.gears)) and len(axes.gears) >= 5
    states = {gear: drive(here, Choice(gear, 3, Adjustment.AS_BUILT, Braking.SNUB, axes.speeds_mps[at][-1], GROSS_KG)).state
              for at, gear in enumerate(axes.gears)}
    assert all(state is State.HOLDS for gear, state in states.items() if gear <= right)
    assert states[right + 1] is not State.HOLDS
    for at, gear in enumerate(axes.gears):
        rpm = np.array(axes.speeds_mps[at]) * here.vehicle.gearbox.ratios[gear] * here.vehicle.gearbox.final_ratio \
            / here.vehicle.gearbox.wheel_radius_m * 30 / math.pi
        assert (rpm >= 1100 - 1e-6).all() and (rpm <= 2100 + 1e-6).all()
        whole = np.array(axes.speeds_mps[at]) / MPH_MPS
        assert whole == pytest.approx(np.round(whole)) and whole[-1] <= 55.0 + 1e-9


def test_gears_are_compared_where_one_fails() -> None:
    """A short hill: with the retarder on every gear holds, so a lower stage is taken; a hill that teaches nothing is refused."""
    right, stage = basis(ground(grade=0.07, length_m=3000.0), GROSS_KG, US)
    assert right is not None and stage == 1
    with pytest.raises(RequestError, match="teaches nothing"):
        basis(ground(grade=0.03, length_m=1000.0), GROSS_KG, US)


def test_a_built_hill_falls_as_told() -> None:
    """Closed form: grade times length; the vertical curves at both ends are symmetric about crest and foot."""
    hill = constructed_hill(grade=0.06, length_m=10000.0)
    heights = hill.profile.elevation_m
    assert heights[0] - heights[-1] == pytest.approx(600.0, abs=0.01)
    assert hill.profile.spacing_m == pytest.approx(SPACING_M, rel=0.01)
    assert hill.profile.grade[len(heights) // 2] == pytest.approx(-0.06)
    assert hill.mean_grade == pytest.approx(-0.06, rel=0.01)


def test_a_road_gives_its_longest_fall_and_keeps_its_height() -> None:
    profile = straight_profile([(2000, 0.0), (3000, -0.05), (3000, 0.03), (6000, -0.06), (3000, 0.0)])
    downgrades = sustained_downgrades(profile)
    hill = hill_of_road("Larch Pass", profile, downgrades, profile.grade, altitude_offset_m=100.0)
    assert hill.length_m == pytest.approx(6000.0, abs=200.0)
    fall = -float(np.sum((hill.profile.grade[1:] + hill.profile.grade[:-1]) / 2 * np.diff(hill.profile.station_m)))
    assert fall == pytest.approx(360.0 - 0.03 * 800.0, abs=3.0)
    flat = straight_profile([(5000, 0.0)])
    with pytest.raises(RequestError, match="no sustained downgrade"):
        hill_of_road("Flat Lane", flat, sustained_downgrades(flat), flat.grade, altitude_offset_m=0.0)


def test_the_same_lesson_twice() -> None:
    here = replace(sample().ground)
    for key in KEYS[:2]:
        again, before = drive(here, choice_at(AXES, key)), sample().outcomes[key]      # type: ignore[arg-type,index]
        assert again.energy_j == before.energy_j and again.peak_c == before.peak_c
