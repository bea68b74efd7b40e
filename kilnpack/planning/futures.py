"""What may become of a plan: losses drawn piece by piece, hours of fire and cooling drawn firing by firing.

The plan is followed: nothing is loaded, lit or unloaded before its planned moment; what is late makes later what waits
for it, in the same kiln or car and further along the route. Of the pieces in a firing each comes out good with the
share of its route. Where a works knows its losses only from so many pieces (`loss_sample_pieces`), that share is itself
drawn, once for each firing of a route and future (beta-binomial). Pieces that are missing in the end are made again, as
long again as it took from the start of the plan.

References
----------
`common-practice`: losses are learnt per firing of a route; the spread of hours is a works setting from memory.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from kilnpack.planning.clock import NEVER_H
from kilnpack.planning.cycle import has_cars
from kilnpack.planning.routes import chain_share, expected_pieces, good_share, items_of, start_pieces
from kilnpack.search.seeds import stream

if TYPE_CHECKING:
    from collections.abc import Sequence
    from typing import Any, TypeAlias

    import numpy.typing as npt

    from kilnpack.model.pieces import Product
    from kilnpack.model.plans import Firing, Plan
    from kilnpack.model.works import Works
    from kilnpack.planning.clock import Clock

    Counts: TypeAlias = npt.NDArray[Any]

MOST_ROUNDS = 20
"""Times that missing pieces are made again before a future is given up."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Hours:
    """A firing in hours from the start of the plan."""

    firing: Firing
    load_h: float
    loading_h: float
    lit_h: float
    fire_h: float
    cool_h: float
    outside_h: float
    unload_h: float
    unloading_h: float


class Futures:
    """One plan and one order line, to draw futures of."""

    def __init__(self, works: Works, plan: Plan, line: str, clock: Clock) -> None:
        self.works, self.clock, self.line = works, clock, line
        found = next(row for row in works.lines if row.code == line)
        self.items = items_of(works, found)
        hour = clock.hour
        rows = sorted(plan.firings, key=lambda row: (row.load_start, row.code))
        mine = [row for row in rows if any(part.order_line == line for part in row.parts)]
        last = max((row.load_start for row in mine), default=None)
        self.rows = [
            _Hours(
                firing=row,
                load_h=hour(row.load_start),
                loading_h=hour(row.load_end) - hour(row.load_start),
                lit_h=hour(row.fire_start),
                fire_h=hour(row.fire_end) - hour(row.fire_start),
                cool_h=hour(row.cool_end) - hour(row.fire_end),
                outside_h=hour(row.cool_outside_end) - hour(row.draw) if row.car is not None else 0.0,
                unload_h=hour(row.unload_start),
                unloading_h=hour(row.unload_end) - hour(row.unload_start),
            )
            for row in rows
            if last is not None and row.load_start <= last
        ]
        self.made = {part.becomes for row in self.rows for part in row.firing.parts}
        """Lots of which only so much is there as came out of firings; all others are there in full."""
        self.stock = self._stock(plan)
        ends = [hour(row.unload_end) for row in mine]
        self.lead_h = max([*ends, 1.0])

    def _stock(self, plan: Plan) -> dict[str, int]:
        """Return the finished pieces that the line has from the start, by product."""
        made: dict[str, int] = dict.fromkeys(self.items, 0)
        for firing in plan.firings:
            for part in firing.parts:
                route = self.works.product(part.product).route
                if part.order_line == self.line and part.step + 1 >= len(route):
                    made[part.product] = made.get(part.product, 0) + part.good_pieces
        outcome = next(row for row in plan.outcomes if row.line == self.line)
        done = sum(row.pieces for row in outcome.deliveries)
        return {code: max(0, done * count - made.get(code, 0)) for code, count in self.items.items()}

    def finish_h(self, units: int, seed: int, number: int) -> float:
        """Return when so many pieces (or sets) of the line are done in one future; infinity where they never are.

        Parameters
        ----------
        units
            Pieces, or sets, to be done.
        seed, number
            A seed and the number of the future; both together give the same future again.
        """
        draw = stream(seed, 6, number)
        done = self._followed(draw)
        parts = []
        for code, count in self.items.items():
            rows = [(0.0, self.stock[code]), *sorted(done.get(code, []))]
            parts.append(self._product_h(self.works.product(code), rows, units * count, draw))
        return max(parts, default=NEVER_H)

    def _followed(self, draw: np.random.Generator) -> dict[str, list[tuple[float, int]]]:
        """Follow the plan; return when how many finished pieces of the line come, by product."""
        spread = self.works.settings.fire_hours_spread_share
        shares: dict[tuple[str, int], float] = {}
        late_h: dict[str, float] = {}
        there: dict[str, int] = {}
        free_h: dict[str, float] = {}
        done: dict[str, list[tuple[float, int]]] = {}
        for row in self.rows:
            factors = np.exp(spread * draw.standard_normal(2)) if spread > 0.0 else np.ones(2)
            end_h = self._fired(row, late_h, free_h, float(factors[0]), float(factors[1]))
            delay_h = end_h - row.unload_h - row.unloading_h
            for part in row.firing.parts:
                late_h[part.becomes] = max(late_h.get(part.becomes, 0.0), delay_h)
                if part.order_line != self.line:
                    continue
                product = self.works.product(part.product)
                pieces = part.pieces
                if part.lot in self.made:
                    pieces = min(pieces, there.get(part.lot, 0))
                    there[part.lot] = there.get(part.lot, 0) - pieces
                key = (part.product, part.step)
                if key not in shares:
                    shares[key] = drawn_share(self.works, product, part.step, draw)
                good = int(draw.binomial(pieces, shares[key]))
                if part.step + 1 >= len(product.route):
                    done.setdefault(part.product, []).append((end_h, good))
                else:
                    there[part.becomes] = there.get(part.becomes, 0) + good
        return done

    def _fired(
        self, row: _Hours, late_h: dict[str, float], free_h: dict[str, float], fire: float, cool: float
    ) -> float:
        """Let one firing burn and cool; return when it is unloaded, and book kiln and car until then."""
        clock, firing = self.clock, row.firing
        kiln = self.works.kiln(firing.kiln)
        waited = max((late_h.get(part.lot, 0.0) for part in firing.parts), default=0.0)
        load_h = row.load_h + waited if waited > 0.0 else row.load_h
        carrier = f"car {firing.car}" if has_cars(kiln) else firing.kiln
        load_h = max(load_h, free_h.get(carrier, load_h))
        if load_h > row.load_h:
            load_h = clock.next_working_h(load_h)
        lit_h = max(row.lit_h, load_h + row.loading_h, free_h.get(firing.kiln, 0.0))
        if lit_h > row.lit_h and not self.works.calendar.unattended_firing:
            lit_h = clock.attended_h(lit_h, row.fire_h)
        cold_h = lit_h + row.fire_h * fire + row.cool_h * cool
        if has_cars(kiln):
            free_h[firing.kiln] = clock.next_working_h(cold_h)
            cold_h = free_h[firing.kiln] + row.outside_h * cool
        start_h = max(row.unload_h, cold_h)
        if start_h > row.unload_h:
            start_h = clock.next_working_h(start_h)
        end_h = start_h + row.unloading_h
        free_h[carrier] = end_h
        return end_h

    def _product_h(
        self, product: Product, rows: Sequence[tuple[float, int]], wanted: int, draw: np.random.Generator
    ) -> float:
        """Return when so many pieces are there, missing ones made again."""
        left, last_h = wanted, 0.0
        for hour, pieces in rows:
            last_h = max(last_h, hour)
            left -= pieces
            if left <= 0:
                return last_h
        spread = self.works.settings.fire_hours_spread_share
        for _ in range(MOST_ROUNDS):
            if chain_share(product.route, 0) <= 0.0:
                break
            pieces = start_pieces(left, product.route)
            for step in range(len(product.route)):
                pieces = int(draw.binomial(pieces, drawn_share(self.works, product, step, draw)))
            last_h += self.lead_h * float(np.exp(spread * draw.standard_normal()))
            left -= pieces
            if left <= 0:
                return self.clock.next_working_h(last_h)
        return NEVER_H


def drawn_share(works: Works, product: Product, step: int, draw: np.random.Generator) -> float:
    """Return the share that comes out good of a firing of a route, drawn where it is not known for sure."""
    share, known = good_share(product.route[step]), works.settings.loss_sample_pieces
    if known <= 0.0 or not 0.0 < share < 1.0:
        return share
    return float(draw.beta(share * known, (1.0 - share) * known))


def sure_h(finishes_h: Sequence[float], share: float) -> float:
    """Return the hour by which so many of the futures are done."""
    rows = sorted(finishes_h)
    return rows[min(len(rows) - 1, max(0, int(np.ceil(share * len(rows) - 1e-9)) - 1))]


def met_share(finishes_h: Sequence[float], by_h: float) -> float:
    """Return the share of futures done by an hour."""
    rows = sorted(finishes_h)
    return bisect_left(rows, by_h + 1e-9) / len(rows)


def enough_pieces(works: Works, product: Product, good: int, share: float, seed: int, *, futures: int = 2000) -> int:
    """Return the fewest pieces to start so that in a share of futures so many come out good at the end.

    No firing of the route takes more than the pieces expected for it, as loads are packed for those.
    """
    draw = stream(seed, 7)
    steps = range(len(product.route))
    shares = np.array([[drawn_share(works, product, step, draw) for step in steps] for _ in range(futures)])
    pieces = max(good, start_pieces(good, product.route))
    while float(np.mean(_come_out(product, pieces, shares, draw) >= good)) < share:
        pieces += max(1, pieces // 100)
    return pieces


def _come_out(product: Product, pieces: int, shares: Counts, draw: np.random.Generator) -> Counts:
    """Return the good pieces at the end of a route in every future."""
    planned, there = pieces, np.full(len(shares), pieces)
    for step, row in enumerate(product.route):
        there = draw.binomial(np.minimum(there, planned), shares[:, step])
        planned = expected_pieces(planned, good_share(row))
    return there
