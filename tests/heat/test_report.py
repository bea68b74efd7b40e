"""A row of firings: warm starts, sums, and digits."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kilnpack.heat.calibration import Calibration
from kilnpack.heat.load_energy import load_energy
from kilnpack.heat.report import Handling, LitLoad, energy_report, with_handling, with_range
from kilnpack.model.kilns import EnergyKind
from kilnpack.model.settings import ShareRule

if TYPE_CHECKING:
    from kilnpack.model.kilns import Energy
    from kilnpack.model.loads import Load
    from kilnpack.model.works import Works

MONDAY = datetime(2026, 2, 2, 6, 30)


def lit(load: Load, *after_h: float) -> list[LitLoad]:
    """Return the load lit so many hours after Monday morning."""
    return [LitLoad(load=load, lit_at=MONDAY + timedelta(hours=hours)) for hours in after_h]


def test_second_firing_starts_warm(works: Works, load: Load) -> None:
    """The first firing of a kiln is cold; two days on its lining still saves; a week on it saves less.

    The report keeps the order it was given, whatever the order of time.
    """
    cold = load_energy(works, load).balance.total_kwh
    found = [fired.balance.total_kwh for fired in energy_report(works, lit(load, 216.0, 0.0, 48.0)).firings]
    assert found[1] == pytest.approx(cold)
    assert found[2] < found[0] < cold


def test_overlapping_firings_start_at_once(works: Works, load: Load) -> None:
    """Lit before the one before has ended, a firing takes the lining as that one left it."""
    found = energy_report(works, lit(load, 0.0, 1.0)).firings
    assert found[1].balance.total_kwh < 0.7 * found[0].balance.total_kwh


def test_kilns_do_not_warm_each_other(works: Works, load: Load) -> None:
    """Each kiln has its own lining and its own calibration."""
    twin = replace(works, kilns=(*works.kilns, replace(works.kilns[0], code="K2")))
    other = LitLoad(load=replace(load, kiln="K2"), lit_at=MONDAY + timedelta(hours=30.0))
    calibrations = {"K2": Calibration(lining_factor=1.2, readings=3)}
    first, second = energy_report(twin, [*lit(load, 0.0), other], calibrations=calibrations).firings
    assert second.balance.lining_kwh == pytest.approx(1.2 * first.balance.lining_kwh)


def test_sums_are_those_of_the_firings(works: Works, load: Load) -> None:
    """Energy, money and carbon sum over firings; order lines sum to what is shared; products are per good piece."""
    found = energy_report(works, lit(load, 0.0, 60.0), lots=works.lots, rule=ShareRule.MASS)
    assert found.total_kwh == pytest.approx(sum(fired.balance.total_kwh for fired in found.firings))
    assert found.money == pytest.approx(sum(fired.bill.money for fired in found.firings))
    assert found.co2_kg == pytest.approx(0.4 * found.total_kwh)
    assert [row.line for row in found.order_lines] == ["O-1", None]
    assert sum(row.kwh for row in found.order_lines) == pytest.approx(found.total_kwh, rel=1e-8)
    assert sum(row.money for row in found.order_lines) == pytest.approx(found.money, rel=1e-8)
    assert found.unshared_kwh == 0.0
    cups = found.products[0]
    assert cups.product == "CUP"
    assert cups.missing == (0,)
    assert cups.kwh == pytest.approx(found.total_kwh / 10.0 / 0.8, rel=1e-6)
    assert (found.rule, found.range_share, found.readings) == (ShareRule.MASS, 0.15, 0)
    assert "fans" in found.not_in_it


def test_months_are_those_of_lighting(works: Works, load: Load) -> None:
    """Lit on 2 February, at the end of the month and in March: two months, that sum to the whole.

    The demand of a month is that of its highest peak, at 3 a kW.
    """
    dear = replace(works, kilns=tuple(replace(kiln, energy=_demanding(kiln.energy)) for kiln in works.kilns))
    found = energy_report(dear, lit(load, 0.0, 26.5 * 24.0, 30.0 * 24.0))
    assert [(row.month, row.firings) for row in found.months] == [("2026-02", 2), ("2026-03", 1)]
    assert sum(row.kwh for row in found.months) == pytest.approx(found.total_kwh)
    assert sum(row.money for row in found.months) == pytest.approx(found.money)
    peak_kw = max(fired.balance.peak_kw for fired in found.firings[:2])
    assert found.months[0].demand_money == pytest.approx(3.0 * peak_kw)


def _demanding(energy: Energy) -> Energy:
    return replace(energy, demand_money_per_kw=3.0)


def test_handling_is_shared_by_pieces_and_by_energy(works: Works, load: Load) -> None:
    """90 of hands go by pieces, 50 of shelves by energy: all is shared, and a good piece carries its part."""
    plain = energy_report(works, lit(load, 0.0))
    found = with_handling(works, plain, [Handling(by_pieces_money=90.0, by_energy_money=50.0)])
    shares = found.firings[0].shares.shares
    assert sum(share.handling_money for share in shares) == pytest.approx(140.0)
    first = shares[0]
    pieces = sum(share.pieces for share in shares)
    wanted = 90.0 * first.pieces / pieces + 50.0 * first.energy_kwh / plain.total_kwh
    assert first.handling_money == pytest.approx(wanted, rel=1e-6)
    assert found.products[0].handling_money == pytest.approx(140.0 / pieces / 0.8)
    assert found.products[0].kwh == plain.products[0].kwh
    assert sum(row.handling_money for row in found.order_lines) == pytest.approx(140.0)


def test_report_of_nothing(works: Works) -> None:
    """No firing takes nothing."""
    found = energy_report(works, [])
    assert (found.total_kwh, found.products, found.order_lines, found.range_share) == (0.0, (), (), 0.0)


@pytest.mark.parametrize(
    ("value", "share", "said"),
    [
        (772.0, 0.15, (660.0, 770.0, 890.0)),
        (1605.7, 0.25, (1200.0, 1600.0, 2000.0)),
        (4.29, 0.15, (3.6, 4.3, 4.9)),
        (0.0, 0.15, (0.0, 0.0, 0.0)),
    ],
)
def test_digits_by_hand(value: float, share: float, said: tuple[float, float, float]) -> None:
    """Half widths 115.8, 401 and 0.64 leave tens, hundreds and tenths."""
    assert with_range(value, share) == pytest.approx(said)


@given(value=st.floats(1e-3, 1e6), share=st.floats(0.01, 0.5))
def test_rounding_moves_less_than_the_range(value: float, share: float) -> None:
    """Rounding stays within half of the half width, so the range is never said away."""
    low, middle, high = with_range(value, share)
    assert low <= middle <= high
    assert abs(middle - value) <= 0.51 * value * share


def test_gas_is_told_as_billed(works: Works, load: Load) -> None:
    """Gas billed gross counts 1.11 times net (methane) in shares, lines, months, products; the balance stays net."""
    kilns = tuple(replace(kiln, energy=replace(kiln.energy, kind=EnergyKind.NATURAL_GAS)) for kiln in works.kilns)
    found = energy_report(replace(works, kilns=kilns), lit(load, 0.0))
    factor = found.firings[0].bill.factor
    assert factor == pytest.approx(1.11, abs=0.005)
    assert found.billed_kwh == pytest.approx(factor * found.total_kwh)
    assert sum(row.billed_kwh for row in found.order_lines) == pytest.approx(found.billed_kwh, rel=1e-6)
    assert found.months[0].billed_kwh == pytest.approx(found.billed_kwh)
    cups = found.products[0]
    assert cups.billed_kwh == pytest.approx(factor * cups.kwh)
    assert cups.marginal_billed_kwh < cups.usual_billed_kwh
