"""What the owner's page is made from: plain rows, so that any works' energy can be shown."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import datetime

    from kilnpack.heat.changes import Change
    from kilnpack.heat.fill_curve import FillCurve


HANDLING_RANGE_SHARE = 0.3
"""How far hours of handling may be off: usual times for a piece span 15 to 30 s raw, 30 to 60 s glazed."""


def mixed_range(energy_money: float, handling_money: float, range_share: float) -> float:
    """Return how far money of energy and of handling together may be off, as a share of it; both move together."""
    total = energy_money + handling_money
    if total <= 0.0:
        return range_share
    return (energy_money * range_share + handling_money * HANDLING_RANGE_SHARE) / total


@dataclass(frozen=True, slots=True, kw_only=True)
class CostStep:
    """One step of the owner's waterfall; money is what it adds, negative where it gives back."""

    name: str
    money: float
    range_share: float = 0.0
    """How far the money may be off either way; 0 where it is known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ProductCost:
    """What one good piece of a product takes, over all its firings.

    `handling_money_per_good` is hands, cleaning and wear of furniture, `why` what makes it dear.
    """

    product: str
    name: str
    good_pieces: float
    kwh_per_good: float
    money_per_good: float
    co2_kg_per_good: float
    price_money: float
    marginal_kwh_per_good: float = 0.0
    """What one more piece would take in a kiln that is fired anyway."""
    usual_kwh_per_good: float = 0.0
    """What a piece would carry had the kilns held their usual mass of ware."""
    marginal_money_per_good: float = 0.0
    usual_money_per_good: float = 0.0
    handling_money_per_good: float = 0.0
    why: str = ""
    without: str = ""
    """Programmes of its route that are in none of the firings, so not in the figures."""

    @property
    def all_money_per_good(self) -> float:
        """Energy and handling of a good piece."""
        return self.money_per_good + self.handling_money_per_good


@dataclass(frozen=True, slots=True, kw_only=True)
class FiringCost:
    """What one firing takes, and how full it is (of the kiln's usual ware)."""

    firing: str
    kiln: str
    programme: str
    pieces: int
    ware_kg: float
    furniture_kg: float
    energy_kwh: float
    money: float
    co2_kg: float
    fill_share: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LineEnergy:
    """What an order line carries of all firings; `line` is empty for stock bound to no order."""

    line: str
    kwh: float
    money: float = 0.0
    co2_kg: float = 0.0
    handling_money: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthCost:
    """What the firings lit in one month take; the demand charge is in no other figure."""

    month: str
    firings: int
    ware_kg: float
    kwh: float
    money: float
    co2_kg: float
    demand_money: float


@dataclass(frozen=True, slots=True, kw_only=True)
class KilnSplit:
    """Where the energy of all firings of a kiln went, kWh by name."""

    kiln: str
    parts: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FurnitureUse:
    """A type of shelf: its stock, the mean firings of one before, and the tiers that the firings given use."""

    shelf: str
    name: str
    stock_pieces: int
    seen_firings: float
    tiers: int

    @property
    def after_firings(self) -> float:
        """Mean firings of one shelf after the firings given."""
        return self.seen_firings + (self.tiers / self.stock_pieces if self.stock_pieces else 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceLoss:
    """What was fired at one place of a kiln and what of it was lost (scrap and seconds)."""

    kiln: str
    stack: str
    tier: int
    fired_pieces: int
    lost_pieces: int


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnerRows:
    """All that the owner's page shows.

    `range_share` is how far the energy may be off either way, `readings` how many meter readings it was fitted to.
    """

    title: str
    works: str
    currency: str
    made: datetime
    steps: tuple[CostStep, ...]
    products: tuple[ProductCost, ...]
    firings: tuple[FiringCost, ...]
    order_lines: tuple[LineEnergy, ...] = ()
    months: tuple[MonthCost, ...] = ()
    splits: tuple[KilnSplit, ...] = ()
    curves: tuple[FillCurve, ...] = ()
    changes: tuple[Change, ...] = ()
    furniture: tuple[FurnitureUse, ...] = ()
    losses: tuple[PlaceLoss, ...] = ()
    range_share: float = 0.0
    readings: int = 0
    remarks: tuple[str, ...] = ()
