"""Energy per piece: shares to the joule, and the formula per good piece."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kilnpack.heat.contents import PlacedLot
from kilnpack.heat.firing import fire
from kilnpack.heat.per_piece import by_order_line, energy_per_good_piece, good_piece
from kilnpack.heat.prices import bill
from kilnpack.heat.reactions import Chemistry
from kilnpack.heat.sharing import EnergyShares, share_energy, split_exactly
from kilnpack.model.orders import LotKind
from kilnpack.model.settings import ShareRule
from kilnpack.units import j_from_kwh

if TYPE_CHECKING:
    from kilnpack.heat.balance import HeatBalance
    from kilnpack.model.kilns import Kiln
    from kilnpack.model.programmes import Programme
    from kilnpack.model.works import Works


def lot(code: str, kind: LotKind = LotKind.NORMAL, *, line: str | None = None, size: float = 1.0) -> PlacedLot:
    """Return ten pieces of 1 kg together, taking `size` litres."""
    return PlacedLot(
        lot=code,
        product="CUP",
        step=1,
        order_line=line,
        kind=kind,
        pieces=10,
        ware_kg=1.0,
        volume_l=size,
        area_m2=0.1,
    )


@pytest.fixture(scope="module")
def fired(kiln: Kiln, glost: Programme) -> HeatBalance:
    """Return a firing of 3 kg of ware."""
    return fire(kiln, glost, {"porcelain": 3.0}, {"mullite": 10.0}, Chemistry(melting_kj_kg=80.0))


def shared(kiln: Kiln, fired: HeatBalance, *lots: PlacedLot, rule: ShareRule = ShareRule.VOLUME) -> EnergyShares:
    """Share the firing at 0.5 kWh/kg, the kiln usually holding 6 kg."""
    return share_energy(fired, lots, 0.5, bill(fired, kiln.energy), rule=rule, usual_ware_kg=6.0)


@given(total=st.integers(0, 10**10), weights=st.lists(st.floats(0.0, 1e6), min_size=1, max_size=40))
def test_split_is_exact(total: int, weights: list[float]) -> None:
    """Whatever the weights, whole parts sum to the whole and each is within 1 of its due (and rounding)."""
    if sum(weights) <= 0.0:
        weights = [*weights, 1.0]
    parts = split_exactly(total, weights)
    assert sum(parts) == total
    assert min(parts) >= 0
    whole = sum(weights)
    assert all(abs(p - total * w / whole) <= 1.0 + 1e-5 * total / 1e5 for p, w in zip(parts, weights, strict=True))


def test_split_by_hand() -> None:
    """10 by 1 : 1 : 1 is 4, 3, 3; the first of equal remainders gets the odd one."""
    assert split_exactly(10, [1.0, 1.0, 1.0]) == (4, 3, 3)
    assert split_exactly(0, [1.0, 2.0]) == (0, 0)


def test_shares_sum_to_the_firing_exactly(kiln: Kiln, fired: HeatBalance) -> None:
    """To the joule, by every rule; money and carbon follow the energy."""
    for rule in ShareRule:
        found = shared(kiln, fired, lot("a"), lot("b", size=3.3), lot("c", LotKind.REFIRE, size=0.1), rule=rule)
        assert sum(share.energy_j for share in found.shares) + found.unshared_j == found.total_j
        assert found.total_j == round(j_from_kwh(fired.total_kwh))
        assert found.unshared_j == 0
        charged = bill(fired, kiln.energy)
        assert sum(share.money for share in found.shares) == pytest.approx(charged.money, rel=1e-12)
        assert sum(share.co2_kg for share in found.shares) == pytest.approx(charged.co2_kg, rel=1e-12)
        assert found.range_share == fired.range_share


def test_rest_is_shared_by_the_rule(kiln: Kiln, fired: HeatBalance) -> None:
    """By volume a lot three times as large carries three times the rest; its own kilogram carries itself."""
    by_volume = shared(kiln, fired, lot("a"), lot("b", size=3.0)).shares
    rest = fired.total_kwh - 1.0
    assert by_volume[0].energy_kwh == pytest.approx(0.5 + rest / 4.0)
    assert by_volume[1].energy_kwh == pytest.approx(0.5 + rest * 3.0 / 4.0)
    assert by_volume[0].marginal_kwh == pytest.approx(0.5)
    assert by_volume[0].kwh_per_piece == pytest.approx((0.5 + rest / 4.0) / 10.0)
    by_mass = shared(kiln, fired, lot("a"), lot("b", size=3.0), rule=ShareRule.MASS).shares
    assert by_mass[0].energy_j == by_mass[1].energy_j


def test_samples_and_fillers_carry_nothing(kiln: Kiln, fired: HeatBalance) -> None:
    """Their heat falls on the others; a load of nothing else carries itself, unshared."""
    found = shared(kiln, fired, lot("a"), lot("s", LotKind.SAMPLE), lot("f", LotKind.FILLER))
    assert [share.lot for share in found.shares] == ["a"]
    assert found.shares[0].energy_j == found.total_j
    nobody = shared(kiln, fired, lot("s", LotKind.SAMPLE))
    assert nobody.shares == ()
    assert nobody.unshared_j == nobody.total_j
    massless = replace(lot("a"), volume_l=0.0)
    assert shared(kiln, fired, massless).unshared_j == nobody.total_j


def test_usual_fill_does_not_reprice(kiln: Kiln, fired: HeatBalance) -> None:
    """With 2 kg in a kiln that usually holds 6, the rest counts a third beside the real share."""
    share = shared(kiln, fired, lot("a"), lot("b")).shares[0]
    assert share.usual_kwh == pytest.approx(0.5 + (share.energy_kwh - 0.5) / 3.0)


def test_own_heat_never_exceeds_the_firing(kiln: Kiln, fired: HeatBalance) -> None:
    """A warm start may take less than the ware's own heat from cold; the shares still sum to the firing."""
    little = replace(fired, total_kwh=0.6)
    found = share_energy(little, [lot("a"), lot("b")], 0.5, bill(little, kiln.energy))
    assert [share.energy_j for share in found.shares] == [round(j_from_kwh(0.3))] * 2
    none = replace(fired, total_kwh=0.0)
    assert share_energy(none, [lot("a")], 0.0, bill(none, kiln.energy)).shares[0].money == 0.0


def test_order_lines_add_up(kiln: Kiln, fired: HeatBalance) -> None:
    """Each order line carries its lots; stock stands under None."""
    shares = shared(kiln, fired, lot("a", line="O-1"), lot("b", line="O-1"), lot("c")).shares
    first, stock = by_order_line(shares)
    assert (first.line, stock.line) == ("O-1", None)
    assert first.kwh == pytest.approx(2.0 * stock.kwh)
    assert first.money == pytest.approx(2.0 * stock.money)
    assert first.kwh + stock.kwh == pytest.approx(fired.total_kwh)


def test_good_piece_by_hand() -> None:
    """Biscuit 2 kWh at 90 %, glost 3 kWh at 80 %: 2 / (0.9 x 0.8) + 3 / 0.8 = 2.7778 + 3.75 = 6.5278 kWh."""
    assert energy_per_good_piece([2.0, 3.0], [0.9, 0.8]) == pytest.approx(6.5278, abs=5e-5)
    assert energy_per_good_piece([], []) == 0.0


@given(st.lists(st.tuples(st.floats(0.0, 50.0), st.floats(0.5, 1.0)), min_size=1, max_size=5))
def test_losses_only_raise_the_figure(steps: list[tuple[float, float]]) -> None:
    """A good piece never takes less than a piece placed, and equals it where nothing is lost."""
    amounts, yields = [amount for amount, _ in steps], [share for _, share in steps]
    assert energy_per_good_piece(amounts, yields) >= sum(amounts) * (1.0 - 1e-12)
    assert energy_per_good_piece(amounts, [1.0] * len(steps)) == pytest.approx(sum(amounts))


def test_bad_yields_are_refused() -> None:
    """A yield of nothing has no good piece, and every firing needs its yield."""
    with pytest.raises(ValueError, match="every yield"):
        energy_per_good_piece([1.0], [0.0])
    with pytest.raises(ValueError, match="2 firings but 1"):
        energy_per_good_piece([1.0, 1.0], [1.0])


def test_good_piece_of_a_product(kiln: Kiln, works: Works, fired: HeatBalance) -> None:
    """Shares of several firings are averaged by pieces; the biscuit firing not given is named as missing."""
    one = shared(kiln, fired, lot("a"), lot("b"))
    two = shared(kiln, fired, lot("c"))
    found = good_piece(works.product("CUP"), [*one.shares, *two.shares], 0.15)
    assert found.kwh == pytest.approx(2.0 * fired.total_kwh / 30.0 / 0.8)
    assert found.missing == (0,)
    assert found.range_share == 0.15
    assert found.marginal_kwh == pytest.approx(3 * 0.5 / 30.0 / 0.8)
    assert found.money == pytest.approx(2.0 * bill(fired, kiln.energy).money / 30.0 / 0.8)
    other = replace(works.product("CUP"), code="OTHER")
    assert good_piece(other, one.shares, 0.15).kwh == 0.0
