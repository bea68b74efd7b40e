"""Column generation: improve a load by choosing anew among settings and stacks of posts.

The master (`columns_master`) tells what one more piece, shelf, post or slot would bring. At those prices shelves are
filled row by row and stacks are planned by the dynamic programme; whatever would pay joins the pool, until little does.
Then the whole-number master chooses, what it left over is filled in, and the better of that load and the old is kept.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from kilnpack.packing.columns_master import Master, Pool, Structure, alike_stacks, taken
from kilnpack.packing.columns_pricing import PAYS, Pricing, price_structures, setting_of, slot_there
from kilnpack.packing.filler import EMPTY
from kilnpack.packing.state import LoadState, TierState
from kilnpack.packing.walk import EVALUATIONS_A_FILL
from kilnpack.search.listener import Progress

if TYPE_CHECKING:
    from collections.abc import Iterable

    from kilnpack.packing.columns_master import Built, Chosen
    from kilnpack.packing.columns_pricing import Care
    from kilnpack.packing.filler import Filled, Filler
    from kilnpack.search.budget import Meter
    from kilnpack.search.listener import Listener

PROBE_MM = 80.0
"""Stacks that offer the same at heights this far apart are taken for alike."""

FILLS = 48
"""Fills of one slot at the master's prices, to begin with."""
LAST_FILLS = 400
"""With this many and nothing that pays, the prices are taken to be settled."""

EVALUATIONS_A_SOLVE = 5000
EVALUATIONS_A_CHOICE = 200_000
LEAST_CHOICE_S = 0.2
SOLVED_SHARE = 0.8
"""Part of the time that is left which the solver gets; the rest is for building the load."""
REFILLS = 24
CHOICE_SHARE = 0.35
"""Part of the budget kept for the whole-number master and for filling in."""
CHOICE_NODES = 200


@dataclass(slots=True)
class Generated:
    """What a column generation ended with.

    Attributes
    ----------
    best
        The better of the load begun with and the one chosen.
    linear_value
        Worth of the master in fractions over the settings found; not a bound, as there may be better settings.
    """

    best: LoadState
    linear_value: float | None = None
    rounds: int = 0
    pool: Pool = field(default_factory=Pool)


def add_load(pool: Pool, state: LoadState, filler: Filler, alike: dict[int, list[int]]) -> list[Built]:
    """Put the settings and structures of a load into a pool; return its stacks by them."""
    first_of = {stack: first for first, own in alike.items() for stack in own}
    rows: list[Built] = []
    for stack, tiers in enumerate(state.stacks):
        slots, settings = [], []
        for base_mm, tier in zip(state.bases_mm(stack), tiers, strict=False):
            slot = slot_there(state, filler, stack, base_mm, tier.column)
            if slot is None:
                break
            slots.append(slot)
            settings.append(setting_of(slot.room, tier.filled) if tier.filled.spots else None)
        else:
            structure = Structure(state.bottoms[stack], tuple(tier.column for tier in tiers), tuple(slots))
            pool.structures[first_of[stack]].setdefault(structure)
            pool.settings.update(dict.fromkeys(setting for setting in settings if setting is not None))
            rows.append((first_of[stack], structure, tuple(settings)))
    return rows


def generate(
    state: LoadState,
    filler: Filler,
    seen: Iterable[LoadState],
    *,
    care: Care,
    meter: Meter,
    listener: Listener,
    pool: Pool | None = None,
) -> Generated:
    """Improve a load by column generation; Ctrl-C or the listener ends it with the best so far.

    Parameters
    ----------
    state
        The load to improve. It is not changed.
    seen
        Other loads whose settings and stacks of posts are worth knowing.
    pool
        What an earlier generation for the same problem found; it grows.
    """
    empty = LoadState(state.problem)
    probes = np.arange(0.0, max((site.top_mm for site in state.problem.stacks), default=0.0), PROBE_MM)
    alike = alike_stacks(empty, probes.tolist())
    out = Generated(state, pool=pool or Pool())
    now = add_load(out.pool, state, filler, alike)
    for load in seen:
        add_load(out.pool, load, filler, alike)
    if not out.pool.settings:
        return out
    try:
        _grow(out, empty, filler, alike, care, meter, listener)
        better = _choose(Master(empty.problem, out.pool, alike), now, empty, filler, care, meter)
        if better is not None and better.value > state.value + PAYS:
            out.best = better
    except KeyboardInterrupt:
        meter.is_cut = True
    return out


def _grow(
    out: Generated,
    empty: LoadState,
    filler: Filler,
    alike: dict[int, list[int]],
    care: Care,
    meter: Meter,
    listener: Listener,
) -> None:
    """Add settings and structures that pay, until few do or the time for it is over."""
    fills, until = FILLS, 1.0 - CHOICE_SHARE * (1.0 - meter.share)
    while meter.share < until:
        found = Master(empty.problem, out.pool, alike).priced()
        if found is None:
            return
        out.linear_value, prices = found
        out.rounds += 1
        progress = Progress(
            step="pricing settings",
            value=out.best.value,
            share=meter.share,
            elapsed_s=meter.elapsed_s,
            linear_value=out.linear_value,
        )
        if not listener.heard(progress):
            raise KeyboardInterrupt
        fresh = Pricing(out.pool, empty, filler, prices, care).settings(fills, meter, until)
        meter.spend(EVALUATIONS_A_SOLVE)
        fresh += price_structures(out.pool, empty, filler, prices, alike)
        if not fresh and fills >= LAST_FILLS:
            return
        fills = fills if fresh else 2 * fills


def _choose(
    master: Master, now: list[Built], empty: LoadState, filler: Filler, care: Care, meter: Meter
) -> LoadState | None:
    """Return the load that the whole-number master chooses, with what it left free filled in."""
    seconds = meter.budget.seconds
    limit_s = None if seconds is None else max(LEAST_CHOICE_S, SOLVED_SHARE * (seconds - meter.elapsed_s))
    chosen = master.chosen(seconds=limit_s, nodes=CHOICE_NODES if seconds is None else None, now=now)
    meter.spend(EVALUATIONS_A_CHOICE)
    return None if chosen is None else build(chosen, empty, filler, care.rng, meter)


def build(chosen: Chosen, empty: LoadState, filler: Filler, rng: np.random.Generator, meter: Meter) -> LoadState:
    """Return the load of a choice: bodies beyond what is ready are left off, then shelves are filled in the time left.

    Where the number of different settings is limited, the choice stands as it is.
    """
    state = empty.copy()
    wanted: list[tuple[int, int, Filled]] = []
    for stack, (structure, settings) in chosen.stacks.items():
        state.bottoms[stack] = structure.bottom
        for at, (column, setting) in enumerate(zip(structure.columns, settings, strict=True)):
            state.insert(stack, at, TierState(column))
            if setting is not None:
                wanted.append((stack, at, setting.filled))
    for stack, at, filled in wanted:
        state.refill(stack, at, _within(state, filled))
    if state.problem.settings_most is not None:
        _drop_empty(state)
        return state
    places = [(stack, at) for stack, tiers in enumerate(state.stacks) for at in range(len(tiers))]
    for k in rng.permutation(len(places)):
        if meter.is_up:
            break
        _fill_up(state, filler, *places[int(k)], rng)
        meter.spend(REFILLS * EVALUATIONS_A_FILL)
    return state


def _drop_empty(state: LoadState) -> None:
    """Take out tiers with nothing on them, which would count as a setting, where those above may stand lower."""
    for stack, site in enumerate(state.problem.stacks):
        for at in range(len(state.stacks[stack]) - 1, -1, -1):
            before, tiers = state.bases_mm(stack), state.stacks[stack]
            if site.open_top or tiers[at].filled.spots:
                continue
            down_mm = before[at + 1] - before[at]
            above = list(zip(before[at + 1 :], tiers[at + 1 :], strict=False))
            if all(state.still_stands(stack, base_mm - down_mm, tier, base_mm) for base_mm, tier in above):
                state.remove(stack, at)


def _within(state: LoadState, filled: Filled) -> Filled:
    """Return a setting without the bodies for which no pieces are left."""
    left = state.spare.copy()
    kept = []
    for spot in filled.spots:
        takes = taken(state.problem, replace(filled, spots=(spot,)))
        if (left >= takes).all():
            left -= takes
            kept.append(spot)
    if len(kept) == len(filled.spots):
        return filled
    value = sum(state.problem.wares[spot.ware].body.value for spot in kept)
    return replace(filled, value=value, spots=tuple(kept))


def _fill_up(state: LoadState, filler: Filler, stack: int, at: int, rng: np.random.Generator) -> None:
    """Fill a shelf anew from what is spare and its own, and keep the better."""
    base_mm, tier = state.bases_mm(stack)[at], state.stacks[stack][at]
    room = state.room(stack, base_mm, tier.column)
    if room is None:
        state.value = -np.inf
        return
    state.refill(stack, at, EMPTY)
    allowed = state.allowed(stack, base_mm, tier.column)
    filled = filler.fill(room, allowed, state.spare, fills=REFILLS, seed=int(rng.integers(1 << 30)), start=tier.filled)
    state.refill(stack, at, filled if filled.value > tier.filled.value else tier.filled)
