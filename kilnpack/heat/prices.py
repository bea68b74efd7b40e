"""What a firing's energy costs and emits, as the bill shows it."""

from __future__ import annotations

from dataclasses import dataclass
from math import fsum
from typing import TYPE_CHECKING

from kilnpack.heat.firing import FUEL_OF
from kilnpack.heat.fuels import gross_over_net

if TYPE_CHECKING:
    from kilnpack.heat.balance import HeatBalance
    from kilnpack.model.kilns import Energy

GROSS = "gross"


@dataclass(frozen=True, slots=True, kw_only=True)
class Bill:
    """Energy, money and carbon dioxide of one firing on the basis of the price.

    `basis` says what the kWh are: electric, net or gross calorific value. `demand_money` is what the peak would cost
    if it set the month's; it is in no other figure.
    """

    basis: str
    billed_kwh: float
    night_kwh: float
    money: float
    co2_kg: float
    demand_money: float
    range_share: float
    factor: float = 1.0
    """Billed kWh for each kWh of the heat balance."""


def bill_factor(energy: Energy) -> float:
    """Return billed kWh per kWh of the heat balance: gross over net for gas billed gross, else 1."""
    fuel = FUEL_OF.get(energy.kind)
    return gross_over_net(fuel) if fuel is not None and energy.basis == GROSS else 1.0


def bill(balance: HeatBalance, energy: Energy, *, start_h: float = 6.0) -> Bill:
    """Return money and carbon dioxide of a firing.

    Parameters
    ----------
    balance
        The firing.
    energy
        Prices and carbon of the kiln it was fired in.
    start_h
        Hour of the day at which the fire is lit; decides what burns at night.
    """
    factor = bill_factor(energy)
    night_kwh = 0.0
    if energy.night_price_money_per_kwh is not None:
        shares = (night_share(start_h + hour, start_h + hour + 1.0, energy) for hour in range(len(balance.hourly_kwh)))
        night_kwh = factor * fsum(kwh * share for kwh, share in zip(balance.hourly_kwh, shares, strict=True))
    billed_kwh = factor * balance.total_kwh
    money = (billed_kwh - night_kwh) * energy.price_money_per_kwh
    money += night_kwh * (energy.night_price_money_per_kwh or 0.0)
    return Bill(
        basis=energy.basis if energy.kind in FUEL_OF else "electric",
        billed_kwh=billed_kwh,
        night_kwh=night_kwh,
        money=money,
        co2_kg=billed_kwh * energy.co2_kg_per_kwh,
        demand_money=balance.peak_kw * factor * energy.demand_money_per_kw,
        range_share=balance.range_share,
        factor=factor,
    )


def night_share(from_h: float, to_h: float, energy: Energy) -> float:
    """Return the share of a span of hours that lies in the night tariff, which may run over midnight."""
    length_h = (energy.night_to_h - energy.night_from_h) % 24.0
    if length_h == 0.0:
        return 0.0
    covered_h = 0.0
    first_day = int(from_h // 24.0) - 1
    for day in range(first_day, int(to_h // 24.0) + 1):
        start_h = day * 24.0 + energy.night_from_h
        covered_h += max(0.0, min(to_h, start_h + length_h) - max(from_h, start_h))
    return covered_h / (to_h - from_h)
