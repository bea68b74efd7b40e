"""Improve a load by taking one or two tiers, seldom a whole stack, apart and filling them anew.

A change that loses a little may be kept for a while, ever less so as the budget runs out; the best load is never lost.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from kilnpack.packing.polish import polished
from kilnpack.packing.rebuild import Care, rebuild
from kilnpack.packing.state import OPEN, LoadState, TierState
from kilnpack.search.listener import Progress

if TYPE_CHECKING:
    from collections.abc import Callable

    from kilnpack.packing.filler import Filled, Filler
    from kilnpack.packing.rebuild import Estimates
    from kilnpack.search.budget import Meter
    from kilnpack.search.listener import Listener

EVALUATIONS_A_FILL = 100
"""A row-by-row fill counts as so many evaluations of the shelf engine: both take about 0.3 ms."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tuning:
    """How the improver spends its budget.

    Attributes
    ----------
    fills
        Fills of one shelf in a move.
    heat_share
        Loss kept at the start, as a share of the load's value.
    noise
        Spread of the estimates when columns are picked anew.
    polish_evaluations
        Evaluations of the shelf engine in a polish: half of them at the start, twice as many at the end; 0 leaves it
        out.
    turn_step_deg
        Step of the angles the engine may use; 0 leaves them free.
    """

    fills: int = 24
    heat_share: float = 0.002
    noise: float = 0.15
    polish_evaluations: int = 12000
    turn_step_deg: float = 0.0
    bound_share: float = 0.75
    """Part of the budget in which tiers are set alike even where nothing limits the settings: it finds more, sooner."""
    bound_settings: int = 12
    weights: tuple[float, ...] = (0.3, 0.2, 0.15, 0.3, 0.05)

    def polish_at(self, share: float) -> int:
        """Return the evaluations of a polish at some part of the budget."""
        return round(self.polish_evaluations * (0.5 + 1.5 * share))


class Improver:
    """Large-neighbourhood search on one load."""

    def __init__(
        self,
        state: LoadState,
        estimates: Estimates,
        rng: np.random.Generator,
        tuning: Tuning,
        *,
        span: tuple[float, float] = (0.0, 1.0),
    ) -> None:
        self.now = state
        self.best = state
        self.estimates = estimates
        self.filler: Filler = estimates.filler
        self.rng = rng
        self.tuning = tuning
        self.span = span
        self.share = span[0]
        self.tries = [[0, 0] for _ in tuning.weights]
        self._moves: tuple[Callable[[LoadState], int], ...] = (
            self._refill_one,
            self._refill_two,
            self._columns_in_one,
            self._polish_one,
            self._columns_in_two,
        )

    def run(self, meter: Meter, listener: Listener) -> LoadState:
        """Spend the budget; Ctrl-C or the listener ends it early. Return the best load."""
        heard_s = -1.0
        try:
            while not meter.is_up:
                self.step(meter)
                if meter.elapsed_s - heard_s > 0.25:
                    heard_s = meter.elapsed_s
                    progress = Progress(
                        step="improving the load", value=self.best.value, share=meter.share, elapsed_s=heard_s
                    )
                    if not listener.heard(progress):
                        break
        except KeyboardInterrupt:
            pass
        return self.best

    def step(self, meter: Meter) -> None:
        """Make one change and keep it or not."""
        self.share = self.span[0] + (self.span[1] - self.span[0]) * meter.share
        which = int(self.rng.choice(len(self._moves), p=self.tuning.weights))
        trial = self.now.copy()
        spent = self._moves[which](trial)
        meter.spend(max(spent, EVALUATIONS_A_FILL))
        heat = self.tuning.heat_share * self.best.value * (1.0 - self.share) ** 2
        self.tries[which][0] += 1
        if trial.value > self.now.value - heat * float(self.rng.random()) ** 2:
            self.tries[which][1] += trial.value > self.now.value + 1e-9
            self.now = trial
        if trial.value > self.best.value + 1e-9:
            self.best = trial

    def _tier(self, state: LoadState) -> tuple[int, int] | None:
        places = [(stack, at) for stack, tiers in enumerate(state.stacks) for at in range(len(tiers))]
        return places[int(self.rng.integers(len(places)))] if places else None

    def _fill(self, state: LoadState, stack: int, at: int, start: Filled) -> int:
        """Fill a shelf that was emptied, from what is spare."""
        column = state.stacks[stack][at].column
        base_mm = state.bases_mm(stack)[at]
        room = state.room(stack, base_mm, column)
        if room is None:
            return 0
        allowed = state.allowed(stack, base_mm, column)
        seed = int(self.rng.integers(1 << 30))
        state.refill(
            stack,
            at,
            self.filler.fill(room, allowed, state.spare, fills=self.tuning.fills, seed=seed, start=start),
        )
        return self.tuning.fills * EVALUATIONS_A_FILL

    def _empty(self, state: LoadState, stack: int, at: int) -> Filled:
        from kilnpack.packing.filler import EMPTY

        filled = state.stacks[stack][at].filled
        state.refill(stack, at, EMPTY)
        return filled

    def _refill_one(self, state: LoadState) -> int:
        place = self._tier(state)
        if place is None:
            return 0
        return self._fill(state, *place, self._empty(state, *place))

    def _refill_two(self, state: LoadState) -> int:
        first, second = self._tier(state), self._tier(state)
        if first is None or second is None or first == second:
            return 0
        starts = {place: self._empty(state, *place) for place in (first, second)}
        return sum(self._fill(state, *place, start) for place, start in starts.items())

    def _polish_one(self, state: LoadState) -> int:
        place = self._tier(state)
        if place is None or not self.tuning.polish_evaluations:
            return 0
        stack, at = place
        tier = state.stacks[stack][at]
        base_mm = state.bases_mm(stack)[at]
        room = state.room(stack, base_mm, tier.column)
        if room is None:
            return 0
        old = self._empty(state, stack, at)
        kinds = self.filler.kinds_for(room, state.allowed(stack, base_mm, tier.column), state.spare)
        better, spent = polished(
            state.problem,
            room,
            [int(k) for k in kinds],
            state.spare,
            old,
            evaluations=self.tuning.polish_at(self.share),
            seed=int(self.rng.integers(1 << 30)),
            turn_step_deg=self.tuning.turn_step_deg,
        )
        state.refill(stack, at, better)
        return spent

    def _columns_in_one(self, state: LoadState) -> int:
        stack = int(self.rng.integers(len(state.stacks)))
        tiers = len(state.stacks[stack])
        count = tiers if self.rng.random() < 0.05 else min(tiers, int(self.rng.integers(1, 4)))
        return self._rebuild(state, stack, count, count + 1)

    def _columns_in_two(self, state: LoadState) -> int:
        if len(state.stacks) < 2:
            return 0
        first, second = (int(k) for k in self.rng.choice(len(state.stacks), 2, replace=False))
        spent = 0
        for stack, more in ((first, -1), (second, 1)):
            count = min(len(state.stacks[stack]), int(self.rng.integers(1, 4)))
            spent += self._rebuild(state, stack, count, max(0, count + more))
        return spent

    def _rebuild(self, state: LoadState, stack: int, count: int, left: int) -> int:
        at = int(self.rng.integers(len(state.stacks[stack]) - count + 1))
        before = state.bases_mm(stack)
        above = [(tier, before[at + count + k]) for k, tier in enumerate(state.stacks[stack][at + count :])]
        fills = self.filler.fills
        rebuild(
            state, stack, at=at, count=count, left=left, estimates=self.estimates,
            care=Care(fills=self.tuning.fills, noise=self.tuning.noise), rng=self.rng,
        )  # fmt: skip
        first = len(state.stacks[stack]) - len(above)
        for k, (tier, old_mm) in enumerate(above):
            base_mm = state.bases_mm(stack)[first + k]
            if not state.still_stands(stack, base_mm, tier, old_mm):
                start = self._empty(state, stack, first + k)
                self._fill(state, stack, first + k, start)
        self._drop_barred(state, stack)
        return (self.filler.fills - fills) * EVALUATIONS_A_FILL

    def _drop_barred(self, state: LoadState, stack: int) -> None:
        """Take out what may not stay: tiers whose shelf would lie where none may, a stack that lost its open top."""
        tiers = state.stacks[stack]
        bases = state.bases_mm(stack)
        if any(state.room(stack, base, tier.column) is None for base, tier in zip(bases, tiers, strict=False)) or (
            state.problem.stacks[stack].open_top and tiers and tiers[-1].column != OPEN
        ):
            state.value = -np.inf


def tiers_of(state: LoadState) -> list[tuple[int, float, TierState]]:
    """Return every tier with its stack and the underside of its shelf, bottom up."""
    return [
        (stack, base_mm, tier)
        for stack, tiers in enumerate(state.stacks)
        for base_mm, tier in zip(state.bases_mm(stack), tiers, strict=False)
    ]
