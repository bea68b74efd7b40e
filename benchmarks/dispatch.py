"""Benchmark of dispatching: plan one works with every policy and the same packer, print a table.

python3 run.py bench dispatch --works FOLDER [--seconds 60] [--seed K] [--estimate]

Each policy gets so many seconds of packing. With --estimate loads are estimated by area and height instead of packed,
so that many works can be compared in little time. First due first served is the row the others are held against.
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

from kilnpack.planning.estimate import AreaHeight
from kilnpack.planning.outcomes import goals_of, outcomes_of
from kilnpack.planning.packs import EstimatedPack
from kilnpack.planning.planner import FIRST_DUE, POLICIES, plan_firings
from kilnpack.planning.run import run
from kilnpack.search.budget import Budget
from kilnpack.works_folder import read_works

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kilnpack.model.plans import PlanGoals
    from kilnpack.model.works import Works
    from kilnpack.planning.policies import Policy


def estimated_goals(works: Works, policy: Policy, *, seed: int) -> PlanGoals:
    """Return the goals of a policy with estimated loads."""
    estimate = AreaHeight(works)
    found = run(works, policy, EstimatedPack(estimate), estimate, seed=seed)
    return goals_of(found, outcomes_of(found, {number: str(number) for number in range(len(found.shop.fired))}))


def packed_goals(works: Works, policy: Policy, *, seconds: float, seed: int) -> PlanGoals:
    """Return the goals of the plan that this policy alone gives (beside first due first, which packs first)."""
    from kilnpack.packing.pack_load import pack_load

    others = () if policy == FIRST_DUE else (policy,)
    budget = Budget(seconds=seconds * (1 + len(others)))
    return plan_firings(works, budget=budget, seed=seed, packer=pack_load, policies=others).goals


def table(works: Works, *, seconds: float, seed: int, estimate: bool) -> list[tuple[str, PlanGoals, float]]:
    """Return policy, goals and seconds, row by row."""
    rows = []
    for policy in (FIRST_DUE, *POLICIES):
        begun = time.monotonic()
        if estimate:
            goals = estimated_goals(works, policy, seed=seed)
        else:
            goals = packed_goals(works, policy, seconds=seconds, seed=seed)
        rows.append((policy.name, goals, time.monotonic() - begun))
    return rows


def main(arguments: Sequence[str] | None = None) -> int:
    """Read the arguments, plan, print."""
    parser = argparse.ArgumentParser(prog="bench dispatch", description=__doc__.partition("\n")[0])
    parser.add_argument("--works", type=Path, required=True)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--estimate", action="store_true")
    options = parser.parse_args(arguments)
    works = read_works(options.works)
    rows = table(works, seconds=options.seconds, seed=options.seed, estimate=options.estimate)
    print(f"{'policy':48} {'open':>5} {'late days':>10} {'firings':>8} {'mean finish h':>14} {'seconds':>8}")
    for name, goals, seconds in rows:
        print(
            f"{name:48} {goals.open_lines:5d} {goals.weighted_late_days:10.1f} {goals.firings:8d}"
            f" {goals.mean_finish_h:14.1f} {seconds:8.1f}"
        )
    best = min(goals.order for _, goals, _ in rows)
    print("the best is", next(name for name, goals, _ in rows if goals.order == best))
    return 0


if __name__ == "__main__":
    sys.exit(main())
