"""Where all that is ready has gone in: stand it on fewer shelves, then in fewer different settings (F11, W14).

A half-empty kiln invites a load that is spread over every shelf there is. Each shelf with its posts costs hands and
heat, so the load is packed again with fewer shelves, as long as nothing is left out; then with fewer settings.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from kilnpack.packing.together import Packed, pack_together, unpacked
from kilnpack.search.budget import Budget

if TYPE_CHECKING:
    from kilnpack.packing.improve import Tuning
    from kilnpack.packing.problem import LoadProblem
    from kilnpack.search.budget import Meter
    from kilnpack.search.listener import Listener, Progress

TRIES = 4
"""Times that shelves are halved in, and as often settings."""
LEAST_TRY_S = 0.3
"""A shorter look is not worth its tables."""
SAME_VALUE = 1e-9


@dataclass(slots=True)
class UntilAllIsIn:
    """A listener that ends a search once everything ready has gone in, and tells another what it hears."""

    listener: Listener
    ready_value: float
    stopped: bool = False
    """Whether the other listener wanted to stop."""

    def heard(self, progress: Progress) -> bool:
        """Return whether to go on."""
        self.stopped = not self.listener.heard(progress)
        return not self.stopped and progress.value < self.ready_value - SAME_VALUE


@dataclass(slots=True, kw_only=True)
class Sparing:
    """What a search for a smaller load works with: the problem, its time, and who listens."""

    problem: LoadProblem
    meter: Meter
    listener: UntilAllIsIn
    tuning: Tuning
    seed: int
    workers: int
    tries_left: int = 2 * TRIES

    def spared(self, plan: Packed) -> Packed:
        """Return a load of the same ware on fewer shelves and of fewer settings, or the load itself.

        A load that leaves something out is returned as it is.
        """
        if not _all_in(self.problem, plan):
            return plan
        try:
            plan = self._fewer_shelves(plan)
            return self._fewer_settings(plan)
        except KeyboardInterrupt:
            return plan

    def _fewer_shelves(self, plan: Packed) -> Packed:
        for shelf, used in _used(self.problem, plan).most_common():
            low, high = 0, used
            while high - low > 1 and self._goes_on():
                most = (low + high) // 2
                trial = self._trial(_with_stock(self.problem, shelf, most))
                if trial is None:
                    low = most
                else:
                    plan, high = trial, _used(self.problem, trial)[shelf]
            self.problem = _with_stock(self.problem, shelf, high)
        return plan

    def _fewer_settings(self, plan: Packed) -> Packed:
        if self.problem.settings_most is None:
            return plan
        low, high = 0, _settings(plan)
        while high - low > 1 and self._goes_on():
            most = (low + high) // 2
            trial = self._trial(replace(self.problem, settings_most=most))
            if trial is None:
                low = most
            else:
                plan, high = trial, _settings(trial)
        return plan

    def _goes_on(self) -> bool:
        return self.tries_left > 0 and not self.listener.stopped and self._budget() is not None

    def _budget(self) -> Budget | None:
        """Return what one try may cost: an equal part of what is left."""
        whole = self.meter.budget
        if whole.seconds is None:
            effort = (whole.effort or 0) // (2 * TRIES)
            return Budget(effort=effort) if effort else None
        part_s = (whole.seconds - self.meter.elapsed_s) / self.tries_left
        return Budget(seconds=part_s) if part_s >= LEAST_TRY_S else None

    def _trial(self, problem: LoadProblem) -> Packed | None:
        """Pack everything into a smaller kiln; None where something stays out."""
        budget = self._budget()
        if budget is None:
            return None
        self.tries_left -= 1
        plan = pack_together(
            problem,
            budget=budget,
            seed=self.seed,
            workers=self.workers,
            tuning=self.tuning,
            listener=self.listener,
        )
        return plan if _all_in(problem, plan) else None


def _all_in(problem: LoadProblem, plan: Packed) -> bool:
    """Return whether no piece of any group is left out."""
    return not unpacked(problem, plan).spare[: len(problem.counts)].any()


def _used(problem: LoadProblem, plan: Packed) -> Counter[int]:
    """Return the shelves in use, by type."""
    used: Counter[int] = Counter()
    for site, tiers in zip(problem.stacks, plan.stacks, strict=True):
        used[site.shelf] += len(tiers)
    return used


def _settings(plan: Packed) -> int:
    """Return how many different settings a load has."""
    return len({tier.filled.spots for tiers in plan.stacks for tier in tiers})


def _with_stock(problem: LoadProblem, shelf: int, pieces: int) -> LoadProblem:
    """Return the problem with so many shelves of a type."""
    stock = replace(problem.shelves[shelf], stock_pieces=pieces)
    return replace(problem, shelves=(*problem.shelves[:shelf], stock, *problem.shelves[shelf + 1 :]))
