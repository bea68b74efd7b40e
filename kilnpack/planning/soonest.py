"""The soonest that an order line can be done, whatever else is fired: its chain of firings without any waiting.

A bound, not a forecast. The line has the works to itself: every kiln is free, loads are loaded and unloaded in no time
at the first working moment, hours of cooling are those recorded, and the pieces that are furthest along are its own.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from kilnpack.model.orders import LotKind
from kilnpack.planning.clock import HORIZON_DAYS, NEVER_H
from kilnpack.planning.cycle import cooling_h, fire_h
from kilnpack.planning.routes import (
    chain_share,
    expected_pieces,
    good_share,
    items_of,
    needs_glazing,
    open_quantity,
)

if TYPE_CHECKING:
    from kilnpack.model.orders import Lot, OrderLine
    from kilnpack.model.pieces import Product
    from kilnpack.model.programmes import Programme
    from kilnpack.model.works import Works
    from kilnpack.planning.clock import Clock

MOST_DAYS = 400
"""Working days that casting is laid out for, as in the backlog."""


class Soonest:
    """Soonest finishes in one works, with working hours laid out once."""

    def __init__(self, works: Works, clock: Clock) -> None:
        self.works, self.clock = works, clock
        self.programmes = {row.code: row for row in works.programmes}
        self.products = {row.code: row for row in works.products}
        self.kiln_h = {row.code: self._kiln_h(row) for row in works.programmes}
        self.shift_ends_h = clock.shift_ends_h(min(HORIZON_DAYS, MOST_DAYS))

    def _kiln_h(self, programme: Programme) -> float:
        """Return the fewest hours from lit to cool enough to unload, over the kilns that fire a programme."""
        kilns = [kiln for kiln in self.works.kilns if programme.code in kiln.programmes]
        hours = [sum(cooling_h(kiln, programme, 0.0)) for kiln in kilns]
        return fire_h(programme) + min(hours, default=NEVER_H)

    def line_h(self, line: OrderLine) -> float:
        """Return the hour before which no plan finishes a line; infinity where none ever can."""
        wanted, first_h = open_quantity(line), 0.0
        if line.not_before is not None:
            first_h = max(0.0, self.clock.end_of_day_h(line.not_before) - 24.0)
        parts = (
            self.product_h(self.products[code], wanted * count, line.code)
            for code, count in items_of(self.works, line).items()
        )
        return max([first_h, *parts])

    def product_h(self, product: Product, pieces: int, line: str | None) -> float:
        """Return the hour before which so many good pieces of a product cannot be there."""
        found: list[tuple[float, int]] = []
        for lot in self.works.lots:
            mine = lot.order_line in {line, None} and lot.kind not in {LotKind.SAMPLE, LotKind.FILLER}
            if mine and lot.product == product.code:
                found.append((self._lot_h(product, lot), most_good(product, lot.step, lot.pieces)))
        left, last_h = pieces, 0.0
        for hour, good in sorted(found):
            if left <= 0:
                break
            left, last_h = left - good, max(last_h, hour)
        return max(last_h, self._cast_h(product, left)) if left > 0 else last_h

    def _lot_h(self, product: Product, lot: Lot) -> float:
        """Return the soonest that a lot is finished; finished ware is there at once."""
        if lot.step >= len(product.route):
            return 0.0
        ready_h = 0.0 if lot.ready_at is None else max(0.0, self.clock.hour(lot.ready_at))
        if not lot.glazed and needs_glazing(product.route, lot.step):
            ready_h += product.route[lot.step].ready_after_h
        return self.chain_end_h(product, lot.step, ready_h)

    def chain_end_h(self, product: Product, step: int, ready_h: float) -> float:
        """Return when ware ready for a firing at an hour is finished, each firing at the next working moment."""
        at_h = ready_h
        for number, row in enumerate(product.route[step:], step):
            if at_h >= NEVER_H:
                return NEVER_H
            lit_h = self.clock.next_working_h(at_h)
            if not self.works.calendar.unattended_firing:
                lit_h = self.clock.attended_h(lit_h, fire_h(self.programmes[row.programme]))
            at_h = self.clock.next_working_h(lit_h + self.kiln_h[row.programme]) if lit_h < NEVER_H else NEVER_H
            if number + 1 < len(product.route):
                at_h += row.rest_after_h + product.route[number + 1].ready_after_h
        return at_h

    def _cast_h(self, product: Product, good: int) -> float:
        """Return the soonest that so many good pieces are there that have yet to be cast."""
        route = product.route
        if not route or chain_share(route, 0) <= 0.0:
            return NEVER_H
        pieces = fewest_pieces(product, 0, good)
        shape = self.works.shape(product.shape)
        codes = {shape.code} | ({shape.lid.shape} if shape.lid else set())
        rates = [row.moulds_pieces * row.casts_per_day for row in self.works.supply.moulds if row.shape in codes]
        days = max([1, *(math.ceil(pieces / rate - 1e-9) if rate > 0 else MOST_DAYS + 1 for rate in rates)])
        if days > len(self.shift_ends_h):
            return NEVER_H
        return self.chain_end_h(product, 0, self.shift_ends_h[days - 1] + route[0].ready_after_h)


def most_good(product: Product, step: int, pieces: int) -> int:
    """Return the most firsts to be expected of pieces about to have a firing: every loss is rounded in their favour."""
    for row in product.route[step:]:
        pieces = expected_pieces(pieces, good_share(row))
    return pieces


def fewest_pieces(product: Product, step: int, good: int) -> int:
    """Return the fewest pieces about to have a firing of which so many firsts can be expected."""
    for row in reversed(product.route[step:]):
        share = good_share(row)
        good = math.floor((good - 1) / share + 1e-9) + 1 if good > 0 else 0
    return max(0, good)
