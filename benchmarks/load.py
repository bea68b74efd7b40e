"""Benchmark of the whole load: pack every instance of a folder, write the layouts, print a table.

python3 run.py bench load --instances DIR --seconds 60 --layouts OUT [--workers N] [--seed K] [--settings N]

Seconds run from opening the instance. Compiling the kernels is outside: a small load is packed first. The hand method
is run after the search, for the table only.
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
from benchmarks.load_instances import layout_of, problem_of, read_instance
from kilnpack.packing.together import pack_together, unpacked
from kilnpack.packing.warm_load import warm_load
from kilnpack.search.budget import Budget
from kilnpack.search.executor import cores

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kilnpack.search.listener import Progress


WORKED_SHARE = 0.97
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


def pack_file(
    path: Path, *, budget: Budget, workers: int, seed: int, settings_most: int | None
) -> tuple[dict[str, Any], dict[str, Any], Curve]:
    """Return layout, summary row and curve of one instance."""
    begun = time.monotonic()
    instance = read_instance(path)
    problem = problem_of(instance, settings_most=settings_most)
    curve = Curve()
    if budget.seconds is not None:
        left_s = WORKED_SHARE * budget.seconds - (time.monotonic() - begun)
        budget = Budget(seconds=max(0.1, left_s))
    plan = pack_together(problem, budget=budget, seed=seed, workers=workers, listener=curve)
    seconds_used = time.monotonic() - begun
    layout = layout_of(instance, problem, unpacked(problem, plan))
    settings = {tier.filled.spots for tiers in plan.stacks for tier in tiers if tier.filled.spots}
    row = {
        "instance": instance["name"],
        "value": round(plan.value, 2),
        "seconds": round(seconds_used, 2),
        "ok": True,
        "tiers": sum(len(tiers) for tiers in plan.stacks),
        "settings": len(settings),
        "ready": round(problem.ready_value, 2),
        "hand": round(hand_load(instance)[0], 2),
    }
    return layout, row, curve


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
    options = parser.parse_args(arguments)
    options.layouts.mkdir(parents=True, exist_ok=True)
    warm_load()
    budget = Budget(seconds=options.seconds) if options.effort is None else Budget(effort=options.effort)
    rows = []
    print("instance     value  of ready     hand  gain over hand  settings  tiers  seconds")
    for path in sorted(options.instances.glob("*.json")):
        layout, row, curve = pack_file(
            path,
            budget=budget,
            workers=options.workers,
            seed=options.seed,
            settings_most=options.settings,
        )
        (options.layouts / f"{path.stem}.layout.json").write_text(json.dumps(layout), encoding="utf-8")
        rows.append({**row, "curve": curve.points})
        print(
            f"{row['instance']:9s} {row['value']:8.1f} {row['value'] / row['ready']:8.1%} {row['hand']:9.1f}"
            f" {row['value'] / row['hand'] - 1:14.1%} {row['settings']:9d} {row['tiers']:6d} {row['seconds']:8.1f}",
            flush=True,
        )
    (options.layouts / "summary.json").write_text(json.dumps(rows, indent=1), encoding="utf-8")
    print(f"memory at most {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB in this process")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
