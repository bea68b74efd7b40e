"""What plans made beside each other gain: `kilnpack plan` with one and more workers, several seeds.

python3 run.py bench plan_workers [--works FOLDER ...] [--seconds 60 | --effort N] [--seeds 1 2 3] [--workers 1 2]

With the same seconds the workers share the machine; with the same effort each makes its plan to the end, whatever else
the machine does, so that the goals repeat. Each run is a command of its own. `s` are seconds from its start to its end,
audit and sheets included; `cpu s` are those of all its processes, which tell how much of the machine it had. `better`
says whether the order of the goals puts the plan before that of the first number of workers with the same seed.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from kilnpack.model.plans import Plan
from kilnpack.works_folder import load_value

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kilnpack.model.plans import PlanGoals

COMMAND = "import sys; from kilnpack.cli.main import run; sys.exit(run())"
HEADING = (
    f"{'works':20} {'seed':>4} {'workers':>7} {'open':>4} {'late days':>9} {'firings':>7} {'kWh':>7}"
    f" {'mean finish h':>13} {'s':>6} {'cpu s':>6}  better"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """A plan's goals and what they cost."""

    goals: PlanGoals
    seconds: float
    cpu_seconds: float

    def row(self) -> str:
        """Return the figures of a line."""
        goals = self.goals
        return (
            f"{goals.open_lines:4} {goals.weighted_late_days:9.1f} {goals.firings:7} {goals.energy_kwh or 0.0:7.0f}"
            f" {goals.mean_finish_h:13.1f} {self.seconds:6.1f} {self.cpu_seconds:6.1f}"
        )


def made(works: Path, *, budget: tuple[str, str], seed: int, workers: int) -> Made:
    """Run the command once.

    Raises
    ------
    subprocess.CalledProcessError
        It ended with a fault.
    """
    asked = (*budget, "--seed", str(seed), "--workers", str(workers))
    with TemporaryDirectory() as folder:
        before, begun = resource.getrusage(resource.RUSAGE_CHILDREN), time.monotonic()
        words = [sys.executable, "-c", COMMAND, "plan", str(works), "--out", folder, *asked]
        subprocess.run(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=True)
        took, after = time.monotonic() - begun, resource.getrusage(resource.RUSAGE_CHILDREN)
        plan = load_value(Path(folder) / "plan.json", Plan)
    cpu_seconds = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return Made(goals=plan.goals, seconds=took, cpu_seconds=cpu_seconds)


def verdict(one: PlanGoals, other: PlanGoals) -> str:
    """Return whether `other` is better than `one`, worse, or the same by the order of the goals."""
    if other.order == one.order:
        return "same"
    return "yes" if other.order < one.order else "no"


def main(words: Sequence[str] | None = None) -> int:
    """Measure and print."""
    parser = argparse.ArgumentParser(prog="bench plan_workers", description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--works", type=Path, nargs="+", default=[Path("demo_orders/round_kiln_studio")])
    amount = parser.add_mutually_exclusive_group()
    amount.add_argument("--seconds", type=float, default=60.0)
    amount.add_argument("--effort", type=int)
    parser.add_argument("--seeds", type=int, nargs="+", default=[1, 2, 3])
    parser.add_argument("--workers", type=int, nargs="+", default=[1, 2])
    asked = parser.parse_args(words)
    budget = ("--effort", str(asked.effort)) if asked.effort else ("--seconds", str(asked.seconds))
    print(HEADING, flush=True)
    for works in asked.works:
        for seed in asked.seeds:
            first: Made | None = None
            for workers in asked.workers:
                found = made(works, budget=budget, seed=seed, workers=workers)
                said = "" if first is None else verdict(first.goals, found.goals)
                first = first or found
                print(f"{works.name:20} {seed:4} {workers:7} {found.row()}  {said}", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
