"""The works while a plan runs: where ware, kilns, cars, furniture and hands are, and what a firing does to them."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from typing import TYPE_CHECKING

from kilnpack.model.orders import Lot, LotKind
from kilnpack.planning.backlog import Backlog, Ware, backlog_of, running_good
from kilnpack.planning.clock import NEVER_H, TICK_H, Clock, Crew
from kilnpack.planning.cycle import cycle_of, fire_h, has_cars
from kilnpack.planning.firings import Fired, Glazed, KilnState, Moved, Packed
from kilnpack.planning.furniture_stock import Taken, total
from kilnpack.planning.routes import (
    chain_share,
    family,
    good_share,
    items_of,
    later_code,
    needs_glazing,
    open_quantity,
)

if TYPE_CHECKING:
    from kilnpack.model.kilns import Kiln
    from kilnpack.model.loads import LeftOut
    from kilnpack.model.programmes import Programme
    from kilnpack.model.works import Works
    from kilnpack.planning.cycle import Cycle


class Shop:
    """Ware, kilns, cars, furniture and hands at a moment of the plan that only moves forward."""

    def __init__(self, works: Works) -> None:
        self.works = works
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
        self.busy: list[tuple[float, Taken]] = []
        self.barred: dict[str, LeftOut] = {}
        self._fired_pieces: dict[tuple[str, int], int] = defaultdict(int)
        self._ahead: tuple[int, dict[tuple[str, str], list[tuple[int, float]]]] = (-1, {})
        self.products = {row.code: row for row in works.products}
        self.programmes = {row.code: row for row in works.programmes}
        self.lines = {row.code: row for row in works.lines}
        self.due_h = {row.code: self.clock.end_of_day_h(row.due) for row in works.lines}
        self.aim_h = dict(self.due_h)
        self.wanted = {
            (row.code, product): count * open_quantity(row)
            for row in works.lines
            for product, count in items_of(works, row).items()
        }
        self.backlog: Backlog = backlog_of(works, self.clock)
        for key, pieces in self.backlog.shelves_of_finished.items():
            self.finished[key].append((0.0, pieces))
        for ware in [*self.backlog.wares, *(cast.ware for cast in self.backlog.casts)]:
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
        start_h, end_h = self.glazers.book(ware.ready_h, hours)
        self.glazed.append(Glazed(ware=ware, start_h=start_h, end_h=end_h))
        drying = self.products[ware.product].route[ware.step].ready_after_h
        return replace(ware, glazing=False, ready_h=end_h + drying)

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

    def furniture_out(self, at_h: float) -> Taken:
        """Return the furniture that is elsewhere at a moment."""
        return total(taken for back_h, taken in self.busy if back_h > at_h + TICK_H)

    def next_event_h(self, kiln: Kiln, at_h: float) -> float:
        """Return when something changes for a kiln: ware gets ready, or furniture comes back."""
        arrivals = (ware.ready_h for p in kiln.programmes for code in self.waiting[p] for ware in self.pools[code])
        backs = (back_h for back_h, _ in self.busy)
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
        cold_h = self._lit_h(loaded_h, cycle.fire_h) + cycle.fire_h + cycle.cool_in_kiln_h
        return self.crew.find(cold_h, cycle.unload_person_h)[1] - at_h

    def _lit_h(self, at_h: float, hours_h: float) -> float:
        return at_h if self.works.calendar.unattended_firing else self.clock.attended_h(at_h, hours_h)

    def fire(self, state: KilnState, programme: Programme, lots: tuple[Lot, ...], packed: Packed, at_h: float) -> Fired:
        """Load, fire, cool, draw, unload and clean; move the ware on; say when the kiln is next looked at."""
        pieces = sum(packed.taken.values())
        cycle = cycle_of(
            self.works.settings,
            state.kiln,
            programme,
            pieces=pieces,
            shelves=packed.shelves,
            contents_kg=packed.ware_kg + packed.furniture_kg,
        )
        fired = self._timed(state, programme, cycle, packed, at_h)
        moved = tuple(self._move(code, count, fired) for code, count in packed.taken.items() if count > 0)
        fired = replace(fired, lots=lots, moved=moved)
        self.fired.append(fired)
        self.busy = [row for row in self.busy if row[0] > at_h]
        self.busy.append((fired.furniture_back_h, packed.furniture))
        state.last_load_person_h = cycle.load_person_h
        state.next_h = self.earliest_load_h(state)
        for part in moved:
            self._go_on(part, fired)
        return fired

    def _timed(self, state: KilnState, programme: Programme, cycle: Cycle, packed: Packed, at_h: float) -> Fired:
        """Book hands, kiln and car, one after the other."""
        car, _ = state.car()
        load_start, load_end = self.crew.book(at_h, cycle.load_person_h)
        lit = self._lit_h(max(load_end, state.free_h), cycle.fire_h)
        out = lit + cycle.fire_h
        cool_end = out + cycle.cool_in_kiln_h
        draw = self.clock.next_working_h(cool_end) if state.cars_h else cool_end
        outside = draw + (cycle.cool_outside_h if state.cars_h else 0.0)
        unload_start, unload_end = self.crew.book(outside, cycle.unload_person_h)
        clean_start, back = unload_end, unload_end
        if cycle.cleaning_person_h > 0:
            clean_start, back = self.crew.book(unload_end, cycle.cleaning_person_h)
        state.free_h = draw if state.cars_h else unload_end
        if car is not None:
            state.cars_h[car] = unload_end
        return Fired(
            kiln=state.kiln, car=car, programme=programme, packed=packed, lots=(), moved=(), decided_h=at_h,
            load_start_h=load_start, load_end_h=load_end, fire_start_h=lit, fire_end_h=out, cool_end_h=cool_end,
            draw_h=draw if state.cars_h else unload_start, cool_outside_end_h=outside, unload_start_h=unload_start,
            unload_end_h=unload_end, cleaning_start_h=clean_start, furniture_back_h=back,
        )  # fmt: skip

    def _move(self, code: str, pieces: int, fired: Fired) -> Moved:
        """Take pieces from the pool, the longest ready first, and say what comes of them."""
        left, taken = pieces, []
        rest: list[Ware] = []
        for ware in sorted(self.pools[code], key=lambda row: row.ready_h):
            gone = min(left, ware.pieces) if ware.ready_h <= fired.load_start_h + TICK_H else 0
            left -= gone
            if gone:
                taken.append(replace(ware, pieces=gone))
            if gone < ware.pieces:
                rest.append(replace(ware, pieces=ware.pieces - gone))
        self.pools[code] = rest
        if not rest:
            self.waiting[fired.programme.code].discard(code)
        ware = replace(taken[-1], pieces=sum(row.pieces for row in taken))
        return self._expected(ware, fired)

    def _expected(self, ware: Ware, fired: Fired) -> Moved:
        route = self.products[ware.product].route
        step = route[ware.step]
        key = (ware.root, ware.step)
        before = self._fired_pieces[key]
        self._fired_pieces[key] += ware.pieces
        good = running_good(before, ware.pieces, good_share(step))
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

    def _go_on(self, part: Moved, fired: Fired) -> None:
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
