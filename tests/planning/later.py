"""The works as its folder would be written some time after a plan was made and followed."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING

from kilnpack.model.orders import Lot
from kilnpack.model.plans import HandWorkKind
from kilnpack.planning.plan_flow_audit import stock_lot
from kilnpack.planning.routes import needs_glazing

if TYPE_CHECKING:
    from datetime import datetime

    from kilnpack.model.plans import Plan
    from kilnpack.model.works import Works


def later(works: Works, plan: Plan, now: datetime) -> Works:
    """Return the works at a later moment: what came out of firings is listed, what stands in a kiln is not."""
    pieces = Counter({lot.code: lot.pieces for lot in works.lots})
    rows = {lot.code: lot for lot in works.lots}
    for work in plan.hand_work:
        if work.kind is HandWorkKind.CAST and work.end <= now:
            dry_h = works.product(work.product).route[0].ready_after_h
            _come(rows, pieces, work.lot, work.product, 0, work.pieces, work.order_line, work.end, dry_h)
    for firing in plan.firings:
        for part in firing.parts:
            lot = stock_lot(works, part.lot)
            if firing.load_start < now:
                pieces[lot.code if lot is not None else part.lot] -= part.pieces
            if firing.unload_end <= now:
                route, step = works.product(part.product).route, part.step + 1
                dry_h = 0.0 if step >= len(route) or needs_glazing(route, step) else route[step].ready_after_h
                _come(
                    rows, pieces, part.becomes, part.product, step, part.good_pieces, part.order_line, part.ready_at,
                    dry_h, glazed=not needs_glazing(route, step),
                )  # fmt: skip
                kind = part.kind
                rows[part.becomes] = replace(rows[part.becomes], kind=kind)
    lots = tuple(replace(row, pieces=pieces[code]) for code, row in rows.items() if pieces[code] > 0)
    return replace(works, now=now, lots=lots)


def _come(
    rows: dict[str, Lot], pieces: Counter[str], code: str, product: str, step: int, count: int, line: str | None,
    at: datetime, dry_h: float, *, glazed: bool = True,
) -> None:  # fmt: skip
    from datetime import timedelta

    pieces[code] += count
    rows[code] = Lot(
        code=code, product=product, step=step, pieces=1, order_line=line, ready_at=at + timedelta(hours=dry_h),
        glazed=glazed,
    )  # fmt: skip
