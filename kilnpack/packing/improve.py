"""Improve a load by taking one or two tiers, seldom a whole stack, apart and filling them anew.

A change that loses a little may be kept for a while, ever less so as the budget runs out; the best load is never lost.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from kilnpack.packing.filler import EMPTY
from kilnpack.packing.polish import polished
from kilnpack.packing.rebuild import Care, rebuild
from kilnpack.packing.state import OPEN
from kilnpack.packing.walk import EVALUATIONS_A_FILL, Tuning, Walk

if TYPE_CHECKING:
    from collections.abc import Callable

    from kilnpack.packing.filler import Filled, Filler
    from kilnpack.packing.rebuild import Estimates
    from kilnpack.packing.state import LoadState, TierState
    from kilnpack.search.budget import Meter
    from kilnpack.search.listener import Listener
__all__ = ["Improver", "Tuning", "tiers_of"]


class Improver(Walk["LoadState"]):
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
        super().__init__(state, rng, tuning, tuning.weights, span)
        self.estimates = estimates
        self.filler: Filler = estimates.filler

    @property
    def moves(self) -> tuple[Callable[[LoadState], int], ...]:
        """The changes to a load."""
        return self._refill_one, self._refill_two, self._columns_in_one, self._polish_one, self._columns_in_two

    def run(self, meter: Meter, listener: Listener) -> LoadState:
        """Spend the budget; Ctrl-C or the listener ends it early. Return the best load."""
        self.walk(meter, listener)
        return self.best

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
