"""A load in the making: which columns stand in which stack, how each shelf is filled, and what stock is left."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from kilnpack.packing.filler import EMPTY, Filled

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from kilnpack.packing.problem import LoadProblem
    from kilnpack.shapes.room import Room

OPEN = -1
"""Stands for the column of an open top tier."""

LEVEL_MM = 1e-6

MOST_TIERS = 12
"""Posts for so many tiers are taken for enough in one stack."""


@dataclass(frozen=True, slots=True)
class TierState:
    """One tier: its column of posts (OPEN for none), the filled shelf."""

    column: int
    filled: Filled = EMPTY


class LoadState:
    """All stacks with the stock that is left. Changing a copy leaves the original as it is."""

    __slots__ = ("bottoms", "posts", "problem", "shelves", "spare", "stacks", "value")

    def __init__(self, problem: LoadProblem) -> None:
        self.problem = problem
        self.stacks: list[list[TierState]] = [[] for _ in problem.stacks]
        self.bottoms = [0] * len(problem.stacks)
        self.spare: NDArray[np.int64] = np.array([*problem.counts, *problem.supports], np.int64)
        self.posts = list(problem.posts)
        self.shelves = [shelf.stock_pieces for shelf in problem.shelves]
        self.value = 0.0

    def copy(self) -> LoadState:
        """Return a state of its own with the same tiers."""
        twin = LoadState.__new__(LoadState)
        twin.problem = self.problem
        twin.stacks = [list(tiers) for tiers in self.stacks]
        twin.bottoms = list(self.bottoms)
        twin.spare = self.spare.copy()
        twin.posts = list(self.posts)
        twin.shelves = list(self.shelves)
        twin.value = self.value
        return twin

    # --- geometry of a stack ---------------------------------------------------------------------------------------

    def first_base_mm(self, stack: int) -> float:
        """Return the underside of the lowest shelf."""
        return self.problem.stacks[stack].bottoms[self.bottoms[stack]].base_mm

    def pitch_mm(self, stack: int, column: int) -> float:
        """Return what a closed tier takes of the stack's height: shelf, posts and allowance."""
        shelf = self.problem.shelves[self.problem.stacks[stack].shelf]
        return shelf.thickness_mm + self.problem.columns[column].height_mm + self.problem.allowance_mm

    def bases_mm(self, stack: int) -> list[float]:
        """Return the undersides of the shelves, and the height reached above the last closed tier."""
        bases = [self.first_base_mm(stack)]
        for tier in self.stacks[stack]:
            bases.append(bases[-1] + (self.pitch_mm(stack, tier.column) if tier.column != OPEN else 0.0))
        return bases

    def slack_mm(self, stack: int) -> float:
        """Return the height that no tier uses."""
        return self.problem.stacks[stack].top_mm - self.bases_mm(stack)[-1]

    def room(self, stack: int, base_mm: float, column: int) -> Room | None:
        """Return the room of a tier, None where its shelf may not lie."""
        site = self.problem.stacks[stack]
        if any(low < base_mm < high for low, high in site.barred_mm):
            return None
        return self.problem.site.room(stack, base_mm, self.posts_mm(column))

    def posts_mm(self, column: int) -> float | None:
        """Return the height of a column, None for an open top tier."""
        return None if column == OPEN else self.problem.columns[column].height_mm

    def allowed(self, stack: int, base_mm: float, column: int) -> int:
        """Return the kinds the tier's place allows."""
        return self.problem.site.allowed(stack, base_mm, self.posts_mm(column))

    # --- stock -----------------------------------------------------------------------------------------------------

    def has_posts(self, stack: int, column: int) -> bool:
        """Return whether the posts of a column are there at every point of the stack's shelf."""
        return column == OPEN or self.tiers_in_stock(stack, column) > 0

    def tiers_in_stock(self, stack: int, column: int) -> int:
        """Return how many tiers of a column the posts that are left would do for."""
        points = self.problem.shelves[self.problem.stacks[stack].shelf].points
        parts = self.problem.columns[column].parts
        return min(self.posts[part] // (points * parts.count(part)) for part in parts)

    def _use(self, stack: int, tier: TierState, sign: int) -> None:
        site = self.problem.stacks[stack]
        self.shelves[site.shelf] -= sign
        if tier.column != OPEN:
            for part in self.problem.columns[tier.column].parts:
                self.posts[part] -= sign * self.problem.shelves[site.shelf].points
        self._use_ware(tier.filled, sign)

    def _use_ware(self, filled: Filled, sign: int) -> None:
        groups = len(self.problem.counts)
        for spot in filled.spots:
            ware = self.problem.wares[spot.ware]
            self.spare[ware.group] -= sign * ware.pieces
            if ware.support is not None:
                self.spare[groups + ware.support] -= sign * ware.support_pieces
        self.value += sign * filled.value

    def insert(self, stack: int, at: int, tier: TierState) -> None:
        """Put a tier in and take its stock."""
        self.stacks[stack].insert(at, tier)
        self._use(stack, tier, 1)

    def remove(self, stack: int, at: int) -> TierState:
        """Take a tier out and give its stock back."""
        tier = self.stacks[stack].pop(at)
        self._use(stack, tier, -1)
        return tier

    def refill(self, stack: int, at: int, filled: Filled) -> None:
        """Change what stands on a shelf."""
        tier = self.stacks[stack][at]
        self._use_ware(tier.filled, -1)
        self._use_ware(filled, 1)
        self.stacks[stack][at] = TierState(tier.column, filled)

    def still_stands(self, stack: int, base_mm: float, tier: TierState, old_base_mm: float) -> bool:
        """Return whether a filled tier may stand at another height as it is."""
        if abs(base_mm - old_base_mm) < LEVEL_MM:
            return True
        room = self.room(stack, base_mm, tier.column)
        if room is None or (room != self.room(stack, old_base_mm, tier.column) and bool(tier.filled.spots)):
            return False
        allowed = self.allowed(stack, base_mm, tier.column)
        return all(allowed >> spot.ware & 1 for spot in tier.filled.spots)


def useful_columns(state: LoadState, stack: int) -> list[int]:
    """Return for every height a kind of ware needs the lowest columns in stock that give it, enough for a stack."""
    problem = state.problem
    site = problem.stacks[stack]
    stock = sorted(
        (column for column in site.columns if state.has_posts(stack, column)),
        key=lambda column: (problem.columns[column].height_mm, len(problem.columns[column].parts)),
    )
    enough = min(MOST_TIERS, state.shelves[site.shelf])
    chosen: list[int] = []
    for need_mm in sorted({ware.body.height_mm + problem.headroom_mm for ware in problem.wares}):
        tiers = 0
        for column in (c for c in stock if problem.columns[c].height_mm >= need_mm - LEVEL_MM):
            if column not in chosen:
                chosen.append(column)
            tiers += state.tiers_in_stock(stack, column)
            if tiers >= enough:
                break
    return chosen


def column_of_height(state: LoadState, stack: int, height_mm: float) -> int | None:
    """Return a column in stock of just this height, None where there is none."""
    columns = state.problem.columns
    fitting = [
        column
        for column in state.problem.stacks[stack].columns
        if abs(columns[column].height_mm - height_mm) < LEVEL_MM and state.has_posts(stack, column)
    ]
    return min(fitting, key=lambda column: len(columns[column].parts), default=None)
