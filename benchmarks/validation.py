# SPDX-License-Identifier: MIT
"""`make validation`: the planner against brute force, against its own full march and against other ways of driving.

Usage: python -m benchmarks.validation [PAIRS] [SMALL CASES]. Writes docs/validation.md: the same numbers every time.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np

ROOT = Path(__file__).resolve().parents[1]
PAIRS, SMALL = 1000, 220
FOR_IT = ("tractor-semitrailer", "tractor-semitrailer-retarder", "tank-truck", "logging-truck", "doubles")


def brute_force(count: int) -> Counter[str]:
    """Random small cases whose every way down is marched in full."""
    sys.path.insert(0, str(ROOT / "tests"))
    from descent.plan.planner import Found, find
    from plan.brute_force import enumerated, small_case  # type: ignore[import-not-found]
    seen: Counter[str] = Counter()
    for seed in range(1000, 1000 + count):
        shop = small_case(seed)
        every, found = enumerated(shop), find(shop)
        seen["cases"] += 1
        seen["ways"] += every.count
        seen["with a way down"] += int(np.isfinite(every.best_s))
        seen["limits bind"] += int(every.least_s < every.best_s < np.inf)
        time_s = found.trace.total_time_s if isinstance(found, Found) else np.inf
        seen["equal"] += int(time_s == every.best_s or abs(time_s - every.best_s) <= 1e-6)
        seen["bound above"] += int(isinstance(found, Found) and found.lower_bound_s > every.best_s + 1e-6)
    return seen


def one_pair(seed: int, seen: Counter[str], gaps: list[float], spent: list[float]) -> None:
    """Plan one random pair and drive every policy down the same road."""
    from benchmarks.policies import POLICIES
    from benchmarks.random_roads import random_task
    from descent.plan.planner import Found, find, workshop
    from descent.plan.verify import excess_k
    task = random_task(seed)
    began = time.perf_counter()
    shop = workshop(task)
    found = find(shop)
    spent.append(time.perf_counter() - began)
    seen["pairs"] += 1
    seen["km"] += round(task.profile.length_m / 1000)
    if not isinstance(found, Found):
        seen["no plan"] += 1
        return
    over = float(excess_k(task, found.trace).max())
    seen["planned"] += 1
    seen["passed"] += int(over > 0 or not found.trace.complete)
    seen["proven"] += int(found.proven)
    gaps.append(found.trace.total_time_s / found.lower_bound_s - 1)
    seen["bound above plan"] += int(found.lower_bound_s > found.trace.total_time_s + 1e-6)
    if not shop.chains or not shop.choices:
        return
    for group in ("all", "for it") if task.vehicle.name in FOR_IT else ("all",):
        seen[f"descents {group}"] += 1
        seen[f"passed {group} ours"] += int(over > 0)
    for name, policy in POLICIES.items():
        trace = shop.drive(policy(shop))
        worst = float(excess_k(task, trace).max()) if trace.complete else np.inf
        for group in ("all", "for it") if task.vehicle.name in FOR_IT else ("all",):
            seen[f"passed {group} {name}"] += int(worst > 0)


def page(small: Counter[str], seen: Counter[str], gaps: list[float]) -> str:
    """docs/validation.md."""
    from benchmarks.policies import POLICIES
    share = lambda part, whole: f"{100 * part / max(whole, 1):.1f} %"
    certified = max([gap for gap in gaps if gap > 1e-9], default=0.0)
    lines = [
        "# Validation of the planner", "",
        "Written by `make validation`: random cases from fixed seeds, so the same numbers every time. Roads, loads and days are",
        "invented; no truck was driven.", "",
        "## Against brute force", "",
        f"- {small['cases']} small cases, {small['ways']:,} ways down, each marched in full by code written apart",
        f"- {small['with a way down']} have a way down; in {small['limits bind']} of them the fastest way passes a limit",
        f"- plan equal to the best way (to a millionth of a second), or both say there is none: {small['equal']} of {small['cases']}",
        f"- bound above the best way: {small['bound above']}", "",
        "## Against the full march", "",
        f"- {seen['pairs']:,} random pairs of a road (5 to 200 km, {seen['km']:,} km in all) and a loaded vehicle",
        f"- with a plan: {seen['planned']:,} ({share(seen['planned'], seen['pairs'])})",
        f"- a limit passed in the full march of the plan: {seen['passed']}",
        f"- proven best within its instructions, gap nil: {seen['proven']:,} ({share(seen['proven'], seen['planned'])} of the plans)",
        f"- largest certified gap of the rest: {100 * certified:.2f} % (long roads on which the air binds: the search stops",
        "  when there are too many labels)",
        f"- bound above the plan: {seen['bound above plan']}", "",
        "## Other ways of driving the same descents", "",
        "How often each passes the temperature limit (one emergency stop counted) in the same full march, on roads that have a plan",
        "and a downgrade. All use the lowest gear their speed allows and the highest retarder stage grip allows, stop at the same",
        "brake checks, and drive the road between downgrades at its speed limits. The published equations are for a loaded",
        "five-axle combination without retarder: the second column counts only combinations and trucks of that weight class.", "",
        f"| way of driving | all vehicles ({seen['descents all']}) | heavy combinations ({seen['descents for it']}) |",
        "|---|---|---|"]
    for name, label in [("ours", "this planner"), *((name, name) for name in POLICIES)]:
        lines.append(f"| {label} | {share(seen['passed all ' + name], seen['descents all'])} "
                     f"| {share(seen['passed for it ' + name], seen['descents for it'])} |")
    return "\n".join(lines) + "\n"


def main(arguments: list[str]) -> None:
    """Run all and write the page."""
    pairs, count = (int(arguments[i]) if len(arguments) > i else default for i, default in enumerate((PAIRS, SMALL)))
    small = brute_force(count)
    print(dict(small), flush=True)
    seen: Counter[str] = Counter()
    gaps: list[float] = []
    spent: list[float] = []
    for seed in range(pairs):
        one_pair(seed, seen, gaps, spent)
        if (seed + 1) % 50 == 0:
            print(f"{seed + 1} of {pairs} pairs", flush=True)
    text = page(small, seen, gaps)
    (ROOT / "docs" / "validation.md").write_text(text, encoding="utf-8")
    print(text)
    print(f"plan and proof: median {1000 * np.median(spent):.0f} ms, 95 % within {1000 * np.quantile(spent, 0.95):.0f} ms")


if __name__ == "__main__":
    _: Any = main(sys.argv[1:])
