# SPDX-License-Identifier: MIT
"""The chance of passing the limit: same seed, same numbers; laws of draws; and the accepted chance is kept on fresh draws."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import binom

from descent.physics.march_draws import march_draws, merged, merged_schedule
from descent.plan.chance import Chance, Spread, WeightFrom, spread_for, upper_bound
from descent.plan.draw_bench import bench
from descent.plan.draws import drawn, grade_errors
from descent.plan.model import Task
from descent.plan.planner import Found, Workshop, find, workshop
from descent.plan.risk import TooRisky, Within, accepted, find_within, risk_of
from descent.plan.verify import excess_k, schedule_of
from descent.units import MPH_MPS
from descent.vehicle.catalogue import load_vehicle
from made_roads import made_task, pull_out, straight_profile

ROAD = [(1500.0, 0.01), (4500.0, -0.055), (900.0, 0.0), (3000.0, -0.06), (1000.0, 0.0)]
PLACES = (pull_out("Top", 1200.0, kind="brake-check-area"), pull_out("Shelf", 6400.0))
SMALL = Chance(draws=400)


def hill(name: str = "tractor-semitrailer", *, grade_sd: float = 0.002) -> Task:
    task = made_task(ROAD, load_vehicle(name), places=PLACES)
    n = len(task.profile.station_m)
    return replace(task, profile=replace(task.profile, grade_sd=np.full(n, grade_sd)))


@pytest.fixture(scope="module")
def shop() -> Workshop:
    return workshop(hill())


@pytest.fixture(scope="module")
def nominal(shop: Workshop) -> Found:
    found = find(shop)
    assert isinstance(found, Found)
    return found


@pytest.fixture(scope="module")
def within(shop: Workshop, nominal: Found) -> Within:
    answer = find_within(shop, SMALL, nominal)
    assert isinstance(answer, Within)
    return answer


@pytest.mark.parametrize(("over", "draws"), [(0, 1000), (38, 1000), (39, 1000), (3, 60), (59, 60)])
def test_the_bound_is_where_so_few_have_one_chance_in_twenty(over: int, draws: int) -> None:
    """Clopper and Pearson's bound defined by the binomial itself: P(X <= over | bound) = 0.05."""
    assert binom.cdf(over, draws, upper_bound(over, draws)) == pytest.approx(0.05, abs=1e-9)


def test_how_many_may_pass() -> None:
    assert Chance(accepted=0.05).allowed == 38 and Chance(accepted=1.0).allowed == 1000
    assert Chance(accepted=0.0).allowed == -1 and Chance(accepted=0.00299).allowed == -1
    assert Chance(accepted=0.003).allowed == 0


def test_same_seed_same_bytes_and_threads_change_nothing(shop: Workshop, nominal: Found) -> None:
    first, again, other = (bench(shop, Chance(draws=64, seed=seed)) for seed in (7, 7, 8))
    assert first.drive(nominal.solution).excess_k.tobytes() == again.drive(nominal.solution).excess_k.tobytes()
    assert first.drive(nominal.solution).excess_k.tobytes() != other.drive(nominal.solution).excess_k.tobytes()
    schedule = merged_schedule(schedule_of(shop.task, first.road, shop.tables, nominal.solution), first.nodes)
    one, two = (march_draws(merged(first.road, first.nodes), shop.tables, schedule, first.draws,
                            start_temp_c=shop.task.day.start_temp_c, keep=first.keep, threads=n) for n in (1, 2))
    assert all(getattr(one, name).tobytes() == getattr(two, name).tobytes()
               for name in ("excess_k", "fade_k", "time_s", "hottest_c"))


def test_draws_do_not_depend_on_the_plan_and_widening_one_leaves_the_others(shop: Workshop) -> None:
    nodes = bench(shop, SMALL).nodes
    narrow, wide = (drawn(shop.task, replace(SMALL, spread=Spread(gross_sd=sd)), nodes) for sd in (0.01, 0.05))
    assert np.array_equal(narrow.grade_error, wide.grade_error)
    assert np.array_equal(narrow.retarder_share, wide.retarder_share)
    assert not np.array_equal(narrow.scalars, wide.scalars)


def test_without_spread_every_draw_is_the_march_itself(nominal: Found) -> None:
    """No spread and a road known exactly: a draw must give what the plan's own march gives, but for the longer cells."""
    still = workshop(hill(grade_sd=0.0))
    none = Spread(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    peaks = bench(still, Chance(draws=8, spread=none)).drive(nominal.solution)
    own = still.drive(nominal.solution)
    assert np.ptp(peaks.excess_k, axis=0).max() == 0.0
    assert peaks.excess_k[0] == pytest.approx(excess_k(still.task, own), abs=1.5)
    assert peaks.time_s[0] == pytest.approx(own.total_time_s, rel=0.005)


def test_grade_errors_have_the_profiles_own_spread_and_correlation() -> None:
    """Drawn errors against their definition: sd per cell, and exp(-distance / correlation length) between cells."""
    profile = replace(straight_profile([(3000.0, -0.05)], grade_sd=0.003), grade_correlation_m=150.0)
    nodes = np.arange(0, 301, 3)
    errors = grade_errors(profile, nodes, np.random.Generator(np.random.PCG64(5)), count=20_000, scale=1.0)
    assert errors.std(axis=0) == pytest.approx(0.003, rel=0.03)
    for apart in (1, 3, 6):
        found = np.mean([np.corrcoef(errors[:, i], errors[:, i + apart])[0, 1] for i in (5, 40, 80)])
        assert found == pytest.approx(np.exp(-apart * 30.0 / 150.0), abs=0.03)


@pytest.mark.parametrize("wider", [Spread(gross_sd=0.05), Spread(brake_share_sd=0.2), Spread(stroke_sd_m=0.006),
                                   Spread(air_temp_sd_k=9.0), Spread(friction_sd=0.2), Spread(grade_scale=3.0)])
def test_wider_draws_never_pass_the_limit_less_often(shop: Workshop, within: Within, wider: Spread) -> None:
    before, after = (bench(shop, replace(SMALL, spread=spread)).drive(within.found.solution).over.sum()
                     for spread in (Spread(), wider))
    assert after >= before


def test_a_smaller_accepted_chance_is_never_faster(shop: Workshop, nominal: Found) -> None:
    times = []
    for share in (1.0, 0.2, 0.05):
        answer = find_within(shop, replace(SMALL, accepted=share), nominal)
        times.append(answer.found.trace.total_time_s if isinstance(answer, Within) else np.inf)
    assert times == sorted(times) and np.isfinite(times).all()


def test_the_accepted_chance_is_kept_and_its_cost_is_told(shop: Workshop, nominal: Found, within: Within) -> None:
    before = risk_of(bench(shop, SMALL), nominal)
    assert before.upper_95 > 0.05, "else this road shows nothing"
    assert accepted(within.risk) and within.risk.upper_95 <= 0.05 and within.risk.fading == 0
    assert within.risk.cost_s == within.found.trace.total_time_s - nominal.trace.total_time_s > 0
    assert float((excess_k(shop.task, within.found.trace) + within.reserve_k).max()) <= 0.0
    assert np.all(within.risk.low_c <= within.risk.middle_c) and np.all(within.risk.middle_c <= within.risk.high_c)
    assert within.risk.station_m[-1] == shop.task.profile.length_m


def test_on_fresh_draws_the_share_is_at_most_the_accepted_chance(shop: Workshop, within: Within) -> None:
    """Draws the plan was not made on. The bound is at 95 %, so a true chance over the accepted one is unlikely; here
    it is counted."""
    fresh = risk_of(bench(shop, Chance(draws=2000, seed=99)), within.found)
    assert fresh.probability <= 0.05


def test_nothing_shows_a_chance_of_nothing(shop: Workshop, nominal: Found) -> None:
    answer = find_within(shop, replace(SMALL, accepted=0.0), nominal)
    assert isinstance(answer, TooRisky) and answer.nominal.probability > 0


def test_a_draw_that_no_longer_stops_counts_as_over(shop: Workshop, nominal: Found) -> None:
    """On a road of so little grip that the steep pieces hold no stop (0.055 of grade against 0.07 of grip, less 0.2 m/s2)."""
    icy = replace(shop, task=replace(shop.task, day=replace(shop.task.day, adhesion=0.07)))
    peaks = bench(icy, Chance(draws=32)).drive(nominal.solution)
    assert np.isinf(peaks.excess_k).any(axis=1).all() and peaks.over.all()


def test_papers_are_a_wider_guess_than_a_ticket() -> None:
    assert spread_for(WeightFrom.PAPERS).gross_sd > spread_for(WeightFrom.TICKET).gross_sd
    assert {source for _, _, source in Spread().sources} <= {"assumed", "derived", "practice"}


def test_the_minimum_speed_still_holds(within: Within) -> None:
    assert min(leg.instruction.control_mps for leg in within.found.solution.legs) >= 15 * MPH_MPS - 1e-9
