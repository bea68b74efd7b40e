"""When each part of a firing lies: hands, kiln, car and furniture booked one after the other, or only tried."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kilnpack.planning.clock import NEVER_H, TICK_H
from kilnpack.planning.cycle import cycle_of, has_cars
from kilnpack.planning.firings import Fired
from kilnpack.planning.furniture_stock import lacking, stock_of, total

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from kilnpack.model.programmes import Programme
    from kilnpack.planning.clock import Crew
    from kilnpack.planning.cycle import Cycle
    from kilnpack.planning.firings import KilnState, Packed
    from kilnpack.planning.shop import Shop

SECOND_H = 1.0 / 3000.0
"""Moments of a saved plan are kept to the second."""
HELD_H = 12.0
"""Longest that a loaded car waits for a kiln that is down or holds a firing that stays. From memory."""


def cycle_of_packed(shop: Shop, state: KilnState, programme: Programme, packed: Packed) -> Cycle:
    """Return the hours of a firing with what was packed."""
    return cycle_of(
        shop.works.settings,
        state.kiln,
        programme,
        pieces=sum(packed.taken.values()),
        shelves=packed.shelves,
        contents_kg=packed.ware_kg + packed.furniture_kg,
    )


def timed(
    shop: Shop, state: KilnState, programme: Programme, cycle: Cycle, packed: Packed, at_h: float, crew: Crew
) -> Fired:
    """Book hands for a firing that is decided on now, and say when kiln and car are in use.

    A crew that was copied books nothing: the firing is only tried.
    """
    load_start, load_end = crew.book(at_h, cycle.load_person_h)
    lit = shop.lit_h(_open_h(state, max(load_end, state.free_h)), cycle.fire_h)
    out = lit + cycle.fire_h
    cool_end = out + cycle.cool_in_kiln_h
    draw = shop.clock.next_working_h(cool_end) if state.cars_h else cool_end
    outside = draw + (cycle.cool_outside_h if state.cars_h else 0.0)
    unload_start, unload_end = crew.book(outside, cycle.unload_person_h)
    clean_start, back = unload_end, unload_end
    if cycle.cleaning_person_h > 0:
        clean_start, back = crew.book(unload_end, cycle.cleaning_person_h)
    return Fired(
        kiln=state.kiln, car=_car(state, load_start, unload_end), programme=programme, packed=packed, lots=(), moved=(),
        decided_h=at_h, load_start_h=load_start, load_end_h=load_end, fire_start_h=lit, fire_end_h=out,
        cool_end_h=cool_end, draw_h=draw if state.cars_h else unload_start, cool_outside_end_h=outside,
        unload_start_h=unload_start, unload_end_h=unload_end, cleaning_start_h=clean_start, furniture_back_h=back,
    )  # fmt: skip


def _open_h(state: KilnState, at_h: float) -> float:
    """Return the first moment from one on at which a car kiln is not closed; a chamber is loaded where it stands."""
    if state.cars_h:
        for start_h, end_h in sorted(state.closed_h):
            if start_h <= at_h + TICK_H and at_h < end_h:
                at_h = end_h
    return at_h


def _car(state: KilnState, start_h: float, end_h: float) -> str | None:
    """Return the car that is free first and not closed meanwhile."""
    cars = sorted(state.cars_h, key=lambda code: (state.cars_h[code], code))
    for code in cars:
        closed = any(True for _ in _overlaps(state.car_closed_h.get(code, ()), start_h, end_h))
        if not closed and state.cars_h[code] <= start_h + TICK_H:
            return code
    return cars[0] if cars else None


def _overlaps(spans: Iterable[tuple[float, float]], start_h: float, end_h: float) -> Iterator[float]:
    """Give the end of every span that overlaps a stretch."""
    return (to for begin, to in spans if begin < end_h - SECOND_H and to > start_h + SECOND_H)


def opens_h(state: KilnState, at_h: float) -> float:
    """Return when a chamber that is closed at a moment opens again; a car kiln is loaded outside."""
    if has_cars(state.kiln):
        return at_h
    return max([at_h, *(end_h for start_h, end_h in state.closed_h if start_h <= at_h + TICK_H and at_h < end_h)])


def clear_h(shop: Shop, state: KilnState, programme: Programme, packed: Packed, at_h: float) -> float:
    """Return `at_h` where a firing decided on now is in nobody's way, else when to look again.

    Others' ways are stretches in which the kiln is down, and firings that stay with their kiln, car and furniture.
    """
    if not shop.given.kept and not state.closed_h:
        return at_h
    cycle = cycle_of_packed(shop, state, programme, packed)
    fired = timed(shop, state, programme, cycle, packed, at_h, shop.crew.copy())
    waits = [*_kiln_waits(shop, state, fired, cycle), *_car_waits(state, fired), *_furniture_waits(shop, fired)]
    return max(waits, default=at_h)


def _kiln_waits(shop: Shop, state: KilnState, fired: Fired, cycle: Cycle) -> Iterator[float]:
    cars = has_cars(state.kiln)
    begin_h, end_h = (fired.fire_start_h, fired.draw_h) if cars else (fired.load_start_h, fired.unload_end_h)
    for until_h in _overlaps(state.closed_h, begin_h, end_h):
        yield _load_h(shop, cycle, until_h, fired) if cars else until_h
    if cars and fired.fire_start_h > max(fired.load_end_h, state.free_h) + HELD_H and state.closed_h:
        yield _load_h(shop, cycle, fired.fire_start_h, fired)


def _load_h(shop: Shop, cycle: Cycle, lit_h: float, fired: Fired) -> float:
    """Return when to load so that a car is ready at a moment."""
    worked = shop.clock.worked(lit_h) - cycle.load_person_h
    load_h = shop.clock.when_worked(max(0.0, worked), late=False)
    return load_h if load_h > fired.decided_h + TICK_H else lit_h


def _car_waits(state: KilnState, fired: Fired) -> Iterator[float]:
    if fired.car is not None:
        yield from _overlaps(state.car_closed_h.get(fired.car, ()), fired.load_start_h, fired.unload_end_h)
        if state.cars_h[fired.car] > fired.load_start_h + TICK_H:
            yield state.cars_h[fired.car]


def _furniture_waits(shop: Shop, fired: Fired) -> Iterator[float]:
    """Wait for a firing that stays to give its furniture back, where both together take more than there is."""
    others = [row for row in shop.busy if row.back_h > fired.load_start_h + SECOND_H]
    later = [row for row in others if fired.load_start_h < row.start_h < fired.furniture_back_h - SECOND_H]
    if not later:
        return
    stock = stock_of(shop.works)
    for row in later:
        rows = [one.taken for one in others if one.start_h <= row.start_h < one.back_h - SECOND_H]
        if lacking(stock, total([*rows, fired.packed.furniture])):
            yield row.back_h if row.back_h < NEVER_H else fired.furniture_back_h
