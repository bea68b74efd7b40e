"""Guards the quick constructors: clear, within stock and load, and what a hand would find."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from kilnpack.packing.shelf.construct import Places, bottom_left, in_rows, quick_setting
from kilnpack.packing.shelf.pack import demand_of, pack_shelf
from kilnpack.packing.shelf.recheck import worst_lack
from kilnpack.packing.shelf.rows import row_count
from kilnpack.packing.shelf.tables import tables_for
from kilnpack.shapes.room import RectOutline, Room
from tests.packing.shelf.ware import MUG, SAUCER, SHELF, WARE, disc_body

if TYPE_CHECKING:
    from kilnpack.shapes.primitives import ShelfBody


def value_of(bodies: tuple[ShelfBody, ...] | list[ShelfBody], places: Places) -> float:
    """Return the value of what stands."""
    return sum(bodies[kind].value for kind, _, _, _ in places)


def test_bottom_left_by_hand() -> None:
    """Guards the order: 3 discs of 50 mm on 200 by 200 stand in both front corners, then in the hollow behind them."""
    room, bodies = Room(outline=RectOutline(width_mm=200.2, depth_mm=200.2)), [disc_body(50, 3)]
    places = bottom_left(tables_for(room, bodies), demand_of(room, bodies))
    assert [(x, y) for _, x, y, _ in places[:2]] == [pytest.approx(spot, abs=0.15) for spot in ((50, 50), (150, 50))]
    assert 136.6 <= places[2][2] <= 141


def test_triangles_hold_more_equal_rounds_than_squares() -> None:
    """Guards lattices: 5 discs across and 5 rows of 5 and 4 hold 23, squares 20; stretched ones use the width."""
    room = Room(outline=RectOutline(width_mm=500.5, depth_mm=448))
    bodies = [disc_body(50, 60)]
    places = quick_setting(tables_for(room, bodies), demand_of(room, bodies))
    assert len(places) == 23
    wide = Room(outline=RectOutline(width_mm=541, depth_mm=442))
    assert len(quick_setting(tables_for(wide, bodies), demand_of(wide, bodies))) >= 22


def test_quick_settings_keep_every_distance_and_beat_plain_bottom_left() -> None:
    """Guards all constructors on mixed ware with posts: clear, and never less than bottom-left."""
    tables, demand = tables_for(SHELF, WARE, turn_step_deg=45), demand_of(SHELF, WARE)
    plain, quick, rows = bottom_left(tables, demand), quick_setting(tables, demand), in_rows(tables, demand)
    for places in (plain, quick, rows):
        assert worst_lack(tables, places) <= 1e-3
        assert len(places) >= 8
    assert value_of(WARE, quick) >= value_of(WARE, plain)
    assert row_count(rows) <= row_count(plain)


def test_stock_load_and_must_bind() -> None:
    """Guards C4 and the stock in the constructors: no more than there is or the shelf carries, must-pieces first."""
    light = replace(SHELF, load_limit_kg=1.0)
    places = bottom_left(tables_for(light, WARE), demand_of(light, WARE))
    assert sum(WARE[kind].mass_kg for kind, _, _, _ in places) <= 1.0
    bodies = [replace(SAUCER, count=40), replace(MUG, must_pieces=3)]
    used = np.bincount([p[0] for p in quick_setting(tables_for(SHELF, bodies), demand_of(SHELF, bodies))])
    assert used[1] >= 3
    assert used[0] <= 40


def test_a_search_is_never_worse_than_the_quick_setting() -> None:
    """Guards the start: the engine gives back at least what the constructors found."""
    for bodies in (WARE, (disc_body(37, 60),)):
        quick = quick_setting(tables_for(SHELF, bodies), demand_of(SHELF, bodies))
        assert pack_shelf(SHELF, bodies, evaluations=30_000, seed=4).value >= value_of(bodies, quick)
