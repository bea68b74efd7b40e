"""Why a piece stays outside: each kind of reason, and that the change named does let it in."""

from __future__ import annotations

import random
import re
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from kilnpack.model.geometry import Rectangle
from kilnpack.model.kilns import OffsetMap, OffsetReading
from kilnpack.model.pieces import Stage
from kilnpack.packing.free_place import free_radius_mm
from kilnpack.packing.pack_load import pack_load
from kilnpack.search.budget import Budget
from kilnpack.shapes.room import PostSquare, RectOutline, Room
from tests.packing.small_works import furniture, lots_for, random_works

if TYPE_CHECKING:
    from kilnpack.model.furniture import Furniture
    from kilnpack.model.loads import LeftOut, Load
    from kilnpack.model.works import Works

BRIEF = Budget(effort=40)


def only(product: str, pieces: int, **stock: int) -> Works:
    """Return a works with so many pieces of one product in decoration, and so much of some furniture.

    Keywords are codes of posts and shelves with the number of them.
    """
    works = random_works(5)
    lots = tuple(replace(lot, pieces=pieces) for lot in lots_for(works, "D") if lot.product == product)
    kilns = tuple(replace(kiln, usable_height_mm=700.0, keep_outs=(), peepholes=()) for kiln in works.kilns)
    settings = replace(works.settings, settings_most=12)
    return replace(works, lots=lots, kilns=kilns, settings=settings, furniture=stocked(works.furniture, stock))


def stocked(there: Furniture, stock: dict[str, int]) -> Furniture:
    """Return furniture with other numbers of some posts and shelves."""
    posts = tuple(replace(post, count_pieces=stock.get(post.code, post.count_pieces)) for post in there.posts)
    shelves = tuple(
        replace(shelf, lots=(replace(shelf.lots[0], count_pieces=stock[shelf.code]),)) if shelf.code in stock else shelf
        for shelf in there.shelves
    )
    return replace(there, posts=posts, shelves=shelves)


def packed(works: Works, kiln: str = "K1") -> Load:
    """Return the load of the decoration."""
    return pack_load(works, works.kiln(kiln), works.programme("D"), works.lots, budget=BRIEF, seed=1)


def reason(works: Works, kiln: str = "K1") -> LeftOut:
    """Return the one row of what is left out."""
    rows = packed(works, kiln).left_out
    assert len(rows) == 1
    return rows[0]


NO_POSTS = {"P40": 0, "P50": 0, "P75": 0, "P100": 0, "P150": 0}


def test_posts_are_named_by_height_and_number() -> None:
    """Guards "four more posts of 100": with them, and only them, more cups go in.

    A cup of 60 mm and a headroom of 13 mm want 73 mm and more: a post of 75 (74.6 measured), four at the corners.
    """
    works = only("cup-white", 300, **{**NO_POSTS, "rect": 9})
    row = reason(works)
    assert row.rule == "no room"
    assert row.change is not None
    found = re.search(r"(\d+) more posts of (\d+) \((P\d+)\)", row.change)
    assert found is not None, row.change
    count, code = int(found[1]), found[3]
    assert count == 4
    more = replace(works, furniture=stocked(works.furniture, {code: count}))
    assert packed(more).pieces > packed(works).pieces


def test_a_shelf_is_named_by_its_type() -> None:
    """Guards "one more shelf": with one more, more cups go in."""
    works = only("cup-white", 300, rect=2, P75=40, P100=40)
    row = reason(works)
    assert "1 more shelf rect" in (row.change or "")
    more = replace(works, furniture=stocked(works.furniture, {"rect": 3}))
    assert packed(more).pieces > packed(works).pieces


def test_height_of_the_kiln_is_named_in_mm() -> None:
    """Guards the millimetres: a kiln higher by what is named takes more cups, as furniture does not bind."""
    works = only("cup-white", 900, rect=60, P75=200, P100=200, P40=200, P50=200)
    low = replace(works, kilns=tuple(replace(kiln, usable_height_mm=330.0) for kiln in works.kilns))
    row = reason(low)
    found = re.search(r"(\d+) mm more height", row.change or "")
    assert found is not None, row.change
    high = replace(low, kilns=tuple(replace(k, usable_height_mm=330.0 + int(found[1])) for k in low.kilns))
    assert packed(high).pieces > packed(low).pieces


def test_no_posts_of_that_height_at_all() -> None:
    """Guards the wording where no column of the works is high enough: 160 mm and 13 mm of headroom want 175 mm."""
    works = only("vase-white", 300)
    short = tuple(post for post in works.furniture.posts if post.nominal_mm <= 50)
    row = reason(replace(works, furniture=replace(works.furniture, posts=short)))
    assert row.reason == "no posts are high enough for another tier"
    assert row.change is not None
    assert re.fullmatch(r"posts of 17\d mm together", row.change)


def test_a_hotter_place_is_named_in_kelvin() -> None:
    """Guards the heat: free places that are 20 K too cold are told so, where other tiers are hot enough.

    The kiln is 60 K colder on the left; the vase wants at least the programme's 800 degC less 30 K.
    """
    works = only("vase-white", 400, rect=9, P150=40, P75=40, P100=40, P40=40, P50=40)
    readings = tuple(
        OffsetReading(x_mm=x, y_mm=y, z_mm=z, offset_k=k)
        for x, k in ((0.0, -60.0), (300.0, -60.0), (700.0, 0.0), (1000.0, 0.0))
        for y in (0.0, 250.0, 500.0)
        for z in (0.0, 350.0, 700.0)
    )
    kilns = tuple(
        replace(kiln, offsets=(OffsetMap(stage=Stage.DECORATION, readings=readings),)) for kiln in works.kilns
    )
    cup = next(lot for lot in lots_for(random_works(5), "D") if lot.product == "cup-white")
    products = tuple(
        replace(row, route=(*row.route[:2], replace(row.route[2], low_degc=770.0))) if row.code == "vase-white" else row
        for row in works.products
    )
    works = replace(works, kilns=kilns, products=products, lots=(*works.lots, replace(cup, pieces=3)))
    rows = {row.lot.split("-")[0]: row for row in packed(works).left_out}
    assert rows["vase"].rule == "no room"
    assert "too cold" in rows["vase"].reason
    assert re.search(r"tier \d+ of stack A \d+ K hotter", rows["vase"].change or "")


def test_supports_and_weight_have_reasons_of_their_own() -> None:
    """Guards W8 and F9: discs that ran out are counted, a pot heavier than a shelf carries is told in kilograms."""
    works = random_works(5)
    heavy = tuple(replace(shape, glazed_kg=900.0) if shape.code == "vase" else shape for shape in works.shapes)
    lots = tuple(lot for lot in lots_for(works, "D") if lot.product == "vase-white")
    row = reason(replace(works, shapes=heavy, lots=lots))
    assert row.rule == "F9"
    discs = tuple(replace(item, count_pieces=2) for item in works.furniture.catch_discs)
    few = replace(works, furniture=replace(works.furniture, catch_discs=discs))
    celadon = [lot for lot in lots_for(few, "G") if lot.product in ("cup-celadon", "bowl-celadon")]
    if celadon:
        load = pack_load(few, few.kiln("K1"), few.programme("G"), celadon, budget=BRIEF, seed=1)
        assert {row.rule for row in load.left_out} <= {"W8", "no room"}


def test_the_largest_free_disc_is_found() -> None:
    """Guards the look for a free place: alone on a shelf of 200 x 100 mm a disc of 50 mm has room, beside a post less.

    The post takes the left 40 mm over all the depth with 5 mm of gap: 155 mm by 100 mm are left, again 50 mm; with
    the post in the middle (80 to 120 mm) 75 mm are left on either side, so 37.5 mm, less the grid's 5 mm at most.
    """
    shelf = furniture(random.Random(0)).shelves[0]
    flat = replace(shelf, outline=Rectangle(w_mm=200.0, d_mm=100.0))
    room = Room(outline=RectOutline(width_mm=200.0, depth_mm=100.0), post_gap_mm=5.0)
    assert free_radius_mm(room, flat, (), ()) == pytest.approx(50.0, abs=0.1)
    post = PostSquare(x0_mm=80.0, y0_mm=0.0, x1_mm=120.0, y1_mm=100.0)
    assert 32.5 <= free_radius_mm(replace(room, posts=(post,)), flat, (), ()) <= 37.5
