"""Firings of an earlier plan that stay, booked before all others: their kiln, car, hands, furniture and ware."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from kilnpack.model.plans import FiringState
from kilnpack.planning.cycle import has_cars
from kilnpack.planning.firings import Fired, InUse
from kilnpack.planning.packs import packed_of
from kilnpack.planning.timing import SECOND_H

if TYPE_CHECKING:
    from kilnpack.model.plans import Firing, LotPart
    from kilnpack.planning.firings import KilnState, Moved
    from kilnpack.planning.given import Given
    from kilnpack.planning.shop import Shop


@dataclass(frozen=True, slots=True, kw_only=True)
class Short:
    """Pieces of a lot that a firing should hold and that are not there when it is loaded."""

    firing: str
    lot: str
    pieces: int


def keep_firings(shop: Shop, given: Given) -> None:
    """Close kilns that are down, and book every firing that stays in the order of their loading.

    What their ware lacks is noted in `shop.short`; the firing is booked with what there is.
    """
    states = {state.kiln.code: state for state in shop.kilns}
    for down in given.downs:
        states[down.kiln].closed_h.append((shop.clock.hour(down.start), shop.clock.hour(down.end)))
    for row in given.glazings:
        shop.kept_glazings.setdefault(row.lot, []).append(row)
        shop.glazers.hold(shop.clock.hour(row.start), shop.clock.hour(row.end))
    for ware in shop.backlog.kept:
        shop.arrive(ware)
    for firing in given.kept:
        _keep(shop, states[firing.kiln], firing)
    shop.kept_glazings.clear()


def _keep(shop: Shop, state: KilnState, firing: Firing) -> None:
    """Book one firing at its moments."""
    fired = _fired(shop, state, firing)
    span = (fired.fire_start_h, fired.draw_h) if has_cars(state.kiln) else (fired.load_start_h, fired.unload_end_h)
    state.closed_h.append(span)
    if firing.car is not None:
        state.car_closed_h.setdefault(firing.car, []).append((fired.load_start_h, fired.unload_end_h))
    for start_h, end_h in (
        (fired.load_start_h, fired.load_end_h),
        (fired.unload_start_h, fired.unload_end_h),
        (fired.cleaning_start_h, fired.furniture_back_h),
    ):
        shop.crew.hold(start_h, end_h)
    moved = []
    for part in firing.parts:
        moved += _taken(shop, firing, part, fired)
    fired = replace(fired, moved=tuple(moved))
    shop.fired.append(fired)
    shop.busy.append(InUse(start_h=fired.load_start_h, back_h=fired.furniture_back_h, taken=fired.packed.furniture))
    for each in moved:
        shop.go_on(each, fired)


def _taken(shop: Shop, firing: Firing, part: LotPart, fired: Fired) -> list[Moved]:
    """Take the ware of one part, and note what is not there."""
    ware = shop.take(part.lot, part.pieces, fired.load_start_h + SECOND_H)
    there = ware.pieces if ware is not None else 0
    if there < part.pieces:
        shop.short.append(Short(firing=firing.code, lot=part.lot, pieces=part.pieces - there))
    return [shop.moved(ware, fired)] if ware is not None else []


def _fired(shop: Shop, state: KilnState, firing: Firing) -> Fired:
    """Return a firing in hours from the start of this plan; one that was started has some below 0."""
    hour, works = shop.clock.hour, shop.works
    return Fired(
        kiln=state.kiln,
        car=firing.car,
        programme=works.programme(firing.programme),
        packed=packed_of(works, firing),
        lots=firing.lots,
        moved=(),
        decided_h=hour(firing.load_start),
        load_start_h=hour(firing.load_start),
        load_end_h=hour(firing.load_end),
        fire_start_h=hour(firing.fire_start),
        fire_end_h=hour(firing.fire_end),
        cool_end_h=hour(firing.cool_end),
        draw_h=hour(firing.draw),
        cool_outside_end_h=hour(firing.cool_outside_end),
        unload_start_h=hour(firing.unload_start),
        unload_end_h=hour(firing.unload_end),
        cleaning_start_h=hour(firing.cleaning_start),
        furniture_back_h=hour(firing.furniture_back),
        kept=firing,
    )


def is_started(firing: Firing) -> bool:
    """Whether a firing was started before the plan begins."""
    return firing.state is FiringState.STARTED
