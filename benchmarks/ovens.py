"""Solve the published batch-scheduling instances of a folder and write one layout for each.

python3 run.py bench ovens --instances DIR --seconds 60 --layouts OUT [--workers N] [--seed K] [--known FILE]

Seconds run from opening an instance; the compiled kernels are loaded before. One instance is solved after the other.
`--known` names a table (`file`, `best_integer_cost`) to show beside it. Exit code 1 if a layout has a fault.
"""

from __future__ import annotations

import argparse
import csv
import json
import sys
import time
from contextlib import ExitStack
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

from benchmarks.ovens_instances import layout_of, read
from kilnpack.planning.batching.problem import cost_of, goes_together
from kilnpack.planning.batching.problem import timed as timed_batches
from kilnpack.planning.batching.search import solve
from kilnpack.planning.batching.state import tiny_problem
from kilnpack.search.budget import Budget
from kilnpack.search.executor import cores, executor

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from kilnpack.planning.batching.problem import Batches, BatchProblem

WRITING_S, WRITING_SHARE = 0.15, 0.01
"""Kept back from the seconds for the last chunk of moves, for handing the answer over and for writing it."""


def arguments(words: list[str]) -> argparse.Namespace:
    """Read the command line."""
    parser = argparse.ArgumentParser(prog="bench ovens", description="Solve batch-scheduling instances.")
    parser.add_argument("--instances", type=Path, required=True, help="folder of instance files (.dzn)")
    parser.add_argument("--seconds", type=float, default=60.0, help="wall seconds for each instance")
    parser.add_argument("--layouts", type=Path, required=True, help="folder the layouts go to")
    parser.add_argument("--workers", type=int, default=cores(), help="processes that search")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--known", type=Path, help="table of best known costs to show beside")
    return parser.parse_args(words)


def faults(problem: BatchProblem, batches: Batches) -> list[str]:
    """Return what is wrong with a solution, recomputed from the problem alone."""
    found = [
        f"jobs {jobs} may not share a batch on kiln {m + 1}"
        for m, row in enumerate(batches)
        for jobs in row
        if not goes_together(problem, jobs, m)
    ]
    fired = sorted(j for row in batches for jobs in row for j in jobs)
    if fired != list(range(len(problem.jobs))):
        found.append("not every job is fired once")
    timed = timed_batches(problem, batches)
    found += [
        f"batches overlap on kiln {one.kiln + 1} at {other.start_ticks}"
        for one, other in pairwise(timed)
        if one.kiln == other.kiln and other.start_ticks < one.end_ticks
    ]
    return found


def run_one(path: Path, layouts: Path, seconds: float, *, pool: Executor, workers: int, seed: int) -> dict[str, object]:
    """Solve one instance, write its layout, and return a row of the summary."""
    begun = time.monotonic()
    instance = read(path)
    left_s = (1.0 - WRITING_SHARE) * seconds - WRITING_S - (time.monotonic() - begun)
    batches = solve(instance.problem, budget=Budget(seconds=max(0.0, left_s)), seed=seed, pool=pool, workers=workers)
    layout = json.dumps(layout_of(instance.problem, batches))
    (layouts / f"{path.stem}.layout.json").write_text(layout + "\n", encoding="utf-8")
    taken = time.monotonic() - begun
    wrong = faults(instance.problem, batches)
    for fault in wrong:
        print(f"{path.stem}: {fault}", file=sys.stderr)
    cost = cost_of(instance.problem, batches)
    return {
        "instance": path.name,
        "value": round(cost / instance.norm, 9),
        "cost": cost,
        "seconds": round(taken, 3),
        "ok": not wrong,
    }


def warm_up(pool: Executor, workers: int) -> None:
    """Load the kernels and the solver in every worker, by a problem of two jobs."""
    asked = [pool.submit(solve, tiny_problem(), budget=Budget(seconds=1.0), seed=1, workers=2) for _ in range(workers)]
    for one in asked:
        one.result()


def main(words: list[str]) -> int:
    """Solve every instance of the folder and return the exit code."""
    asked = arguments(words)
    paths = sorted(asked.instances.glob("*.dzn"))
    if not paths:
        print(f"no instance in {asked.instances}", file=sys.stderr)
        return 2
    known = known_costs(asked.known)
    asked.layouts.mkdir(parents=True, exist_ok=True)
    print(f"{'instance':24} {'value':>12} {'seconds':>8}  ok{'  above known' if known else ''}")
    with ExitStack() as stack:
        pool = stack.enter_context(executor(asked.workers))
        warm_up(pool, asked.workers)
        summary = []
        for path in paths:
            row = run_one(path, asked.layouts, asked.seconds, pool=pool, workers=asked.workers, seed=asked.seed)
            summary.append(row)
            print(line_of(row, known), flush=True)
    (asked.layouts / "summary.json").write_text(json.dumps(summary, indent=1) + "\n", encoding="utf-8")
    if above := [gap for row in summary if (gap := above_known(row, known)) is not None]:
        equal = sum(gap <= 0.0 for gap in above)
        print(f"above known, mean of {len(above)}: {100 * sum(above) / len(above):+.3f} %; {equal} equal or better")
    return 0 if all(row["ok"] for row in summary) else 1


def known_costs(path: Path | None) -> dict[str, int]:
    """Read the best known costs by file name."""
    if path is None:
        return {}
    with path.open(encoding="utf-8", newline="") as file:
        return {row["file"]: int(row["best_integer_cost"]) for row in csv.DictReader(file)}


def above_known(row: dict[str, object], known: dict[str, int]) -> float | None:
    """Return by what share a cost lies above the best known one; None where none is known."""
    best = known.get(str(row["instance"]))
    return None if best is None else int(str(row["cost"])) / best - 1.0


def line_of(row: dict[str, object], known: dict[str, int]) -> str:
    """Return a row of the summary as printed."""
    gap = above_known(row, known)
    beside = "" if gap is None else f"  {100 * gap:+9.3f} %"
    return f"{row['instance']:24} {row['value']:12} {row['seconds']:8}  {'yes' if row['ok'] else ' NO'}{beside}"


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
