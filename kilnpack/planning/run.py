"""One run over the backlog with one policy: take the kiln free first, choose, pack, fire, until nothing waits."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Protocol

from kilnpack.planning.clock import HORIZON_DAYS, NEVER_H, TICK_H
from kilnpack.planning.firings import Packed
from kilnpack.planning.given import NOTHING
from kilnpack.planning.joining import lots_kg, wait_until_h, waits_to_fill_h
from kilnpack.planning.pacing import paced_aims
from kilnpack.planning.policies import Choice, Policy, PolicyKind, choose
from kilnpack.planning.shop import Shop
from kilnpack.planning.timing import clear_h, opens_h

if TYPE_CHECKING:
    from collections.abc import Callable

    from kilnpack.model.kilns import Kiln
    from kilnpack.model.orders import Lot
    from kilnpack.model.programmes import Programme
    from kilnpack.model.works import Works
    from kilnpack.planning.estimate import Estimate
    from kilnpack.planning.firings import KilnState
    from kilnpack.planning.furniture_stock import Taken
    from kilnpack.planning.given import Given

LIMIT_H = 24.0 * (HORIZON_DAYS - 60)
HANDLED_H = 24.0
"""Hours that loading, unloading and cleaning add to a firing, for what firings that stay need. From memory."""
ONE_PIECE = Packed(taken={}, ware_kg=0.0, furniture_kg=0.0, shelves=1, furniture=Counter())
"""The least a firing may be: where even that has no time, nothing is packed."""
MUST_FACTOR = 3.0
"""How much more the ware that a firing is for counts with the packer than ware that only fills it up."""


class PackLots(Protocol):
    """Packs lots, the most wanted first, into a kiln with the furniture that is not elsewhere."""

    def __call__(self, works: Works, kiln: Kiln, programme: Programme, lots: tuple[Lot, ...], *, out: Taken) -> Packed:
        """Return what went in; nothing taken where nothing fits."""

    def furniture_share(self, works: Works, kiln: Kiln, programme: Programme, out: Taken) -> float:
        """Return what share of a full load the furniture allows that is not elsewhere; 1 where no load is known."""


@dataclass(slots=True)
class Run:
    """A run and what came of it."""

    shop: Shop
    policy: Policy
    stopped: bool = False
    crew_bars: set[tuple[str, str]] = field(default_factory=set)
    """Kilns and programmes whose fire the working hours never allow."""


def run(
    works: Works,
    policy: Policy,
    pack: PackLots,
    estimate: Estimate,
    *,
    seed: int,
    goes_on: Callable[[Shop], bool] = lambda _: True,
    given: Given = NOTHING,
) -> Run:
    """Fire the backlog with one policy.

    Parameters
    ----------
    works
        The works.
    policy
        How the next firing is chosen.
    pack
        Fills a firing.
    estimate
        What share of a kiln a piece takes.
    seed
        For the search over coming firings.
    goes_on
        Asked before each firing; False ends the run with what there is.
    given
        Firings that stay, kilns that are down, lines that are urgent.
    """
    found = Run(shop=Shop(works, given), policy=policy)
    shop = found.shop
    sooner_h = (*policy.sooner_h, *(paced_aims(shop, estimate, seed=seed) if policy.paced else ()))
    for line, hours in sooner_h:
        shop.aim_h[line] -= hours
    found.crew_bars = {
        (state.kiln.code, code)
        for state in shop.kilns
        for code in state.kiln.programmes
        if not shop.can_be_attended(shop.programmes[code])
    }
    try:
        while (state := min(shop.kilns, key=lambda row: (row.next_h, row.kiln.code), default=None)) is not None:
            at_h = shop.clock.next_working_h(state.next_h) if state.next_h < LIMIT_H else NEVER_H
            if at_h >= LIMIT_H:
                break
            if at_h > state.next_h:
                state.next_h = at_h
                continue
            if not goes_on(shop):
                found.stopped = True
                break
            _turn(found, state, at_h, pack, estimate, seed)
    except KeyboardInterrupt:
        found.stopped = True
    return found


def _turn(found: Run, state: KilnState, at_h: float, pack: PackLots, estimate: Estimate, seed: int) -> None:
    """Let one kiln fire once, or wait."""
    shop = found.shop
    if opens_h(state, at_h) > at_h:
        state.next_h = opens_h(state, at_h)
        return
    barred = {code for kiln, code in found.crew_bars if kiln == state.kiln.code}
    again_h = NEVER_H
    while True:
        choice = choose(shop, state, at_h, found.policy, estimate, barred=barred, seed=seed)
        if choice.programme is None:
            until_h = min(again_h, choice.until_h, shop.next_event_h(state.kiln, at_h))
            state.next_h = max(at_h + 2 * TICK_H, until_h)
            return
        barred.add(choice.programme.code)
        until_h = max(
            _waits_until_h(found, state, choice, at_h),
            _fills_until_h(found, state, choice, at_h, estimate),
            _furnished_until_h(found, state, choice, at_h, pack, estimate),
        )
        if until_h > at_h + TICK_H:
            again_h = min(again_h, until_h)
            continue
        packed, offered, until_h = _clear(shop, state, choice, at_h, pack)
        if until_h > at_h + TICK_H:
            again_h = min(again_h, until_h)
            continue
        if packed.taken:
            shop.fire(state, choice.programme, offered, packed, at_h)
            return
        shop.barred.update({row.lot: row for row in packed.left_out})


def _waits_until_h(found: Run, state: KilnState, choice: Choice, at_h: float) -> float:
    """Return until when a firing under the least ware mass waits; first due first served never waits."""
    assert choice.programme is not None
    if found.policy.kind is PolicyKind.FIRST_DUE:
        return at_h
    if lots_kg(found.shop, choice.programme, choice.ready) >= state.kiln.least_ware_kg:
        return at_h
    return wait_until_h(found.shop, state, choice.programme, choice.ready, at_h)


def _fills_until_h(found: Run, state: KilnState, choice: Choice, at_h: float, estimate: Estimate) -> float:
    """Return until when a firing under the fill that the policy asks for waits for ware still to come."""
    least = found.policy.least_fill_share
    if least <= 0.0:
        return at_h
    assert choice.programme is not None
    if _share_of(state, choice.programme, choice.ready, estimate) >= least:
        return at_h
    return waits_to_fill_h(found.shop, state, choice.programme, choice.ready, at_h)


def _share_of(state: KilnState, programme: Programme, lots: tuple[Lot, ...], estimate: Estimate) -> float:
    """Return how many kilns full some lots are taken to be."""
    return sum(lot.pieces * estimate.piece_share(state.kiln, programme, lot.product, lot.step) for lot in lots)


def _furnished_until_h(
    found: Run, state: KilnState, choice: Choice, at_h: float, pack: PackLots, estimate: Estimate
) -> float:
    """Return until when a firing waits for furniture: there is less than the policy asks for and its ware needs."""
    least, shop = found.policy.least_furniture_share, found.shop
    if least <= 0.0:
        return at_h
    assert choice.programme is not None
    out = shop.furniture_out(at_h, _back_h(shop, choice.programme, at_h))
    share = pack.furniture_share(shop.works, state.kiln, choice.programme, out)
    if share >= least or share >= _share_of(state, choice.programme, choice.ready, estimate):
        return at_h
    return min((row.back_h for row in shop.busy if row.back_h > at_h + TICK_H), default=at_h)


def _clear(
    shop: Shop, state: KilnState, choice: Choice, at_h: float, pack: PackLots
) -> tuple[Packed, tuple[Lot, ...], float]:
    """Pack what was chosen; say when to look again where the firing would be in the way of one that stays."""
    assert choice.programme is not None
    until_h = clear_h(shop, state, choice.programme, ONE_PIECE, at_h)
    if until_h > at_h + TICK_H:
        return ONE_PIECE, (), until_h
    packed, offered = _packed(shop, state, choice, at_h, pack)
    return packed, offered, clear_h(shop, state, choice.programme, packed, at_h)


def _packed(
    shop: Shop, state: KilnState, choice: Choice, at_h: float, pack: PackLots
) -> tuple[Packed, tuple[Lot, ...]]:
    """Pack what was chosen, with the furniture that is here and the ware that must go in counting most.

    Return what went in and the lots it was chosen from. Where all that was offered went in and more is ready, all of it
    is offered.
    """
    assert choice.programme is not None
    must = {lot.order_line for lot in choice.lots[: choice.must]}
    lines = tuple(
        replace(line, priority_factor=line.priority_factor * MUST_FACTOR) if line.code in must else line
        for line in shop.works.lines
    )
    works = replace(shop.works, lines=lines, now=shop.clock.moment(at_h))
    out = shop.furniture_out(at_h, _back_h(shop, choice.programme, at_h))
    packed = pack(works, state.kiln, choice.programme, choice.lots, out=out)
    lots, offered = choice.lots, sum(lot.pieces for lot in choice.lots)
    if sum(packed.taken.values()) == offered < sum(lot.pieces for lot in choice.ready):
        fuller = pack(works, state.kiln, choice.programme, choice.ready, out=out)
        if sum(fuller.taken.values()) > offered and _holds(fuller, packed, shop):
            packed, lots = fuller, choice.ready
    return replace(packed, taken={code: count for code, count in packed.taken.items() if count > 0}), lots


def _back_h(shop: Shop, programme: Programme, at_h: float) -> float:
    """Return until when a firing decided on now may keep furniture from firings that stay."""
    if not shop.given.kept:
        return at_h
    hours = programme.recorded_fire_h + programme.recorded_cool_h + programme.cool_outside_h
    return at_h + hours + HANDLED_H


def _holds(fuller: Packed, packed: Packed, shop: Shop) -> bool:
    """Whether a fuller load left out nothing of an order that the other one held."""
    return all(
        fuller.taken.get(code, 0) >= count
        for code, count in packed.taken.items()
        if any(shop.is_wanted(ware) for ware in shop.pools[code])
    )
