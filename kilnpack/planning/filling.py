"""What would fill a planned firing: ware that is ready when it is loaded, packed beside all that it holds."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING

from kilnpack.model.orders import Lot, LotKind, OrderLine
from kilnpack.model.questions import AddedWare, FilledFiring
from kilnpack.planning.clock import Clock
from kilnpack.planning.cycle import cooling_h
from kilnpack.planning.furniture_stock import furniture_of
from kilnpack.planning.packs import furniture_kg, taken_of, ware_kg
from kilnpack.planning.plan_audit import works_of
from kilnpack.planning.plan_flow_audit import arrivals, source_of
from kilnpack.planning.plan_time_audit import SLACK_H

if TYPE_CHECKING:
    from collections.abc import Iterator

    from kilnpack.model.loads import Load
    from kilnpack.model.plans import Firing, Plan
    from kilnpack.model.works import Works
    from kilnpack.planning.packs import Checker, Packer
    from kilnpack.search.budget import Budget

HELD = "held"
MOST_ALONE = 4
"""Lots that are tried alone where all together crowd out what the firing holds."""
HELD_FACTOR = 1000.0
"""How much more ware that the firing holds already counts with the packer than what would fill it."""


def ready_beside(works: Works, plan: Plan, firing: Firing) -> tuple[Lot, ...]:
    """Return the ware that is ready for a firing's programme when it is loaded and not in it or an earlier one.

    Ware that later firings take is among it: it could come forward.
    """
    clock = Clock(works.calendar, works.now)
    at_h = clock.hour(firing.load_start)
    gone: Counter[str] = Counter()
    for row in plan.firings:
        if clock.hour(row.load_start) <= at_h + SLACK_H:
            for part in row.parts:
                gone[source_of(works, part.lot)] += part.pieces
    kinds = _kinds(works, plan)
    found = []
    for code, rows in arrivals(works, plan, clock).items():
        lot = kinds[code]
        pieces = sum(count for hour, count in rows if hour <= at_h + SLACK_H) - gone[code]
        route = works.product(lot.product).route
        if pieces > 0 and lot.step < len(route) and route[lot.step].programme == firing.programme:
            found.append(replace(lot, pieces=pieces, ready_at=None, glazed=True))
    return tuple(sorted(found, key=lambda lot: lot.code))


def _kinds(works: Works, plan: Plan) -> dict[str, Lot]:
    """Return what each lot of the works and of the plan is, by code."""
    found = {}
    for work in plan.hand_work:
        found[work.lot] = Lot(code=work.lot, product=work.product, step=0, pieces=1, order_line=work.order_line)
    for firing in plan.firings:
        for part in firing.parts:
            kind = LotKind.NORMAL if part.kind is LotKind.REFIRE else part.kind
            found[part.becomes] = Lot(
                code=part.becomes, product=part.product, step=part.step + 1, pieces=1, order_line=part.order_line,
                kind=kind,
            )  # fmt: skip
            found[part.lot] = replace(found[part.becomes], code=part.lot, step=part.step, kind=part.kind)
    return found | {lot.code: lot for lot in works.lots}


def filled(
    works: Works, plan: Plan, firing: Firing, *, budget: Budget, seed: int, packer: Packer, checker: Checker | None
) -> FilledFiring:
    """Pack a planned firing again with what else is ready, and keep it where all that it held is still in.

    Parameters
    ----------
    works, plan, firing
        The firing is one of the plan.
    budget, seed, packer, checker
        As for one load.
    """
    held = taken_of(firing.load)
    extra = tuple(_other_code(lot, held) for lot in ready_beside(works, plan, firing))
    here = works_of(works, plan, firing)
    kiln, programme = works.kiln(firing.kiln), works.programme(firing.programme)
    own = {lot.code: lot for lot in firing.lots}
    best: tuple[Load, tuple[Lot, ...]] | None = None
    for more in _offers(extra):
        inside = tuple(replace(own[code], pieces=count, order_line=HELD) for code, count in held.items() if count)
        line = OrderLine(
            code=HELD, order=HELD, customer="", item="", quantity_pieces=1, due=firing.load_start.date(),
            priority_factor=HELD_FACTOR,
        )  # fmt: skip
        offered = replace(here, lines=(*works.lines, line), lots=(*inside, *more), now=firing.load_start)
        load = replace(packer(offered, kiln, programme, offered.lots, budget=budget, seed=seed), car=firing.car)
        lots = (*(replace(lot, order_line=own[lot.code].order_line) for lot in inside), *more)
        taken = Counter(taken_of(load))
        fits = all(taken[code] >= count for code, count in held.items()) and load.pieces > firing.load.pieces
        if fits and (checker is None or not checker(replace(here, lots=lots), load)):
            best = max(best or (firing.load, ()), (load, lots), key=lambda row: row[0].pieces)
            if more == extra:
                break
    return _answer(works, plan, firing, extra, best)


def _offers(extra: tuple[Lot, ...]) -> Iterator[tuple[Lot, ...]]:
    """Give what is offered: all at once, and where not all of the firing's own ware goes in with it, lot by lot."""
    if extra:
        yield extra
    if len(extra) > 1:
        yield from ((lot,) for lot in sorted(extra, key=lambda lot: (-lot.pieces, lot.code))[:MOST_ALONE])


def _answer(
    works: Works, plan: Plan, firing: Firing, extra: tuple[Lot, ...], best: tuple[Load, tuple[Lot, ...]] | None
) -> FilledFiring:
    """Return what went in beside what the firing holds."""
    kiln, programme = works.kiln(firing.kiln), works.programme(firing.programme)
    before_h, _ = cooling_h(kiln, programme, firing.ware_kg + firing.furniture_kg)
    load, lots = best if best is not None else (firing.load, firing.lots)
    taken = Counter(taken_of(load))
    ware = ware_kg(works, programme, lots, dict(taken))
    after_h, _ = cooling_h(kiln, programme, ware + furniture_kg(works, furniture_of(works, load)))
    return FilledFiring(
        firing=firing.code,
        offered_pieces=sum(lot.pieces for lot in extra),
        added=_added(plan, firing, extra, taken) if best is not None else (),
        ware_before_kg=firing.ware_kg,
        ware_after_kg=ware,
        cool_before_h=before_h,
        cool_after_h=after_h,
        load=load if best is not None else None,
        lots=lots,
    )


def _other_code(lot: Lot, held: dict[str, int]) -> Lot:
    """Return a lot under a code of its own where the firing holds pieces of it already."""
    return replace(lot, code=f"{lot.code} more") if lot.code in held else lot


def _added(plan: Plan, firing: Firing, more: tuple[Lot, ...], taken: Counter[str]) -> tuple[AddedWare, ...]:
    """Return the pieces that went in beside what was held, with the later firing they were planned for."""
    later = {
        (part.product, part.step, part.order_line): row.code
        for row in reversed(plan.firings)
        for part in row.parts
        if row.load_start > firing.load_start
    }
    return tuple(
        AddedWare(
            lot=lot.code.removesuffix(" more"),
            product=lot.product,
            order_line=lot.order_line,
            pieces=taken[lot.code],
            from_firing=later.get((lot.product, lot.step, lot.order_line)),
        )
        for lot in more
        if taken[lot.code]
    )
