"""Benchmark of planning by size: backlogs of growing length in a works of six kilns, beside first due first served.

python3 run.py bench plan_scale [--works FOLDER] [--lines 50 100 200 400] [--seconds 120] [--seed K] [--estimate]

For every length the planner plans for so many seconds in one process, and beside it, in a second one, first due first
served does, with the same packer and rules; every plan is audited. Seconds are those of both together, and of the two
processors (`cpu s`), which other work on the machine does not lengthen. With --estimate loads are estimated by area and
height instead of packed, the best of all policies is shown, and days in process count from the start of the plan.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from benchmarks.plan_scale_works import larger_works
from kilnpack.packing.pack_load import pack_load
from kilnpack.planning.estimate import AreaHeight
from kilnpack.planning.outcomes import goals_of, outcomes_of
from kilnpack.planning.packs import EstimatedPack
from kilnpack.planning.plan_audit import audit_plan
from kilnpack.planning.planner import FIRST_DUE, POLICIES, plan_beside_first_due
from kilnpack.planning.run import run
from kilnpack.search.budget import Budget
from kilnpack.workflow.energy import energy_of
from kilnpack.workflow.planning import check_load
from kilnpack.works_folder import read_works

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kilnpack.model.plans import Plan
    from kilnpack.model.works import Works
    from kilnpack.planning.policies import Policy

HEADING = (
    f"{'lines':>5} {'pieces':>6} {'plan':70} {'open':>4} {'late lines':>10} {'late days':>9} {'firings':>7} {'kWh':>8}"
    f" {'kWh/kg':>7} {'days in process':>15} {'faults':>6} {'s':>6} {'cpu s':>6}"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """What a plan comes to. `kwh`, `ware_kg` and `faults` are None with estimated loads."""

    name: str
    open_lines: int
    late_lines: int
    late_days: float
    firings: int
    days_in_process: float
    seconds: float
    kwh: float | None = None
    ware_kg: float | None = None
    faults: int | None = None
    cpu_seconds: float | None = None


def packed_rows(works: Works, *, seconds: float, seed: int) -> list[Row]:
    """Plan in two processes, first due first served and the planner's best, audit both and add up their energy."""
    begun, used = time.monotonic(), _cpu_s()
    first, best = plan_beside_first_due(
        works, budget=Budget(seconds=seconds), seed=seed, packer=pack_load, checker=check_load
    )
    took = time.monotonic() - begun
    own, others = (now - before for now, before in zip(_cpu_s(), used, strict=True))
    return [packed_row(works, plan, seconds=took, cpu_seconds=cpu_s) for plan, cpu_s in ((first, others), (best, own))]


def _cpu_s() -> tuple[float, float]:
    """Return the seconds of a processor that this process took so far, and those that its ended children took."""
    now = os.times()
    return now.user + now.system, now.children_user + now.children_system


def packed_row(works: Works, plan: Plan, *, seconds: float, cpu_seconds: float) -> Row:
    """Return what a packed plan comes to."""
    return Row(
        name=plan.policy,
        open_lines=plan.goals.open_lines,
        late_lines=sum(1 for row in plan.outcomes if row.late_days),
        late_days=plan.goals.weighted_late_days,
        firings=plan.goals.firings,
        days_in_process=days_in_process(plan),
        seconds=seconds,
        kwh=sum(fired.balance.total_kwh for fired in energy_of(works, plan).firings),
        ware_kg=sum(firing.ware_kg for firing in plan.firings),
        faults=len(audit_plan(works, plan, checker=check_load)),
        cpu_seconds=cpu_seconds,
    )


def days_in_process(plan: Plan) -> float:
    """Return the mean days from the first readiness of a line's ware in the plan to the line's finish."""
    begun: dict[str, float] = {}
    for firing in plan.firings:
        for part in firing.parts:
            if part.order_line is not None:
                ready_s = part.was_ready_at.timestamp()
                begun[part.order_line] = min(begun.get(part.order_line, ready_s), ready_s)
    done = [(row.finish.timestamp(), begun[row.line]) for row in plan.outcomes if row.finish and row.line in begun]
    return sum(finish - start for finish, start in done) / 86400.0 / max(1, len(done))


def estimated_row(works: Works, policy: Policy, *, seed: int) -> Row:
    """Run a policy with estimated loads."""
    begun = time.monotonic()
    estimate = AreaHeight(works)
    found = run(works, policy, EstimatedPack(estimate), estimate, seed=seed)
    outcomes = outcomes_of(found, {number: str(number) for number in range(len(found.shop.fired))})
    goals = goals_of(found, outcomes)
    return Row(
        name=policy.name,
        open_lines=goals.open_lines,
        late_lines=sum(1 for row in outcomes if row.late_days),
        late_days=goals.weighted_late_days,
        firings=goals.firings,
        days_in_process=goals.mean_finish_h / 24.0,
        seconds=time.monotonic() - begun,
    )


def rows_of(works: Works, *, seconds: float, seed: int, estimate: bool) -> list[Row]:
    """Return first due first served and the planner's best."""
    if estimate:
        rows = [estimated_row(works, policy, seed=seed) for policy in POLICIES]
        best = min(rows, key=lambda row: (row.open_lines, row.late_days, row.firings))
        return [estimated_row(works, FIRST_DUE, seed=seed), best]
    return packed_rows(works, seconds=seconds, seed=seed)


def line_of(lines: int, pieces: int, row: Row) -> str:
    """Return a row as printed."""
    kwh = "" if row.kwh is None else f"{row.kwh:.0f}"
    each = "" if row.kwh is None or not row.ware_kg else f"{row.kwh / row.ware_kg:.2f}"
    faults = "" if row.faults is None else str(row.faults)
    cpu = "" if row.cpu_seconds is None else f"{row.cpu_seconds:.0f}"
    return (
        f"{lines:5d} {pieces:6d} {row.name:70} {row.open_lines:4d} {row.late_lines:10d} {row.late_days:9.0f}"
        f" {row.firings:7d} {kwh:>8} {each:>7} {row.days_in_process:15.1f} {faults:>6} {row.seconds:6.0f} {cpu:>6}"
    )


def main(words: Sequence[str] | None = None) -> int:
    """Read the arguments, plan every backlog, print; exit code 1 where an audit finds a fault."""
    parser = argparse.ArgumentParser(prog="bench plan_scale", description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--works", type=Path, default=Path("demo_orders/porcelain_works"))
    parser.add_argument("--lines", type=int, nargs="+", default=[50, 100, 200, 400])
    parser.add_argument("--seconds", type=float, default=120.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--estimate", action="store_true")
    asked = parser.parse_args(words)
    works = read_works(asked.works)
    print(HEADING)
    faults = 0
    for lines in asked.lines:
        larger = larger_works(works, lines=lines, seed=asked.seed)
        pieces = sum(line.quantity_pieces for line in larger.lines)
        for row in rows_of(larger, seconds=asked.seconds, seed=asked.seed, estimate=asked.estimate):
            print(line_of(lines, pieces, row), flush=True)
            faults += row.faults or 0
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
