"""The bill of a firing: basis, night tariff, carbon dioxide."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kilnpack.heat.firing import UNLOADED, fire
from kilnpack.heat.prices import bill, bill_factor, night_share
from kilnpack.heat.reactions import Chemistry
from kilnpack.model.kilns import Energy, EnergyKind

if TYPE_CHECKING:
    from kilnpack.heat.balance import HeatBalance
    from kilnpack.model.kilns import Kiln
    from kilnpack.model.programmes import Programme

NIGHT = Energy(
    kind=EnergyKind.ELECTRIC,
    connected_kw=60.0,
    price_money_per_kwh=0.3,
    night_price_money_per_kwh=0.1,
    co2_kg_per_kwh=0.5,
    demand_money_per_kw=2.0,
)


@pytest.fixture(scope="module")
def fired(kiln: Kiln, glost: Programme) -> HeatBalance:
    """Return the worked kiln fired empty."""
    return fire(kiln, glost, UNLOADED, UNLOADED, Chemistry())


@pytest.mark.parametrize(
    ("from_h", "to_h", "share"),
    [(6.0, 7.0, 0.0), (21.5, 22.5, 0.5), (23.0, 24.0, 1.0), (26.0, 27.0, 1.0), (29.75, 30.25, 0.5), (46.0, 47.0, 1.0)],
)
def test_night_runs_over_midnight(from_h: float, to_h: float, share: float) -> None:
    """Night from 22 to 6: half of 21:30 to 22:30, all of 2 to 3 the next day, half of 5:45 to 6:15."""
    assert night_share(from_h, to_h, NIGHT) == pytest.approx(share)


@given(start=st.floats(0.0, 24.0))
def test_a_day_holds_one_night(start: float) -> None:
    """Any 24 hours hold 8 of night; a tariff from and to the same hour has no night."""
    assert night_share(start, start + 24.0, NIGHT) == pytest.approx(8.0 / 24.0)
    assert night_share(start, start + 1.0, replace(NIGHT, night_to_h=22.0)) == 0.0


def test_bill_of_an_electric_firing(fired: HeatBalance) -> None:
    """Money is day and night energy at their prices, carbon the energy at its factor, demand stands apart."""
    found = bill(fired, NIGHT, start_h=6.0)
    night = sum(fired.hourly_kwh[16:])
    assert found.billed_kwh == fired.total_kwh
    assert found.factor == 1.0
    assert found.night_kwh == pytest.approx(night)
    assert found.money == pytest.approx(0.3 * (fired.total_kwh - night) + 0.1 * night)
    assert found.co2_kg == pytest.approx(0.5 * fired.total_kwh)
    assert found.demand_money == pytest.approx(2.0 * fired.peak_kw)
    assert found.basis == "electric"
    assert found.range_share == fired.range_share


def test_one_tariff_knows_no_night(fired: HeatBalance) -> None:
    """Without a night price all energy has the one price, whenever the fire is lit."""
    flat = replace(NIGHT, night_price_money_per_kwh=None)
    assert bill(fired, flat, start_h=20.0).money == pytest.approx(0.3 * fired.total_kwh)
    assert bill(fired, flat, start_h=20.0).night_kwh == 0.0


@pytest.mark.source("gri-mech-3", "methane: gross 55.511, net 50.025 MJ/kg")
def test_gas_is_billed_gross_or_net() -> None:
    """Billed gross, methane counts 55.511 / 50.025 = 1.1097 kWh for each kWh net; billed net it counts 1."""
    gas = replace(NIGHT, kind=EnergyKind.NATURAL_GAS)
    assert bill_factor(gas) == pytest.approx(55.511 / 50.025, rel=1e-4)
    assert bill_factor(replace(gas, basis="net")) == 1.0
    assert bill_factor(NIGHT) == 1.0


def test_gas_bill_names_its_basis(kiln: Kiln, glost: Programme) -> None:
    """A gas bill says what its kWh are."""
    gas = replace(kiln, energy=replace(NIGHT, kind=EnergyKind.PROPANE))
    found = bill(fire(gas, glost, UNLOADED, UNLOADED, Chemistry()), gas.energy)
    assert found.basis == "gross"
    assert found.billed_kwh > fire(gas, glost, UNLOADED, UNLOADED, Chemistry()).total_kwh
