"""The parts the planner is put together from: ready lots, cycles, estimates, furniture, yields."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace
from datetime import UTC, timedelta

import pytest

from kilnpack.model.furniture import CatchDisc, Setter, ShelfLot, Spacer, Stilt
from kilnpack.model.geometry import ConvexPolygon, Disc, ExtrudedPart, HalfDisc, Rectangle, RoundedPolygon, TurnedPart
from kilnpack.model.loads import BodyForm, Load, PlaceFill, Setting, StackLoad, Standing, Tier
from kilnpack.model.orders import Lot
from kilnpack.model.pieces import Stacking, StackWay, Stage
from kilnpack.model.programmes import Segment
from kilnpack.planning.cycle import cycle_of, fire_h
from kilnpack.planning.estimate import AreaHeight, region_mm2
from kilnpack.planning.furniture_stock import furniture_of, lacking, stock_of, with_less
from kilnpack.planning.outcomes import complete_units, late_days
from kilnpack.planning.packs import furniture_kg
from kilnpack.planning.ready import ready_lots, ready_works
from kilnpack.planning.routes import expected_pieces, start_pieces
from tests.planning.small import NO_HANDS, NOW, furniture, kiln, line, product, programme, shape, works

B, G, D = Stage.BISCUIT, Stage.GLOST, Stage.DECORATION


def test_ready_lots_are_dry_glazed_and_first_due_first() -> None:
    """Only lots that wait for the programme, are ready by then and glazed; the first due first, stock last."""
    shop = works(
        kilns=(kiln("K", "G"),),
        programmes=(programme("G", G), programme("D", D)),
        products=(product("MUG", "G", "D", stages=(G, D)),),
        lines=(line("O1", "MUG", 5, 20), line("O2", "MUG", 5, 10)),
        lots=(
            Lot(code="S", product="MUG", step=0, pieces=1),
            Lot(code="A", product="MUG", step=0, pieces=1, order_line="O1"),
            Lot(code="B", product="MUG", step=0, pieces=1, order_line="O2"),
            Lot(code="WET", product="MUG", step=0, pieces=1, ready_at=NOW + timedelta(hours=9)),
            Lot(code="RAW", product="MUG", step=0, pieces=1, glazed=False),
            Lot(code="LATER", product="MUG", step=1, pieces=1),
            Lot(code="DONE", product="MUG", step=2, pieces=1),
        ),
    )
    found = ready_lots(shop, shop.kilns[0], shop.programmes[0], NOW)
    assert [lot.code for lot in found] == ["B", "A", "S"]
    later = ready_lots(shop, shop.kilns[0], shop.programmes[0], (NOW + timedelta(hours=9)).replace(tzinfo=UTC))
    assert [lot.code for lot in later] == ["B", "A", "S", "WET"]
    assert ready_lots(shop, shop.kilns[0], shop.programmes[1], NOW) == ()
    assert ready_works(shop, found).lots == found


@pytest.mark.source("common-practice", "20 s a raw piece, 45 s a glazed one, 240 s a shelf, unloading half, cleaning")
def test_hands_of_a_firing() -> None:
    """100 glazed pieces on 30 shelves: 4500 + 7200 s = 3.25 h, unloading 1.625 h, cleaning 2 h; raw ware 2.5556 h."""
    settings = works(settings=replace(NO_HANDS, raw_handling_s=20.0, glazed_handling_s=45.0, shelf_handling_s=240.0,
                                      cleaning_h_per_shelf=2 / 30)).settings  # fmt: skip
    glost = cycle_of(settings, kiln("K", "G"), programme("G", G), pieces=100, shelves=30, contents_kg=50.0)
    assert (glost.load_person_h, glost.unload_person_h, glost.cleaning_person_h) == pytest.approx((3.25, 1.625, 2.0))
    raw = cycle_of(settings, kiln("K", "B"), programme("B", B), pieces=100, shelves=30, contents_kg=50.0)
    assert raw.load_person_h == pytest.approx(2.5556, abs=1e-4)
    assert raw.cleaning_person_h == 0.0


def test_fire_hours_of_a_curve_without_record() -> None:
    """20 to 520 at 100 K/h is 5 h, 1 h hold, to 920 at 200 K/h is 2 h, 0.5 h soak; cooling is not fire: 8.5 h."""
    curve = (
        Segment(to_degc=520.0, rate_k_h=100.0, hold_h=1.0),
        Segment(to_degc=920.0, rate_k_h=200.0, hold_h=0.5),
        Segment(to_degc=600.0, rate_k_h=100.0),
    )
    assert fire_h(replace(programme("D", D, hours=0.0), segments=curve)) == pytest.approx(8.5)


def test_cooling_without_a_recorded_mass_is_as_recorded() -> None:
    """A programme that names no mass is not stretched."""
    plain = programme("D", D, recorded_kg=0.0)
    found = cycle_of(NO_HANDS, kiln("K", "D"), plain, pieces=1, shelves=1, contents_kg=900.0)
    assert found.cool_in_kiln_h == 12.0


def test_start_quantities_and_expected_pieces() -> None:
    """10 ordered at yields 0.9 and 0.8: 10 / 0.72 = 13.9, so 14; running totals round up."""
    route = product("P", "B", "G", stages=(B, G), scrap_share=0.1).route
    route = (route[0], replace(route[1], scrap_share=0.1, second_share=0.1))
    assert start_pieces(10, route) == 14
    assert start_pieces(10, route, 1) == 13
    assert start_pieces(10, route, 2) == 10
    assert expected_pieces(14, 0.9) == 13
    assert expected_pieces(1, 0.3) == 1
    with pytest.raises(ValueError, match="loses every piece"):
        start_pieces(1, (replace(route[0], scrap_share=1.0),))


def test_complete_units_wait_for_every_item() -> None:
    """Two cups and a pot make a set: cups at 1, a pot at 3, another at 9, more than wanted is not counted."""
    arrivals = {"CUP": [(1.0, 5)], "POT": [(3.0, 1), (9.0, 7)]}
    assert complete_units(arrivals, {"CUP": 2, "POT": 1}, 2) == [(3.0, 1), (9.0, 1)]
    assert late_days(24.0, 24.0) == 0
    assert late_days(24.5, 24.0) == 1


REGIONS = [
    (Rectangle(w_mm=3.0, d_mm=2.0), 6.0),
    (Disc(r_mm=2.0), 4 * math.pi),
    (HalfDisc(x_mm=2.0, r_mm=2.0), 2 * math.pi),
    (ConvexPolygon(corners_mm=((0.0, 0.0), (4.0, 0.0), (0.0, 3.0))), 6.0),
]


@pytest.mark.parametrize(("region", "area"), REGIONS)
def test_areas_of_regions(region: Rectangle | Disc | HalfDisc | ConvexPolygon, area: float) -> None:
    """Areas by the formulas of plane geometry."""
    assert region_mm2(region) == pytest.approx(area)


def test_estimate_takes_the_thriftiest_stack_and_learns() -> None:
    """Nested raw ware takes less of a kiln than bare ware; a full load of 10 teaches that a piece takes a tenth."""
    nested = replace(
        shape(),
        parts=(
            TurnedPart(profile_mm=((0.0, 30.0), (80.0, 40.0))),
            ExtrudedPart(
                from_z_mm=10.0,
                to_z_mm=60.0,
                outline=(
                    RoundedPolygon(corners_mm=((35.0, 0.0), (60.0, 0.0)), round_mm=5.0),
                    Disc(x_mm=60.0, r_mm=6.0),
                ),
            ),
        ),
        stackings=(
            Stacking(way=StackWay.NESTED, step_mm=10.0, most_pieces=4, load_limit_factor=3.0),
            Stacking(way=StackWay.BOXED, most_pieces=1, load_limit_factor=3.0),
        ),
    )
    shop = works(
        shapes=(nested,), programmes=(programme("B", B), programme("D", D)),
        products=(product("MUG", "B", "D", stages=(B, D)),),
    )  # fmt: skip
    estimate, oven = AreaHeight(shop), shop.kilns[0]
    raw = estimate.piece_share(oven, shop.programmes[0], "MUG", 0)
    bare = estimate.piece_share(oven, shop.programmes[1], "MUG", 1)
    assert 0.0 < raw < bare
    estimate.learn(oven, shop.programmes[1], {("MUG", 1): 10})
    assert estimate.piece_share(oven, shop.programmes[1], "MUG", 1) == pytest.approx(0.1)
    estimate.learn(oven, shop.programmes[1], {("MUG", 1): 1})
    assert 0.1 < estimate.piece_share(oven, shop.programmes[1], "MUG", 1) < 0.11
    estimate.learn(oven, shop.programmes[1], {("MUG", 1): 10})
    estimate.learn(oven, shop.programmes[1], {})
    assert estimate.piece_share(oven, shop.programmes[1], "MUG", 1) == pytest.approx(0.1)
    nowhere = replace(oven, places=())
    assert estimate.piece_share(nowhere, shop.programmes[1], "MUG", 1) == math.inf


def full_load() -> Load:
    """Two tiers with a setter stack, a stilt, a disc and a pile with spacers on each; one tier wants a flat shelf."""
    forms = (
        BodyForm(code="crank", shape="CUP", stage=D, pieces=3, support="CR"),
        BodyForm(code="stilted", shape="CUP", stage=D, support="ST"),
        BodyForm(code="disc", shape="CUP", stage=D, support="CD"),
        BodyForm(code="pile", shape="CUP", stage=B, pieces=3, way=StackWay.PILED, spacer="SP"),
    )
    standings = tuple(
        Standing(place=k + 1, form=form.code, x_mm=100.0 * k, y_mm=0.0, turn_deg=0.0) for k, form in enumerate(forms)
    )
    tiers = tuple(
        Tier(number=k, base_mm=25.0, shelf="S", posts=("P", "P"), room_mm=200.0, setting="A",
             fills=(PlaceFill(place=1, lot="L", pieces=3),), flat=k == 2)
        for k in (1, 2)
    )  # fmt: skip
    return Load(
        works="W", kiln="K", programme="D", stage=D, car=None, forms=forms,
        settings=(Setting(code="A", shelf="S", standings=standings),),
        stacks=(StackLoad(place="A", stub="B", tiers=tiers),), value_share=1.0, seed=1,
    )  # fmt: skip


def test_furniture_of_a_load_and_what_is_left() -> None:
    """Counted by hand: 2 shelves, one flat, 12 posts, 3 stubs, 6 setters, 2 stilts, 2 discs, 8 spacers (2 a gap)."""
    stock = replace(
        furniture(9),
        setters=(
            Setter(
                code="CR",
                outer_mm=200.0,
                inner_mm=180.0,
                seat_mm=5.0,
                pitch_mm=40.0,
                most_pieces=4,
                mass_kg=0.5,
                top_degc=1300.0,
                count_pieces=10,
            ),
        ),
        stilts=(
            Stilt(
                code="ST",
                height_mm=20.0,
                contact_r_mm=20.0,
                foot_r_mm=30.0,
                points=3,
                mass_kg=0.5,
                top_degc=1300.0,
                count_pieces=10,
            ),
        ),
        catch_discs=(
            CatchDisc(code="CD", outer_mm=90.0, height_mm=8.0, mass_kg=0.5, top_degc=1300.0, count_pieces=10),
        ),
        spacers=(Spacer(code="SP", height_mm=10.0, pieces_per_gap=2, mass_kg=0.5, top_degc=1300.0, count_pieces=10),),
    )
    bowed = replace(stock.shelves[0], lots=(ShelfLot(count_pieces=2), ShelfLot(count_pieces=1, bow_mm=3.0)))
    shop = works(furniture=replace(stock, shelves=(bowed,)))
    taken = furniture_of(shop, full_load())
    assert taken == Counter({
        ("shelf", "S"): 1, ("flat shelf", "S"): 1, ("post", "P"): 12, ("stub", "B"): 3, ("support", "CR"): 6,
        ("support", "ST"): 2, ("support", "CD"): 2, ("support", "SP"): 8,
    })  # fmt: skip
    assert furniture_kg(shop, taken) == pytest.approx(2 * 8.0 + 12 * 0.4 + 3 * 0.1 + 18 * 0.5)
    left = with_less(shop, taken).furniture
    assert [lot.count_pieces for lot in left.shelves[0].lots] == [1, 0]
    assert (left.posts[0].count_pieces, left.stubs[0].count_pieces) == (15, 57)
    assert [rows[0].count_pieces for rows in (left.setters, left.stilts, left.catch_discs, left.spacers)] == [
        4,
        8,
        8,
        2,
    ]
    assert not lacking(stock_of(shop), taken)
    twice = taken + taken
    assert lacking(stock_of(shop), twice) == Counter({("shelf", "S"): 1, ("support", "CR"): 2, ("support", "SP"): 6})
    assert with_less(shop, Counter()) is shop
