"""Tidy a packed load before it is read back: empty tiers off, flat shelves where they are wanted, packs borne."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kilnpack.packing.filler import EMPTY
from kilnpack.packing.state import OPEN, LoadState, TierState

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kilnpack.packing.filler import Filler
    from kilnpack.packing.firing_rules import FiringRules
    from kilnpack.packing.kept import KeptTiers
    from kilnpack.packing.works_problem import WorksProblem

REFILLS = 60
SAME_VALUE = 1e-9


def tidied(
    state: LoadState, filler: Filler, built: WorksProblem, rules: FiringRules, kept: KeptTiers | None = None
) -> LoadState:
    """Return the load without empty tiers on top, with no more flatware than flat shelves hold, with all cone packs.

    Stacks whose lower tiers are kept get a shelf over the posts of their last one.
    """
    tidy = state.copy()
    for stack in range(len(tidy.stacks)):
        _drop_empty_top(tidy, stack, filler)
    _keep_flat(tidy, filler, built, rules)
    _bear_packs(tidy, filler, built, rules, kept)
    return tidy


def _needs_a_shelf(
    state: LoadState, built: WorksProblem, rules: FiringRules, stack: int, kept: KeptTiers | None
) -> bool:
    """Whether a stack without new ware needs a shelf: for a cone pack (C7), or over posts that stand already (F17)."""
    place, shelf = built.places[stack], built.shelves[stack]
    if kept is not None and kept.stack(place.code) is not None:
        return state.room(stack, state.first_base_mm(stack), OPEN) is not None
    lowest = (place, 1, state.first_base_mm(stack), shelf)
    return any(rules.cone_pack(hole, [lowest]) is not None for hole in rules.packs())


def _bear_packs(
    state: LoadState, filler: Filler, built: WorksProblem, rules: FiringRules, kept: KeptTiers | None
) -> None:
    """Lay a shelf in a stack without ware where a cone pack needs one to stand on (C7).

    Packs come before ware: where all shelves are in use, the least valuable tier on top of another stack gives its own.
    """
    for stack in range(len(state.stacks)):
        if state.stacks[stack] or not _needs_a_shelf(state, built, rules, stack, kept):
            continue
        if not state.shelves[state.problem.stacks[stack].shelf]:
            bearing = [one for one in range(len(state.stacks)) if _needs_a_shelf(state, built, rules, one, kept)]
            _give_up_a_shelf(state, state.problem.stacks[stack].shelf, filler, bearing)
        if state.shelves[state.problem.stacks[stack].shelf]:
            state.insert(stack, 0, TierState(OPEN))


def _give_up_a_shelf(state: LoadState, shelf: int, filler: Filler, bearing: Sequence[int]) -> None:
    """Take the least valuable top tier off a stack; the last tier only where no cone pack wants it."""
    tops = [
        (tiers[-1].filled.value, stack)
        for stack, tiers in enumerate(state.stacks)
        if state.problem.stacks[stack].shelf == shelf and len(tiers) > (stack in bearing)
    ]
    if tops:
        _, stack = min(tops)
        state.remove(stack, len(state.stacks[stack]) - 1)
        if state.stacks[stack]:
            _open_top(state, stack, filler)


def _drop_empty_top(state: LoadState, stack: int, filler: Filler) -> None:
    """Take empty tiers off the top; the one below becomes the open top tier.

    Where it would hold less ware so (a cone pack's sight may cross it, or heat), it keeps its posts and an empty shelf.
    """
    tiers = state.stacks[stack]
    while tiers and not tiers[-1].filled.spots:
        state.remove(stack, len(tiers) - 1)
        if not tiers or tiers[-1].column == OPEN:
            continue
        last = len(tiers) - 1
        held = tiers[last]
        _open_top(state, stack, filler)
        if tiers[last].filled.value < held.filled.value - SAME_VALUE:
            state.remove(stack, last)
            state.insert(stack, last, held)
            state.insert(stack, last + 1, TierState(OPEN))
            return


def _open_top(state: LoadState, stack: int, filler: Filler) -> None:
    """Take the posts off the top tier and stand on it what then may."""
    last = len(state.stacks[stack]) - 1
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


def _keep_flat(state: LoadState, filler: Filler, built: WorksProblem, rules: FiringRules) -> None:
    """Where flatware stands on more tiers than there are flat shelves, fill the least worthwhile of them anew (F12)."""
    ware, shelves = built.ware, built.shelves
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
