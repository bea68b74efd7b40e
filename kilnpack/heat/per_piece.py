"""What a good piece and an order line take over all their firings, from the shares of each."""

from __future__ import annotations

from dataclasses import dataclass
from math import fsum, prod
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from kilnpack.heat.sharing import EnergyShare
    from kilnpack.model.pieces import Product


@dataclass(frozen=True, slots=True, kw_only=True)
class GoodPiece:
    """What one good piece of a product takes over its firings.

    `missing` are the steps of its route for which no firing was given; their energy is not in the figures.
    """

    product: str
    kwh: float
    money: float
    co2_kg: float
    marginal_kwh: float
    usual_kwh: float
    range_share: float
    missing: tuple[int, ...]
    marginal_money: float = 0.0
    usual_money: float = 0.0
    handling_money: float = 0.0
    billed_kwh: float = 0.0
    marginal_billed_kwh: float = 0.0
    usual_billed_kwh: float = 0.0


def energy_per_good_piece(per_placed: Sequence[float], yields: Sequence[float]) -> float:
    """Return the sum over firings of the amount per piece placed over the product of this and all later yields.

    Parameters
    ----------
    per_placed
        Amount per piece placed in each firing of the route, in order.
    yields
        Share of good pieces of each of those firings, over 0 and up to 1.

    Raises
    ------
    ValueError
        The two differ in length, or a yield is not over 0 and up to 1.
    """
    if len(per_placed) != len(yields):
        raise ValueError(f"{len(per_placed)} firings but {len(yields)} yields")
    if not all(0.0 < share <= 1.0 for share in yields):
        raise ValueError("every yield must be over 0 and up to 1")
    return fsum(amount / prod(yields[step:]) for step, amount in enumerate(per_placed))


def good_piece(product: Product, shares: Sequence[EnergyShare], range_share: float) -> GoodPiece:
    """Return energy, money and carbon per good piece of a product from all its shares in all firings.

    Parameters
    ----------
    product
        With its route; a good piece is one that is neither scrap nor a second.
    shares
        Shares of any firings; those of other products are passed over.
    range_share
        Half width of the range of the firings, as a share.
    """
    of_step: dict[int, list[EnergyShare]] = {}
    for share in shares:
        if share.product == product.code and share.pieces > 0:
            of_step.setdefault(share.step, []).append(share)
    yields = [1.0 - step.scrap_share - step.second_share for step in product.route]
    steps = range(len(product.route))

    def total(amount: Mapping[int, float]) -> float:
        return energy_per_good_piece([amount.get(step, 0.0) for step in steps], yields)

    pieces = {step: sum(share.pieces for share in rows) for step, rows in of_step.items()}

    def per_piece(name: str) -> dict[int, float]:
        return {step: fsum(getattr(share, name) for share in rows) / pieces[step] for step, rows in of_step.items()}

    return GoodPiece(
        product=product.code,
        kwh=total(per_piece("energy_kwh")),
        money=total(per_piece("money")),
        co2_kg=total(per_piece("co2_kg")),
        marginal_kwh=total(per_piece("marginal_kwh")),
        usual_kwh=total(per_piece("usual_kwh")),
        range_share=range_share,
        missing=tuple(step for step in steps if step not in of_step),
        marginal_money=total(per_piece("marginal_money")),
        usual_money=total(per_piece("usual_money")),
        handling_money=total(per_piece("handling_money")),
        billed_kwh=total(per_piece("billed_kwh")),
        marginal_billed_kwh=total(per_piece("marginal_billed_kwh")),
        usual_billed_kwh=total(per_piece("usual_billed_kwh")),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class LineShare:
    """What an order line carries of all firings; `line` is None for stock bound to no order."""

    line: str | None
    kwh: float
    money: float
    co2_kg: float
    handling_money: float = 0.0
    billed_kwh: float = 0.0


def by_order_line(shares: Sequence[EnergyShare]) -> tuple[LineShare, ...]:
    """Return what each order line carries, by code, stock bound to no order last."""
    lines = sorted({share.order_line for share in shares}, key=lambda line: (line is None, line or ""))
    return tuple(_of_line(line, [share for share in shares if share.order_line == line]) for line in lines)


def _of_line(line: str | None, shares: Sequence[EnergyShare]) -> LineShare:
    return LineShare(
        line=line,
        kwh=fsum(share.energy_kwh for share in shares),
        money=fsum(share.money for share in shares),
        co2_kg=fsum(share.co2_kg for share in shares),
        handling_money=fsum(share.handling_money for share in shares),
        billed_kwh=fsum(share.billed_kwh for share in shares),
    )
