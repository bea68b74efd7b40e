"""Guards W13 in the engine: a setting asked to be set from above has an order in which that can be done."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from kilnpack.packing.placing_order import Base, piece_at, placing_order
from kilnpack.packing.shelf.pack import pack_shelf
from kilnpack.packing.shelf.setting import Ease, ShelfSetting
from kilnpack.packing.shelf.tables import tables_for
from kilnpack.packing.shelf.walls import MARGIN_MM
from kilnpack.packing.shelf.way_down import setting_order
from kilnpack.shapes.primitives import Primitive, ShelfBody, swept
from kilnpack.shapes.room import RectOutline, Room
from tests.packing.shelf.geometry import worst_gap_lack
from tests.packing.shelf.ware import SHELF, WARE, disc_body

BOWL = ((0.0, 30.0), (60.0, 60.0))
BOTTLE = ((0.0, 40.0), (50.0, 40.0), (80.0, 12.0), (120.0, 12.0))
LOW = ((0.0, 50.0), (10.0, 50.0))
HEAVY = Base(mass_kg=1e6, x_mm=0.0, y_mm=0.0, corners=((-900, -900), (900, -900), (900, 900), (-900, 900)), margin_mm=0)


def body(*primitives: Primitive, count: int) -> ShelfBody:
    """Return a kind of body from primitives."""
    high_mm = max(p.profile[-1][0] for p in primitives)
    return ShelfBody(code="it", primitives=primitives, height_mm=high_mm, value=1.0, count=count)


def turned(profile: tuple[tuple[float, float], ...], count: int) -> ShelfBody:
    """Return a round kind."""
    return body(Primitive(x_mm=0.0, y_mm=0.0, profile=profile), count=count)


HOOK = body(
    Primitive(x_mm=0.0, y_mm=0.0, profile=((0.0, 12.0), (60.0, 12.0))),
    Primitive(x_mm=32.0, y_mm=20.0, hx_mm=25.0, profile=((50.0, 4.0), (60.0, 4.0))),
    Primitive(x_mm=32.0, y_mm=-20.0, hx_mm=25.0, profile=((5.0, 4.0), (15.0, 4.0))),
    count=30,
)
"""One arm high, one low: two of them lie over and under each other crosswise, and neither can be set last."""


def left_off(room_bodies: list[ShelfBody] | tuple[ShelfBody, ...], setting: ShelfSetting) -> list[int]:
    """Return the bodies for which no order leaves a free way down."""
    pieces = [
        piece_at(room_bodies[p.body].primitives, p.x_mm, p.y_mm, p.turn_deg, mass_kg=0.0, value=1.0)
        for p in setting.placements
    ]
    return placing_order(pieces, HEAVY)[1]


def test_the_way_of_a_profile_by_hand() -> None:
    """Guards the swept radius: a belly passes all heights over it, a flared rim only its own."""
    assert [r for _, r in swept(BOWL)] == [30, 60, 60]
    assert [r for _, r in swept(BOTTLE)] == [40, 40, 40, 40, 40]


def test_distances_by_hand() -> None:
    """Guards the table: a bowl comes down beside a low dish already there, a bottle's belly past nothing wide."""
    room = Room(outline=RectOutline(width_mm=400, depth_mm=400))
    bodies = [turned(BOWL, 3), turned(LOW, 3), turned(BOTTLE, 3)]
    plain = tables_for(room, bodies).need - MARGIN_MM
    free = tables_for(room, bodies, from_above=True).need - MARGIN_MM
    assert plain[0, 1] == free[0, 1] == pytest.approx(85)
    assert free == pytest.approx(free.T)
    # bottle first, then the bowl beside its neck
    assert plain[0, 2] == pytest.approx(95)
    assert free[0, 2] == pytest.approx(95)
    assert np.diag(free) == pytest.approx([120, 100, 80])


def test_low_kinds_are_set_first() -> None:
    """Guards the order of kinds: kind 1 lowered after 0 keeps 30 mm more, so 1 is set before 0."""
    spans = np.array([[0, 1, 1], [1, 2, 1]])
    assert setting_order(np.array([[0.0, 0.0], [30.0, 0.0]]), spans) == [1, 0]


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_every_body_can_be_set_from_above(seed: int) -> None:
    """Guards W13: with the wish no body is left off, whatever leans over what; distances hold as ever."""
    ease = Ease(free_way_down=True)
    for bodies in (WARE, [HOOK, turned(BOWL, 4), turned(BOTTLE, 4), turned(LOW, 4)]):
        setting = pack_shelf(SHELF, bodies, evaluations=8000, seed=seed, ease=ease)
        assert len(setting.placements) >= 8
        assert left_off(bodies, setting) == []
        assert worst_gap_lack(SHELF, bodies, setting.placements) <= 0.011


def test_without_the_wish_hooks_lock() -> None:
    """Guards the test above: packed without it, some hooks cannot be set from above."""
    room = replace(SHELF, gap_mm=0.0)
    assert any(left_off([HOOK], pack_shelf(room, [HOOK], evaluations=8000, seed=s)) for s in range(3))


def test_cylinders_pay_nothing() -> None:
    """Guards the price: where no profile narrows above, the distances stay as they are."""
    bodies = [disc_body(30, 4), disc_body(50, 4)]
    assert np.array_equal(tables_for(SHELF, bodies).need, tables_for(SHELF, bodies, from_above=True).need)
