"""What date may be promised: the earliest beside all that is planned, and one that holds in most futures."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from kilnpack.model.orders import OrderLine
from kilnpack.model.questions import Promise
from kilnpack.planning.clock import NEVER_H, Clock
from kilnpack.planning.futures import Futures, enough_pieces, met_share, sure_h
from kilnpack.planning.planner import POLICIES, plan_firings
from kilnpack.planning.routes import items_of, start_pieces
from kilnpack.planning.settle import ANEW, Asked, Settled, settle
from kilnpack.planning.soonest import Soonest

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from kilnpack.model.plans import PartDelivery, Plan
    from kilnpack.model.works import Works
    from kilnpack.planning.packs import Checker, Packer
    from kilnpack.search.budget import Budget
    from kilnpack.search.listener import Listener

SURE_SHARE = 0.9
FUTURES = 5000
MOST_POLICIES = 2
"""Ways to lay out what is asked for beside a plan that stays."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asking:
    """How many of what (a product or a set), beside which plan, and how sure the date is to be."""

    item: str
    quantity_pieces: int
    before: Plan | None = None
    sure_share: float = SURE_SHARE
    futures: int = FUTURES


def promised(
    works: Works,
    asking: Asking,
    *,
    budget: Budget,
    seed: int,
    packer: Packer,
    checker: Checker | None = None,
    listener: Listener | None = None,
    workers: int = 1,
) -> tuple[Promise, Plan]:
    """Return what date may be promised, and the plan it rests on.

    With a plan before, none of its firings moves: what is asked for goes into firings beside them. Without one the
    whole backlog is planned. So many pieces are started that enough come out good in the share of futures asked for.

    Parameters
    ----------
    works
        The works.
    asking
        What is asked for.
    budget, seed, packer, checker, listener, workers
        As for `plan_firings`.
    """
    clock = Clock(works.calendar, works.now)
    works = asked_works(works, asking, seed)
    line = works.lines[-1]
    usual = _started(works, line, asking.quantity_pieces)
    soonest_h = Soonest(works, clock).line_h(replace(line, quantity_pieces=asking.quantity_pieces))
    settled = _kept(works, asking, checker)
    policies = POLICIES if asking.before is None else POLICIES[:MOST_POLICIES]
    plan = plan_firings(
        works,
        budget=budget,
        seed=seed,
        packer=packer,
        checker=checker,
        listener=listener,
        policies=policies,
        workers=workers,
        settled=settled,
    )
    futures = Futures(works, plan, line.code, clock)
    outcome = next(row for row in plan.outcomes if row.line == line.code)
    ever = _first(outcome.deliveries, asking.quantity_pieces) is not None
    finishes_h = [
        futures.finish_h(asking.quantity_pieces, seed, number) if ever else NEVER_H for number in range(asking.futures)
    ]
    return _promise(works, asking, plan, line, finishes_h, clock, usual=usual, soonest_h=soonest_h), plan


def asked_works(works: Works, asking: Asking, seed: int) -> Works:
    """Return the works with what is asked for as its last order line, due as soon as it could be done.

    Nothing else weighs beside lateness: the date that is asked for is the earliest.
    """
    clock = Clock(works.calendar, works.now)
    line = _with_more(works, _line(works, asking), asking, seed)
    soonest_h = Soonest(works, clock).line_h(replace(line, quantity_pieces=asking.quantity_pieces))
    if soonest_h < NEVER_H:
        line = replace(line, due=clock.moment(soonest_h).date())
    settings = replace(works.settings, mwh_days=0.0, firing_days=0.0, set_waiting_days=0.0, split_line_days=0.0)
    return replace(works, lines=(*works.lines, line), settings=settings)


def _line(works: Works, asking: Asking) -> OrderLine:
    """Return an order line for what is asked for, under a code that none has."""
    codes, code, number = {row.code for row in works.lines}, "asked", 1
    while code in codes:
        number += 1
        code = f"asked-{number}"
    return OrderLine(
        code=code, order="asked", customer="", item=asking.item, quantity_pieces=asking.quantity_pieces,
        due=works.now.date(),
    )  # fmt: skip


def _started(works: Works, line: OrderLine, units: int) -> int:
    """Return the pieces that expected losses ask for, over all products of one piece or set."""
    rows = items_of(works, line).items()
    return sum(start_pieces(units * count, works.product(code).route) for code, count in rows)


def _with_more(works: Works, line: OrderLine, asking: Asking, seed: int) -> OrderLine:
    """Return the line for so many more that too few come out good in half of the futures that may miss the date."""
    units = asking.quantity_pieces
    for code, count in items_of(works, line).items():
        product = works.product(code)
        pieces = enough_pieces(works, product, asking.quantity_pieces * count, 0.5 * (1.0 + asking.sure_share), seed)
        while start_pieces(units * count, product.route) < pieces:
            units += 1
    return replace(line, quantity_pieces=units)


def _kept(works: Works, asking: Asking, checker: Checker | None) -> Settled:
    """Return a plan before as all that stays; what of it does not hold any more may move."""
    if asking.before is None:
        return ANEW
    found = settle(works, Asked(before=asking.before), checker=checker)
    return Settled(given=found.ways[0] if found.ways else found.given)


def _promise(
    works: Works, asking: Asking, plan: Plan, line: OrderLine, finishes_h: Sequence[float], clock: Clock, *,
    usual: int, soonest_h: float,
) -> Promise:  # fmt: skip
    outcome = next(row for row in plan.outcomes if row.line == line.code)
    by_h = sure_h(finishes_h, asking.sure_share)
    earliest = _first(outcome.deliveries, asking.quantity_pieces)
    remarks = () if by_h < NEVER_H else ("in too few futures enough pieces are ever there",)
    return Promise(
        item=asking.item,
        quantity_pieces=asking.quantity_pieces,
        soonest=clock.moment(soonest_h) if soonest_h < NEVER_H else None,
        earliest=earliest,
        sure=clock.moment(by_h) if by_h < NEVER_H else None,
        sure_share=asking.sure_share,
        met_share=met_share(finishes_h, by_h) if by_h < NEVER_H else 0.0,
        futures=len(finishes_h),
        start_pieces=_started(works, line, line.quantity_pieces),
        usual_pieces=usual,
        firings=outcome.firings,
        remarks=remarks,
    )


def _first(deliveries: Sequence[PartDelivery], wanted: int) -> datetime | None:
    """Return when so many pieces are there, None where they never are."""
    left = wanted
    for row in sorted(deliveries, key=lambda row: row.at):
        left -= row.pieces
        if left <= 0:
            return row.at
    return None
