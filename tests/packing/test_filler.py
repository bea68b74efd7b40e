"""Filled shelves: nothing overlaps, nothing is used twice, more work is never worse."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kilnpack.model.geometry import ExtrudedPart, RoundedPolygon
from kilnpack.packing import span_kernel as kernel
from kilnpack.packing.covers import cover_of
from kilnpack.packing.filler import EMPTY, Filled, Filler
from kilnpack.packing.problem import LoadProblem, Ware
from kilnpack.packing.shelf.recheck import worst_lack
from kilnpack.packing.shelf.tables import tables_for
from kilnpack.packing.ware_tables import RoomTables, WareTables
from kilnpack.shapes.primitives import Primitive, ShelfBody
from kilnpack.shapes.room import (
    ConvexOutline,
    DiscKeepOut,
    DiscOutline,
    HalfDiscOutline,
    Limit,
    Outline,
    PostSquare,
    RectKeepOut,
    RectOutline,
    Room,
)
from tests.packing.shelf.ware import disc_body

OUTLINES: tuple[Outline, ...] = (
    RectOutline(width_mm=300.0, depth_mm=220.0),
    DiscOutline(radius_mm=150.0, x_mm=150.0, y_mm=150.0),
    HalfDiscOutline(radius_mm=200.0, x_mm=200.0),
    ConvexOutline(corners=((0.0, 0.0), (280.0, 0.0), (220.0, 200.0), (40.0, 180.0))),
)


class NoSite:
    """A site that is never asked."""

    def room(self, stack: int, base_mm: float, posts_mm: float | None) -> Room | None:
        """Return nothing."""
        raise AssertionError((stack, base_mm, posts_mm))

    def allowed(self, stack: int, base_mm: float, posts_mm: float | None) -> int:
        """Return nothing."""
        raise AssertionError((stack, base_mm, posts_mm))


def problem_with(wares: tuple[Ware, ...], counts: tuple[int, ...], supports: tuple[int, ...] = ()) -> LoadProblem:
    """Return a problem of nothing but ware."""
    return LoadProblem(
        wares=wares, counts=counts, supports=supports, columns=(), posts=(), stubs=(), shelves=(), stacks=(),
        site=NoSite(), headroom_mm=0.0, allowance_mm=0.0,
    )  # fmt: skip


def disc_ware(group: int, r_mm: float, *, height_mm: float = 50.0, flare: float = 1.0, **more: object) -> Ware:
    """Return a round ware whose rim is `flare` times its foot."""
    body = ShelfBody(
        code=f"d{group}",
        primitives=(Primitive(x_mm=0.0, y_mm=0.0, profile=((0.0, r_mm / flare), (height_mm, r_mm))),),
        height_mm=height_mm,
        mass_kg=0.5,
        value=r_mm,
        count=99,
    )
    fields: dict[str, object] = {"code": body.code, "body": body, "group": group, **more}
    return Ware(**fields)  # type: ignore[arg-type]


def handled_ware(group: int, r_mm: float, reach_mm: float) -> Ware:
    """Return a body with a handle and a foot of its own."""
    body = ShelfBody(
        code=f"h{group}",
        primitives=(
            Primitive(x_mm=0.0, y_mm=0.0, profile=((0.0, 0.8 * r_mm), (80.0, r_mm))),
            Primitive(x_mm=reach_mm / 2, y_mm=0.0, hx_mm=reach_mm / 2, profile=((20.0, 6.0), (60.0, 6.0))),
        ),
        foot=(Primitive(x_mm=0.0, y_mm=0.0, profile=((0.0, 0.7 * r_mm), (0.0, 0.7 * r_mm))),),
        height_mm=80.0,
        mass_kg=0.4,
        value=1.5 * r_mm,
        count=99,
        overhang_mm=5.0,
    )
    return Ware(code=body.code, body=body, group=group, turns_deg=(0.0, 90.0, 180.0, 270.0))


def lack_mm(room: Room, problem: LoadProblem, filled: Filled) -> float:
    """Return the greatest lack of distance by the shelf engine's exact re-check, which has tables of its own."""
    tables = tables_for(room, [ware.body for ware in problem.wares])
    return worst_lack(tables, [(s.ware, s.x_mm, s.y_mm, math.radians(s.turn_deg)) for s in filled.spots])


@settings(max_examples=25)
@given(
    which=st.integers(0, 3),
    radii=st.tuples(st.floats(18, 60), st.floats(18, 45)),
    reach=st.floats(30, 80),
    gap=st.floats(0.0, 12.0),
    seed=st.integers(0, 10**6),
)
def test_no_fill_lacks_any_distance(
    which: int, radii: tuple[float, float], reach: float, gap: float, seed: int
) -> None:
    """Guards all of the row tables: gaps, posts, keep-outs over height, limits, feet and overhang, in all outlines."""
    wares = (disc_ware(0, radii[0], flare=1.6), disc_ware(1, radii[1], height_mm=25.0), handled_ware(2, 28.0, reach))
    problem = problem_with(wares, (9, 9, 9))
    room = Room(
        outline=OUTLINES[which],
        posts=(PostSquare(x0_mm=120.0, y0_mm=10.0, x1_mm=150.0, y1_mm=40.0),),
        keep_outs=(
            RectKeepOut(x0_mm=0.0, y0_mm=90.0, x1_mm=60.0, y1_mm=120.0, from_z_mm=30.0, to_z_mm=60.0, clearance_mm=3.0),
            DiscKeepOut(x_mm=200.0, y_mm=100.0, radius_mm=10.0, clearance_mm=2.0),
        ),
        limits=(Limit(outline=RectOutline(width_mm=280.0, depth_mm=400.0), clearance_mm=4.0, from_z_mm=40.0),),
        gap_mm=gap,
        post_gap_mm=4.0,
        clear_height_mm=100.0,
        load_limit_kg=4.0,
        foot_inset_mm=3.0,
    )
    filled = Filler(problem).fill(room, 0b111, np.array(problem.counts), fills=12, seed=seed)
    assert lack_mm(room, problem, filled) <= 0.0
    assert sum(problem.wares[s.ware].body.mass_kg for s in filled.spots) <= 4.0 + 1e-9
    assert filled.value == pytest.approx(sum(problem.wares[s.ware].body.value for s in filled.spots))


@pytest.mark.kernel
def test_counts_supports_height_and_heat_are_kept() -> None:
    """Guards stock: pieces of a group over several wares, supports, and kinds that the room bars."""
    wares = (
        disc_ware(0, 20.0, pieces=2, support=0, support_pieces=1),
        disc_ware(0, 20.0),
        disc_ware(1, 20.0, height_mm=90.0),
        disc_ware(2, 20.0),
    )
    problem = problem_with(wares, (7, 5, 5), (2,))
    room = Room(outline=OUTLINES[0], clear_height_mm=60.0)
    spare = np.array([*problem.counts, *problem.supports])
    filled = Filler(problem).fill(room, 0b0111, spare, fills=30, seed=1)
    kinds = [spot.ware for spot in filled.spots]
    assert kinds.count(0) <= 2
    assert 2 * kinds.count(0) + kinds.count(1) == 7
    assert 2 not in kinds
    assert 3 not in kinds
    assert Filler(problem).fill(room, 0, spare, fills=5, seed=1) == EMPTY


def test_more_fills_from_a_start_are_never_worse_and_repeat() -> None:
    """Guards the climb: from a start the value never falls, and one seed gives one shelf."""
    wares = tuple(disc_ware(k, r) for k, r in enumerate((21.0, 27.0, 34.0, 45.0)))
    problem = problem_with(wares, (9, 9, 9, 9))
    room = Room(outline=OUTLINES[0], gap_mm=5.0)
    spare = np.array(problem.counts)
    filler = Filler(problem)
    first = filler.fill(room, 0b1111, spare, fills=5, seed=2)
    later = filler.fill(room, 0b1111, spare, fills=200, seed=3, start=first)
    assert later.value >= first.value
    again = Filler(problem)
    again.fill(room, 0b1111, spare, fills=5, seed=2)
    assert again.fill(room, 0b1111, spare, fills=200, seed=3, start=first) == later


def test_flared_rims_pass_over_low_ware() -> None:
    """Guards the third dimension: saucers of 20 mm under rims at 60 mm stand nearer than their outlines allow."""
    flared = disc_ware(0, 50.0, height_mm=60.0, flare=2.0)
    saucer = disc_ware(1, 20.0, height_mm=15.0)
    problem = problem_with((flared, saucer), (6, 60))
    room = Room(outline=RectOutline(width_mm=320.0, depth_mm=210.0))
    filled = Filler(problem).fill(room, 0b11, np.array(problem.counts), fills=300, seed=1)
    pairs = [
        (math.dist((a.x_mm, a.y_mm), (b.x_mm, b.y_mm)), a.ware + b.ware)
        for k, a in enumerate(filled.spots)
        for b in filled.spots[:k]
    ]
    assert min(apart for apart, kinds in pairs if kinds == 1) < 69.0
    assert lack_mm(room, problem, filled) <= 0.0


def test_tables_are_rebuilt_for_another_gap_and_when_full(monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards the table of pairs: another gap or a full buffer starts it anew, and the shelf is still right."""
    wares = (disc_ware(0, 30.0), handled_ware(1, 30.0, 50.0))
    problem = problem_with(wares, (9, 9))
    monkeypatch.setattr("kilnpack.packing.ware_tables.PAIR_ROWS", 700)
    filler = Filler(problem)
    for gap in (2.0, 9.0):
        room = Room(outline=OUTLINES[0], gap_mm=gap)
        filled = filler.fill(room, 0b11, np.array(problem.counts), fills=20, seed=4)
        assert lack_mm(room, problem, filled) <= 0.0


@pytest.mark.kernel
def test_rooms_are_forgotten_when_they_take_too_much(monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards memory: only the latest room's tables stay when they outgrow their share."""
    monkeypatch.setattr("kilnpack.packing.ware_tables.ROOM_BYTES", 10)
    problem = problem_with((disc_ware(0, 30.0),), (9,))
    filler = Filler(problem)
    values = []
    for outline in (*OUTLINES[:2], OUTLINES[0]):
        filled = filler.fill(Room(outline=outline), 0b1, np.array([9]), fills=3, seed=1)
        values.append(filled.value)
    assert values[0] == values[2]
    assert replace(Room(outline=OUTLINES[0]), gap_mm=1.0) != Room(outline=OUTLINES[0])


def test_numbers_of_looks_do_not_grow_without_an_end(monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards a process that serves for months: what is long unused is forgotten, no number is given twice, and ware
    that comes back has the same tables.
    """
    from kilnpack.packing import ware_tables

    numbers = ware_tables.Numbers(3)
    assert [numbers.of(thing) for thing in "abca"] == [0, 1, 2, 0]
    assert [numbers.of(thing) for thing in "da"] == [3, 0]  # b is longest unused and goes
    assert numbers.of("b") == 4
    assert len(numbers) == 3

    few = ware_tables.Numbers(2)
    monkeypatch.setattr(ware_tables, "_numbers", few)
    monkeypatch.setattr(ware_tables, "_rows", ware_tables._Rows())
    room = Room(outline=RectOutline(width_mm=300, depth_mm=200))
    spans = []
    for radius_mm in (40, 41, 42, 43, 40):
        found = WareTables((Ware(code="R", body=disc_body(radius_mm, 3), group=0),))
        tables = found.room(room)
        found.complete(tables, np.arange(1))
        spans.append(tables.span)
    assert len(few) == 2
    assert np.array_equal(spans[0], spans[-1], equal_nan=True)
    assert not np.array_equal(spans[0], spans[1], equal_nan=True)


@pytest.mark.kernel
def test_sharp_bodies_that_may_touch_do_not_overlap() -> None:
    """Guards raw ware without a gap: edges of no radius still may not cross, and four squares fill a square."""
    corners = ((-40.0, -40.0), (40.0, -40.0), (40.0, 40.0), (-40.0, 40.0))
    part = ExtrudedPart(from_z_mm=0.0, to_z_mm=30.0, outline=(RoundedPolygon(corners_mm=corners),))
    body = ShelfBody(code="s", primitives=cover_of((part,)), height_mm=30.0, value=1.0, count=9)
    problem = problem_with((Ware(code="s", body=body, group=0),), (9,))
    room = Room(outline=RectOutline(width_mm=162.0, depth_mm=170.0))
    filled = Filler(problem).fill(room, 0b1, np.array([9]), fills=3, seed=1)
    assert len(filled.spots) == 4
    assert lack_mm(room, problem, filled) <= 0.0


@pytest.mark.kernel
@pytest.mark.parametrize("which", range(4))
def test_small_fill_in_every_outline_lacks_nothing(which: int) -> None:
    """Guards every outline, both kinds of keep-out and a handle, few enough to run without the compiler too."""
    problem = problem_with((disc_ware(0, 45.0, flare=1.6), handled_ware(1, 40.0, 60.0)), (3, 2))
    room = Room(
        outline=OUTLINES[which],
        posts=(PostSquare(x0_mm=120.0, y0_mm=10.0, x1_mm=150.0, y1_mm=40.0),),
        keep_outs=(
            RectKeepOut(x0_mm=0.0, y0_mm=90.0, x1_mm=40.0, y1_mm=120.0, from_z_mm=30.0, to_z_mm=60.0, clearance_mm=3.0),
            DiscKeepOut(x_mm=200.0, y_mm=100.0, radius_mm=10.0, clearance_mm=2.0),
        ),
        limits=(Limit(outline=RectOutline(width_mm=280.0, depth_mm=400.0), clearance_mm=4.0, from_z_mm=40.0),),
        gap_mm=4.0,
        post_gap_mm=4.0,
        foot_inset_mm=3.0,
    )
    filled = Filler(problem).fill(room, 0b11, np.array(problem.counts), fills=2, seed=which)
    assert filled.spots
    assert lack_mm(room, problem, filled) <= 0.0


@pytest.mark.kernel
def test_every_change_leaves_a_sequence_of_known_kinds() -> None:
    """Guards the small changes: kinds stay known, quotas at least one, the length within its limit."""
    state = np.array([99], np.uint64)
    order, quota = np.zeros(8, np.int64), np.ones(8, np.int64)
    frame = np.array([0, 1, 4], np.int64)
    kinds = np.array([3, 5, 6], np.int64)
    length, seen = 0, set()
    for _ in range(400):
        length = int(kernel.change(order, quota, length, frame, kinds, 6, state))
        seen.add(length)
        assert 0 <= length <= 6
        assert set(order[:length].tolist()) <= {3, 5, 6}
        assert (quota[:length] >= 1).all()
        assert 0 <= frame[0] < 4
        assert frame[1] in {0, 1}
    assert seen == set(range(7))


def test_tables_of_a_room_do_not_depend_on_what_else_is_packed() -> None:
    """A kind's stretches in a room, kept from other ware, are those worked out afresh."""
    from kilnpack.packing import ware_tables

    room = Room(outline=RectOutline(width_mm=400, depth_mm=300))
    one, other = (Ware(code=f"R{r}", body=disc_body(r, 3), group=0) for r in (40, 55))

    def tables_of(*wares: Ware) -> RoomTables:
        found = WareTables(wares)
        tables = found.room(room)
        found.complete(tables, np.arange(len(wares)))
        return tables

    fresh = tables_of(other)
    kept, ware_tables._rows = ware_tables._rows, ware_tables._Rows()
    try:
        again = tables_of(one, other)
        from_kept = tables_of(other)
    finally:
        ware_tables._rows = kept
    for tables, turn in ((again, 1), (from_kept, 0)):
        assert np.array_equal(tables.span[:, turn], fresh.span[:, 0])
        assert np.array_equal(tables.blocked[:, turn], fresh.blocked[:, 0])
