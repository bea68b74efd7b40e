"""Benchmark of looking ahead: what more annealing, or exact parts after it, bring to coming firings and plans.

python3 run.py bench coming_firings [--works FOLDER] [--lines 50 100] [--seed 1 2] [--exact 0.3]

Backlogs of growing length in the works of `bench plan_scale`, loads estimated. Every policy that lays out kilns
together is run with 20,000 moves for each look ahead, with ten times as many, and with 20,000 and then parts solved by
constraint programming for so many seconds. Shown are the sums over these policies; `cost` is what the looks ahead of
the first policy with 20,000 moves cost when each is searched that way, over what it cost with 20,000.
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING
from unittest.mock import patch

from benchmarks.plan_scale_works import larger_works
from kilnpack.planning import together
from kilnpack.planning.batching.neighbourhood import LEAST_S, improved
from kilnpack.planning.batching.problem import cost_of
from kilnpack.planning.batching.search import annealed_once
from kilnpack.planning.estimate import AreaHeight
from kilnpack.planning.outcomes import goals_of, outcomes_of
from kilnpack.planning.packs import EstimatedPack
from kilnpack.planning.planner import POLICIES
from kilnpack.planning.run import run
from kilnpack.search.budget import Budget
from kilnpack.works_folder import read_works

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from kilnpack.model.plans import PlanGoals
    from kilnpack.model.works import Works
    from kilnpack.planning.batching.problem import Batches, BatchProblem
    from kilnpack.planning.batching.search import Round
    from kilnpack.planning.policies import Policy

    Search = Callable[..., Batches]

LOOKS = 20
"""Looks ahead whose cost is compared."""
LEAST_JOBS = 9


def annealing(times: int) -> Search:
    """Return the planner's own search with so many times its moves."""

    def found(problem: BatchProblem, start: Batches, *, heat: Round, moves: int, seed: int) -> Batches:
        return annealed_once(problem, start, heat=heat, moves=times * moves, seed=seed)

    return found


def exact_after(seconds: float) -> Search:
    """Return the planner's own search, then parts solved exactly for so many seconds."""

    def found(problem: BatchProblem, start: Batches, *, heat: Round, moves: int, seed: int) -> Batches:
        best = annealed_once(problem, start, heat=heat, moves=moves, seed=seed)
        return improved(problem, best, budget=Budget(seconds=seconds + LEAST_S), seed=seed)[1]

    return found


def goals_with(works: Works, policy: Policy, search: Search) -> PlanGoals:
    """Run a policy with estimated loads and a search for its looks ahead."""
    estimate = AreaHeight(works)
    with patch.object(together, "annealed_once", search):
        found = run(works, policy, EstimatedPack(estimate), estimate, seed=1)
    return goals_of(found, outcomes_of(found, {number: str(number) for number in range(len(found.shop.fired))}))


def looks_of(works: Works, policy: Policy) -> list[tuple[BatchProblem, Batches, Round]]:
    """Return looks ahead of a run, evenly drawn from those of more than a few jobs."""
    seen: list[tuple[BatchProblem, Batches, Round]] = []

    def found(problem: BatchProblem, start: Batches, *, heat: Round, moves: int, seed: int) -> Batches:
        if len(problem.jobs) >= LEAST_JOBS:
            seen.append((problem, start, heat))
        return annealed_once(problem, start, heat=heat, moves=moves, seed=seed)

    goals_with(works, policy, found)
    return seen[:: max(1, len(seen) // LOOKS)]


def costs(looks: Sequence[tuple[BatchProblem, Batches, Round]], search: Search) -> float:
    """Return what looks ahead cost together, each searched so."""
    return float(
        sum(
            cost_of(problem, search(problem, start, heat=heat, moves=together.MOVES, seed=1))
            for problem, start, heat in looks
        )
    )


def main(words: Sequence[str] | None = None) -> int:
    """Read the arguments, run every way, print."""
    parser = argparse.ArgumentParser(prog="bench coming_firings", description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--works", type=Path, default=Path("demo_orders/porcelain_works"))
    parser.add_argument("--lines", type=int, nargs="+", default=[50, 100])
    parser.add_argument("--seed", type=int, nargs="+", default=[1, 2])
    parser.add_argument("--exact", type=float, default=0.3)
    asked = parser.parse_args(words)
    works = read_works(asked.works)
    ways = {
        "20,000 moves": annealing(1),
        "200,000 moves": annealing(10),
        f"20,000 and {asked.exact:g} s of exact parts": exact_after(asked.exact),
    }
    policies = [policy for policy in POLICIES if policy.together]
    print(f"{'lines':>5} {'seed':>4} {'search':38} {'late days':>9} {'firings':>7} {'kWh':>9} {'cost':>7} {'s':>6}")
    for lines, seed in ((lines, seed) for lines in asked.lines for seed in asked.seed):
        larger = larger_works(works, lines=lines, seed=seed)
        looks = looks_of(larger, policies[0])
        plain = costs(looks, annealing(1))
        for name, search in ways.items():
            begun = time.monotonic()
            found = [goals_with(larger, policy, search) for policy in policies]
            took = time.monotonic() - begun
            late, firings = sum(one.weighted_late_days for one in found), sum(one.firings for one in found)
            kwh, ratio = sum(one.energy_kwh or 0.0 for one in found), costs(looks, search) / plain
            print(
                f"{lines:5d} {seed:4d} {name:38} {late:9.0f} {firings:7d} {kwh:9.0f} {ratio:7.4f} {took:6.0f}",
                flush=True,
            )
    return 0


if __name__ == "__main__":
    sys.exit(main())
