"""What a firing is fired for, and whether one under the least ware mass of its kiln can wait for more to join it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kilnpack.planning.clock import NEVER_H, TICK_H
from kilnpack.planning.policies import tail_h
from kilnpack.shapes.bodies import piece_kg

if TYPE_CHECKING:
    from collections.abc import Iterator

    from kilnpack.model.orders import Lot
    from kilnpack.model.programmes import Programme
    from kilnpack.planning.backlog import Ware
    from kilnpack.planning.firings import KilnState
    from kilnpack.planning.shop import Shop

FIRINGS_IN_HAND = 2
"""Firings of this kiln that still fit before the last moment, as another programme may take the kiln first."""
HOURS_IN_HAND_H = 72.0
"""Kept on top of that: a free weekend. From memory."""
LONGEST_WAIT_H = 28 * 24.0
"""How long ware without a due day, a sample or a refire, waits for more at most. From memory."""


def lots_kg(shop: Shop, programme: Programme, lots: tuple[Lot, ...]) -> float:
    """Return the mass of all pieces of some lots, kg."""
    works = shop.works
    shapes = {lot.product: works.shape(works.product(lot.product).shape) for lot in lots}
    return sum(lot.pieces * piece_kg(works, shapes[lot.product], programme.stage) for lot in lots)


def wait_until_h(shop: Shop, state: KilnState, programme: Programme, lots: tuple[Lot, ...], at_h: float) -> float:
    """Return until when a firing of little ware can wait for more without a line getting late by it.

    Returns
    -------
    float
        The moment at which the kiln is to be looked at again; `at_h` where the firing is to go now: nothing will ever
        join it, or its ware has no time to spare.
    """
    if not any(True for _ in _joining(shop, programme, at_h)):
        return at_h
    last_h = last_moment_h(shop, state, programme, lots, at_h)
    if last_h <= at_h + TICK_H:
        return at_h
    return min(last_h, shop.next_event_h(state.kiln, at_h))


def waits_to_fill_h(shop: Shop, state: KilnState, programme: Programme, lots: tuple[Lot, ...], at_h: float) -> float:
    """Return when a kiln that waits to be filled is looked at again, whatever gets late by it.

    Returns
    -------
    float
        `at_h` where nothing will ever join the firing, or its ware has waited as long as ware may.
    """
    wares = [ware for lot in lots for ware in shop.pools[lot.code] if ware.ready_h <= at_h + TICK_H]
    last_h = min((ware.ready_h for ware in wares), default=at_h) + LONGEST_WAIT_H
    if at_h >= last_h or not any(True for _ in _joining(shop, programme, at_h)):
        return at_h
    return min(last_h, shop.next_event_h(state.kiln, at_h))


def last_moment_h(shop: Shop, state: KilnState, programme: Programme, lots: tuple[Lot, ...], at_h: float) -> float:
    """Return the last moment at which a firing of these lots may begin with something in hand."""
    pieces = sum(lot.pieces for lot in lots)
    span_h = shop.span_h(state, programme, at_h, pieces, len(state.kiln.places))
    hand_h = FIRINGS_IN_HAND * span_h + HOURS_IN_HAND_H
    found = NEVER_H
    for lot in lots:
        for ware in shop.pools[lot.code]:
            if ware.ready_h > at_h + TICK_H or not shop.is_wanted(ware):
                continue
            due_h = shop.aim_h.get(ware.line or "", NEVER_H)
            found = min(found, due_h - tail_h(shop, ware) - hand_h, ware.ready_h + LONGEST_WAIT_H)
    return found


def _joining(shop: Shop, programme: Programme, at_h: float) -> Iterator[Ware]:
    """Give the wanted ware that will come to a firing of this programme later."""
    for wares in shop.pools.values():
        for ware in wares:
            route = shop.products[ware.product].route
            here = route[ware.step].programme == programme.code
            if here and ware.ready_h <= at_h + TICK_H:
                continue
            if any(step.programme == programme.code for step in route[ware.step :]) and shop.is_wanted(ware):
                yield ware
