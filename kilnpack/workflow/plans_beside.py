"""Several plans beside each other, on processes of this machine or on a cluster; the best of them is kept.

Each begins with another dispatch rule and a seed of its own. The first is made here as a plan alone would be, first due
first served packed in a process beside it included: it listens, hears interrupts, and stands where the others are lost.
The others leave first due first served to it.
"""

from __future__ import annotations

import signal
import threading
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from kilnpack.errors import ClusterUnusable
from kilnpack.planning.interrupts import hear_interrupts, held_back_interrupts
from kilnpack.planning.planner import POLICIES, plan_firings
from kilnpack.search.cluster import beside
from kilnpack.search.seeds import split

if TYPE_CHECKING:
    from concurrent.futures import Future

    from kilnpack.model.plans import Plan
    from kilnpack.model.works import Works
    from kilnpack.planning.packs import Checker, Packer
    from kilnpack.planning.settle import Settled
    from kilnpack.search.budget import Budget
    from kilnpack.search.listener import Listener, Progress


@dataclass(frozen=True, slots=True)
class UntilFile:
    """A listener that ends a plan once a file is there; a machine that cannot see the file plans to its end."""

    path: Path

    def heard(self, progress: Progress) -> bool:
        """Return whether to go on."""
        del progress
        return not self.path.exists()


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanTask:
    """One of the plans: begins with the policy of its number.

    With two `workers` first due first served is packed in a process beside it.
    """

    works: Works
    settled: Settled
    packer: Packer
    checker: Checker
    budget: Budget
    seed: int
    number: int
    workers: int = 1

    def made(self, listener: Listener | None) -> Plan:
        """Make the plan."""
        first = self.number % len(POLICIES)
        return plan_firings(
            self.works,
            budget=self.budget,
            seed=self.seed,
            packer=self.packer,
            checker=self.checker,
            listener=listener,
            policies=(*POLICIES[first:], *POLICIES[:first]),
            workers=self.workers,
            settled=self.settled,
            first_due=self.number == 0,
        )


def best_of(first: PlanTask, *, plans: int, listener: Listener | None = None) -> Plan:
    """Make so many plans beside each other and return the best, by the order of its goals.

    Parameters
    ----------
    first
        The one that is made in this process, number 0; the budget is for each of them. With effort the result repeats,
        wherever the plans are made.
    listener
        Hears of the first.
    """
    seeds = split(first.seed, plans - 1)
    tasks = [replace(first, number=number, seed=seed, workers=1) for number, seed in enumerate(seeds, start=1)]
    with TemporaryDirectory() as folder, beside(plans - 1) as pool:
        word = UntilFile(Path(folder) / "stop")
        with held_back_interrupts():
            away = [pool.submit(_made_away, task, word) for task in tasks]
        own = first.made(listener)
        if own.cut_short:
            word.path.touch()
        others, remarks = _others(away, wanted=not own.cut_short)
    best = min([own, *others], key=lambda plan: plan.goals.order)
    return replace(best, remarks=(*best.remarks, *remarks), cut_short=own.cut_short)


def _others(away: list[Future[Plan]], *, wanted: bool) -> tuple[list[Plan], tuple[str, ...]]:
    """Return the plans made elsewhere, and a remark where a cluster was lost; not wanted, only those that are done."""
    plans: list[Plan] = []
    for one in away:
        if not (wanted or one.done()):
            one.cancel()
            continue
        try:
            plans.append(one.result())
        except ClusterUnusable as fault:
            return plans, (f"Planned with less help than asked for: {fault}",)
    return plans, ()


def _made_away(task: PlanTask, word: UntilFile) -> Plan:
    """Make one plan in a worker; an interrupt ends the plan and nothing else."""
    main = threading.current_thread() is threading.main_thread()
    if main:
        hear_interrupts()
    plan = task.made(word)
    if main:
        signal.signal(signal.SIGINT, signal.SIG_IGN)
    return plan
