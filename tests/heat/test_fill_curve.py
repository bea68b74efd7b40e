"""Cost against fill: falling, steeper when gas must heat much furniture, and what half-empty firings waste."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from kilnpack.heat.calibration import Calibration
from kilnpack.heat.fill_curve import fill_curve
from kilnpack.heat.firing import fire
from kilnpack.heat.reactions import Chemistry
from kilnpack.model.settings import WorksSettings

if TYPE_CHECKING:
    from kilnpack.model.kilns import Kiln
    from kilnpack.model.programmes import Programme

FILLS = (0.25, 0.5, 1.0)


def test_curve_falls_to_the_marginal_figure(kiln: Kiln, glost: Programme) -> None:
    """A kilogram costs less the fuller the kiln; one more kilogram less than any; all as the model fires them."""
    curve = fill_curve(WorksSettings(), kiln, glost, {"mullite": 100.0}, {"cordierite": 50.0}, fills=FILLS)
    per_kg = [point.kwh_per_kg for point in curve.points]
    assert per_kg[0] > per_kg[1] > per_kg[2] > curve.marginal_kwh_per_kg > 0.0
    half = fire(kiln, glost, {"porcelain": 90.0}, {"mullite": 50.0, "cordierite": 50.0}, Chemistry(melting_kj_kg=80.0))
    assert curve.points[1].kwh == pytest.approx(half.total_kwh)
    assert curve.points[1].money == pytest.approx(0.2 * half.total_kwh)
    assert curve.range_share == 0.15


@pytest.mark.source("own-calculation", "worked case: E0 574 kWh of 772")
def test_two_half_loads_waste_about_an_empty_kiln(kiln: Kiln, glost: Programme) -> None:
    """Two half loads for one whole waste E0 (574 kWh, less its share of leak) and the second deck, and no more."""
    curve = fill_curve(WorksSettings(), kiln, glost, {"silicon carbide": 200.0}, {}, fills=FILLS)
    assert curve.wasted_kwh == pytest.approx(574.0, rel=0.01)
    with_deck = fill_curve(WorksSettings(), kiln, glost, {"silicon carbide": 200.0}, {"mullite": 60.0}, fills=FILLS)
    assert with_deck.wasted_kwh > curve.wasted_kwh + 20.0
    dear = replace(kiln, energy=replace(kiln.energy, price_money_per_kwh=0.4))
    money = fill_curve(WorksSettings(), dear, glost, {"silicon carbide": 200.0}, {}, fills=FILLS).wasted_money
    assert money == pytest.approx(0.4 * curve.wasted_kwh)


def test_calibration_reaches_the_curve(kiln: Kiln, glost: Programme) -> None:
    """A lining of 1.2 wastes about a fifth more."""
    plain = fill_curve(WorksSettings(), kiln, glost, {}, {}, fills=FILLS)
    fitted = fill_curve(
        WorksSettings(), kiln, glost, {}, {}, calibration=Calibration(lining_factor=1.2, readings=6), fills=FILLS
    )
    assert fitted.wasted_kwh == pytest.approx(1.2 * plain.wasted_kwh, rel=0.02)
    assert fitted.range_share == 0.05
