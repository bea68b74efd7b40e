"""Benchmark of dispatching: plan one works in several ways with the same packer, print a table.

python3 run.py bench dispatch --works FOLDER [--seconds 90] [--seed K] [--estimate | --furniture SHARE ...]

First due first served and the planner's best are packed side by side, in so many seconds each, checked, and held
against each other with their energy. With --estimate every policy is run with loads estimated by area and height
instead of packed, which takes seconds. With --furniture two ways of looking ahead are packed and checked that wait for
furniture below each share of a full load's, with so many seconds and two seeds each; the mean of each share is shown.
"""

from __future__ import annotations

import argparse
import sys
import time
from dataclasses import dataclass, replace
from pathlib import Path
from statistics import fmean
from typing import TYPE_CHECKING

from kilnpack.planning.estimate import AreaHeight
from kilnpack.planning.outcomes import goals_of, outcomes_of
from kilnpack.planning.packs import EstimatedPack
from kilnpack.planning.planner import FIRST_DUE, POLICIES, plan_firings, plan_with
from kilnpack.planning.policies import Policy, PolicyKind
from kilnpack.planning.run import run
from kilnpack.search.budget import Budget
from kilnpack.search.executor import executor
from kilnpack.works_folder import read_works

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kilnpack.model.plans import PlanGoals
    from kilnpack.model.works import Works
    from kilnpack.planning.packs import Checker, Packer

FURNITURE_WAYS = (
    Policy(kind=PolicyKind.LOOK_AHEAD, longest_wait_h=24.0, paced=True),
    Policy(kind=PolicyKind.LOOK_AHEAD, margin_h=48.0),
)


def estimated_goals(works: Works, policy: Policy, *, seed: int) -> PlanGoals:
    """Return the goals of a policy with estimated loads."""
    estimate = AreaHeight(works)
    found = run(works, policy, EstimatedPack(estimate), estimate, seed=seed)
    return goals_of(found, outcomes_of(found, {number: str(number) for number in range(len(found.shop.fired))}))


@dataclass(frozen=True, slots=True, kw_only=True)
class PackedRow:
    """What a packed plan comes to."""

    name: str
    goals: PlanGoals
    energy_kwh: float
    ware_kg: float
    findings: int
    seconds: float


def packed_row(works: Works, policies: Sequence[Policy], *, seconds: float, seed: int) -> PackedRow:
    """Plan with these policies and first due first served, check the plan and add up its energy."""
    from kilnpack.packing.pack_load import pack_load
    from kilnpack.planning.plan_audit import audit_plan
    from kilnpack.workflow.energy import energy_of
    from kilnpack.workflow.planning import check_load

    begun = time.monotonic()
    plan = plan_firings(
        works, budget=Budget(seconds=seconds), seed=seed, packer=pack_load, checker=check_load, policies=policies
    )
    took = time.monotonic() - begun
    return PackedRow(
        name=plan.policy,
        goals=plan.goals,
        energy_kwh=sum(fired.balance.total_kwh for fired in energy_of(works, plan).firings),
        ware_kg=sum(firing.ware_kg for firing in plan.firings),
        findings=len(audit_plan(works, plan, checker=check_load)),
        seconds=took,
    )


def packed_table(works: Works, *, seconds: float, seed: int) -> list[PackedRow]:
    """Return first due first served and the planner's best, packed side by side in two processes."""
    with executor(2) as pool:
        rows = [
            pool.submit(packed_row, works, policies, seconds=seconds, seed=seed) for policies in ((), tuple(POLICIES))
        ]
        return [row.result() for row in rows]


def estimated_table(works: Works, *, seed: int) -> list[tuple[str, PlanGoals, float]]:
    """Return policy, goals and seconds with estimated loads, row by row."""
    rows = []
    for policy in (FIRST_DUE, *POLICIES):
        begun = time.monotonic()
        rows.append((policy.name, estimated_goals(works, policy, seed=seed), time.monotonic() - begun))
    return rows


def furniture_table(
    works: Works, shares: Sequence[float], *, seconds: float, seed: int, packer: Packer, checker: Checker | None = None
) -> list[tuple[float, float, float, float]]:
    """Return share, and mean weighted late days, firings and kWh of packed plans that wait for furniture below it."""
    rows = []
    for share in shares:
        goals = [
            plan_with(
                works,
                replace(way, least_furniture_share=share),
                budget=Budget(seconds=seconds),
                seed=one,
                packer=packer,
                checker=checker,
            ).goals
            for way in FURNITURE_WAYS
            for one in (seed, seed + 1)
        ]
        late = fmean(one.weighted_late_days for one in goals)
        firings = fmean(one.firings for one in goals)
        rows.append((share, late, firings, fmean(one.energy_kwh or 0.0 for one in goals)))
    return rows


def print_furniture(rows: Sequence[tuple[float, float, float, float]]) -> None:
    """Print what waiting for furniture brings."""
    print(f"{'furniture share':>15} {'late days':>10} {'firings':>8} {'kWh':>8}")
    for share, late, firings, kwh in rows:
        print(f"{share:15.2f} {late:10.1f} {firings:8.1f} {kwh:8.0f}", flush=True)


def main(arguments: Sequence[str] | None = None) -> int:
    """Read the arguments, plan, print."""
    parser = argparse.ArgumentParser(prog="bench dispatch", description=__doc__.partition("\n")[0])
    parser.add_argument("--works", type=Path, required=True)
    parser.add_argument("--seconds", type=float, default=90.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--estimate", action="store_true")
    parser.add_argument("--furniture", type=float, nargs="+", metavar="SHARE")
    options = parser.parse_args(arguments)
    works = read_works(options.works)
    if options.furniture:
        from kilnpack.packing.pack_load import pack_load
        from kilnpack.workflow.planning import check_load

        table = furniture_table(
            works, options.furniture, seconds=options.seconds, seed=options.seed, packer=pack_load, checker=check_load
        )
        print_furniture(table)
    elif options.estimate:
        print_estimated(estimated_table(works, seed=options.seed))
    else:
        print_packed(packed_table(works, seconds=options.seconds, seed=options.seed))
    return 0


def print_packed(rows: Sequence[PackedRow]) -> None:
    """Print packed plans."""
    print(
        f"{'policy':48} {'open':>5} {'late days':>10} {'firings':>8} {'kWh':>8} {'ware kg':>8} {'findings':>9} {'s':>6}"
    )
    for row in rows:
        print(
            f"{row.name:48} {row.goals.open_lines:5d} {row.goals.weighted_late_days:10.1f} {row.goals.firings:8d}"
            f" {row.energy_kwh:8.0f} {row.ware_kg:8.0f} {row.findings:9d} {row.seconds:6.0f}"
        )


def print_estimated(rows: Sequence[tuple[str, PlanGoals, float]]) -> None:
    """Print estimated plans."""
    print(f"{'policy':48} {'open':>5} {'late days':>10} {'firings':>8} {'mean finish h':>14} {'seconds':>8}")
    for name, goals, seconds in rows:
        print(
            f"{name:48} {goals.open_lines:5d} {goals.weighted_late_days:10.1f} {goals.firings:8d}"
            f" {goals.mean_finish_h:14.1f} {seconds:8.1f}"
        )
    best = min(goals.order for _, goals, _ in rows)
    print("the best is", next(name for name, goals, _ in rows if goals.order == best))


if __name__ == "__main__":
    sys.exit(main())
