"""The proved bound: valid on loads solved by enumeration and on planted ones, and what its rows are made of."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
import shapely

from kilnpack.cli.load import distance_words
from kilnpack.model.geometry import Disc, ExtrudedPart, Part, RoundedPolygon, TurnedPart
from kilnpack.packing.bound import proved_bound
from kilnpack.packing.bound_counts import ShelfCounts, farthest_mm, most_points
from kilnpack.packing.bound_sections import Ground, Sections, outline_shape
from kilnpack.packing.covers import cover_of
from kilnpack.packing.pack_load import pack_load
from kilnpack.packing.problem import Bottom, Column, LoadProblem, Shelf, StackSite, Ware
from kilnpack.search.budget import Budget
from kilnpack.shapes.primitives import ShelfBody
from kilnpack.shapes.room import ConvexOutline, DiscOutline, HalfDiscOutline, Limit, PostSquare, RectOutline, Room
from tests.packing.small_works import lots_for, random_works
from tests.packing.tiny_corridors import best_in_corridor, corridor
from tests.packing.tiny_loads import best_value, tiny_problem

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kilnpack.search.listener import Progress

TIGHT = 1e-5


def turned_parts(problem: LoadProblem) -> list[tuple[Part, ...]]:
    """Return the geometry of wares that are one turned primitive each."""
    return [(TurnedPart(profile_mm=ware.body.primitives[0].profile),) for ware in problem.wares]


def gaps_of(seeds: range) -> list[float]:
    """Return bound / best of the tiny loads of some seeds, half of each kind; assert that every bound holds."""
    gaps = []
    for seed in seeds:
        if seed % 2:
            case = corridor(seed)
            best, bound = best_in_corridor(case), proved_bound(case.problem, case.parts)
        else:
            problem = tiny_problem(seed, open_top=seed % 4 == 0)
            best, bound = best_value(problem), proved_bound(problem, turned_parts(problem))
        assert bound is not None
        assert bound >= best - 1e-6, seed
        gaps.append(bound / best if best else 1.0)
    return gaps


def test_bound_holds_on_tiny_loads_solved_by_enumeration() -> None:
    """Guards validity: on 60 tiny loads the bound is never under the best of all loads, and mostly near it."""
    gaps = gaps_of(range(60))
    assert sorted(gaps)[len(gaps) // 2] < 1.3
    assert sum(gap < 1.0 + TIGHT for gap in gaps) >= 10


@pytest.mark.parametrize(("seed", "kiln", "code"), [(1, "K1", "G"), (2, "K2", "D"), (5, "K1", "D")])
def test_load_of_a_works_carries_its_bound(seed: int, kiln: str, code: str) -> None:
    """Guards what a load says of itself: proved bound and worth in fractions, neither below what it places."""
    works = random_works(seed, overhang_mm=10.0 * (seed % 2))
    lots = lots_for(works, code)
    load = pack_load(
        works, works.kiln(kiln), works.programme(code), lots, budget=Budget(effort=500), seed=1, prove=True
    )
    assert load.bound_share is not None
    assert load.columns_share is not None
    assert load.value_share <= load.bound_share <= 1.0
    assert load.value_share <= load.columns_share <= 1.0
    plain = pack_load(works, works.kiln(kiln), works.programme(code), lots, budget=Budget(effort=20), seed=1)
    assert plain.bound_share is None
    assert plain.columns_share is None
    assert distance_words(plain) == "No bound is proved."
    assert f"{load.bound_share:.1%}" in distance_words(load)
    assert "taken in fractions" in distance_words(load)


def test_nothing_ready_and_ctrl_c_leave_the_bound_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards the ends: no ware gives no bound, and an interrupt while it is proved gives the load without one."""
    works = random_works(3)
    kiln, programme, lots = works.kiln("K1"), works.programme("B"), lots_for(works, "B")
    empty = pack_load(works, kiln, programme, [], budget=Budget(effort=5), seed=1, prove=True)
    assert empty.bound_share is None

    def interrupted(*_: object) -> float:
        raise KeyboardInterrupt

    monkeypatch.setattr("kilnpack.packing.bounded.proved_bound", interrupted)
    cut = pack_load(works, kiln, programme, lots, budget=Budget(effort=20), seed=1, prove=True)
    assert cut.bound_share is None
    assert cut.pieces > 0


def test_bound_that_nobody_waits_for_is_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards the time after the search: it is told, and the limit or the listener gives the load without a bound."""
    works = random_works(3)
    kiln, programme, lots = works.kiln("K1"), works.programme("B"), lots_for(works, "B")
    steps: list[str] = []

    class Ear:
        def __init__(self, until: str) -> None:
            self.until = until

        def heard(self, progress: Progress) -> bool:
            steps.append(progress.step)
            return progress.step != self.until

    def shares(until: str) -> list[float | None]:
        found = pack_load(
            works, kiln, programme, lots, budget=Budget(effort=20), seed=1, prove=True, listener=Ear(until)
        )
        assert found.pieces > 0
        return [found.bound_share]

    assert shares("proving a bound") == [None]
    assert steps[-1] == "proving a bound"
    assert shares("first load") == [None]
    assert steps[-1] != "proving a bound"
    assert shares("") != [None]
    monkeypatch.setattr("kilnpack.packing.bounded.MOST_S", 0.0)
    assert shares("") == [None]


@pytest.mark.long
def test_bound_holds_on_500_tiny_loads() -> None:
    """Guards validity on 500 tiny loads of two kinds solved by enumeration."""
    assert len(gaps_of(range(1000, 1500))) == 500


def plain_site(room: Room) -> object:
    """Return a site whose tiers all have this room and allow everything."""

    class Plain:
        def room(self, stack: int, base_mm: float, posts_mm: float | None) -> Room | None:
            del stack, base_mm
            return replace(room, clear_height_mm=(posts_mm or 0.0) - 10.0)

        def allowed(self, stack: int, base_mm: float, posts_mm: float | None) -> int:
            del stack, base_mm, posts_mm
            return -1

    return Plain()


def load_of(room: Room, wares: Sequence[Ware], counts: Sequence[int], *, shelves: int, top_mm: float) -> LoadProblem:
    """Return a load of one stack with posts of one height."""
    return LoadProblem(
        wares=tuple(wares),
        counts=tuple(counts),
        supports=(),
        columns=(Column(parts=(0,), height_mm=60.0),),
        posts=(4 * shelves,),
        stubs=(),
        shelves=(Shelf(code="s", thickness_mm=10.0, points=4, stock_pieces=shelves),),
        stacks=(
            StackSite(
                code="A", shelf=0, top_mm=top_mm, open_top=False, bottoms=(Bottom(stub=None, base_mm=0.0),),
                columns=(0,),
            ),
        ),
        site=plain_site(room),  # type: ignore[arg-type]
        headroom_mm=10.0,
        allowance_mm=0.0,
    )  # fmt: skip


def box_ware(number: int, w_mm: float, d_mm: float, value: float, mass_kg: float = 0.1) -> tuple[Ware, Part]:
    """Return a box of 40 mm with its geometry."""
    x, y = w_mm / 2, d_mm / 2
    part = ExtrudedPart(
        from_z_mm=0.0, to_z_mm=40.0, outline=(RoundedPolygon(corners_mm=((-x, -y), (x, -y), (x, y), (-x, y))),)
    )
    body = ShelfBody(
        code=f"b{number}", primitives=cover_of((part,)), height_mm=40.0, mass_kg=mass_kg, value=value, count=99
    )
    return Ware(code=body.code, body=body, group=number), part


def test_planted_full_loads_meet_the_bound() -> None:
    """Guards tightness: shelves tiled without a gap by boxes worth their area, more of them ready; bound = planted."""
    for shelves, across, deep in ((1, 4, 3), (3, 2, 2), (4, 5, 1)):
        room = Room(outline=RectOutline(width_mm=60.0 * across, depth_mm=50.0 * deep))
        made = [box_ware(0, 60.0, 50.0, 3.0), box_ware(1, 30.0, 50.0, 1.5)]
        wares, parts = [ware for ware, _ in made], [(part,) for _, part in made]
        planted = 3.0 * across * deep * shelves
        problem = load_of(room, wares, (999, 999), shelves=9, top_mm=70.0 * shelves + 5.0)
        bound = proved_bound(problem, parts)
        assert bound == pytest.approx(planted, rel=TIGHT)
        everything = load_of(room, wares, (across * deep * shelves, 0), shelves=9, top_mm=70.0 * shelves + 5.0)
        assert proved_bound(everything, parts) == pytest.approx(planted)


def test_stock_mass_and_height_bind() -> None:
    """Guards the other rows: shelves, posts, pieces, mass and the height of the stack each limit the bound."""
    room = Room(outline=RectOutline(width_mm=120.0, depth_mm=100.0))
    ware, part = box_ware(0, 60.0, 50.0, 3.0, mass_kg=2.0)
    base = load_of(room, [ware], (100,), shelves=4, top_mm=400.0)
    assert proved_bound(base, [(part,)]) == pytest.approx(4 * 4 * 3.0, rel=TIGHT)
    assert proved_bound(replace(base, posts=(8,)), [(part,)]) == pytest.approx(2 * 4 * 3.0, rel=TIGHT)
    assert proved_bound(replace(base, counts=(5,)), [(part,)]) == pytest.approx(15.0)
    low = replace(base, stacks=(replace(base.stacks[0], top_mm=80.0),))
    assert proved_bound(low, [(part,)]) == pytest.approx(12.0, rel=TIGHT)
    heavy = load_of(replace(room, load_limit_kg=5.0), [ware], (100,), shelves=4, top_mm=400.0)
    assert proved_bound(heavy, [(part,)]) == pytest.approx(4 * 2.5 * 3.0, rel=TIGHT)
    assert proved_bound(replace(base, wares=(), counts=()), []) is None
    stands = replace(ware, support=0, support_pieces=1)
    assert proved_bound(replace(base, wares=(stands,), supports=(3,)), [(part,)]) == pytest.approx(9.0)


@pytest.mark.source("groemer-1960", "theorem: discs in a convex region")
def test_counts_of_equal_discs_are_those_published() -> None:
    """Guards the theorem as it is typed: squares and lines with known greatest numbers of points."""
    line = shapely.LineString([(0, 0), (100, 0)])
    assert most_points(line, 10.0) == 11
    square = shapely.box(0, 0, 100, 100)
    formula = 2 / math.sqrt(3) * 100**2 / 10**2 + 400 / 20 + 1
    assert most_points(square, 10.0) == math.floor(formula)
    assert most_points(square, 142.0) == 1
    assert most_points(shapely.box(0, 0, 100, 40), 65.0) == 2
    assert most_points(shapely.Point(3, 3), 5.0) == 1
    assert most_points(shapely.Polygon(), 5.0) == 0
    assert farthest_mm(square, shapely.Point(0, 0)) == pytest.approx(math.hypot(100, 100))
    assert farthest_mm(square, shapely.Polygon()) == 0.0


@pytest.mark.parametrize(("side_mm", "most"), [(200.0, 4), (100.0, 1), (273.3, 9 - 3)])
def test_never_fewer_than_truly_stand(side_mm: float, most: int) -> None:
    """Guards counts against packings anyone can draw: so many points 100 mm apart stand in a square."""
    drawn = {4: [(0, 0), (200, 0), (0, 200), (200, 200)], 1: [(0, 0)]}
    rows = [(x * 100.0 + 50.0 * (y % 2), y * 86.6) for y in range(3) for x in range(2)]
    points = drawn.get(most, rows)
    assert all(0 <= x <= side_mm and 0 <= y <= side_mm for x, y in points)
    assert most_points(shapely.box(0, 0, side_mm, side_mm), 99.9) >= len(points)


def test_sections_are_never_too_large() -> None:
    """Guards the geometry: areas and inner discs are at most, outer discs at least, those of the true shape."""
    cup = Sections((TurnedPart(profile_mm=((0.0, 20.0), (50.0, 30.0))),))
    assert cup.area_mm2(25.0, 2.0) == pytest.approx(math.pi * 27.0**2)
    assert cup.area_mm2(60.0, 2.0) == 0.0
    assert cup.inner_mm(25.0) == cup.outer_mm(25.0) == pytest.approx(25.0)
    assert cup.inner_mm(60.0) is None
    handle = ExtrudedPart(from_z_mm=10.0, to_z_mm=40.0, outline=(Disc(x_mm=40.0, r_mm=5.0),))
    mug = Sections((*cup.parts, handle))
    apart = math.pi * (25.0**2 + 5.0**2)
    assert 0.98 * apart < mug.area_mm2(25.0, 0.0) <= apart
    assert mug.outer_mm(25.0) == pytest.approx(45.0)
    assert mug.inner_mm(25.0) == pytest.approx(25.0)
    pill = Sections(
        (
            ExtrudedPart(
                from_z_mm=0.0, to_z_mm=9.0, outline=(RoundedPolygon(corners_mm=((-10, 0), (10, 0)), round_mm=4.0),)
            ),
        )
    )
    assert pill.inner_mm(3.0) == pytest.approx(4.0)
    assert pill.outer_mm(3.0) == pytest.approx(14.0)
    far = Sections((ExtrudedPart(from_z_mm=0.0, to_z_mm=9.0, outline=(Disc(x_mm=40.0, r_mm=5.0),)),))
    assert far.inner_mm(3.0) is None
    assert {0.0, 10.0, 50.0} <= mug.levels_mm()


@pytest.mark.parametrize(
    ("outline", "area_mm2"),
    [
        (RectOutline(width_mm=30.0, depth_mm=20.0, x_mm=5.0), 600.0),
        (ConvexOutline(corners=((0.0, 0.0), (10.0, 0.0), (0.0, 10.0))), 50.0),
        (DiscOutline(radius_mm=10.0), math.pi * 100.0),
        (HalfDiscOutline(radius_mm=10.0, y_mm=2.0), math.pi * 50.0),
    ],
)
def test_outlines_hold_the_true_shape(outline: RectOutline | ConvexOutline | DiscOutline, area_mm2: float) -> None:
    """Guards the room: what is drawn for a shelf is never smaller than the shelf, and hardly larger."""
    assert area_mm2 * (1 - 1e-9) <= outline_shape(outline).area <= 1.02 * area_mm2


def test_ground_keeps_posts_walls_and_straight_sides() -> None:
    """Guards where axes may stand: off posts by radius and gap, within walls, not over a straight side."""
    post = PostSquare(x0_mm=0.0, y0_mm=0.0, x1_mm=20.0, y1_mm=20.0)
    wall = Limit(outline=RectOutline(width_mm=190.0, depth_mm=200.0), clearance_mm=10.0)
    room = Room(outline=RectOutline(width_mm=200.0, depth_mm=100.0), posts=(post,), post_gap_mm=6.0, limits=(wall,))
    places = Ground(room, 15.0).places(10.0, 30.0)
    assert not places.contains(shapely.Point(40.0, 40.0))
    assert places.contains(shapely.Point(50.0, 46.0))
    assert not places.intersects(shapely.box(151.0, 0.0, 400.0, 100.0))
    half = Ground(Room(outline=HalfDiscOutline(radius_mm=100.0)), 15.0)
    assert half.reach.bounds[1] == pytest.approx(0.0)
    assert half.covered(shapely.Polygon(), 5.0, is_foot=False).is_empty
    assert half.covered(half.shelf, 5.0, is_foot=True).area >= math.pi * 100.0**2 / 2


def test_large_ware_bars_itself_and_its_like() -> None:
    """Guards conflicts: two plates too large for one shelf share it in no load, small ones beside them may stand."""

    def plate(number: int, radius: float) -> tuple[Ware, Part]:
        profile = ((0.0, radius - 30.0), (20.0, radius))
        part = TurnedPart(profile_mm=profile)
        body = ShelfBody(code=f"p{number}", primitives=cover_of((part,)), height_mm=20.0, value=1.0, count=9)
        return Ware(code=body.code, body=body, group=number), part

    made = [plate(0, 90.0), plate(1, 80.0), plate(2, 40.0)]
    room = Room(outline=RectOutline(width_mm=250.0, depth_mm=190.0), gap_mm=5.0)
    counts = ShelfCounts(room, [ware for ware, _ in made], [(part,) for _, part in made])
    rows = counts.rows(0b111)
    assert any({0, 1} <= set(weights) and 2 not in weights and most == 1.0 for weights, most in rows)
    assert counts.rows(0b111) is rows
    assert all(set(weights) <= {2} for weights, _ in counts.rows(0b100))
