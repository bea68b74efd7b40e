"""Checks of the ware in a plan: what a firing holds was there, dry, rested and glazed, and no piece is used twice."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from dataclasses import replace
from typing import TYPE_CHECKING

from kilnpack.model.plans import FiringState, HandWorkKind
from kilnpack.planning.clock import Clock
from kilnpack.planning.packs import taken_of
from kilnpack.planning.plan_time_audit import SLACK_H, over_booked, plan_finding
from kilnpack.planning.routes import needs_glazing

if TYPE_CHECKING:
    from collections.abc import Iterator

    from kilnpack.errors import Finding
    from kilnpack.model.orders import Lot
    from kilnpack.model.plans import Firing, HandWork, LotPart, Plan
    from kilnpack.model.works import Works


def check_parts(works: Works, plan: Plan, clock: Clock) -> Iterator[Finding]:
    """What moves through a firing is what its load holds, waits for its programme, and comes out counted and rested."""
    fired: Counter[tuple[str, int, str]] = Counter()
    good: Counter[tuple[str, int, str]] = Counter()
    for firing in sorted(plan.firings, key=lambda row: clock.hour(row.load_start)):
        in_load, in_parts = Counter(taken_of(firing.load)), Counter[str]()
        lots = {lot.code: lot.pieces for lot in firing.lots}
        for part in firing.parts:
            in_parts[part.lot] += part.pieces
            yield from _part(works, firing, part, clock)
            key = (part.product, part.step, part.becomes)
            fired[key] += part.pieces
            good[key] += part.good_pieces
            step = works.product(part.product).route[part.step]
            share = max(0.0, 1.0 - step.scrap_share - step.second_share)
            if good[key] > math.ceil(fired[key] * share - 1e-9):
                yield plan_finding(
                    f"{firing.code} {part.lot}", f"{good[key]} good of {fired[key]}", f"a share of {share:.3f}"
                )
        for code in sorted(in_load.keys() | in_parts.keys()):
            if in_load[code] != in_parts[code]:
                yield plan_finding(
                    f"{firing.code} {code}", f"{in_parts[code]} pieces moved", f"{in_load[code]} in load"
                )
            if in_parts[code] > lots.get(code, 0):
                yield plan_finding(f"{firing.code} {code}", f"{in_parts[code]} pieces", f"{lots.get(code, 0)} ready")


def _part(works: Works, firing: Firing, part: LotPart, clock: Clock) -> Iterator[Finding]:
    step = works.product(part.product).route[part.step]
    where = f"{firing.code} {part.lot}"
    if step.programme != firing.programme:
        yield plan_finding(where, firing.programme, f"{step.programme} for firing {part.step + 1} of {part.product}")
    counts = (part.pieces, part.good_pieces, part.second_pieces, part.scrap_pieces)
    if min(counts) < 0 or part.pieces < 1 or part.pieces != sum(counts[1:]):
        yield plan_finding(where, f"{counts[1:]} of {part.pieces} pieces", "good, seconds and scrap that add up")
    last = part.step + 1 >= len(works.product(part.product).route)
    rest_h = 0.0 if last else step.rest_after_h
    rested = clock.hour(part.ready_at) - clock.hour(firing.unload_end)
    if rested < rest_h - SLACK_H:
        yield plan_finding(f"{where} rest", f"{rested:.2f} h", f"{rest_h:.2f} h")
    if clock.hour(part.was_ready_at) > clock.hour(firing.load_start) + SLACK_H:
        yield plan_finding(f"{where} ready", part.was_ready_at, f"not after {firing.load_start}")


def stock_lot(works: Works, code: str) -> Lot | None:
    """Return the lot of the works that a code of the plan is a part of: `L1` and `L1.B07` are, `L1.B07@2` is not.

    A lot that is listed under a code of an earlier plan, such as `1042-1@2`, is itself.
    """
    if "@" in code:
        return next((lot for lot in works.lots if lot.code == code), None)
    found = [lot for lot in works.lots if code == lot.code or code.startswith(f"{lot.code}.")]
    return max(found, key=lambda lot: len(lot.code), default=None)


def sources(works: Works, part: LotPart) -> tuple[Lot, ...]:
    """Return the lots of the works that a part of a firing may be drawn from.

    The lot its code names; for a code of the plan such as `1042-1@2` every lot of its product, step and line.
    """
    named = stock_lot(works, part.lot)
    if named is not None or "@" not in part.lot:
        return () if named is None else (named,)
    alike = (lot for lot in works.lots if (lot.product, lot.step, lot.order_line) == _kind(part))
    return tuple(sorted(alike, key=lambda lot: (lot.ready_at is not None, str(lot.ready_at), lot.code)))


def _kind(part: LotPart) -> tuple[str, int, str | None]:
    return part.product, part.step, part.order_line


def _alike(works: Works, plan: Plan) -> dict[str, tuple[Lot, ...]]:
    """Return the lots that codes of the plan may be drawn from besides what comes under them in the plan.

    A plan that was made again names ware that has come since by its codes, and the works lists it by others.
    """
    parts = {part.lot: part for firing in plan.firings for part in firing.parts if "@" in part.lot}
    return {code: sources(works, part) for code, part in parts.items() if stock_lot(works, code) is None}


def _pools(works: Works, plan: Plan, come: dict[str, list[tuple[float, int]]], clock: Clock) -> dict[str, str]:
    """Return the code of the plan that a lot is counted under, where more of that code is taken than has come."""
    pools: dict[str, str] = {}
    taken: Counter[str] = Counter()
    alike = _alike(works, plan)
    for firing in sorted(plan.firings, key=lambda row: clock.hour(row.load_start)):
        start = clock.hour(firing.load_start)
        for part in firing.parts if firing.state is not FiringState.STARTED else ():
            taken[part.lot] += part.pieces
            there = sum(count for hour, count in come.get(part.lot, ()) if hour <= start + SLACK_H)
            if taken[part.lot] > there:
                pools |= {lot.code: part.lot for lot in alike.get(part.lot, ())}
    return pools


def check_castings(works: Works, plan: Plan, clock: Clock) -> Iterator[Finding]:
    """Moulds give no more than their casts, day by day, and drying places hold what dries."""
    casts = [work for work in plan.hand_work if work.kind is HandWorkKind.CAST]
    for work in casts:
        if clock.hour(work.start) < -SLACK_H or clock.hour(work.end) < clock.hour(work.start):
            yield plan_finding(f"cast {work.lot}", f"{work.start} to {work.end}", f"from {works.now} on")
        if work.pieces < 1:
            yield plan_finding(f"cast {work.lot}", work.pieces, "at least one piece")
    yield from _moulds(works, casts, clock)
    places = works.supply.drying_places_pieces
    if places is not None:
        spans = [(clock.hour(w.end), clock.hour(w.end) + _drying_h(works, w), w) for w in casts]
        for start, _, work in spans:
            held = sum(w.pieces for begin, end, w in spans if begin <= start + 1e-9 and end > start + SLACK_H)
            if held > places:
                yield plan_finding(f"cast {work.lot}", f"{held} pieces drying", f"at most {places}")


def _drying_h(works: Works, work: HandWork) -> float:
    return works.product(work.product).route[0].ready_after_h


def _moulds(works: Works, casts: list[HandWork], clock: Clock) -> Iterator[Finding]:
    made: dict[str, Counter[int]] = defaultdict(Counter)
    days = {clock.moment(hour).date(): number for number, hour in enumerate(clock.shift_ends_h(500))}
    for work in casts:
        shape = works.shape(works.product(work.product).shape)
        number = days.get(clock.moment(clock.hour(work.end)).date(), len(days))
        for code in {shape.code, shape.lid.shape if shape.lid else shape.code}:
            made[code][number] += work.pieces
    for mould in works.supply.moulds:
        rate, so_far = mould.moulds_pieces * mould.casts_per_day, 0
        for number, pieces in sorted(made[mould.shape].items()):
            so_far += pieces
            if pieces > math.ceil(rate) or so_far > math.ceil(rate * (number + 1) - 1e-6):
                yield plan_finding(
                    f"casts of {mould.shape}", f"{pieces} on working day {number + 1}", f"{rate:g} a day"
                )


def check_glazings(works: Works, plan: Plan, clock: Clock) -> Iterator[Finding]:
    """Glazing takes no more than the glazers' pieces an hour, in working hours."""
    rate = works.supply.glazing_pieces_per_hour
    if not rate:
        return
    shifts = tuple(replace(shift, crew_people=1) for shift in works.calendar.shifts if shift.crew_people > 0)
    hands = Clock(replace(works.calendar, shifts=shifts), works.now)
    jobs = [
        (
            hands.worked(clock.hour(work.start)),
            hands.worked(clock.hour(work.end)),
            work.pieces / rate,
            f"glazing {work.lot}",
        )
        for work in plan.hand_work
        if work.kind is HandWorkKind.GLAZE
    ]
    yield from over_booked(jobs, slack=SLACK_H)


def check_biscuit_to_glaze(works: Works, plan: Plan, clock: Clock) -> Iterator[Finding]:
    """No more is glazed than has come out of the biscuit and rested by then."""
    come: dict[str, list[tuple[float, int]]] = defaultdict(list)
    for lot in works.lots:
        come[lot.code].append((_lot_h(lot, clock), lot.pieces))
    for part in (part for firing in plan.firings for part in firing.parts):
        come[part.becomes].append((clock.hour(part.ready_at), part.good_pieces))
    for code, lots in _alike(works, plan).items():
        come[code] += [row for lot in lots for row in come[lot.code]]
    glazed: Counter[str] = Counter()
    for work in sorted(plan.hand_work, key=lambda row: clock.hour(row.start)):
        if work.kind is HandWorkKind.GLAZE:
            code = source_of(works, work.lot)
            glazed[code] += work.pieces
            there = sum(count for hour, count in come[code] if hour <= clock.hour(work.start) + SLACK_H)
            if glazed[code] > there:
                yield plan_finding(f"glazing {work.lot}", f"{glazed[code]} pieces", f"{there} that were ready")


def check_lots(works: Works, plan: Plan, clock: Clock) -> Iterator[Finding]:
    """At every firing a lot has given no more pieces than had come by then, glazed and dry."""
    come = arrivals(works, plan, clock)
    pools = _pools(works, plan, come, clock)
    for lot_code, pool in pools.items():
        come[pool] = come.get(pool, []) + come.get(lot_code, [])
    gone: dict[str, list[tuple[float, int, Firing]]] = defaultdict(list)
    for firing in plan.firings:
        if firing.state is FiringState.STARTED:
            continue  # its ware stands in its kiln, and no lot lists it any more
        for part in firing.parts:
            code = source_of(works, part.lot)
            gone[pools.get(code, code)].append((clock.hour(firing.load_start), part.pieces, firing))
    for code, rows in gone.items():
        taken = 0
        for start, pieces, firing in sorted(rows, key=lambda row: row[0]):
            taken += pieces
            there = sum(count for hour, count in come.get(code, ()) if hour <= start + SLACK_H)
            if taken > there:
                yield plan_finding(f"{firing.code} {code}", f"{taken} pieces taken", f"{there} that were ready")


def source_of(works: Works, code: str) -> str:
    """Return the code of the lot of the works that a code of the plan is a part of, or the code itself."""
    lot = stock_lot(works, code)
    return code if lot is None else lot.code


def _lot_h(lot: Lot, clock: Clock) -> float:
    return 0.0 if lot.ready_at is None else clock.hour(lot.ready_at)


def _cast_and_dry(works: Works, plan: Plan, clock: Clock) -> Iterator[tuple[str, float, int]]:
    for work in plan.hand_work:
        if work.kind is HandWorkKind.CAST:
            yield work.lot, clock.hour(work.end) + _drying_h(works, work), work.pieces


def arrivals(works: Works, plan: Plan, clock: Clock) -> dict[str, list[tuple[float, int]]]:
    """Return when the pieces of every lot are ready for loading: (hour, pieces) by code."""
    come: dict[str, list[tuple[float, int]]] = defaultdict(list)
    to_glaze: dict[str, float] = {}
    for lot in works.lots:
        route = works.product(lot.product).route
        if not lot.glazed and needs_glazing(route, lot.step):
            to_glaze[lot.code] = route[lot.step].ready_after_h
        else:
            come[lot.code].append((_lot_h(lot, clock), lot.pieces))
    for code, hour, pieces in _cast_and_dry(works, plan, clock):
        come[code].append((hour, pieces))
    for part in (part for firing in plan.firings for part in firing.parts):
        route, step = works.product(part.product).route, part.step + 1
        if needs_glazing(route, step):
            to_glaze[part.becomes] = route[step].ready_after_h
        elif step < len(route):
            come[part.becomes].append((clock.hour(part.ready_at) + route[step].ready_after_h, part.good_pieces))
    to_glaze |= _glazed_elsewhere(works, plan, to_glaze)
    for code, dry_h in to_glaze.items():
        come[code] += _glazed(works, plan, clock, code, dry_h)
    return come


def _glazed(works: Works, plan: Plan, clock: Clock, code: str, dry_h: float) -> list[tuple[float, int]]:
    """Return when pieces of a lot are glazed and dry."""
    return [
        (clock.hour(work.end) + dry_h, work.pieces)
        for work in plan.hand_work
        if work.kind is HandWorkKind.GLAZE and source_of(works, work.lot) == code
    ]


def _glazed_elsewhere(works: Works, plan: Plan, to_glaze: dict[str, float]) -> dict[str, float]:
    """Return the hours of drying of codes of the plan that are drawn from lots which must be glazed first."""
    alike = ((code, lot.code) for code, lots in _alike(works, plan).items() for lot in lots)
    return {code: to_glaze[lot] for code, lot in alike if lot in to_glaze}
