"""Guards the one call: settings that keep every distance, repeat, and obey counts, masses, heights and angles."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kilnpack.errors import SolverFault
from kilnpack.packing.shelf.fill import Common, fill_shelf
from kilnpack.packing.shelf.pack import demand_of, pack_shelf
from kilnpack.packing.shelf.rows import row_count, straighten
from kilnpack.packing.shelf.setting import Ease, Placement
from kilnpack.packing.shelf.tables import tables_for
from kilnpack.packing.shelf.work import ShelfWork
from kilnpack.search.budget import Budget
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
from tests.packing.shelf.geometry import axis, region, worst_gap_lack
from tests.packing.shelf.ware import DISH, MUG, SAUCER, SHELF, WARE, disc_body

TRUE_MM = 0.011


@pytest.mark.parametrize("seed", [1, 2])
def test_every_distance_is_kept_at_every_height(seed: int) -> None:
    """Guards C1, C2, W2 and W3 at once, against shapely."""
    found = pack_shelf(SHELF, WARE, evaluations=6000, seed=seed)
    assert found.value >= 12
    assert worst_gap_lack(SHELF, WARE, found.placements) <= TRUE_MM


OUTLINES: list[Outline] = [
    DiscOutline(radius_mm=230, x_mm=10, y_mm=-20),
    HalfDiscOutline(radius_mm=300, x_mm=250),
    ConvexOutline(corners=((0, 0), (420, 30), (380, 400), (60, 350))),
]


@pytest.mark.parametrize("outline", OUTLINES, ids=["disc", "half disc", "polygon"])
def test_every_shape_of_shelf_holds_its_ware(outline: Outline) -> None:
    """Guards rings, straight sides and slanting edges, with rims that overhang."""
    room = Room(outline=outline, gap_mm=4, foot_inset_mm=5)
    found = pack_shelf(room, WARE, evaluations=6000, seed=3)
    assert len(found.placements) >= 5
    assert worst_gap_lack(room, WARE, found.placements) <= TRUE_MM


def test_nothing_reaches_over_the_straight_side_of_a_half_disc() -> None:
    """Guards the neighbour: rims overhang the round side only."""
    room = Room(outline=HalfDiscOutline(radius_mm=300), gap_mm=0)
    found = pack_shelf(room, [replace(SAUCER, overhang_mm=30)], evaluations=4000, seed=1)
    assert found.placements
    assert all(place.y_mm >= 75 - 1e-6 for place in found.placements)


def test_rims_of_thin_handles_keep_to_the_round_corner_of_the_overhang() -> None:
    """Guards the chamfers: a handle of 6 mm may pass the edge by 14, and the corner by no more."""
    mug = replace(MUG, overhang_mm=20, count=4)
    room = Room(outline=RectOutline(width_mm=150, depth_mm=150), gap_mm=0)
    for seed in range(6):
        found = pack_shelf(room, [mug], evaluations=1500, seed=seed)
        assert worst_gap_lack(room, [mug], found.placements) <= TRUE_MM


def test_limits_and_keep_outs_bind_by_height() -> None:
    """Guards walls and cones: the wall past the shelf binds rims, a cone keeps all ware off, a beam only high."""
    wall = Limit(outline=RectOutline(width_mm=420, depth_mm=420, x_mm=-10, y_mm=-10), clearance_mm=8, from_z_mm=10)
    cone = DiscKeepOut(x_mm=200, y_mm=200, radius_mm=30, clearance_mm=2, to_z_mm=80)
    beam = RectKeepOut(x0_mm=0, y0_mm=0, x1_mm=400, y1_mm=120, from_z_mm=60, clearance_mm=3)
    room = Room(outline=RectOutline(width_mm=400, depth_mm=400), limits=(wall,), keep_outs=(cone, beam), gap_mm=3)
    found = pack_shelf(room, WARE, evaluations=8000, seed=6)
    kinds = Counter(place.body for place in found.placements)
    assert kinds[0] > 0
    assert kinds[1] > 0
    for place in found.placements:
        for p in WARE[place.body].primitives:
            line = axis(p, place)
            assert (
                line.distance(region(DiscOutline(radius_mm=1e-6, x_mm=200, y_mm=200)))
                >= 32 + min(r for z, r in p.profile) - TRUE_MM
            )
            if p.profile[-1][0] >= 60:
                assert line.distance(region(RectOutline(width_mm=400, depth_mm=120))) >= 3 + 6 - TRUE_MM
            widest = max(r for z, r in p.profile)
            x0, y0, x1, y1 = line.bounds
            assert min(x0, y0, 400 - x1, 400 - y1) >= widest - 10 + 8 - TRUE_MM


def test_a_flared_rim_uses_the_room_over_a_saucer() -> None:
    """Guards the gain of three dimensions: bowls and saucers stand closer than their footprints allow."""
    low = disc_body(60, 2)
    low = replace(low, primitives=(replace(low.primitives[0], profile=((0, 60), (15, 60))),), height_mm=15)
    high = replace(
        low, primitives=(replace(low.primitives[0], profile=((0, 30), (20, 30), (80, 70))),), height_mm=80, count=1
    )
    room = Room(outline=RectOutline(width_mm=325, depth_mm=141), gap_mm=0)
    found = pack_shelf(room, [low, high], evaluations=4000, seed=1)
    assert found.value == 3
    flat = replace(high, primitives=(replace(high.primitives[0], profile=((0, 70), (80, 70))),))
    assert pack_shelf(room, [low, flat], evaluations=4000, seed=1).value == 2


def test_the_same_seed_gives_the_same_setting() -> None:
    """Guards repeatability of effort budgets."""
    first = pack_shelf(SHELF, WARE, evaluations=3000, seed=9)
    assert pack_shelf(SHELF, WARE, evaluations=3000, seed=9) == first
    assert first.evaluations >= 3000


def test_counts_masses_and_heights_bind() -> None:
    """Guards the stock, the shelf's limit and the headroom."""
    few = [replace(SAUCER, count=1), replace(MUG, count=2), replace(DISH, height_mm=200)]
    assert pack_shelf(SHELF, few, evaluations=3000, seed=1).value == 4.0
    light = replace(SHELF, load_limit_kg=1.0)
    found = pack_shelf(light, WARE, evaluations=3000, seed=1)
    assert sum(WARE[place.body].mass_kg for place in found.placements) <= 1.0
    assert found.value == 6.0
    low = replace(SHELF, clear_height_mm=10)
    assert pack_shelf(low, WARE, evaluations=100, seed=1).placements == ()


def test_pieces_that_must_stand_do_although_others_are_worth_more() -> None:
    """Guards must-pieces: two mugs stay on, and the setting says so; what cannot be is said too."""
    bodies = [SAUCER, replace(MUG, value=0.001, must_pieces=2)]
    found = pack_shelf(SHELF, bodies, evaluations=5000, seed=1)
    assert sum(place.body == 1 for place in found.placements) >= 2
    assert found.has_all_must
    small = Room(outline=RectOutline(width_mm=100, depth_mm=100))
    assert not pack_shelf(small, [replace(MUG, must_pieces=2)], evaluations=500, seed=1).has_all_must


def test_angles_go_in_steps_where_asked() -> None:
    """Guards W12: multiples of 15 degrees by ease, of 90 by the body."""
    found = pack_shelf(SHELF, WARE, evaluations=5000, seed=1, ease=Ease(turn_step_deg=15))
    assert any(WARE[place.body].code != "saucer" for place in found.placements)
    assert all(abs(place.turn_deg / 15 - round(place.turn_deg / 15)) < 1e-4 for place in found.placements)
    square = [replace(DISH, turn_step_deg=90)]
    found = pack_shelf(SHELF, square, evaluations=3000, seed=1)
    assert all(place.turn_deg % 90 < 1e-3 for place in found.placements)
    assert worst_gap_lack(SHELF, square, found.placements) <= TRUE_MM


def test_a_start_is_never_lost() -> None:
    """Guards the improver: with more room the old setting still stands and the search is not worse."""
    first = pack_shelf(SHELF, WARE, evaluations=4000, seed=2)
    roomy = replace(SHELF, gap_mm=4)
    again = pack_shelf(roomy, WARE, evaluations=300, seed=3, start=first.placements)
    assert again.value >= first.value
    with pytest.raises(SolverFault, match="lacks"):
        pack_shelf(replace(SHELF, gap_mm=30), WARE, evaluations=10, seed=1, start=first.placements)


@settings(max_examples=12)
@given(st.integers(0, 10**6), st.floats(0, 12), st.floats(200, 420), st.floats(200, 420))
def test_no_setting_breaks_a_rule(seed: int, gap: float, width: float, depth: float) -> None:
    """Guards every setting, whatever the room."""
    room = Room(
        outline=RectOutline(width_mm=width, depth_mm=depth),
        posts=(PostSquare(x0_mm=80, y0_mm=70, x1_mm=120, y1_mm=110),),
        gap_mm=gap,
        post_gap_mm=gap,
    )
    found = pack_shelf(room, WARE, evaluations=600, seed=seed)
    assert worst_gap_lack(room, WARE, found.placements) <= TRUE_MM


def test_a_budget_is_filled_on_every_thread() -> None:
    """Guards the long search: rounds from nothing and from the best, on one thread and on two."""
    short = fill_shelf(SHELF, WARE, budget=Budget(effort=4), seed=1)
    long = fill_shelf(SHELF, WARE, budget=Budget(effort=300), seed=1)
    assert long.value >= short.value
    two = fill_shelf(SHELF, WARE, budget=Budget(seconds=0.2), seed=1, workers=2)
    assert worst_gap_lack(SHELF, WARE, two.placements) <= TRUE_MM
    assert two.value >= short.value - 2
    none = fill_shelf(replace(SHELF, clear_height_mm=1), WARE, budget=Budget(effort=1), seed=1)
    assert none.placements == ()


def test_an_empty_start_and_a_full_shelf_end_alike() -> None:
    """Guards known answers: 4 discs of 50 on 200 by 200, and not a fifth."""
    room = Room(outline=RectOutline(width_mm=200.1, depth_mm=200.1))
    assert (
        pack_shelf(
            room, [disc_body(50, 9)], evaluations=4000, seed=1, start=[Placement(body=0, x_mm=60, y_mm=60)]
        ).value
        == 4
    )


def test_free_angles_are_kept_only_for_their_gain() -> None:
    """Guards W12: a gain no setting can have leaves the steps, a gain of nothing lets finer angles in."""
    steps = pack_shelf(SHELF, WARE, evaluations=4000, seed=1, ease=Ease(turn_step_deg=90, finer_gain_share=9.0))
    assert all(abs(place.turn_deg / 90 - round(place.turn_deg / 90)) < 1e-4 for place in steps.placements)
    finer = pack_shelf(SHELF, WARE, evaluations=4000, seed=1, ease=Ease(turn_step_deg=90, finer_gain_share=0.0))
    assert finer.value >= steps.value
    assert worst_gap_lack(SHELF, WARE, finer.placements) <= TRUE_MM


def test_a_long_search_presses_and_repeats() -> None:
    """Guards the second half of a long search: not worse than a short one, clear, and the same again."""
    long = pack_shelf(SHELF, WARE, evaluations=100_000, seed=1)
    assert long == pack_shelf(SHELF, WARE, evaluations=100_000, seed=1)
    assert long.value >= pack_shelf(SHELF, WARE, evaluations=4000, seed=1).value
    assert worst_gap_lack(SHELF, WARE, long.placements) <= TRUE_MM


def test_rows_are_straight_and_cost_nothing() -> None:
    """Guards the hand that sets: fewer lines from the front, the same bodies, every distance kept."""
    bodies = [disc_body(30, 12), disc_body(35, 6)]
    plain = pack_shelf(SHELF, bodies, evaluations=3000, seed=1)
    rows = pack_shelf(SHELF, bodies, evaluations=3000, seed=1, ease=Ease(in_rows=True))
    assert rows.value == plain.value
    assert worst_gap_lack(SHELF, bodies, rows.placements) <= TRUE_MM
    lines = [row_count([(p.body, p.x_mm, p.y_mm, 0.0) for p in found.placements]) for found in (plain, rows)]
    assert lines[1] < lines[0]


def test_rows_by_hand() -> None:
    """Guards the straightening: three discs at 50, 58 and 150 mm from the front stand in two rows."""
    tables = tables_for(Room(outline=RectOutline(width_mm=400, depth_mm=300)), [disc_body(40, 3)])
    moved = straighten(tables, [(0, 60.0, 50.0, 0.0), (0, 200.0, 58.0, 0.0), (0, 300.0, 150.0, 0.0)])
    assert [place[2] for place in moved] == [50.0, 50.0, 150.0]
    assert row_count(moved) == 2


def test_fewer_rows_have_their_price() -> None:
    """Guards the wish for rows: never less than straightening alone is worth, and at a high price few rows are left."""
    bodies = [disc_body(30, 12), disc_body(35, 6), disc_body(44, 5)]
    free = pack_shelf(SHELF, bodies, evaluations=6000, seed=1, ease=Ease(in_rows=True))

    def lines(places: tuple[Placement, ...]) -> int:
        return row_count([(p.body, p.x_mm, p.y_mm, 0.0) for p in places])

    rows = []
    for price in (0.01, 0.1):
        found = pack_shelf(SHELF, bodies, evaluations=6000, seed=1, ease=Ease(row_cost_share=price))
        assert worst_gap_lack(SHELF, bodies, found.placements) <= TRUE_MM
        each = price * free.value
        assert found.value - each * lines(found.placements) >= free.value - each * lines(free.placements) - 1e-9
        rows.append(lines(found.placements))
    assert rows[1] <= rows[0] <= lines(free.placements)
    assert rows[1] < lines(free.placements)
    filled = fill_shelf(SHELF, bodies, budget=Budget(seconds=0.1), seed=1, ease=Ease(row_cost_share=0.1))
    assert worst_gap_lack(SHELF, bodies, filled.placements) <= TRUE_MM


def test_threads_share_their_best_and_keep_what_they_have_in_hand() -> None:
    """Guards sharing: the better setting goes to both threads, neither loses the setting it works on."""
    tables, demand = tables_for(SHELF, WARE), demand_of(SHELF, WARE)
    rich, poor = ShelfWork(tables, demand, seed=1), ShelfWork(tables, demand, seed=2)
    rich.run(2000, heat=0.0)
    poor.run(20, heat=0.0)
    in_hand = poor.in_hand()
    common = Common()
    for work in (poor, rich, poor, rich):
        common.share(work)
    assert poor.best() == rich.best()
    assert poor.rank == rich.rank
    assert poor.in_hand() == in_hand
    assert in_hand[0] != rich.counts()
