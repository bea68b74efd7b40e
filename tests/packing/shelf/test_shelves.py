"""Guards the fewest shelves: every body stands once, and known answers are reached."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from kilnpack.packing.shelf.choice import Pool, greedy_choice
from kilnpack.packing.shelf.construct import bottom_left
from kilnpack.packing.shelf.master import fewest, worth_of_kinds
from kilnpack.packing.shelf.pack import demand_of
from kilnpack.packing.shelf.shelves import pack_shelves
from kilnpack.packing.shelf.tables import tables_for
from kilnpack.search.budget import Budget
from kilnpack.shapes.room import RectOutline, Room
from tests.packing.shelf.geometry import worst_gap_lack
from tests.packing.shelf.ware import SHELF, WARE, disc_body

SQUARE = Room(outline=RectOutline(width_mm=201, depth_mm=201))


@pytest.mark.parametrize("workers", [1, 2])
def test_four_to_a_shelf(workers: int) -> None:
    """Guards the whole: ten discs of 50 mm, four on a shelf of 201 by 201, need three."""
    found = pack_shelves(SQUARE, [disc_body(50, 10)], budget=Budget(effort=12), seed=1, workers=workers)
    assert sorted(len(setting.placements) for setting in found) == [2, 4, 4]


def test_kinds_are_mixed_where_that_saves_a_shelf() -> None:
    """Guards prices: on 201 by 301 mm two discs of 75 need a shelf, or 6 of 50; one of 75 leaves room for 2 of 50.

    Two shelves of one kind each take 2 and 6; with 4 and 4 of them, 4 discs of 75 need two shelves and the others
    fit on a third, whatever is mixed: three at most.
    """
    room = Room(outline=RectOutline(width_mm=201, depth_mm=301))
    found = pack_shelves(room, [disc_body(75, 4), disc_body(50, 4)], budget=Budget(effort=60), seed=1)
    assert len(found) <= 3
    assert Counter(place.body for setting in found for place in setting.placements) == {0: 4, 1: 4}


def test_every_body_stands_once_and_clear() -> None:
    """Guards count and distances of a mixed lot, in seconds as well as in effort, and repeatability."""
    bodies = [replace(body, count=count) for body, count in zip(WARE, (14, 20, 5), strict=True)]
    found = pack_shelves(SHELF, bodies, budget=Budget(effort=150), seed=4)
    assert Counter(p.body for s in found for p in s.placements) == {0: 14, 1: 20, 2: 5}
    assert all(worst_gap_lack(SHELF, bodies, s.placements) <= 0.011 for s in found[:2])
    assert len(found) <= 6
    assert len(pack_shelves(SHELF, bodies, budget=Budget(effort=150), seed=4)) == len(found)
    timed = pack_shelves(SHELF, bodies, budget=Budget(seconds=0.5), seed=4, workers=2)
    assert Counter(p.body for s in timed for p in s.placements) == {0: 14, 1: 20, 2: 5}


def test_kinds_without_pieces_are_no_trouble() -> None:
    """Guards empty demand."""
    bodies = [disc_body(50, 4), disc_body(30, 0)]
    assert len(pack_shelves(SQUARE, bodies, budget=Budget(effort=5), seed=1)) == 1


def test_what_fits_on_no_shelf_is_said() -> None:
    """Guards a wrong order."""
    with pytest.raises(ValueError, match="body 1 does not fit"):
        pack_shelves(SQUARE, [disc_body(50, 4), disc_body(150, 1)], budget=Budget(effort=5), seed=1)


def test_prices_by_hand() -> None:
    """Guards the linear programme: 2 of the first or 4 of the second fill a shelf: a half and a quarter."""
    bound, prices, times = worth_of_kinds([(2, 0), (0, 4), (1, 1)], (6, 8))
    assert bound == pytest.approx(5.0)
    assert prices == pytest.approx([0.5, 0.25])
    assert sum(times) == pytest.approx(5.0)
    with pytest.raises(ValueError, match="stands in no setting"):
        worth_of_kinds([(2, 0)], (1, 1))


def test_whole_shelves_by_hand() -> None:
    """Guards the choice: 5 and 3 from (2, 0), (0, 2), (1, 1) need 4 shelves; no time, no answer."""
    times = fewest([(2, 0), (0, 2), (1, 1)], (5, 3), seconds=5.0)
    assert times is not None
    assert sum(times) == 4


def test_the_greedy_choice_takes_what_is_worth_most() -> None:
    """Guards the fallback, which always ends."""
    pool = Pool(places={(2, 0): (), (0, 3): (), (1, 1): ()})
    chosen = greedy_choice(pool, (3, 3), np.array([1.0, 1.0]))
    assert chosen[0] == (0, 3)
    assert len(chosen) == 3


def test_prices_find_what_one_by_one_does_not() -> None:
    """Guards the choice among many settings: a lot of four kinds, on no more shelves than filled in turn."""
    bodies = [disc_body(74, 6), disc_body(48, 16), disc_body(33, 30), disc_body(90, 3)]
    room = Room(outline=RectOutline(width_mm=330, depth_mm=280), gap_mm=3)
    short = pack_shelves(room, bodies, budget=Budget(effort=20), seed=2)
    long = pack_shelves(room, bodies, budget=Budget(effort=600), seed=2)
    assert len(long) <= len(short)
    assert Counter(p.body for s in long for p in s.placements) == {0: 6, 1: 16, 2: 30, 3: 3}
    area = sum(body.count * 3.1416 * body.primitives[0].profile[0][1] ** 2 for body in bodies)
    assert len(long) >= area / (330 * 280)


def test_never_more_shelves_than_plain_bottom_left() -> None:
    """Guards the floor: with hardly any budget, no more shelves than filling one after another by hand takes."""
    bodies = [replace(body, count=4 * body.count) for body in WARE]
    tables, demand = tables_for(SHELF, bodies), demand_of(SHELF, bodies)
    left, plain = demand.count.copy(), 0
    while left.any():
        for place in bottom_left(tables, replace(demand, count=left)):
            left[place[0]] -= 1
        plain += 1
    assert len(pack_shelves(SHELF, bodies, budget=Budget(effort=20), seed=1)) <= plain


def test_bodies_off_the_raster_are_placed_all_the_same() -> None:
    """Guards bottom-left's limits: rounds that fit between the walls by half a millimetre stand one to a shelf."""
    room = Room(outline=RectOutline(width_mm=202.8, depth_mm=202.8))
    body = disc_body(101.2, 2)
    assert bottom_left(tables_for(room, [body]), demand_of(room, [body])) == []
    assert len(pack_shelves(room, [body], budget=Budget(effort=12), seed=1)) == 2
