"""Yields, start quantities and how long the rest of a route takes at best."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from kilnpack.model.orders import LotKind
from kilnpack.model.pieces import Stage

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kilnpack.model.orders import OrderLine
    from kilnpack.model.pieces import Product, RouteStep
    from kilnpack.model.works import Works

ROUNDING = 1e-9


def good_share(step: RouteStep) -> float:
    """Share of the pieces fired that come out as firsts."""
    return max(0.0, 1.0 - step.scrap_share - step.second_share)


def chain_share(route: Sequence[RouteStep], step: int) -> float:
    """Share of the pieces about to have firing `step` that end as firsts: the product of the yields to come (T8)."""
    return math.prod(good_share(row) for row in route[step:])


def start_pieces(wanted_pieces: float, route: Sequence[RouteStep], step: int = 0) -> int:
    """Return how many pieces must go into firing `step` so that so many firsts are expected at the end (T8).

    Raises
    ------
    ValueError
        A firing of the route loses everything.
    """
    share = chain_share(route, step)
    if share <= 0.0:
        raise ValueError("a firing of the route loses every piece")
    return max(0, math.ceil(wanted_pieces / share - ROUNDING))


def expected_pieces(fired_pieces: int, share: float) -> int:
    """Return the whole pieces expected of all those fired so far, rounded up so that a route never rounds an order off.

    Taken over the running total of a lot's line: ten single pieces lose the same as ten at once.
    """
    return min(fired_pieces, max(0, math.ceil(fired_pieces * share - ROUNDING)))


def needs_glazing(route: Sequence[RouteStep], step: int) -> bool:
    """Whether ware that comes to firing `step` must be glazed first: a glost that follows a biscuit."""
    return 0 < step < len(route) and route[step].stage is Stage.GLOST and route[step - 1].stage is Stage.BISCUIT


def items_of(works: Works, line: OrderLine) -> dict[str, int]:
    """Return the products of one piece or set of a line, with their count."""
    for row in works.sets:
        if row.code == line.item:
            return {item.product: item.count_pieces for item in row.items}
    return {line.item: 1}


def open_quantity(line: OrderLine) -> int:
    """Return the pieces or sets of a line that are still to be delivered."""
    return max(0, line.quantity_pieces - line.delivered_pieces)


def family(works: Works, line: str | None, product: str, lot: str, kind: LotKind) -> str:
    """Return the code under which pieces go on after a firing: line and product, or their own lot.

    Samples and ware without an order keep to themselves; a refire that came out well joins its line again.
    """
    if line is None or kind in {LotKind.SAMPLE, LotKind.FILLER}:
        return lot.partition("@")[0]
    found = next((row for row in works.lines if row.code == line), None)
    return line if found is None or found.item == product else f"{line}.{product}"


def later_code(root: str, step: int) -> str:
    """Return the code of a lot that is about to have firing `step` (0-based), said as its number in the route."""
    return f"{root}@{step + 1}"


def chain_h(works: Works, product: Product, step: int) -> float:
    """Return the shortest time from ready for firing `step` to finished, without any waiting for hands or kilns, h."""
    programmes = {row.code: row for row in works.programmes}
    total = 0.0
    for number, row in enumerate(product.route[step:], step):
        programme = programmes[row.programme]
        total += programme.recorded_fire_h + programme.recorded_cool_h + programme.cool_outside_h
        if number + 1 < len(product.route):
            total += row.rest_after_h + product.route[number + 1].ready_after_h
    return total
