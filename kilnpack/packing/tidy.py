"""Tidy a packed load before it is read back: no empty tiers on top, and flat shelves only where there are enough."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kilnpack.packing.filler import EMPTY
from kilnpack.packing.state import OPEN, LoadState, TierState

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kilnpack.model.furniture import ShelfType
    from kilnpack.packing.filler import Filler
    from kilnpack.packing.firing_rules import FiringRules
    from kilnpack.packing.ready_ware import ReadyWare

REFILLS = 60


def tidied(
    state: LoadState, filler: Filler, ware: ReadyWare, shelves: Sequence[ShelfType], rules: FiringRules
) -> LoadState:
    """Return the load without empty tiers on top of its stacks, and with no more flatware than flat shelves hold."""
    tidy = state.copy()
    for stack in range(len(tidy.stacks)):
        _drop_empty_top(tidy, stack, filler)
    _keep_flat(tidy, filler, ware, shelves, rules)
    return tidy


def _drop_empty_top(state: LoadState, stack: int, filler: Filler) -> None:
    """Take empty tiers off the top; the one below becomes the open top tier."""
    tiers = state.stacks[stack]
    while tiers and not tiers[-1].filled.spots:
        state.remove(stack, len(tiers) - 1)
        if tiers and tiers[-1].column != OPEN:
            last = len(tiers) - 1
            base_mm = state.bases_mm(stack)[last]
            old = state.remove(stack, last)
            state.insert(stack, last, TierState(OPEN))
            room, before = state.room(stack, base_mm, OPEN), state.room(stack, base_mm, old.column)
            allowed = state.allowed(stack, base_mm, OPEN)
            same = room is not None and before is not None and room.keep_outs == before.keep_outs
            if same and all(allowed >> spot.ware & 1 for spot in old.filled.spots):
                state.refill(stack, last, old.filled)
            elif room is not None:
                filled = filler.fill(room, allowed, state.spare, fills=REFILLS, seed=1, start=old.filled)
                state.refill(stack, last, filled)


def _keep_flat(
    state: LoadState, filler: Filler, ware: ReadyWare, shelves: Sequence[ShelfType], rules: FiringRules
) -> None:
    """Where flatware stands on more tiers than there are flat shelves, fill the least worthwhile of them anew (F12)."""
    flat_mask = sum(1 << k for k, item in enumerate(ware.wares) if ware.groups[item.group].flat)
    for shelf in dict.fromkeys(shelves):
        flat = sum(lot.sound_pieces for lot in shelf.lots if lot.bow_mm <= rules.settings.flat_bow_mm)
        wanting = [
            (state.stacks[stack][at].filled.value, stack, at)
            for stack, own in enumerate(shelves)
            if own.code == shelf.code
            for at, tier in enumerate(state.stacks[stack])
            if any(flat_mask >> spot.ware & 1 for spot in tier.filled.spots)
        ]
        for _, stack, at in sorted(wanting)[: max(0, len(wanting) - flat)]:
            base_mm, column = state.bases_mm(stack)[at], state.stacks[stack][at].column
            state.refill(stack, at, EMPTY)
            room = state.room(stack, base_mm, column)
            if room is not None:
                allowed = state.allowed(stack, base_mm, column) & ~flat_mask
                state.refill(stack, at, filler.fill(room, allowed, state.spare, fills=REFILLS, seed=1))
