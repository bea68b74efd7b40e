"""Guards what a tier keeps free: cone packs and the sight on them (C7), thermocouples (C5), ports (C8)."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kilnpack.model.geometry import Disc, Rectangle
from kilnpack.model.kilns import KeepOut, Kiln, Peephole, StackPlace
from kilnpack.model.settings import WorksSettings
from kilnpack.rules.sight import (
    KeepOuts,
    blocked_bases_mm,
    bottom_clears,
    box_z_mm,
    cone_pack,
    corridor,
    meets,
    near_keep_outs,
    pack_footprint,
    pack_in_reach,
    packs,
    post_spans_mm,
    tier_keep_outs,
)
from kilnpack.shapes.room import DiscKeepOut, RectKeepOut
from tests.rules.small_rules import kiln, shelf

SETTINGS = WorksSettings()
PLACE = StackPlace(code="A", shelf="S", x_mm=100.0, y_mm=100.0)
HOLE = Peephole(code="P", x_mm=350.0, y_mm=0.0, z_mm=240.0, direction_deg=90.0)
SEEN = kiln(peepholes=(HOLE, replace(HOLE, code="Q", has_pack=False)))
PORT = KeepOut(
    code="F", what="flue", outline=Rectangle(x_mm=60.0, y_mm=300.0, w_mm=30.0, d_mm=40.0), from_z_mm=100.0,
    to_z_mm=150.0, clear_mm=15.0,
)  # fmt: skip
COUPLE = KeepOut(
    code="T", what="thermocouple", outline=Disc(x_mm=350.0, y_mm=540.0, r_mm=5.0), from_z_mm=400.0, to_z_mm=410.0
)
SHUT = kiln(keep_outs=(PORT, COUPLE))


def tiered(one: Kiln, place: StackPlace, *, floor_mm: float, room_mm: float) -> KeepOuts:
    """Return what a tier over the small shelf keeps out of."""
    near = near_keep_outs(SETTINGS, one, place, shelf())
    return tier_keep_outs(SETTINGS, near, place, floor_mm=floor_mm, room_mm=room_mm)


@pytest.mark.source("memory", "C7: a box of 80 x 40 x 80 mm, 200 to 300 mm from the hole")
def test_a_hole_books_a_box_on_its_axis() -> None:
    """Guards C7: 80 mm wide and high round the axis, 40 mm deep, its middle 250 mm away; the sight from the hole on."""
    assert packs(SEEN) == (HOLE,)
    assert box_z_mm(SETTINGS, HOLE) == (200.0, 280.0)
    assert pack_footprint(SETTINGS, HOLE).bounds == pytest.approx((310.0, 230.0, 390.0, 270.0))
    assert corridor(SETTINGS, HOLE).bounds == pytest.approx((310.0, 0.0, 390.0, 270.0))
    right = replace(HOLE, x_mm=0.0, y_mm=300.0, direction_deg=0.0)
    assert pack_footprint(SETTINGS, right).bounds == pytest.approx((230.0, 260.0, 270.0, 340.0))


def test_no_shelf_cuts_the_sight_or_a_keep_out() -> None:
    """Guards C5, C7, C8: a shelf 10 mm thick keeps off 200 to 280, 85 to 165 and 350 to 460 mm; a far one nothing."""
    assert blocked_bases_mm(SETTINGS, SEEN, PLACE, shelf()) == [(190.0, 280.0)]
    assert blocked_bases_mm(SETTINGS, SHUT, PLACE, shelf()) == [(75.0, 165.0), (340.0, 460.0)]
    far = replace(PLACE, x_mm=1000.0)
    assert blocked_bases_mm(SETTINGS, SEEN, far, shelf()) == blocked_bases_mm(SETTINGS, SHUT, far, shelf()) == []
    # A port without a clearance bars what it touches.
    bare = kiln(
        keep_outs=(replace(PORT, clear_mm=0.0, outline=Rectangle(x_mm=60.0, y_mm=300.0, w_mm=40.0, d_mm=40.0)),)
    )
    assert blocked_bases_mm(SETTINGS, bare, PLACE, shelf()) == [(90.0, 150.0)]


def test_posts_keep_out_of_the_sight() -> None:
    """Guards C5, C7, C8: a post in the corridor at its heights, or too near to a keep-out at its heights."""

    def stands_in_the_way(x_mm: float, low: float, high: float, where: object = SEEN) -> bool:
        posts = ((x_mm, 50.0), (450.0, 200.0), (50.0, 350.0))
        one = SEEN if where is SEEN else SHUT
        return meets(post_spans_mm(SETTINGS, one, PLACE, shelf(posts_mm=posts), side_mm=40.0), (low, high))

    assert stands_in_the_way(250.0, 100.0, 210.0)
    assert not stands_in_the_way(250.0, 100.0, 200.0)
    assert not stands_in_the_way(250.0, 280.0, 400.0)
    # The corridor is 310 to 390 mm wide: a post of 40 mm clears it with its middle left of 290 mm in the kiln.
    assert not stands_in_the_way(189.0, 100.0, 210.0)
    assert stands_in_the_way(191.0, 100.0, 210.0)
    near_port = shelf(posts_mm=((14.0, 220.0), (450.0, 50.0), (450.0, 350.0)))
    for (low, high), wanted in {
        (0.0, 90.0): True,
        (0.0, 85.0): False,
        (165.0, 300.0): False,
        (160.0, 300.0): True,
    }.items():
        found = meets(post_spans_mm(SETTINGS, SHUT, PLACE, near_port, side_mm=40.0), (low, high))
        assert found is wanted
    assert not stands_in_the_way(250.0, 100.0, 210.0, SHUT)


def test_a_tier_keeps_its_ware_out_of_the_sight_and_of_what_is_there() -> None:
    """Guards C5, C7, C8 in the frame of the shelf: the corridor at its heights, the pack from the shelf up."""
    found = tiered(SEEN, PLACE, floor_mm=150.0, room_mm=200.0)
    assert [type(one) for one in found] == [RectKeepOut, RectKeepOut]
    way, pack = found
    assert isinstance(way, RectKeepOut)
    assert isinstance(pack, RectKeepOut)
    sides = [(one.x0_mm, one.y0_mm, one.x1_mm, one.y1_mm) for one in (way, pack)]
    assert sides == [pytest.approx((210.0, -100.0, 290.0, 170.0)), pytest.approx((210.0, 130.0, 290.0, 170.0))]
    assert [(one.from_z_mm, one.to_z_mm, one.clearance_mm) for one in (way, pack)] == [
        (50.0, 130.0, 3.0),
        (0.0, 130.0, 3.0),
    ]
    for floor, room in ((280.0, 200.0), (50.0, 150.0)):
        assert tiered(SEEN, PLACE, floor_mm=floor, room_mm=room) == ()
    assert tiered(SEEN, replace(PLACE, x_mm=900.0), floor_mm=150.0, room_mm=200.0) == ()


def test_keep_outs_are_seen_from_a_turned_shelf() -> None:
    """Guards C5 and C8: a port and the bubble of a thermocouple, moved into the shelf's frame with their clearances."""
    found = tiered(SHUT, PLACE, floor_mm=110.0, room_mm=400.0)
    assert found == (
        RectKeepOut(x0_mm=-40.0, y0_mm=200.0, x1_mm=-10.0, y1_mm=240.0, from_z_mm=0.0, to_z_mm=55.0, clearance_mm=15.0),
        DiscKeepOut(x_mm=250.0, y_mm=440.0, radius_mm=5.0, from_z_mm=240.0, to_z_mm=350.0, clearance_mm=50.0),
    )
    turned = StackPlace(code="A", shelf="S", x_mm=600.0, y_mm=500.0, turn_deg=180.0)
    half, _ = tiered(SHUT, turned, floor_mm=110.0, room_mm=400.0)
    assert isinstance(half, RectKeepOut)
    assert (half.x0_mm, half.y0_mm) == pytest.approx((510.0, 160.0))
    assert tiered(SHUT, PLACE, floor_mm=165.0, room_mm=185.0) == ()


def test_a_pack_stands_wholly_on_the_highest_shelf_under_its_box() -> None:
    """Guards C7: of shelves at 40, 130 and 200 mm the one flush with the box; lifted where lower; none over an edge."""
    tiers = [(PLACE, 1, 30.0, shelf()), (PLACE, 2, 120.0, shelf()), (PLACE, 3, 300.0, shelf())]
    found = cone_pack(SETTINGS, HOLE, tiers)
    assert found is not None
    assert (found.place, found.tier, found.lift_mm) == ("A", 2, 70.0)
    assert (found.x_mm, found.y_mm, found.turn_deg) == (250.0, 150.0, 90.0)
    flush = cone_pack(SETTINGS, HOLE, [*tiers, (PLACE, 9, 190.0, shelf())])
    assert flush is not None
    assert (flush.tier, flush.lift_mm) == (9, 0.0)
    assert cone_pack(SETTINGS, HOLE, tiers[2:]) is None
    # 120 mm away the pack begins at the edge of the shelf, y = 100 mm; nearer it hangs over.
    near = replace(SETTINGS, pack_away_least_mm=0.0)
    assert cone_pack(near, replace(HOLE, pack_away_mm=120.0), tiers) is not None
    assert cone_pack(near, replace(HOLE, pack_away_mm=119.0), tiers) is None
    turned = StackPlace(code="A", shelf="S", x_mm=600.0, y_mm=500.0, turn_deg=180.0)
    other = cone_pack(SETTINGS, HOLE, [(turned, 1, 30.0, shelf())])
    assert other is not None
    assert (other.x_mm, other.y_mm, other.turn_deg) == (250.0, 250.0, 270.0)


@pytest.mark.source("memory", "C7: a pack 200 to 300 mm from its hole")
def test_a_pack_is_near_enough_to_be_read_and_far_enough_to_be_true() -> None:
    """Guards C7: at 200 and at 300 mm a pack stands, at 199 and at 301 none does."""
    tiers = [(PLACE, 1, 30.0, shelf())]
    for away_mm, stands in {199.0: False, 200.0: True, 300.0: True, 301.0: False}.items():
        hole = replace(HOLE, pack_away_mm=away_mm)
        assert pack_in_reach(SETTINGS, hole) is stands
        assert (cone_pack(SETTINGS, hole, tiers) is not None) is stands


@pytest.mark.source("kiln-maker-guide", "C6: bottom shelf 25 mm off the floor")
def test_a_bottom_shelf_keeps_off_the_floor_and_off_what_is_hot_under_it() -> None:
    """Guards C6: 25 mm off the floor; 50 mm over an element of 20 mm under it; one beside or above counts nothing."""
    element = KeepOut(
        code="E", what="element", outline=Rectangle(x_mm=200.0, y_mm=200.0, w_mm=50.0, d_mm=50.0), from_z_mm=0.0,
        to_z_mm=20.0,
    )  # fmt: skip
    beside = replace(element, outline=Rectangle(x_mm=20.0, y_mm=200.0, w_mm=50.0, d_mm=50.0))
    cases = {
        (): 25.0,
        (element,): 70.0,
        (replace(element, what="vent"),): 70.0,
        (replace(element, what="burner"),): 70.0,
        (replace(element, what="bag wall"),): 25.0,
        (beside,): 25.0,
        (replace(element, from_z_mm=80.0, to_z_mm=90.0),): 25.0,
    }
    for keep_outs, least_mm in cases.items():
        one = kiln(keep_outs=keep_outs)
        assert bottom_clears(SETTINGS, one, PLACE, shelf(), least_mm)
        assert not bottom_clears(SETTINGS, one, PLACE, shelf(), least_mm - 0.1)
    high = kiln(keep_outs=(replace(element, from_z_mm=80.0, to_z_mm=90.0),))
    assert not bottom_clears(SETTINGS, high, PLACE, shelf(), 100.0)
