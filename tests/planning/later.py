"""The works as its folder would be written some time after a plan was made and followed."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING

from kilnpack.model.orders import Lot, in_zone
from kilnpack.model.plans import HandWorkKind
from kilnpack.planning.plan_flow_audit import stock_lot
from kilnpack.planning.routes import needs_glazing

if TYPE_CHECKING:
    from datetime import datetime

    from kilnpack.model.plans import Plan
    from kilnpack.model.works import Works


def later(works: Works, plan: Plan, now: datetime) -> Works:
    """Return the works at a later moment: what came out of firings is listed, what stands in a kiln is not.

    Every batch that came is a lot of its own, under a code that a works folder may hold.
    """
    come: dict[str, list[Lot]] = defaultdict(list)
    for lot in works.lots:
        come[lot.code].append(lot)
    for number, work in enumerate(plan.hand_work):
        if work.kind is HandWorkKind.CAST and work.end <= now:
            dry_h = works.product(work.product).route[0].ready_after_h
            ready = work.end + timedelta(hours=dry_h)
            come[work.lot].append(
                Lot(code=f"cast-{number}", product=work.product, step=0, pieces=work.pieces, order_line=work.order_line,
                    ready_at=ready)
            )  # fmt: skip
    _follow(works, plan, now, come)
    _glaze(works, plan, now, come)
    lots = tuple(lot for rows in come.values() for lot in rows if lot.pieces > 0)
    return replace(works, now=now, lots=lots)


def _follow(works: Works, plan: Plan, now: datetime, come: dict[str, list[Lot]]) -> None:
    """Take the ware of started firings out of its lots, and list what came out of those that are unloaded."""
    for firing in sorted(plan.firings, key=lambda row: row.load_start):
        if firing.load_start >= now:
            continue
        for number, part in enumerate(firing.parts):
            lot = stock_lot(works, part.lot)
            _take(come[lot.code if lot is not None else part.lot], part.pieces)
            if firing.unload_end <= now and part.good_pieces:
                route, step = works.product(part.product).route, part.step + 1
                glazing = needs_glazing(route, step)
                dry_h = 0.0 if step >= len(route) or glazing else route[step].ready_after_h
                come[part.becomes].append(
                    Lot(code=f"out-{firing.code}-{number}", product=part.product, step=step, pieces=part.good_pieces,
                        order_line=part.order_line, kind=part.kind, ready_at=part.ready_at + timedelta(hours=dry_h),
                        glazed=not glazing)
                )  # fmt: skip


def _take(rows: list[Lot], pieces: int) -> None:
    """Take pieces from lots, the first come first."""
    for at, lot in enumerate(rows):
        gone = min(pieces, lot.pieces)
        rows[at] = replace(lot, pieces=lot.pieces - gone)
        pieces -= gone


def _glaze(works: Works, plan: Plan, now: datetime, come: dict[str, list[Lot]]) -> None:
    """List as glazed, and as ready once dry, the lots whose glazing is done."""
    for work in plan.hand_work:
        if work.kind is HandWorkKind.GLAZE and work.end <= now:
            lot = stock_lot(works, work.lot)
            rows = come[lot.code if lot is not None else work.lot]
            for at, row in enumerate(rows):
                if not row.glazed and (row.ready_at is None or in_zone(row.ready_at, "UTC") <= work.start):
                    dry = works.product(row.product).route[row.step].ready_after_h
                    rows[at] = replace(row, glazed=True, ready_at=work.end + timedelta(hours=dry))
                    break
