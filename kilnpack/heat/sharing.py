"""Energy per piece: each firing shared out to the joule, then summed over a piece's firings per *good* piece.

A lot carries what its own mass takes (the marginal energy) and a share of all the rest: the empty kiln, the
furniture, and the ware of samples and fillers, which carry nothing themselves.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import fsum
from typing import TYPE_CHECKING

from kilnpack.model.orders import LotKind
from kilnpack.model.settings import ShareRule
from kilnpack.units import j_from_kwh, kwh_from_j

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kilnpack.heat.balance import HeatBalance
    from kilnpack.heat.contents import PlacedLot
    from kilnpack.heat.prices import Bill

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
    billed_factor: float = 1.0
    """Billed kWh for each kWh of the heat balance: gross over net where gas is billed gross."""

    @property
    def billed_kwh(self) -> float:
        """The share as the bill counts it, kWh."""
        return self.energy_kwh * self.billed_factor

    @property
    def marginal_billed_kwh(self) -> float:
        """The marginal energy as the bill counts it, kWh."""
        return self.marginal_kwh * self.billed_factor

    @property
    def usual_billed_kwh(self) -> float:
        """The share at usual fill as the bill counts it, kWh."""
        return self.usual_kwh * self.billed_factor

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
        billed_factor=bill.factor,
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
