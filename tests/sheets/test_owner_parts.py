"""Parts of the owner's page: reasons, charts, loss map, tables."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from kilnpack.heat.changes import Change
from kilnpack.heat.fill_curve import FillCurve, FillPoint
from kilnpack.heat.per_piece import GoodPiece
from kilnpack.sheets.dear_words import dear_words
from kilnpack.sheets.owner import write_owner_page
from kilnpack.sheets.owner_charts import curve_chart, fill_chart, loss_map, split_chart
from kilnpack.sheets.owner_tables import blocks
from kilnpack.sheets.owner_values import FurnitureUse, KilnSplit, MonthCost, PlaceLoss, mixed_range
from kilnpack.sheets.ranges import plain_range
from tests.sheets.small_plan import OWNER
from tests.sheets.small_works import WORKS

if TYPE_CHECKING:
    from pathlib import Path


def piece(product: str, kwh: float, marginal: float, usual: float) -> GoodPiece:
    """Return figures of a good piece."""
    return GoodPiece(
        product=product,
        kwh=kwh,
        money=1.0,
        co2_kg=1.0,
        marginal_kwh=marginal,
        usual_kwh=usual,
        range_share=0.2,
        missing=(),
    )


def test_reasons_are_those_that_stand_out() -> None:
    """Own heat twice the mean, much room, losses and empty kilns are named; a plain piece has none of them."""
    product = WORKS.products[0]
    plain = replace(product, route=tuple(replace(step, scrap_share=0.0) for step in product.route[:2]))
    small, large = piece("A", 2.0, 1.0, 2.0), piece("B", 6.0, 3.0, 6.0)
    assert dear_words(plain, small, [small, large]) == "nothing stands out"
    assert "heavy: its own heat is 1.5 times" in dear_words(plain, large, [small, large])
    roomy = piece("C", 9.0, 1.0, 9.0)
    assert "1.8 times the mean room" in dear_words(plain, roomy, [small, roomy])
    assert "100% more than at usual fill" in dear_words(plain, piece("D", 4.0, 1.0, 2.0), [small])
    lossy = replace(product, route=tuple(replace(step, scrap_share=0.2) for step in product.route[:2]))
    assert "64% of what is set comes out good" in dear_words(lossy, small, [small])
    long = replace(plain, route=(*plain.route, plain.route[-1]))
    assert "3 firings" in dear_words(long, small, [small])


def curve(kiln: str, scale: float) -> FillCurve:
    """Return a curve of three points."""
    points = tuple(
        FillPoint(fill_share=fill, kwh=100.0, money=10.0, kwh_per_kg=scale / fill, money_per_kg=0.1 * scale / fill)
        for fill in (0.25, 0.5, 1.0)
    )
    return FillCurve(
        kiln=kiln,
        programme="P",
        points=points,
        marginal_kwh_per_kg=0.5,
        wasted_kwh=80.0,
        wasted_money=8.0,
        range_share=0.15,
    )


def test_split_is_drawn_to_its_shares() -> None:
    """Bars of one kiln end at 100 %, in the proportions of its parts."""
    splits = [KilnSplit(kiln="G1", parts=(("ware", 25.0), ("lining", 75.0)))]
    text = split_chart(splits).decode()
    assert "25 %" in text
    assert "75 %" in text
    assert split_chart(splits) == split_chart(splits)
    assert split_chart([]).startswith(b"<?xml")


def test_charts_of_fill_name_every_kiln() -> None:
    """Every kiln and programme is in the legend, also where a firing holds no ware; equal rows give equal bytes."""
    rows = (*OWNER.firings, replace(OWNER.firings[0], firing="F3", kiln="E1", programme="B960", fill_share=0.5))
    text = fill_chart(rows, 0.2).decode()
    assert "E1 B960" in text
    assert "F3" in text
    assert fill_chart(rows, 0.2) == fill_chart(rows, 0.2)
    drawn = curve_chart([curve("G1", 4.0), curve("E1", 2.0)], "EUR").decode()
    assert "G1 P" in drawn
    assert "EUR a kg of ware" in drawn


def test_loss_map_says_how_many() -> None:
    """A place has its share and its count; few pieces stand in brackets, an empty place is blank, darker is worse."""
    rows = [
        PlaceLoss(kiln="G1", stack="A", tier=1, fired_pieces=100, lost_pieces=10),
        PlaceLoss(kiln="G1", stack="A", tier=2, fired_pieces=10, lost_pieces=2),
        PlaceLoss(kiln="G1", stack="B", tier=1, fired_pieces=0, lost_pieces=0),
        PlaceLoss(kiln="E1", stack="Z", tier=9, fired_pieces=5, lost_pieces=5),
    ]
    drawing = loss_map(rows, "G1")
    assert "10% of 100" in drawing.body
    assert "(20% of 10)" in drawing.body
    assert "stack Z" not in drawing.body
    fills = dict(zip(("tier2", "tier1"), re.findall(r'<rect[^>]*fill="(#[0-9a-f]{6})"', drawing.body), strict=False))
    assert int(fills["tier2"][1:3], 16) < int(fills["tier1"][1:3], 16)


def test_ends_that_are_not_alike_are_rounded_by_their_distance() -> None:
    """Half width 250 leaves tens, 45 ones of tens, 3 ones; no width leaves all."""
    assert plain_range(412.3, 700.0, 912.3) == ("410", "700", "910")
    assert plain_range(10.0, 61.2, 100.0) == ("10", "60", "100")
    assert plain_range(2.0, 2.0, 2.0) == ("2", "2", "2")


def test_every_part_reaches_the_page(tmp_path: Path) -> None:
    """Guards the whole: months, changes, curves, furniture, losses, each with its table or drawing; none when empty."""
    change = Change(
        name="fuller firings: G1 P", how="joined", kwh=500.0, low_kwh=400.0, high_kwh=600.0, money=50.0, low_money=40.0,
        high_money=60.0,
    )  # fmt: skip
    night = replace(change, name="light at the cheapest hour: E1 P", kwh=0.0)
    month = MonthCost(
        month="2026-12", firings=2, ware_kg=88.4, kwh=1140.0, money=102.6, co2_kg=228.0, demand_money=30.0
    )
    rows = replace(
        OWNER,
        months=(month, replace(month, month="2027-01", ware_kg=0.0, demand_money=0.0)),
        changes=(change, night),
        curves=(curve("G1", 4.0),),
        furniture=(FurnitureUse(shelf="S480", name="shelf", stock_pieces=20, seen_firings=12.0, tiers=40),),
        losses=(PlaceLoss(kiln="G1", stack="A", tier=1, fired_pieces=100, lost_pieces=10),),
        splits=(KilnSplit(kiln="G1", parts=(("ware", 25.0), ("lining", 75.0))),),
    )
    assert [block[0] for block in blocks(OWNER)] == [
        "The ten dearest products, and why",
        "By product, dearest in all first",
        "By order line, largest first",
        "By firing",
    ]
    html = write_owner_page(rows, tmp_path).html.read_text(encoding="utf-8")
    for words in ("What to change first", "40 to 60", "2027-01", "14.0", "Losses by place", "Where the energy goes"):
        assert words in html
    assert "8 EUR (6.8 to 9.2)" in html
    assert FurnitureUse(shelf="S", name="", stock_pieces=0, seen_firings=3.0, tiers=4).after_firings == pytest.approx(
        3.0
    )


def test_energy_and_hands_have_one_range_together() -> None:
    """3 of energy at 10 % and 1 of hands at 30 % may be off by 0.6 of 4: 15 %; nothing keeps the energy's."""
    assert mixed_range(3.0, 1.0, 0.1) == pytest.approx(0.15)
    assert mixed_range(3.0, 0.0, 0.1) == pytest.approx(0.1)
    assert mixed_range(0.0, 0.0, 0.1) == 0.1
