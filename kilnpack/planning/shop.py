"""The works while a plan runs: where ware, kilns, cars, furniture and hands are, and what a firing does to them."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from typing import TYPE_CHECKING

from kilnpack.model.orders import Lot, LotKind
from kilnpack.planning.backlog import Backlog, Ware, backlog_of, next_good
from kilnpack.planning.clock import NEVER_H, TICK_H, Clock, Crew
from kilnpack.planning.cycle import cycle_of, fire_h, has_cars
from kilnpack.planning.firings import Fired, Glazed, InUse, KilnState, Moved, Packed
from kilnpack.planning.furniture_stock import Taken, total
from kilnpack.planning.given import NOTHING, Given
from kilnpack.planning.kept import Short, keep_firings
from kilnpack.planning.routes import (
    chain_share,
    family,
    good_share,
    items_of,
    later_code,
    needs_glazing,
    open_quantity,
)
from kilnpack.planning.soonest import Soonest
from kilnpack.planning.timing import SECOND_H, cycle_of_packed, timed

if TYPE_CHECKING:
    from kilnpack.model.kilns import Kiln
    from kilnpack.model.loads import LeftOut
    from kilnpack.model.plans import HandWork
    from kilnpack.model.programmes import Programme
    from kilnpack.model.works import Works


class Shop:
    """Ware, kilns, cars, furniture and hands at a moment of the plan that only moves forward."""

    def __init__(self, works: Works, given: Given = NOTHING) -> None:
        self.works, self.given = works, given
        self.clock = Clock(works.calendar, works.now)
        one_hand = tuple(replace(shift, crew_people=1) for shift in works.calendar.shifts if shift.crew_people > 0)
        self.crew = Crew(self.clock)
        self.glazers = Crew(Clock(replace(works.calendar, shifts=one_hand), works.now))
        self.kilns = [_kiln_state(kiln) for kiln in works.kilns]
        self.pools: dict[str, list[Ware]] = defaultdict(list)
        self.waiting: dict[str, set[str]] = defaultdict(set)
        self.fired: list[Fired] = []
        self.glazed: list[Glazed] = []
        self.finished: dict[tuple[str, str], list[tuple[float, int]]] = defaultdict(list)
        self.busy: list[InUse] = []
        self.short: list[Short] = []
        self.kept_glazings: dict[str, list[HandWork]] = {}
        self.barred: dict[str, LeftOut] = {}
        self._fired_pieces: dict[tuple[str, int], list[tuple[float, int, int]]] = defaultdict(list)
        self._ahead: tuple[int, dict[tuple[str, str], list[tuple[int, float]]]] = (-1, {})
        self.products = {row.code: row for row in works.products}
        self.programmes = {row.code: row for row in works.programmes}
        self.lines = {row.code: row for row in works.lines}
        self.due_h = {row.code: self.clock.end_of_day_h(row.due) for row in works.lines}
        self.soonest_h = {code: Soonest(works, self.clock).line_h(self.lines[code]) for code in given.urgent}
        self.aim_h = {code: min(hour, self.soonest_h.get(code, hour)) for code, hour in self.due_h.items()}
        self.wanted = {
            (row.code, product): count * open_quantity(row)
            for row in works.lines
            for product, count in items_of(works, row).items()
        }
        self.backlog: Backlog = backlog_of(works, self.clock, given)
        for key, pieces in self.backlog.shelves_of_finished.items():
            self.finished[key].append((0.0, pieces))
        keep_firings(self, given)
        kept = {id(ware) for ware in self.backlog.kept}
        for ware in [*self.backlog.wares, *(cast.ware for cast in self.backlog.casts)]:
            if id(ware) not in kept:
                self.arrive(ware)

    def programme_of(self, ware: Ware) -> str:
        """Return the programme that ware waits for."""
        return self.products[ware.product].route[ware.step].programme

    def arrive(self, ware: Ware) -> None:
        """Take ware on; what must be glazed first is booked with the glazers."""
        if ware.glazing:
            ware = self._glaze(ware)
        if ware.ready_h == NEVER_H:
            return
        self.pools[ware.code].append(ware)
        programme = self.programme_of(ware)
        self.waiting[programme].add(ware.code)
        for state in self.kilns:
            if programme in state.kiln.programmes:
                state.next_h = min(state.next_h, max(self.earliest_load_h(state), ware.ready_h))

    def _glaze(self, ware: Ware) -> Ware:
        rate = self.works.supply.glazing_pieces_per_hour
        hours = ware.pieces / rate if rate else 0.0
        start_h, end_h = self._kept_glazing(ware) or self.glazers.book(ware.ready_h, hours)
        self.glazed.append(Glazed(ware=ware, start_h=start_h, end_h=end_h))
        drying = self.products[ware.product].route[ware.step].ready_after_h
        return replace(ware, glazing=False, ready_h=end_h + drying)

    def _kept_glazing(self, ware: Ware) -> tuple[float, float] | None:
        """Return when the plan before had this ware glazed, where that stays and the ware is there by then."""
        for row in self.kept_glazings.get(ware.code, ()):
            start_h = self.clock.hour(row.start)
            if row.pieces >= ware.pieces and start_h >= ware.ready_h - SECOND_H:
                self.kept_glazings[ware.code].remove(row)
                return start_h, self.clock.hour(row.end)
        return None

    def ready(self, programme: str, at_h: float) -> dict[str, list[Ware]]:
        """Return what waits for a programme and is ready at a moment, by lot code."""
        found = {}
        for code in sorted(self.waiting[programme]):
            wares = [ware for ware in self.pools[code] if ware.ready_h <= at_h + TICK_H]
            if wares:
                found[code] = wares
        return found

    def coming(self, programme: str, at_h: float, until_h: float) -> list[Ware]:
        """Return what will be ready for a programme after a moment and until another."""
        codes = sorted(self.waiting[programme])
        return [ware for code in codes for ware in self.pools[code] if at_h + TICK_H < ware.ready_h <= until_h]

    def lots(self, ready: dict[str, list[Ware]], at_h: float) -> tuple[Lot, ...]:
        """Return what is ready as lots."""
        at = self.clock.moment(at_h)
        return tuple(
            Lot(
                code=code,
                product=wares[0].product,
                step=wares[0].step,
                pieces=sum(ware.pieces for ware in wares),
                order_line=wares[0].line,
                kind=wares[0].kind,
                ready_at=min(at, self.clock.moment(max(ware.ready_h for ware in wares))),
            )
            for code, wares in ready.items()
        )

    def is_wanted(self, ware: Ware) -> bool:
        """Whether ware is worth a firing: a sample, a refire, or of an order that ware further on does not yet fill."""
        key = (ware.line or "", ware.product)
        if ware.kind is LotKind.FILLER or (ware.line is None and ware.kind is LotKind.NORMAL):
            return False
        if ware.kind is LotKind.SAMPLE or key not in self.wanted:
            return True
        done = sum(pieces for _, pieces in self.finished.get(key, ()))
        ahead = sum(pieces for step, pieces in self._pieces_ahead().get(key, ()) if step > ware.step)
        return done + ahead < self.wanted[key] - TICK_H

    def _pieces_ahead(self) -> dict[tuple[str, str], list[tuple[int, float]]]:
        """Return step and expected firsts of all ware that waits, by line and product, kept until the next firing."""
        if self._ahead[0] != len(self.fired):
            found: dict[tuple[str, str], list[tuple[int, float]]] = defaultdict(list)
            for wares in self.pools.values():
                for ware in wares:
                    if ware.line is not None and ware.kind not in {LotKind.SAMPLE, LotKind.FILLER}:
                        firsts = ware.pieces * chain_share(self.products[ware.product].route, ware.step)
                        found[ware.line, ware.product].append((ware.step, firsts))
            self._ahead = (len(self.fired), found)
        return self._ahead[1]

    def furniture_out(self, at_h: float, until_h: float = 0.0) -> Taken:
        """Return the furniture that is elsewhere at a moment, or taken by a firing that stays before another one."""
        last_h = max(at_h, until_h)
        return total(row.taken for row in self.busy if row.back_h > at_h + TICK_H and row.start_h <= last_h)

    def next_event_h(self, kiln: Kiln, at_h: float) -> float:
        """Return when something changes for a kiln: ware gets ready, or furniture comes back."""
        arrivals = (ware.ready_h for p in kiln.programmes for code in self.waiting[p] for ware in self.pools[code])
        backs = (row.back_h for row in self.busy)
        return min((h for h in (*arrivals, *backs) if h > at_h + TICK_H), default=NEVER_H)

    def earliest_load_h(self, state: KilnState) -> float:
        """Return when loading may begin: a chamber when it is empty, a car so that it is loaded when the kiln is."""
        _, car_h = state.car()
        if not state.cars_h:
            return state.free_h
        worked = self.clock.worked(state.free_h) - state.last_load_person_h
        return max(car_h, min(state.free_h, self.clock.when_worked(max(0.0, worked), late=False)))

    def can_be_attended(self, programme: Programme) -> bool:
        """Whether the works' hours allow the fire at all."""
        if self.works.calendar.unattended_firing:
            return self.clock.next_working_h(0.0) < NEVER_H
        return self.clock.attended_h(0.0, fire_h(programme)) < NEVER_H

    def span_h(self, state: KilnState, programme: Programme, at_h: float, pieces: int, shelves: int) -> float:
        """Return about how long a firing begun now would keep the kiln, h."""
        cycle = cycle_of(self.works.settings, state.kiln, programme, pieces=pieces, shelves=shelves, contents_kg=0.0)
        if has_cars(state.kiln):
            start = max(at_h, state.free_h)
            return self.clock.next_working_h(start + cycle.fire_h + cycle.cool_in_kiln_h) - at_h
        _, loaded_h = self.crew.find(at_h, cycle.load_person_h)
        cold_h = self.lit_h(loaded_h, cycle.fire_h) + cycle.fire_h + cycle.cool_in_kiln_h
        return self.crew.find(cold_h, cycle.unload_person_h)[1] - at_h

    def lit_h(self, at_h: float, hours_h: float) -> float:
        """Return when a fire of so many hours may be lit, from a moment on."""
        return at_h if self.works.calendar.unattended_firing else self.clock.attended_h(at_h, hours_h)

    def fire(self, state: KilnState, programme: Programme, lots: tuple[Lot, ...], packed: Packed, at_h: float) -> Fired:
        """Load, fire, cool, draw, unload and clean; move the ware on; say when the kiln is next looked at."""
        cycle = cycle_of_packed(self, state, programme, packed)
        fired = timed(self, state, programme, cycle, packed, at_h, self.crew)
        state.free_h = fired.draw_h if state.cars_h else fired.unload_end_h
        if fired.car is not None:
            state.cars_h[fired.car] = fired.unload_end_h
        moved = []
        for code, count in packed.taken.items():
            ware = self.take(code, count, fired.load_start_h + TICK_H)
            moved += [self.moved(ware, fired)] if ware is not None else []
        fired = replace(fired, lots=lots, moved=tuple(moved))
        self.fired.append(fired)
        self.busy = [row for row in self.busy if row.back_h > at_h]
        self.busy.append(InUse(start_h=at_h, back_h=fired.furniture_back_h, taken=packed.furniture))
        state.last_load_person_h = cycle.load_person_h
        state.next_h = self.earliest_load_h(state)
        for part in fired.moved:
            self.go_on(part, fired)
        return fired

    def take(self, code: str, pieces: int, by_h: float) -> Ware | None:
        """Take pieces that are ready by a moment from the pool, the longest ready first; None where there are none."""
        left, taken = pieces, []
        rest: list[Ware] = []
        for ware in sorted(self.pools[code], key=lambda row: row.ready_h):
            gone = min(left, ware.pieces) if ware.ready_h <= by_h else 0
            left -= gone
            if gone:
                taken.append(replace(ware, pieces=gone))
            if gone < ware.pieces:
                rest.append(replace(ware, pieces=ware.pieces - gone))
        if not taken:
            return None
        self.pools[code] = rest
        if not rest:
            self.waiting[self.programme_of(taken[0])].discard(code)
        return replace(taken[-1], pieces=sum(row.pieces for row in taken))

    def moved(self, ware: Ware, fired: Fired) -> Moved:
        """Return what is expected of ware that goes through a firing, and under which code it goes on."""
        route = self.products[ware.product].route
        step = route[ware.step]
        rows = self._fired_pieces[ware.root, ware.step]
        good = next_good(rows, fired.load_start_h, ware.pieces, good_share(step))
        rows.append((fired.load_start_h, ware.pieces, good))
        second = min(ware.pieces - good, round(ware.pieces * step.second_share))
        root = family(self.works, ware.line, ware.product, ware.root, ware.kind)
        last = ware.step + 1 >= len(route)
        return Moved(
            ware=ware,
            good_pieces=good,
            second_pieces=second,
            becomes=f"{root}@done" if last else later_code(root, ware.step + 1),
            ready_h=fired.unload_end_h + (0.0 if last else step.rest_after_h),
        )

    def go_on(self, part: Moved, fired: Fired) -> None:
        """Let the good pieces rest and go on to their next firing, or count them as finished."""
        ware, route = part.ware, self.products[part.ware.product].route
        step = ware.step + 1
        if part.good_pieces <= 0:
            return
        if step >= len(route):
            if ware.line is not None and ware.kind not in {LotKind.SAMPLE, LotKind.FILLER}:
                self.finished[ware.line, ware.product].append((fired.unload_end_h, part.good_pieces))
            return
        glazing = needs_glazing(route, step)
        self.arrive(
            replace(
                ware,
                code=part.becomes,
                root=part.becomes.partition("@")[0],
                step=step,
                kind=LotKind.NORMAL if ware.kind is LotKind.REFIRE else ware.kind,
                pieces=part.good_pieces,
                ready_h=part.ready_h + (0.0 if glazing else route[step].ready_after_h),
                glazing=glazing,
            )
        )


def _kiln_state(kiln: Kiln) -> KilnState:
    return KilnState(kiln=kiln, cars_h={car.code: 0.0 for car in kiln.cars} if has_cars(kiln) else {})
