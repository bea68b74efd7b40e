"""One call of the planner: its works, its time, its packer, and the plans so far."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from kilnpack.planning.firing_energy import bare_kwh
from kilnpack.planning.given import NOTHING
from kilnpack.planning.packs import Checker, Packer, RealPack
from kilnpack.search.budget import Budget, Meter
from kilnpack.search.listener import Listener, Progress

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kilnpack.model.kilns import Kiln
    from kilnpack.model.plans import Plan
    from kilnpack.model.programmes import Programme
    from kilnpack.model.works import Works
    from kilnpack.planning.estimate import Estimate
    from kilnpack.planning.firings import Fired
    from kilnpack.planning.given import Given
    from kilnpack.planning.interrupts import Interrupts
    from kilnpack.planning.shop import Shop
    from kilnpack.planning.told import Word

PACKED_POLICIES = 2
"""How many of the policies that look best by estimate are packed in full, beside first due first served."""
SHORT_LOAD_S = 2.0
"""Seconds a load must get for more than one of them to be packed."""
LATE_SHARE = 0.75
"""Share of the budget after which only first due first is still packed, so that a slow packer keeps to the time."""
LOADS_AHEAD = 8
"""Loads that the time left is kept for at least, as a plan may take more firings than expected."""
LEAST_WORTH, MOST_WORTH = 0.7, 1.6
"""How little and how much of the seconds of the mean load one may get."""
LEAST_LOAD_S = 0.3
MOST_LOAD_S = 8.0


@dataclass(slots=True)
class Planning:
    """One call of `plan_firings`."""

    works: Works
    meter: Meter
    seed: int
    listener: Listener
    estimate: Estimate
    interrupts: Interrupts
    pack: RealPack | None = None
    loads_expected: int = 1
    worth: dict[tuple[str, str], float] = field(default_factory=dict)
    """By kiln and programme: what a load of it is worth packing, 1 on the mean of the loads that are expected."""
    run_ends_s: float = 0.0
    begun_calls: int = 0
    plans: list[Plan] = field(default_factory=list)
    found_s: list[float] = field(default_factory=list)
    """Seconds at which each of the plans was there."""
    stopped: bool = False
    word: Word | None = None
    """What another process says to this one."""
    given: Given = NOTHING

    @property
    def packed_policies(self) -> int:
        """How many policies are packed beside first due first served: fewer where loads would get little time."""
        seconds = self.meter.budget.seconds
        if seconds is None or seconds >= SHORT_LOAD_S * self.loads_expected * (1 + PACKED_POLICIES):
            return PACKED_POLICIES
        return 1

    def has_time(self) -> bool:
        """Whether another policy may be tried and packed."""
        return not self.stopped and self.meter.share < LATE_SHARE

    def expect(self, fired: Sequence[Fired]) -> None:
        """Expect loads as many as these firings that are not kept; seconds go where a firing takes much energy.

        The root is taken, as the last pieces of a load cost ever more time.
        """
        rows = [(one.kiln, one.programme) for one in fired if one.kept is None]
        self.loads_expected = max(1, len(rows))
        self.worth = _worth(self.works, rows)

    def load_budget(self, kiln: Kiln, programme: Programme) -> Budget:
        """Return what one load may cost: its part of what is left for this run; of effort all have the same."""
        budget = self.meter.budget
        if budget.seconds is None:
            return Budget(effort=max(1, (budget.effort or 0) // (self.loads_expected * (1 + PACKED_POLICIES))))
        calls = self.pack.calls if self.pack is not None else 0
        loads = max(LOADS_AHEAD, self.loads_expected - (calls - self.begun_calls))
        left = (self.run_ends_s - self.meter.elapsed_s) / loads * self.worth.get((kiln.code, programme.code), 1.0)
        return Budget(seconds=max(LEAST_LOAD_S, min(MOST_LOAD_S, left)))

    def keep(self, plan: Plan) -> None:
        """Keep a plan, with the moment at which it was there."""
        self.plans.append(plan)
        self.found_s.append(self.meter.elapsed_s)

    def best_said(self) -> str:
        """Return the goals of the best plan so far in words, and when it was found."""
        if not self.plans:
            return "no plan yet"
        plan, found_s = min(zip(self.plans, self.found_s, strict=True), key=lambda row: row[0].goals.order)
        late = sum(1 for row in plan.outcomes if row.late_days)
        return f"{late} late lines, {plan.goals.said}, found at {found_s:.0f} s"

    def hear(self, step: str, shop: Shop) -> bool:
        """Tell the listener; False once it wants to stop."""
        progress = Progress(
            step=f"{step}: {len(shop.fired)} firings",
            value=float(len(shop.fired)),
            share=self.meter.share,
            elapsed_s=self.meter.elapsed_s,
            said=self.best_said(),
        )
        self.stopped |= self.word is not None and self.word.was_said and self.word.goals() is None
        self.stopped |= self.interrupts.came or not self.listener.heard(progress)
        return not self.stopped


def planning_of(
    works: Works,
    budget: Budget,
    seed: int,
    listener: Listener,
    estimate: Estimate,
    interrupts: Interrupts,
    packer: Packer,
    checker: Checker | None,
) -> Planning:
    """Return a planning with its packer."""
    planning = Planning(
        works=works, meter=budget.start(), seed=seed, listener=listener, estimate=estimate, interrupts=interrupts
    )
    planning.pack = RealPack(
        packer=packer,
        checker=checker,
        seed=seed,
        budget_of=planning.load_budget,
        estimate=estimate,
        interrupts=interrupts,
    )
    return planning


def _worth(works: Works, rows: Sequence[tuple[Kiln, Programme]]) -> dict[tuple[str, str], float]:
    """Return what loads are worth packing; nothing where the energy of one of them cannot be computed."""
    counts = Counter((kiln.code, programme.code) for kiln, programme in rows)
    found = {}
    for kiln, programme in {(kiln.code, programme.code): (kiln, programme) for kiln, programme in rows}.values():
        kwh = bare_kwh(works, kiln, programme)
        if not kwh:
            return {}
        found[kiln.code, programme.code] = math.sqrt(kwh)
    middle = sum(found[key] * count for key, count in counts.items()) / max(1, len(rows))
    bounded = {key: min(MOST_WORTH, max(LEAST_WORTH, root / middle)) for key, root in found.items()}
    mean = sum(bounded[key] * count for key, count in counts.items()) / max(1, len(rows))
    return {key: one / mean for key, one in bounded.items()}
