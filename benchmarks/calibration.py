# SPDX-License-Identifier: MIT
"""Is the accepted chance kept? 200 random roads and trucks planned on one set of draws and judged on another.

`python -m benchmarks.calibration [PAIRS]` writes docs/risk.md (and says where it is on standard error); the same pairs
give the same page.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from descent.downgrades.find import sustained_downgrades
from descent.physics.march import Day, Driving
from descent.plan.chance import Chance, Spread, WeightFrom, spread_for, upper_bound
from descent.plan.draw_bench import bench
from descent.plan.limits import steep_side
from descent.plan.model import Rules, Task
from descent.plan.planner import Found, find, workshop
from descent.plan.risk import MORE, SURE, Within, find_within, risk_of
from descent.route.places import Place
from descent.terrain.road_profile import RoadProfile
from descent.units import MPH_MPS
from descent.vehicle.catalogue import load_vehicle

PAGE = Path(__file__).resolve().parents[1] / "docs" / "risk.md"
NAMES = ("tractor-semitrailer", "tractor-semitrailer-retarder", "motorcoach", "dump-truck", "straight-truck")
PLANNED_SEED, FRESH_SEED = 1, 1_000_003
ACCEPTED, DRAWS, FRESH_DRAWS = 0.05, 1000, 5000
SPACING_M = 10.0


@dataclass(frozen=True)
class Pair:
    """One road and vehicle: what became of it. nominal, planned, fresh: shares of draws over the limit, of the plan that
    asks nothing of chance, of the accepted plan on its own draws and on fresh ones driven in the road's own 10 m cells."""

    vehicle: str
    answer: str
    nominal: float = 0.0
    planned: float = 0.0
    fresh: float = 0.0
    fading: int = 0
    cost_min: float = 0.0
    total_min: float = 0.0


def random_task(number: int) -> Task:
    """A made road of up to four downgrades with places to stop, and a loaded vehicle, all from one number."""
    rng = np.random.default_rng(number)
    pieces: list[tuple[float, float]] = []
    places: list[Place] = []
    at = 0.0
    for index in range(int(rng.integers(1, 4))):
        climb, fall, flat = (float(round(rng.uniform(*span), -1)) for span in ((800, 2500), (1500, 6000), (400, 1500)))
        grade = -float(rng.uniform(0.035, 0.075))
        pieces += [(climb, float(rng.uniform(0.0, 0.03))), (fall, grade), (flat, 0.0)]
        kind = "brake-check-area" if index == 0 else "pull-out"
        places.append(_place(f"Top {index}", at + climb - 150.0, kind))
        if rng.random() < 0.7:
            places.append(_place(f"Middle {index}", round(at + climb + rng.uniform(0.3, 0.8) * fall, -1), "pull-out"))
        at += climb + fall + flat
    grade = np.concatenate([np.full(round(length / SPACING_M), value) for length, value in pieces])
    grade = np.append(grade, grade[-1])
    station = np.arange(len(grade)) * SPACING_M
    height = 1500.0 + np.concatenate([[0.0], np.cumsum((grade[1:] + grade[:-1]) / 2 * SPACING_M)])
    flat_line = np.zeros(len(grade))
    profile = RoadProfile(station, flat_line, flat_line, height, flat_line, grade,
                          flat_line + float(rng.uniform(0.0005, 0.004)), flat_line, "made",
                          grade_correlation_m=float(rng.uniform(60.0, 200.0)))
    name = NAMES[number % len(NAMES)]
    full = load_vehicle(name)
    load = float(rng.uniform(0.5, 1.0))
    vehicle = load_vehicle(name, gross_kg=full.tare_kg + load * (full.gross_kg - full.tare_kg))
    downgrades = sustained_downgrades(profile)
    n = len(station)
    return Task(profile, downgrades, tuple(sorted(places, key=lambda place: place.station_m)), vehicle,
                Day(float(rng.uniform(0.0, 38.0)), 65.6, 0.6), Driving(), Rules(15 * MPH_MPS, 5 * MPH_MPS, MPH_MPS),
                np.full(n, 55 * MPH_MPS), np.ones(n, dtype=bool), np.full(n, 45.0), steep_side(profile, downgrades))


def _place(name: str, station_m: float, kind: str) -> Place:
    return Place(name, kind, 0.0, 0.0, station_m, 5.0, "right", 0.0, 80.0, {})


def judged(number: int) -> Pair:
    """One pair, planned and judged. Every other weight is known from papers only."""
    task = random_task(number)
    spread = spread_for(WeightFrom.PAPERS if number % 2 else WeightFrom.TICKET)
    shop = workshop(task)
    nominal = find(shop)
    if not isinstance(nominal, Found):
        return Pair(task.vehicle.name, "no way down")
    chance = Chance(ACCEPTED, DRAWS, PLANNED_SEED, spread)
    answer = find_within(shop, chance, nominal)
    if not isinstance(answer, Within):
        return Pair(task.vehicle.name, "too risky", answer.nominal.probability)
    fresh = risk_of(bench(shop, replace(chance, seed=FRESH_SEED + number, draws=FRESH_DRAWS), cell_m=SPACING_M), answer.found)
    before = risk_of(bench(shop, replace(chance, seed=FRESH_SEED + number)), nominal)
    return Pair(task.vehicle.name, "planned", before.probability, answer.risk.probability, fresh.probability, fresh.fading,
                answer.risk.cost_s / 60.0, answer.risk.total_s / 60.0)


WHAT_GOES_WRONG = """\
## What could go wrong, and what checks it

Every row is checked by a simulation of that fault written apart from the compiled march (`tests/plan/test_failures.py`,
`test_failures_apart.py`). No compiled kernel of the package gives an expected value of the degrees, the air or the stops; only
the last full stop without retarder is compared with the physics' own search.

| row | simulation | agrees within |
|---|---|---|
| gear too high, retarder lost, stop missed, heavier, brake dead or slack | reference driver (`solve_ivp`) | 1.5 K |
| upshift | reference driver in the higher gear from the row's place on; four other places are no worse | 0.1 K |
| compressor dead | reservoirs by amount of air over the snubs of the march, and over the snubs of a drive in small steps of time | \
two nodes; 3 kPa, 1 % of the fall to the springs |
| half the air lost | both halves: drive, reservoirs and stops with what is left of brakes and air; the worse is the one told | \
1.5 K; 3 kPa; 50 m |
| ice | drive and stops at that grip; the closed form of a stop; speed at the ramp | 50 m; 0.5 % of a stop; 0.1 m/s |

The last full stop as a range, the next place, the speed there, where the speed is lost and how far it is held are checked for
the last four; stops are tried every 50 m. A full stop with failing air has the pressure at which chambers and reservoir run
level (docs/air.md), and slack brakes take more of it, so it is a range there too. Statics leave open how two reservoirs share
what the supply sends them: the emptiest first (as here) or both at once differ by less than 3 kPa, both are simulated.
"""


def page(pairs: list[Pair]) -> str:
    """The page of results."""
    done = [pair for pair in pairs if pair.answer == "planned"]
    fresh = np.array([pair.fresh for pair in done])
    tight = [pair for pair in done if pair.nominal > ACCEPTED]
    kept = int((fresh <= ACCEPTED).sum())
    slowed = [pair.cost_min / (pair.total_min - pair.cost_min) for pair in tight] or [0.0]
    minutes = [pair.cost_min for pair in tight] or [0.0]
    cost = (f"Cost in time where the plan had to be slowed: median {np.median(minutes):.1f} min, largest {max(minutes):.0f} min; "
            f"median {100 * np.median(slowed):.0f} % of the trip.")
    judging = DRAWS * (1 + MORE)
    most = max(over for over in range(judging) if upper_bound(over, judging, SURE) <= ACCEPTED)
    bound = 100 * (ACCEPTED - most / judging)
    conservative = ("How conservative: the accepted share less the share on fresh draws, where the plan had to be slowed, is "
                    f"{100 * np.mean([ACCEPTED - pair.fresh for pair in tight] or [0.0]):.1f} points in the mean. Of it {bound:.1f} "
                    f"points are the {100 * SURE:.1f} % bound that {judging:,} judging draws must keep, where {DRAWS:,} leave it "
                    "open (of many plans some would pass a 95 % bound by luck); the rest is that gears, speeds and minutes come in steps, and that no "
                    "draw may reach fade."
                    f" A share of {FRESH_DRAWS:,} fresh draws is itself a sample: at 4 % its standard deviation is "
                    f"{100 * (0.04 * 0.96 / FRESH_DRAWS) ** 0.5:.1f} points.")
    lines = [
        "# How sure a plan is", "",
        f"Made by `python -m benchmarks.calibration`: {len(pairs)} random roads (1 to 3 downgrades of 3.5 to 7.5 %) and vehicles,",
        f"accepted chance {100 * ACCEPTED:.0f} %, {DRAWS:,} draws to plan on, {FRESH_DRAWS:,} fresh draws (another seed, 10 m cells) to",
        "judge by.",
        "Every second weight is from papers only. All roads are made: nothing here is a trial on a real one.", "",
        "| what | count |", "|---|---|",
        f"| pairs | {len(pairs)} |",
        *(f"| {answer} | {sum(pair.answer == answer for pair in pairs)} |" for answer in ("planned", "too risky", "no way down")),
        f"| planned, and the plan for the values as given would pass its limit in more than the accepted share | {len(tight)} |",
        f"| planned, share on fresh draws at most {100 * ACCEPTED:.0f} % | {kept} of {len(done)} |",
        f"| planned, some fresh draw reaches fade onset | {sum(pair.fading > 0 for pair in done)} |",
        (f"| planned, more than one fresh draw of 1,000 reaches fade onset | "
        f"{sum(pair.fading * 1000 > FRESH_DRAWS for pair in done)} |"), "",
        "Share of fresh draws over the limit, by plan:", "",
        "| | 10th percentile | median | 90th percentile | largest |", "|---|---|---|---|---|",
        _row("plan for the values as given", [pair.nominal for pair in done]),
        _row("accepted plan, on the draws it was made on", [pair.planned for pair in done]),
        _row("accepted plan, on fresh draws", [pair.fresh for pair in done]),
        _row("the same, where the plan had to be slowed", [pair.fresh for pair in tight]), "",
        cost, "", conservative, "",
        "What is drawn, one standard deviation each:", "", "| input | value | source |", "|---|---|---|",
        *(f"| {name} | {value:g} | {source} |" for name, value, source in Spread().sources),
        "| gross_sd, weight from papers | 0.05 | assumed |", "", WHAT_GOES_WRONG]
    return "\n".join(lines)


def _row(what: str, shares: list[float]) -> str:
    values = [*np.percentile(shares or [0.0], (10, 50, 90)), max(shares or [0.0])]
    return f"| {what} | " + " | ".join(f"{100 * value:.1f} %" for value in values) + " |"


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    pairs = []
    for number in range(count):
        pairs.append(judged(number))
        print(number, pairs[-1], file=sys.stderr, flush=True)
        PAGE.write_text(page(pairs), encoding="utf-8")        # a run that is broken off leaves the page of what was done
    print(PAGE, file=sys.stderr)


if __name__ == "__main__":
    main()
