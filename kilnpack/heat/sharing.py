"""Energy per piece: each firing shared out to the joule, then summed over a piece's firings per *good* piece.

A lot carries what its own mass takes (the marginal energy) and a share of all the rest: the empty kiln, the
furniture, and the ware of samples and fillers, which carry nothing themselves.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import fsum, prod
from typing import TYPE_CHECKING

from kilnpack.model.orders import LotKind
from kilnpack.model.settings import ShareRule
from kilnpack.units import j_from_kwh, kwh_from_j

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from kilnpack.heat.balance import HeatBalance
    from kilnpack.heat.contents import PlacedLot
    from kilnpack.heat.prices import Bill
    from kilnpack.model.pieces import Product

CARRYING = frozenset({LotKind.NORMAL, LotKind.REFIRE})


@dataclass(frozen=True, slots=True, kw_only=True)
class EnergyShare:
    """What one lot carries of a firing.

    `energy_j` is its share in whole joules. `marginal_kwh` is what the firing would take less without the lot's ware,
    `usual_kwh` the share had the kiln held its usual mass of ware.
    """

    lot: str
    product: str
    step: int
    order_line: str | None
    kind: LotKind
    pieces: int
    energy_j: int
    marginal_kwh: float
    usual_kwh: float
    money: float
    co2_kg: float
    handling_money: float = 0.0
    """Hands, cleaning and wear of furniture, where they were shared out too (`report.with_handling`)."""

    @property
    def usual_money(self) -> float:
        """What the usual share would cost at the mean price of the firing."""
        return self.money * self.usual_kwh / self.energy_kwh if self.energy_j else 0.0

    @property
    def marginal_money(self) -> float:
        """What the marginal energy costs at the mean price of the firing."""
        return self.money * self.marginal_kwh / self.energy_kwh if self.energy_j else 0.0

    @property
    def energy_kwh(self) -> float:
        """The share, kWh."""
        return kwh_from_j(self.energy_j)

    @property
    def kwh_per_piece(self) -> float:
        """The share of one piece placed, kWh."""
        return self.energy_kwh / self.pieces


@dataclass(frozen=True, slots=True, kw_only=True)
class EnergyShares:
    """A firing shared out: the shares and what nobody carries sum to `total_j` exactly."""

    rule: ShareRule
    total_j: int
    unshared_j: int
    range_share: float
    readings: int
    shares: tuple[EnergyShare, ...]

    @property
    def unshared_kwh(self) -> float:
        """What nobody carries, kWh."""
        return kwh_from_j(self.unshared_j)


def split_exactly(total: int, weights: Sequence[float]) -> tuple[int, ...]:
    """Split a whole number by weights so that the parts sum to it: whole parts first, then the largest remainders.

    Parameters
    ----------
    total
        Not negative.
    weights
        Not negative, with a positive sum.
    """
    whole = fsum(weights)
    wanted = [total * (weight / whole) for weight in weights]
    parts = [int(value) for value in wanted]
    order = sorted(range(len(parts)), key=lambda i: (parts[i] - wanted[i], i))
    for i in range(total - sum(parts)):
        parts[order[i % len(order)]] += 1
    return tuple(parts)


def share_energy(
    balance: HeatBalance,
    placed: Sequence[PlacedLot],
    marginal_kwh_per_kg: float,
    bill: Bill,
    *,
    rule: ShareRule = ShareRule.VOLUME,
    usual_ware_kg: float | None = None,
) -> EnergyShares:
    """Share a firing among the lots placed in it.

    Parameters
    ----------
    balance
        The firing.
    placed
        Its lots with mass, volume and area.
    marginal_kwh_per_kg
        Energy of one more kilogram of ware, its chemistry included (`firing.kwh_per_kg`).
    bill
        Money and carbon of the firing; shared as the energy is.
    rule
        By what the rest is shared.
    usual_ware_kg
        Ware the kiln usually holds; None prints no other figure beside.
    """
    total_j = round(j_from_kwh(balance.total_kwh))
    carrying = [lot for lot in placed if lot.kind in CARRYING]
    weights = [_weight(lot, rule) for lot in carrying]
    own_j = [round(j_from_kwh(lot.ware_kg * marginal_kwh_per_kg)) for lot in carrying]
    if not carrying or fsum(weights) <= 0.0:
        return _shares(balance, rule, total_j, total_j, ())
    if sum(own_j) > total_j:
        own_j = list(split_exactly(total_j, own_j))
    rest_j = split_exactly(total_j - sum(own_j), weights)
    ware_kg = fsum(lot.ware_kg for lot in placed)
    fill = 1.0 if usual_ware_kg is None else ware_kg / usual_ware_kg
    shares = tuple(
        _share(lot, own, rest, fill, (own + rest) / total_j if total_j else 0.0, bill)
        for lot, own, rest in zip(carrying, own_j, rest_j, strict=True)
    )
    return _shares(balance, rule, total_j, 0, shares)


def _weight(lot: PlacedLot, rule: ShareRule) -> float:
    return {ShareRule.VOLUME: lot.volume_l, ShareRule.MASS: lot.ware_kg, ShareRule.AREA: lot.area_m2}[rule]


def _share(lot: PlacedLot, own_j: int, rest_j: int, fill: float, part: float, bill: Bill) -> EnergyShare:
    return EnergyShare(
        lot=lot.lot,
        product=lot.product,
        step=lot.step,
        order_line=lot.order_line,
        kind=lot.kind,
        pieces=lot.pieces,
        energy_j=own_j + rest_j,
        marginal_kwh=kwh_from_j(own_j),
        usual_kwh=kwh_from_j(own_j + rest_j * fill),
        money=bill.money * part,
        co2_kg=bill.co2_kg * part,
    )


def _shares(
    balance: HeatBalance, rule: ShareRule, total_j: int, unshared_j: int, shares: tuple[EnergyShare, ...]
) -> EnergyShares:
    return EnergyShares(
        rule=rule,
        total_j=total_j,
        unshared_j=unshared_j,
        range_share=balance.range_share,
        readings=balance.readings,
        shares=shares,
    )


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
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class LineShare:
    """What an order line carries of all firings; `line` is None for stock bound to no order."""

    line: str | None
    kwh: float
    money: float
    co2_kg: float
    handling_money: float = 0.0


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
    )
