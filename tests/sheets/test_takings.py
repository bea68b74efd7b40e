"""What a good piece brings in, seconds counted, worked by hand."""

from __future__ import annotations

import pytest

from kilnpack.model.pieces import Product, RouteStep, Stage
from kilnpack.sheets.energy_rows import _takings_money


@pytest.mark.parametrize(
    ("second_share", "wanted"),
    [(0.0, 20.0), (0.1, 20.0 + 8.0 * 0.095 / 0.76), (1.0, 20.0)],
)
def test_seconds_add_to_the_price(second_share: float, wanted: float) -> None:
    """100 pieces, 5 lost raw, in glost 10 % lost and 10 % seconds: 9.5 seconds at 8 beside 76 firsts at 20."""
    product = Product(
        code="P",
        name="plate",
        shape="P",
        glaze=None,
        route=(
            RouteStep(stage=Stage.BISCUIT, programme="B", scrap_share=0.05),
            RouteStep(
                stage=Stage.GLOST, programme="G", scrap_share=min(0.1, 1 - second_share), second_share=second_share
            ),
        ),
        price_money=20.0,
        second_price_money=8.0,
    )
    assert _takings_money(product) == pytest.approx(wanted)
