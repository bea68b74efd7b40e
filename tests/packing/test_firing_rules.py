"""The rules of one firing as the packer asks for them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from kilnpack.model.geometry import ConvexPolygon, Disc, HalfDisc, Rectangle
from kilnpack.model.kilns import ChamberKind, KeepOut, OffsetMap, OffsetReading, StackPlace, WallKind
from kilnpack.model.orders import LotKind
from kilnpack.model.pieces import FootState, Stage
from kilnpack.packing.exclusions import compatible
from kilnpack.packing.firing_rules import FiringRules
from kilnpack.packing.pack_load import pack_load
from kilnpack.packing.placing_order import Base, piece_at, placing_order
from kilnpack.packing.region_outline import outline_of, own_half, seen_from_shelf
from kilnpack.search.budget import Budget
from kilnpack.shapes.primitives import Primitive
from kilnpack.shapes.room import ConvexOutline, DiscKeepOut, DiscOutline, HalfDiscOutline, RectKeepOut, RectOutline
from tests.packing.small_works import lots_for, random_works

if TYPE_CHECKING:
    from kilnpack.model.works import Works


def rules_of(works: Works, code: str, kiln: str = "K1") -> FiringRules:
    """Return the rules of a firing."""
    return FiringRules(works, works.kiln(kiln), works.programme(code))


def with_product(works: Works, product: str, **changes: object) -> Works:
    """Return the works with the glost step of a product changed."""
    rows = []
    for row in works.products:
        route = row.route
        if row.code == product:
            route = (route[0], replace(route[1], **changes), *route[2:])  # type: ignore[arg-type]
        rows.append(replace(row, route=route))
    return replace(works, products=tuple(rows))


def test_offsets_come_from_readings_from_the_spread_or_from_the_works() -> None:
    """Guards Z1: at a reading its own value, between two their mean, else plus and minus the spread."""
    works = random_works(1)
    readings = (
        OffsetReading(x_mm=0, y_mm=0, z_mm=0, offset_k=-6.0),
        OffsetReading(x_mm=100, y_mm=0, z_mm=0, offset_k=10.0),
    )
    maps = (OffsetMap(stage=Stage.BISCUIT, spread_k=15.0), OffsetMap(stage=Stage.GLOST, readings=readings))
    works = replace(works, kilns=tuple(replace(kiln, offsets=maps) for kiln in works.kilns))
    assert rules_of(works, "G").offset_range_k(100, 0, 0) == (10.0, 10.0)
    assert rules_of(works, "G").offset_range_k(50, 0, 0) == pytest.approx((2.0, 2.0))
    assert rules_of(works, "B").offset_range_k(5, 5, 5) == (-15.0, 15.0)
    assert rules_of(works, "D").offset_range_k(5, 5, 5) == (-10.0, 10.0)
    assert rules_of(works, "G").hottest_degc == 1420.0


def test_gaps_by_stage_glaze_and_refire() -> None:
    """Guards C1, C11, C12: biscuit may touch, hot decoration keeps 12, refires grow, the hand adds its own."""
    works = random_works(1)
    lots = lots_for(works, "D")
    assert rules_of(works, "B").gap_mm(lots_for(works, "B")) == 3.0
    assert rules_of(works, "G").gap_mm(lots_for(works, "G")) == 9.0
    assert rules_of(works, "G").gap_mm([replace(lots_for(works, "G")[0], kind=LotKind.REFIRE)]) == 11.0
    assert rules_of(works, "D").gap_mm(lots) == 11.0
    soft = replace(works, glazes=tuple(replace(glaze, softening_degc=820.0) for glaze in works.glazes))
    assert rules_of(soft, "D").gap_mm(lots) == 17.0


def test_walls_by_kiln() -> None:
    """Guards C4 and C10: electric, gas, car, and the kiln's own word before all."""
    works = random_works(1)
    kiln, programme = works.kiln("K1"), works.programme("G")
    cases = {
        50.0: kiln,
        25.0: replace(kiln, wall=WallKind.GAS),
        33.0: replace(kiln, wall_clear_mm=33.0),
    }
    for wanted, one in cases.items():
        assert FiringRules(works, one, programme).wall_mm == wanted
    car = replace(works.settings, car_edge_mm=61.0)
    assert FiringRules(replace(works, settings=car), replace(kiln, kind=ChamberKind.CAR), programme).wall_mm == 61.0


def test_shelf_carries_by_the_beam_formula() -> None:
    """Guards F9 and F16. Four posts on 310 mm: s = 1.25 x 0.75 q L2/t2 = 4 MPa, q = 6.393e-3 MPa over 0.14 m2.

    895.1 N less the shelf's own 6 kg are 85.27 kg. A shelf known cold only carries by its own share.
    """
    works = random_works(1)
    rules = rules_of(works, "G")
    rect = next(item for item in works.furniture.shelves if item.code == "rect")
    q_mpa = 4.0 / (1.25 * 0.75 * 310.0**2 / 12.0**2)
    assert rules.load_limit_kg(rect) == pytest.approx(q_mpa * 400 * 350 / 9.80665 - 6.0)
    assert rules.load_limit_kg(replace(rect, strength_mpa=None, cold_strength_mpa=80.0)) == rules.load_limit_kg(rect)
    half = next(item for item in works.furniture.shelves if item.code == "half")
    assert 0 < rules.load_limit_kg(half) < 200


def test_supports_by_glaze_foot_and_heat() -> None:
    """Guards W6, W7, W10: no support for a glazed foot, no disc for a runny glaze, stilts never in glost, heat."""
    works = random_works(1)
    lot = next(row for row in lots_for(works, "G") if row.product == "cup-white")
    assert rules_of(works, "G").forms(lot)[0][0].support is None
    glazed = with_product(works, "cup-white", foot=FootState.GLAZED)
    assert rules_of(glazed, "G").forms(lot)[1][0].rule == "W6"
    stilt = with_product(works, "cup-white", supports=("stilt",))
    assert rules_of(stilt, "G").forms(lot)[1][0].rule == "F1"
    large = with_product(works, "cup-white", supports=("crank",))
    assert {form.pieces for form in rules_of(large, "G").forms(lot)[0]} == {1}
    runny = replace(works, glazes=tuple(replace(glaze, runny=True) for glaze in works.glazes))
    assert rules_of(runny, "G").forms(lot)[0][0].support == "disc"
    bare = replace(runny, furniture=replace(works.furniture, catch_discs=()))
    assert rules_of(bare, "G").forms(lot)[1][0].rule == "W10"


def test_windows_keep_ware_where_the_heat_is_sure() -> None:
    """Guards Z2 in a packed load: with a kiln 60 K uneven, ware with a narrow window stays out and says why."""
    works = with_product(random_works(1), "vase-white", low_degc=1395.0, high_degc=1450.0)
    works = with_product(works, "mug-white", low_degc=1300.0, high_degc=1400.0)
    kilns = tuple(replace(kiln, offsets=(OffsetMap(stage=Stage.GLOST, spread_k=30.0),)) for kiln in works.kilns)
    works = replace(works, kilns=kilns)
    lots = [lot for lot in lots_for(works, "G") if lot.product.endswith("white")]
    load = pack_load(works, works.kiln("K2"), works.programme("G"), lots, budget=Budget(effort=30), seed=1)
    rows = {row.lot: row for row in load.left_out}
    assert rows["vase-white-1"].rule == "Z2"
    assert "reach" in rows["vase-white-1"].reason
    assert "stay under" in rows["mug-white-1"].reason


def test_keep_outs_are_seen_from_the_shelf() -> None:
    """Guards C5 and C8: the bubble of a thermocouple, a port as a rectangle, and heights no shelf may lie at."""
    works = random_works(1)
    port = KeepOut(
        code="P", what="burner", outline=Rectangle(x_mm=470.0, y_mm=60.0, w_mm=20.0, d_mm=30.0), from_z_mm=100.0,
        to_z_mm=150.0, clear_mm=10.0,
    )  # fmt: skip
    couple = KeepOut(
        code="T", what="thermocouple", outline=Disc(x_mm=300.0, y_mm=440.0, r_mm=5.0), from_z_mm=100.0, to_z_mm=110.0
    )
    kiln = replace(works.kiln("K1"), keep_outs=(port, couple), peepholes=())
    rules = FiringRules(works, kiln, works.programme("G"))
    place, shelf = kiln.places[0], works.furniture.shelves[0]
    found = rules.keep_outs(place, shelf, 60.0, 100.0)
    assert {type(item) for item in found} == {RectKeepOut, DiscKeepOut}
    assert rules.keep_outs(place, shelf, 200.0, 100.0) == ()
    assert len(rules.barred_mm(place, shelf)) == 2


def test_regions_in_the_frame_of_a_turned_shelf() -> None:
    """Guards the change of frame: every kind of region, straight and slanted, and the half that belongs to a shelf."""
    turned = StackPlace(code="A", shelf="rect", x_mm=100.0, y_mm=0.0, turn_deg=90.0)
    slanted = replace(turned, turn_deg=30.0)
    box = Rectangle(w_mm=200.0, d_mm=100.0)
    triangle = ConvexPolygon(corners_mm=((0.0, 0.0), (50.0, 0.0), (0.0, 50.0)))
    seen = seen_from_shelf(box, turned)
    assert isinstance(seen, RectOutline)
    assert (seen.width_mm, seen.depth_mm) == pytest.approx((100.0, 200.0))
    assert isinstance(seen_from_shelf(box, slanted), ConvexOutline)
    assert isinstance(seen_from_shelf(triangle, turned), ConvexOutline)
    assert isinstance(seen_from_shelf(HalfDisc(x_mm=0.0, r_mm=50.0), turned), ConvexOutline)
    assert isinstance(seen_from_shelf(Disc(r_mm=50.0), turned), DiscOutline)
    kinds = [type(outline_of(region)) for region in (box, Disc(r_mm=5.0), HalfDisc(x_mm=0.0, r_mm=5.0), triangle)]
    assert kinds == [RectOutline, DiscOutline, HalfDiscOutline, ConvexOutline]
    left, right = (
        StackPlace(code="L", shelf="r", x_mm=0.0, y_mm=0.0),
        StackPlace(code="R", shelf="r", x_mm=210.0, y_mm=0.0),
    )
    limit = own_half(left, box, [(right, box)])
    assert limit is not None
    assert isinstance(limit.outline, ConvexOutline)
    assert max(x for x, _ in limit.outline.corners) == pytest.approx(205.0)
    assert own_half(left, box, []) is None
    touching = own_half(left, box, [(left, box)])
    assert touching is not None


def test_many_vapours_are_sorted_out_one_after_the_other(monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards Z5 where there are too many kinds to try all: what is chosen never clashes."""
    works = random_works(0)
    monkeypatch.setattr("kilnpack.packing.exclusions.MOST_EXACT", 0)
    rules = rules_of(works, "G")
    together, out = compatible(rules, lots_for(works, "G"))
    vapours = [rules.vapours(lot) for lot in together]
    assert not any(rules.clash(a, b) for a in vapours for b in vapours)
    assert out


def test_refires_wait_for_a_load_of_their_own() -> None:
    """Guards T9 where a works fires refires apart: the two refires, worth less, wait with the rule that bars them."""
    works = random_works(3)
    lots = lots_for(works, "D")
    mixed = tuple(replace(lot, kind=LotKind.REFIRE) if k < 2 else lot for k, lot in enumerate(lots))
    together, out = compatible(rules_of(works, "D"), mixed)
    assert (set(together), out) == (set(mixed), [])
    apart = replace(works, settings=replace(works.settings, refires_apart=True))
    together, out = compatible(rules_of(apart, "D"), mixed)
    assert set(together) == set(mixed[2:])
    assert {(row.lot, row.rule) for row in out} == {(lot.code, "T9") for lot in mixed[:2]}
    assert {row.reason for row in out} == {"refired ware may not share a load with ware fired once"}


def test_crossing_parts_have_no_way_past_each_other() -> None:
    """Guards the distance of segments that cross: a bar over a bar goes in after it."""
    wide = Base(mass_kg=9.0, x_mm=0.0, y_mm=0.0, corners=((-99, -99), (99, -99), (99, 99), (-99, 99)), margin_mm=5.0)
    low = piece_at(
        [Primitive(x_mm=0.0, y_mm=0.0, hx_mm=40.0, profile=((0.0, 4.0), (10.0, 4.0)))],
        0.0,
        0.0,
        0.0,
        mass_kg=0.1,
        value=1,
    )
    high = piece_at(
        [Primitive(x_mm=0.0, y_mm=0.0, hy_mm=40.0, profile=((20.0, 4.0), (30.0, 4.0)))],
        0.0,
        5.0,
        0.0,
        mass_kg=0.1,
        value=1,
    )
    assert placing_order([high, low], wide) == ([1, 0], [])
