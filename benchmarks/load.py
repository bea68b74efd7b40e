"""Benchmark of the whole load: pack every instance of a folder, write the layouts, print a table.

python3 run.py bench load --instances DIR --seconds 60 --layouts OUT [--workers N] [--seed K] [--settings N]

Seconds run from opening the instance. Compiling the kernels is outside: a small load is packed first. The hand method
and the proved bound come after the search, for the table only. `--picture FILE` draws value against time.
"""

from __future__ import annotations

import argparse
import json
import resource
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from benchmarks.hand_method import hand_load
from benchmarks.load_curves import value_over_time
from benchmarks.load_instances import layout_of, parts_of, problem_of, read_instance
from kilnpack.packing.bound import proved_bound
from kilnpack.packing.together import pack_together, unpacked
from kilnpack.packing.warm_load import warm_load
from kilnpack.search.budget import Budget
from kilnpack.search.executor import cores

if TYPE_CHECKING:
    from collections.abc import Sequence

    from benchmarks.load_instances import Instance
    from kilnpack.packing.problem import LoadProblem
    from kilnpack.packing.together import Packed
    from kilnpack.search.listener import Progress


WORKED_SHARE = 0.95
"""Part of the seconds that is searched; the rest is for ending the workers."""


@dataclass
class Curve:
    """Value against time, as the search tells it."""

    points: list[tuple[float, float]] = field(default_factory=list)

    def heard(self, progress: Progress) -> bool:
        """Note the best value so far."""
        if not self.points or progress.value > self.points[-1][1]:
            self.points.append((round(progress.elapsed_s, 2), round(progress.value, 2)))
        return True


@dataclass(frozen=True)
class Packing:
    """What came of one instance within the seconds."""

    instance: Instance
    problem: LoadProblem
    plan: Packed
    curve: Curve
    seconds: float

    def layout(self) -> Instance:
        """Return the layout as the checker of the benchmark reads it."""
        return layout_of(self.instance, self.problem, unpacked(self.problem, self.plan))

    def row(self) -> dict[str, Any]:
        """Return the row of the summary, with the bound and the hand method."""
        types, plan = self.instance["types"], self.plan
        parts = [parts_of(types[ware.group], ware.pieces) for ware in self.problem.wares]
        bound = proved_bound(self.problem, parts)
        settings = {tier.filled.spots for tiers in plan.stacks for tier in tiers if tier.filled.spots}
        return {
            "instance": self.instance["name"],
            "value": round(plan.value, 2),
            "seconds": round(self.seconds, 2),
            "ok": True,
            "tiers": sum(len(tiers) for tiers in plan.stacks),
            "settings": len(settings),
            "ready": round(self.problem.ready_value, 2),
            "bound": None if bound is None else round(bound, 2),
            "columns": None if plan.linear_value is None else round(plan.linear_value, 2),
            "hand": round(hand_load(self.instance)[0], 2),
            "curve": self.curve.points,
        }


def pack_file(path: Path, *, budget: Budget, workers: int, seed: int, settings_most: int | None) -> Packing:
    """Pack one instance."""
    begun = time.monotonic()
    instance = read_instance(path)
    problem = problem_of(instance, settings_most=settings_most)
    curve = Curve()
    if budget.seconds is not None:
        left_s = WORKED_SHARE * budget.seconds - (time.monotonic() - begun)
        budget = Budget(seconds=max(0.1, left_s))
    plan = pack_together(problem, budget=budget, seed=seed, workers=workers, listener=curve)
    return Packing(instance, problem, plan, curve, time.monotonic() - begun)


def table_row(row: dict[str, Any]) -> str:
    """Return a line of the table; a gap that does not exist is a dash."""
    bound = "-" if row["bound"] is None else f"{row['bound']:.1f}"
    return (
        f"{row['instance']:9s} {row['value']:8.1f} {row['value'] / row['ready']:9.1%} {row['hand']:8.1f}"
        f" {row['value'] / row['hand'] - 1:10.1%} {bound:>8s} {_gap(row['value'], row['bound']):>13s}"
        f" {_gap(row['value'], row['columns']):>15s} {row['settings']:9d} {row['tiers']:6d} {row['seconds']:8.1f}"
    )


def _gap(value: float, above: float | None) -> str:
    return "-" if above is None else f"{max(0.0, 1 - value / above):.1%}"


def main(arguments: Sequence[str]) -> int:
    """Run the benchmark."""
    parser = argparse.ArgumentParser(prog="run.py bench load")
    parser.add_argument("--instances", type=Path, required=True)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--effort", type=int, default=None, help="thousands of evaluations, in place of seconds")
    parser.add_argument("--layouts", type=Path, required=True)
    parser.add_argument("--workers", type=int, default=min(2, cores()))
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--settings", type=int, default=None, help="most different settings")
    parser.add_argument("--picture", type=Path, default=None, help="SVG of value against time, drawn at the end")
    options = parser.parse_args(arguments)
    options.layouts.mkdir(parents=True, exist_ok=True)
    warm_load()
    budget = Budget(seconds=options.seconds) if options.effort is None else Budget(effort=options.effort)
    rows = []
    print(
        "instance     value  of ready     hand  over hand    bound  gap to bound  gap to columns  settings  tiers"
        "  seconds"
    )
    for path in sorted(options.instances.glob("*.json")):
        packing = pack_file(
            path, budget=budget, workers=options.workers, seed=options.seed, settings_most=options.settings
        )
        (options.layouts / f"{path.stem}.layout.json").write_text(json.dumps(packing.layout()), encoding="utf-8")
        row = packing.row()
        rows.append(row)
        print(table_row(row), flush=True)
    (options.layouts / "summary.json").write_text(json.dumps(rows, indent=1), encoding="utf-8")
    if options.picture is not None:
        options.picture.write_text(value_over_time(rows), encoding="utf-8")
    own, workers = (
        resource.getrusage(who).ru_maxrss / 1024 for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    )
    print(f"memory at most {own:.0f} MB in this process, {workers:.0f} MB in the largest worker")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
