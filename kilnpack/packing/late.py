"""Room kept for late pieces: they are packed like any other, then their places are left empty and told."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kilnpack.model.loads import Reserved
from kilnpack.model.orders import Lot
from kilnpack.packing.filler import EMPTY, Filled

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from kilnpack.model.loads import BodyForm
    from kilnpack.model.programmes import Programme
    from kilnpack.model.works import Works
    from kilnpack.packing.filler import Filler
    from kilnpack.packing.state import LoadState
    from kilnpack.packing.works_problem import WorksProblem

LATE = "late "
"""Begins the code of a lot that is not there yet."""
REFILLS = 40
LATE_FACTOR = 10.0
"""Room for late pieces comes before ware that is ready: who asks for it wants it kept."""


def late_lots(works: Works, programme: Programme, late: Mapping[str, int]) -> list[Lot]:
    """Return lots that stand for late pieces, at the firing of this programme."""
    return [
        Lot(code=f"{LATE}{code}", product=code, step=late_step(works, programme, code) or 0, pieces=pieces)
        for code, pieces in late.items()
        if pieces > 0
    ]


def late_step(works: Works, programme: Programme, product: str) -> int | None:
    """Return which firing of a product's route the programme is, None where it is none."""
    steps = [row.programme for row in works.product(product).route]
    return steps.index(programme.code) if programme.code in steps else None


def is_late(lot: Lot) -> bool:
    """Return whether a lot only stands for late pieces."""
    return lot.code.startswith(LATE)


def room_made(state: LoadState, built: WorksProblem, filler: Filler) -> LoadState:
    """Return the load with single tiers filled anew for late pieces that found no place where tiers are set alike."""
    late = [number for number, group in enumerate(built.ware.groups) if group.late]
    for _ in range(sum(int(state.spare[number]) for number in late)):
        trials = [trial for trial in _refilled(state, filler) if any(trial.spare[k] < state.spare[k] for k in late)]
        best = max(trials, key=lambda trial: trial.value, default=state)
        if best.value <= state.value:
            break
        state = best
    return state


def _refilled(state: LoadState, filler: Filler) -> Iterator[LoadState]:
    """Yield the load with each of its tiers filled anew from what is spare."""
    for stack, tiers in enumerate(state.stacks):
        for at, tier in enumerate(tiers):
            base_mm = state.bases_mm(stack)[at]
            room = state.room(stack, base_mm, tier.column)
            if room is None:
                continue
            trial = state.copy()
            trial.refill(stack, at, EMPTY)
            allowed = state.allowed(stack, base_mm, tier.column)
            trial.refill(stack, at, filler.fill(room, allowed, trial.spare, fills=REFILLS, seed=1))
            yield trial


def emptied(state: LoadState, built: WorksProblem) -> tuple[LoadState, list[Reserved]]:
    """Return the load without the late pieces, and the places kept free for them."""
    ware = built.ware
    late = {number: group.lots[0].product for number, group in enumerate(ware.groups) if group.late}
    free = state.copy()
    kept: list[Reserved] = []
    for stack, tiers in enumerate(state.stacks):
        for at, tier in enumerate(tiers):
            spots = [spot for spot in tier.filled.spots if ware.wares[spot.ware].group not in late]
            if len(spots) == len(tier.filled.spots):
                continue
            before = 0
            for spot in tier.filled.spots:
                item = ware.wares[spot.ware]
                if item.group not in late:
                    before += 1
                    continue
                kept.append(
                    Reserved(
                        stack=built.places[stack].code,
                        tier=at + 1,
                        form=ware.forms[spot.ware].code,
                        product=late[item.group],
                        pieces=item.pieces,
                        after_place=before,
                        x_mm=round(spot.x_mm, 3),
                        y_mm=round(spot.y_mm, 3),
                        turn_deg=round(spot.turn_deg % 360.0, 3),
                    )
                )
            value = sum(ware.wares[spot.ware].body.value for spot in spots)
            free.refill(stack, at, Filled(value, tuple(spots)))
    return free, kept


def with_forms(
    used: Sequence[BodyForm], known: Sequence[BodyForm], reserved: Sequence[Reserved]
) -> tuple[BodyForm, ...]:
    """Return the forms of a load and those that only late pieces have."""
    forms = {form.code: form for form in used}
    wanted = {row.form for row in reserved} - set(forms)
    return (*used, *{form.code: form for form in known if form.code in wanted}.values())
